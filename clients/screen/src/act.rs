//! What a touch on a bay's page does.

use crate::decided;
use crate::fluid_act;
use crate::form::{Done, Fault, Fields, Writes, begin, finish};
use crate::late;
use crate::pages::Screen;
use crate::sessions::Signed;
use crate::sign_in::back;
use crate::strip;
use crate::strip_act;
use crate::texts::Texts;
use crate::undo::{Ticks, Touched};
use axum::extract::{Form, Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use leadhand_sdk::v1::{
    AddStepRequest, Cause, ClearBlockerRequest, ClockOffRequest, ClockOnRequest, FinishStageRequest, GetJobRequest,
    GetStripRequest, RaiseBlockerRequest, Receipt, ReopenStageRequest, ReopenStepRequest, ReserveStockRequest,
    SetVehicleStatesRequest, StartStageRequest, TakeOffRequest, TickStepsRequest, WriteContext,
};
use leadhand_sdk::{Client, WireTimestamp};

/// Does it, and shows the page again.
pub async fn act(
    State(screen): State<Screen>,
    Path(bay): Path<String>,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let fields = Fields(fields);
    let page = back(&format!("/bay/{bay}")).to_owned();
    // A page below the bay's shows what was refused, so that nothing has to be chosen anew elsewhere.
    let from = back(fields.text("from"));
    let from = if from.starts_with(&page) { from.to_owned() } else { String::new() };
    let mut begun = match begin(&screen, &headers, &fields, &page) {
        Ok(begun) => begun,
        Err(answer) => return *answer,
    };
    if fields.text("act") == "seen" {
        let done = decided::see(&screen, &begun.visitor, &fields);
        return finish(&screen, &begun.visitor, &fields, &page, &from, done).await;
    }
    let Signed { client, name, .. } = &begun.signed;
    let hand = Hand { client, fields: &fields, t: &screen.texts, who: name, reason: "" };
    let done = hand.carry_out(&mut begun.writes).await;
    finish(&screen, &begun.visitor, &fields, &page, &from, done).await
}

/// A hand at a bay.
pub struct Hand<'a> {
    /// The server, as this person.
    pub client: &'a Client,
    /// What was touched.
    pub fields: &'a Fields,
    /// The words.
    pub t: &'a Texts,
    /// The person's name.
    pub who: &'a str,
    /// A lead's reason to have it done although something stands against it; mostly empty.
    pub reason: &'a str,
}

impl Hand<'_> {
    /// The job.
    pub fn job(&self) -> Result<i64, Fault> {
        self.fields.number("job")
    }

    /// The stage.
    pub fn stage(&self) -> String {
        self.fields.text("stage").to_owned()
    }

    /// The next write, at the time that was touched when it is said late.
    pub fn write(&self, writes: &mut Writes) -> Result<WriteContext, Fault> {
        let happened_at = late::said(self.fields.text("at"))?;
        Ok(WriteContext { happened_at, ..writes.one() })
    }

    /// Does what was touched.
    pub async fn carry_out(&self, writes: &mut Writes) -> Result<Done, Fault> {
        match self.fields.text("act") {
            "tick" => self.tick(writes).await,
            "tick-all" => self.tick_all(writes).await,
            "undo" => Ok(self.undo(writes).await?.first(self.t.say("taken-back"))),
            "held-up" => self.held_up(writes).await,
            "start" | "on" | "clear" | "set-aside" => self.one(writes).await,
            "finish" => self.finish(writes).await,
            "off" => self.clock_off(writes).await,
            "add-step" => self.add_step(writes).await,
            "states" => self.states(writes).await,
            "fluid" => fluid_act::record(self, writes).await,
            act => strip_act::carry_out(self, act, writes).await,
        }
    }

    /// What is one command.
    async fn one(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (client, write, job, stage) = (self.client, Some(self.write(writes)?), self.job()?, self.stage());
        let reason = self.reason.to_owned();
        Ok(match self.fields.text("act") {
            "start" => {
                let asked = StartStageRequest { write, job, stage, override_reason: reason };
                // The page has the cautions of the stage above its steps.
                Done::told_without(client.start_stage(asked).await?.receipt, "CAUTION")
            }
            // What is short is told beside what was set aside.
            "set-aside" => Done::told(client.reserve_stock(ReserveStockRequest { write, job, stage }).await?.receipt),
            "on" => {
                let asked = ClockOnRequest { write, job, stage, override_reason: reason };
                Done::told(client.clock_on(asked).await?.receipt).first(self.t.say("on-the-clock-now"))
            }
            _ => {
                let (blocker, note) = (self.fields.number("blocker")?, self.fields.said());
                let asked = ClearBlockerRequest { write, job, blocker, note };
                Done::told(client.clear_blocker(asked).await?.receipt).first(self.t.say("hold-up-over"))
            }
        })
    }

    async fn held_up(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (write, job, stage) = (Some(self.write(writes)?), self.job()?, self.stage());
        let cause = Cause::from_str_name(self.fields.text("cause")).unwrap_or_default();
        let note = self.fields.text("note").to_owned();
        let asked = RaiseBlockerRequest { write, job, stage, cause: cause.into(), note, ..Default::default() };
        let answer = self.client.raise_blocker(asked).await?;
        let done = Done::told(answer.receipt);
        // A danger that was told is not waved away by a touch.
        Ok(if cause == Cause::Safety {
            done.note(self.t.say("danger-told"))
        } else {
            done.undo(format!("held.{}", answer.blocker))
        })
    }

    /// Ticks a step; what the page showed of it comes off as listed in the same touch.
    async fn tick(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let step: i32 = self.fields.number("step")?;
        let mut done = Done::default();
        let mut off = Vec::new();
        if !self.fields.text("with").is_empty()
            && let Some(at) = self.off_as_listed(writes, step, &mut done).await?
        {
            off.push((step, at));
        }
        self.tick_one(writes, vec![step], &mut done).await?;
        let undo = self.ticked(&[step], &off).await;
        Ok(done.undo(undo))
    }

    /// How ticks are taken back: the stage, the steps and what came off with them.
    async fn ticked(&self, steps: &[i32], off: &[(i32, WireTimestamp)]) -> String {
        let steps: Vec<String> = steps.iter().map(ToString::to_string).collect();
        let took = self.took(off).await.join(",");
        format!("ticks.{}.{}.{took}", self.stage(), steps.join(",")).trim_end_matches('.').to_owned()
    }

    /// What this touch took off, and nobody else meanwhile: only that is on again when it is taken back. Where it can't
    /// be looked up, the steps are taken back alone.
    async fn took(&self, off: &[(i32, WireTimestamp)]) -> Vec<String> {
        let asked = self.job().map(|job| GetStripRequest { job, ..GetStripRequest::default() });
        let Some(asked) = asked.ok().filter(|_| !off.is_empty()) else { return Vec::new() };
        let book = self.client.get_strip(asked).await.unwrap_or_default();
        off.iter().flat_map(|(step, at)| strip::off_then(&book, &self.stage(), *step, self.who, at)).collect()
    }

    async fn tick_one(&self, writes: &mut Writes, steps: Vec<i32>, done: &mut Done) -> Result<(), Fault> {
        let (write, job, stage) = (Some(self.write(writes)?), self.job()?, self.stage());
        let override_reason = self.reason.to_owned();
        let asked = TickStepsRequest { write, job, stage, steps, override_reason };
        done.hear(self.client.tick_steps(asked).await?.receipt);
        Ok(())
    }

    /// What a step lists and nobody said comes off as listed, and when; nothing may be left of it meanwhile.
    async fn off_as_listed(
        &self,
        writes: &mut Writes,
        step: i32,
        done: &mut Done,
    ) -> Result<Option<WireTimestamp>, Fault> {
        let (write, job, stage) = (self.write(writes)?, self.job()?, self.stage());
        let said = write.happened_at;
        let (write, override_reason) = (Some(write), self.reason.to_owned());
        let asked = TakeOffRequest { write, job, stage, step, as_listed: true, override_reason, ..Default::default() };
        match self.client.take_off(asked).await {
            Ok(answer) => {
                let at = said.or_else(|| answer.receipt.as_ref()?.recorded_at);
                done.hear(answer.receipt);
                Ok(at)
            }
            Err(error) if error.reason == "NOTHING_TO_DO" => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// The steps that the page showed, one after the other, up to where something stands against it.
    async fn tick_all(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (steps, with) = (self.fields.list::<i32>("steps"), self.fields.list::<i32>("with"));
        let mut done = Done::default();
        let (mut ticked, mut off) = (Vec::new(), Vec::new());
        for step in steps {
            let both = async {
                if with.contains(&step) {
                    let at = self.off_as_listed(writes, step, &mut done).await?;
                    off.extend(at.map(|at| (step, at)));
                }
                self.tick_one(writes, vec![step], &mut done).await
            };
            if let Err(error) = both.await {
                let Some(last) = ticked.last() else { return Err(error) };
                let (undo, done) = (self.ticked(&ticked, &off).await, self.stopped(done, &error));
                return Ok(done.note(self.t.fill("done-up-to", "step", &format!("{last}"))).undo(undo));
            }
            ticked.push(step);
        }
        let undo = self.ticked(&ticked, &off).await;
        if self.fields.text("then") != "finish" {
            return Ok(done.undo(undo));
        }
        // What was ticked stays ticked, whatever stands against the end of the stage.
        match self.finish(writes).await {
            Ok(finished) => {
                done.notes.extend(finished.notes);
                // Both were one touch, and are taken back by one.
                Ok(done.undo(undo.replacen("ticks.", "ended.", 1)))
            }
            Err(error) => Ok(self.stopped(done, &error).undo(undo)),
        }
    }

    async fn finish(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (write, job, stage) = (Some(self.write(writes)?), self.job()?, self.stage());
        let undo = format!("finish.{stage}");
        let asked = FinishStageRequest { write, job, stage, as_listed: false };
        Ok(Done::told(self.client.finish_stage(asked).await?.receipt).undo(undo))
    }

    /// Takes back what was touched last, as long as nobody built on it: what it was stands behind the point.
    async fn undo(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (what, job) = (self.fields.text("what"), self.job()?);
        let (kind, rest) = what.split_once('.').unwrap_or_default();
        let whole = self.client.get_job(GetJobRequest { job }).await?;
        let strip = self.client.get_strip(GetStripRequest { job, ..GetStripRequest::default() }).await?;
        let touched = Touched { job: &whole, strip: &strip, who: self.who };
        if touched.undo(what, self.t).is_none() {
            return Err(Fault::Words(self.t.say("not-as-touched")));
        }
        let reason = self.t.say("said-by-mistake");
        match kind {
            "ticks" | "ended" => self.untick(kind == "ended", rest, writes).await,
            "states" => {
                let states = touched.state(rest).map(|line| line.before).into_iter().collect();
                let asked = SetVehicleStatesRequest { write: Some(writes.one()), job, states, reason };
                Ok(Done::told(self.client.set_vehicle_states(asked).await?.receipt))
            }
            "held" => {
                let (write, blocker) = (Some(writes.one()), rest.parse().unwrap_or_default());
                let asked = ClearBlockerRequest { write, job, blocker, note: reason };
                Ok(Done::told(self.client.clear_blocker(asked).await?.receipt))
            }
            "tight" => strip_act::untighten(self, rest, writes).await,
            "fluid" => fluid_act::undo(self, rest, writes).await,
            "finish" => Ok(Done::told(self.reopen_stage(rest, writes).await?)),
            _ => strip_act::reopen(self, rest, writes).await,
        }
    }

    async fn reopen_stage(&self, stage: &str, writes: &mut Writes) -> Result<Option<Receipt>, Fault> {
        let (job, reason) = (self.job()?, self.t.say("ticked-by-mistake"));
        let asked = ReopenStageRequest { write: Some(writes.one()), job, stage: stage.to_owned(), reason };
        Ok(self.client.reopen_stage(asked).await?.receipt)
    }

    /// Steps that were ticked by one touch, the last one first, and the end of their stage before them. What stands against
    /// one of them is said with what is taken back by then.
    async fn untick(&self, ended: bool, what: &str, writes: &mut Writes) -> Result<Done, Fault> {
        let ticks = Ticks::read(what).ok_or_else(|| Fault::unread("what", what))?;
        let mut done = Done::default();
        if ended {
            done.hear(self.reopen_stage(ticks.stage, writes).await?);
        }
        let mut begun = ended;
        for step in ticks.steps.iter().rev() {
            let (write, job, stage) = (Some(writes.one()), self.job()?, ticks.stage.to_owned());
            let reason = self.t.say("ticked-by-mistake");
            match self.client.reopen_step(ReopenStepRequest { write, job, stage, step: *step, reason }).await {
                Ok(answer) => done.hear(answer.receipt),
                Err(error) if error.reason == "NOTHING_TO_DO" => {}
                Err(error) if !begun => return Err(error.into()),
                Err(error) => return Ok(self.stopped(done, &error.into())),
            }
            begun = true;
        }
        // What came off with the touch is on again, the last of it first.
        let last_first: Vec<&str> = ticks.positions.iter().rev().copied().collect();
        match strip_act::reopen(self, &last_first.join(","), writes).await {
            Ok(back) => done.notes.extend(back.notes),
            Err(fault) => return Ok(self.stopped(done, &fault)),
        }
        Ok(done)
    }

    /// What was done in part, and what stood against the rest.
    fn stopped(&self, mut done: Done, fault: &Fault) -> Done {
        done.notes.extend(fault.words(self.t));
        done.stopped = true;
        done
    }

    /// Clocks off; what is half done is left as a step for whoever comes next.
    async fn clock_off(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let mut done = Done::default();
        let left: Vec<String> = self.fields.all("half").into_iter().chain(self.fields.all("more")).collect();
        if left.is_empty() && !self.fields.text("some-half-done").is_empty() {
            return Err(Fault::Words(self.t.say("which-half-done")));
        }
        if !left.is_empty() {
            let left = [("who", self.who.into()), ("what", left.join(" · ").into())];
            let instruction = self.t.with("left-half-done", &left);
            let (write, job, stage) = (Some(writes.one()), self.job()?, self.stage());
            let asked = AddStepRequest { write, job, stage, instruction, only_here: true, ..Default::default() };
            done.hear(self.client.add_step(asked).await?.receipt);
        }
        let write = Some(self.write(writes)?);
        done.hear(self.client.clock_off(ClockOffRequest { write }).await?.receipt);
        Ok(done.first(self.t.say("off-the-clock-now")))
    }

    async fn add_step(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let instruction = self.fields.said();
        let (write, job, stage) = (Some(writes.one()), self.job()?, self.stage());
        let asked = AddStepRequest { write, job, stage, instruction, ..Default::default() };
        Ok(Done::told(self.client.add_step(asked).await?.receipt))
    }

    async fn states(&self, writes: &mut Writes) -> Result<Done, Fault> {
        let (write, job, reason) = (Some(self.write(writes)?), self.job()?, String::new());
        let states = self.fields.all("state").iter().filter_map(|state| state.parse().ok()).collect();
        let said = self.fields.all("state");
        let undo = if let [state] = said.as_slice() { format!("states.{state}") } else { String::new() };
        let asked = SetVehicleStatesRequest { write, job, states, reason };
        Ok(Done::told(self.client.set_vehicle_states(asked).await?.receipt).undo(undo))
    }
}
