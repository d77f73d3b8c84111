//! What was touched last on the page of a bay, and can be taken back: for some seconds, and only while it still is as this
//! person said it and nobody built on it. It is looked up when it is offered, and again when it is taken back.

use crate::fluid_act;
use crate::strip;
use crate::texts::Texts;
use leadhand_sdk::v1::{
    GetJobResponse, GetStripResponse, Position, Stage, StageState, Step, StepState, Tightness, VehicleState,
    VehicleStateLine,
};

/// What was touched last.
pub struct Undo {
    /// As the form holds it.
    pub what: String,
    pub words: String,
}

/// What it is looked up in: a job, its strip book, and who looks.
#[derive(Clone, Copy)]
pub struct Touched<'a> {
    pub job: &'a GetJobResponse,
    pub strip: &'a GetStripResponse,
    pub who: &'a str,
}

/// Ticks as an undo names them: a stage, its steps in their order, and what came off with them.
pub struct Ticks<'a> {
    pub stage: &'a str,
    pub steps: Vec<i32>,
    pub positions: Vec<&'a str>,
}

impl<'a> Ticks<'a> {
    /// Read from what stands behind the first point.
    pub fn read(about: &'a str) -> Option<Self> {
        let mut parts = about.splitn(3, '.');
        let (stage, steps) = (parts.next()?, parts.next()?);
        let steps: Vec<i32> = steps.split(',').filter_map(|step| step.parse().ok()).collect();
        let positions = parts.next().unwrap_or_default().split(',').filter(|one| !one.is_empty()).collect();
        (!steps.is_empty()).then_some(Self { stage, steps, positions })
    }
}

impl<'a> Touched<'a> {
    /// What may be taken back.
    pub fn undo(self, what: &str, t: &Texts) -> Option<Undo> {
        let (kind, about) = what.split_once('.')?;
        let words = match kind {
            "ticks" | "ended" => self.ticked(kind == "ended", about, t),
            "states" => self.state(about).map(|line| t.fill("you-said", "what", &t.word(line.state().as_str_name()))),
            "held" => {
                let mut open = self.job.blockers.iter().filter(|one| one.cleared_at.is_none());
                open.any(|one| one.blocker.to_string() == about).then(|| t.say("is-held-up"))
            }
            "tight" => {
                let (key, _) = about.rsplit_once('.')?;
                let tight = |one: &&Position| one.position == key && one.tightness() == Tightness::Final;
                self.strip.positions.iter().find(tight).map(|one| t.fill("said-of", "what", &one.what))
            }
            "fluid" => {
                let line = self.job.fluids.iter().find(|line| fluid_act::is_all(line, about));
                line.map(|line| t.fill("said-of", "what", fluid_act::name(line)))
            }
            "finish" => {
                self.stage(about, StageState::Finished).map(|one| t.fill("stage-finished", "stage", &one.title))
            }
            _ => self.said_of(about, t),
        };
        words.map(|words| Undo { what: what.to_owned(), words })
    }

    /// A state that this person said, and that is what was said last of it: it holds what was before.
    pub fn state(self, about: &str) -> Option<&'a VehicleStateLine> {
        let state: i32 = about.parse().ok()?;
        let own = |line: &&VehicleStateLine| line.state == state && line.step == 0 && line.said_by == self.who;
        self.job.states.iter().find(own).filter(|line| line.before() != VehicleState::Unspecified)
    }

    fn stage(self, key: &str, state: StageState) -> Option<&'a Stage> {
        self.job.stages.iter().find(|stage| stage.stage == key && stage.state() == state)
    }

    /// Steps that this person did and nobody built on, and the end of their stage when that went with them.
    fn ticked(self, ended: bool, about: &str, t: &Texts) -> Option<String> {
        let ticks = Ticks::read(about)?;
        let stage = self.stage(ticks.stage, if ended { StageState::Finished } else { StageState::Active })?;
        let done = |step: &Step| step.state() == StepState::Done;
        let own =
            |number: &i32| stage.steps.iter().any(|one| one.step == *number && done(one) && one.done_by == self.who);
        // A hold point behind them that somebody passed would be open again with them.
        let first = ticks.steps.iter().min()?;
        let passed = |one: &Step| !one.hold.is_empty() && one.step > *first && done(one);
        let built_on = stage.steps.iter().any(|one| passed(one) && !ticks.steps.contains(&one.step));
        let off =
            |key: &&str| self.strip.positions.iter().any(|one| one.position == **key && self.is_as_taken_off(one));
        if built_on || !ticks.steps.iter().all(own) || !ticks.positions.iter().all(off) {
            return None;
        }
        Some(if ended { t.fill("stage-finished", "stage", &stage.title) } else { told(&ticks.steps, t) })
    }

    fn is_as_taken_off(self, one: &Position) -> bool {
        one.off_by == self.who && one.refitted + one.renewed + one.left_out == 0
    }

    /// Positions of which something was said.
    fn said_of(self, keys: &str, t: &Texts) -> Option<String> {
        let find = |key: &str| self.strip.positions.iter().find(|one| one.position == key);
        let found: Vec<&Position> = keys.split(',').filter_map(find).filter(|one| !strip::is_unsaid(one)).collect();
        let names: Vec<&str> = found.iter().map(|one| one.what.as_str()).collect();
        (!names.is_empty()).then(|| t.fill("said-of", "what", &names.join(", ")))
    }
}

/// Steps that are done: from one to another where none lies between that was not touched.
fn told(steps: &[i32], t: &Texts) -> String {
    let (first, last) = (steps[0], steps[steps.len() - 1]);
    let whole = steps.windows(2).all(|two| two[1] == two[0] + 1);
    match steps {
        [one] => t.fill("step-ticked", "step", &one.to_string()),
        _ if whole => t.with("steps-ticked", &[("from", first.into()), ("to", last.into())]),
        _ => {
            let all: Vec<String> = steps.iter().map(ToString::to_string).collect();
            t.fill("some-ticked", "steps", &all.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job(state: StageState, steps: &[StepState]) -> GetJobResponse {
        let step = |(step, state): (i32, &StepState)| Step {
            step,
            state: (*state).into(),
            done_by: "Flint".into(),
            ..Step::default()
        };
        let (title, state) = ("Strip".to_owned(), state.into());
        let steps = (1..).zip(steps).map(step).collect();
        let stage = Stage { stage: "strip".into(), title, state, steps, ..Stage::default() };
        GetJobResponse { stages: vec![stage], ..GetJobResponse::default() }
    }

    fn nuts(off_by: &str) -> Position {
        Position { position: "nuts".into(), off_by: off_by.into(), ..Position::default() }
    }

    fn words(job: &GetJobResponse, position: Position, what: &str) -> Option<String> {
        let strip = GetStripResponse { positions: vec![position], ..GetStripResponse::default() };
        let undo = Touched { job, strip: &strip, who: "Flint" }.undo(what, &Texts::of("en-GB"))?;
        Some(undo.words.replace(['\u{2068}', '\u{2069}'], ""))
    }

    #[test]
    fn steps_of_one_touch_are_taken_back_by_one_while_all_of_them_are_done() {
        use StepState::{Done, Pending};
        let two = job(StageState::Active, &[Done, Done, Pending, Done]);
        let of = |what: &str| words(&two, nuts("Flint"), what);
        assert_eq!(of("ticks.strip.1,2.nuts").unwrap(), "Steps 1 to 2 are done.");
        assert_eq!(of("ticks.strip.2").unwrap(), "Step 2 is done.");
        assert_eq!(of("ticks.strip.1,4").unwrap(), "Steps 1, 4 are done.");
        for other in ["ticks.strip.1,2,3", "ticks.fill.1", "ended.strip.1,2", "ticks.strip", "ticks.strip.", "ticks"] {
            assert_eq!(of(other), None, "{other}");
        }
        let ended = job(StageState::Finished, &[Done, Done]);
        assert_eq!(words(&ended, nuts(""), "ended.strip.1,2").unwrap(), "Strip: finished.");
        assert_eq!(words(&ended, nuts(""), "ticks.strip.1,2"), None);
    }

    #[test]
    fn what_others_did_since_is_not_taken_back_with_it() {
        use StepState::Done;
        let what = "ticks.strip.1.nuts";
        let mut one = job(StageState::Active, &[Done, Done]);
        assert!(words(&one, nuts("Flint"), what).is_some());
        assert_eq!(words(&one, nuts("Wren"), what), None, "somebody else took it off");
        assert_eq!(words(&one, Position { refitted: 7, ..nuts("Flint") }, what), None, "it is back by now");
        one.stages[0].steps[1].hold = "cold".into();
        assert_eq!(words(&one, nuts("Flint"), what), None, "a hold point behind it was passed");
        assert!(words(&one, nuts("Flint"), "ticks.strip.1,2.nuts").is_some(), "passed by the same touch");
        one.stages[0].steps[0].done_by = "Wren".into();
        assert_eq!(words(&one, nuts("Flint"), "ticks.strip.1"), None, "it is somebody else's tick");
    }

    #[test]
    fn a_state_is_taken_back_while_it_is_what_this_person_said_last() {
        let mut one = job(StageState::Active, &[]);
        let (now, before) = (VehicleState::BatteryIsolated, VehicleState::BatteryConnected);
        let what = format!("states.{}", i32::from(now));
        assert_eq!(words(&one, nuts(""), &what), None);
        let said_by = "Flint".to_owned();
        one.states = vec![VehicleStateLine { state: now.into(), before: before.into(), said_by, ..Default::default() }];
        assert!(words(&one, nuts(""), &what).unwrap().starts_with("You said: "));
        let strip = GetStripResponse::default();
        let line = Touched { job: &one, strip: &strip, who: "Flint" }.state("2");
        assert_eq!(line.unwrap().before(), before, "whatever a page says");
        one.states[0].said_by = "Wren".into();
        assert_eq!(words(&one, nuts(""), &what), None, "Wren said it");
        one.states[0] = VehicleStateLine { said_by: "Flint".into(), step: 2, ..one.states[0].clone() };
        assert_eq!(words(&one, nuts(""), &what), None, "a step brought it about since");
        assert_eq!(words(&one, nuts(""), "states.x"), None);
    }
}
