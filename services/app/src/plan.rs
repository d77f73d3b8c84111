//! Plans: proposed from a snapshot of the shop, proved by the auditor, accepted through the writer.
//!
//! A search holds no connection: all that it needs is one value. It ends with its budget, its time, or its client.

mod accept;

use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::read::Reading;
use crate::words::Words;
use leadhand_auditor::plan::check_plan;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::plan::moved::{KINDS, STOCK_KINDS, moved};
use leadhand_domain::plan::view::{PlanView, as_planned, pins, plan_view, planned_job};
use leadhand_domain::plan::what_if::{Change, change};
use leadhand_domain::plan::words::{Clock, no_place, still_hangs};
use leadhand_domain::plan::{needs_at, needs_of, plan_input, text_ids};
use leadhand_domain::state::State;
use leadhand_facts::plan::{Hang, Help, JobOutlook, Plan, PlanInput, PlanReport, StageNow, Unplaced};
use leadhand_facts::rows::{OvertimeRow, PlanJobRow, StagePinRow};
use leadhand_facts::{Instant, JobNo, PersonId, StageKey};
use leadhand_planner::{Budget, propose};
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;
use tokio_util::sync::CancellationToken;

/// Facts that are looked through for what has moved.
const LOOKED_THROUGH: i64 = 200;
/// Schedules for what becomes of one job, with the accepted plan as it is.
const QUICK: u64 = 300;
/// How long that may take.
const QUICK_WITHIN: Duration = Duration::from_secs(3);

/// So much of a deadline is left for proving the plan and telling it.
const ANSWERED_WITHIN: Duration = Duration::from_millis(500);

/// How long a search may go on.
#[derive(Debug, Clone, Copy)]
pub struct Search {
    /// Most schedules.
    pub schedules: u64,
    /// Longest time.
    pub within: Duration,
    /// Where its chance begins.
    pub seed: u64,
    /// When the client gives up waiting.
    pub deadline: Option<tokio::time::Instant>,
}

/// A stage that a plan names, as people call it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageNote {
    /// Whose.
    pub job: JobNo,
    /// Which.
    pub stage: StageKey,
    /// Its title.
    pub title: String,
    /// Whether it is under way.
    pub started: bool,
    /// Whether the lead pinned something of it.
    pub pinned: bool,
}

/// A plan with all that is to be told of it.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The plan; its number is 0 when something was taken for otherwise.
    pub plan: Plan,
    /// The moment from which on it was made.
    pub made_at: Instant,
    /// Why it is so; times in sentences are on the shop's clock.
    pub report: PlanReport,
    /// When each job is ready, in words, in the report's order.
    pub words: Vec<String>,
    /// What stages are called.
    pub notes: Vec<StageNote>,
    /// What people are called.
    pub names: BTreeMap<PersonId, String>,
}

/// The accepted plan as it stands.
#[derive(Debug, Clone)]
pub struct Accepted {
    /// The plan; nothing before the first.
    pub view: Option<PlanView>,
    /// What stages are called.
    pub notes: Vec<StageNote>,
    /// What people are called.
    pub names: BTreeMap<PersonId, String>,
    /// What has moved since it was made, in words, oldest first; up to so many as are looked through.
    pub moved: Vec<String>,
    /// What a lead pinned.
    pub pins: Vec<StagePinRow>,
    /// Overtime that is open.
    pub overtime: Vec<OvertimeRow>,
    /// Jobs that it has ready later than promised.
    pub late: Vec<JobNo>,
    /// Jobs of which half of all cases end after the promise.
    pub likely_late: Vec<JobNo>,
    /// Jobs of which more than one in five of all cases end after the promise.
    pub at_risk: Vec<JobNo>,
    /// Its stages that have no place, with why in a sentence.
    pub unplaced: Vec<Unplaced>,
    /// What each job hung on when it was made and hangs on still.
    pub hangs_on: Vec<(JobNo, Hang)>,
    /// The number at which all of it is true.
    pub number: i64,
}

/// What becomes of one job.
#[derive(Debug, Clone)]
pub struct Outlook {
    /// As things stand, with the accepted plan kept as far as it can be.
    pub outlook: JobOutlook,
    /// In words.
    pub words: String,
    /// The whole that it is part of.
    pub whole: Proposal,
    /// As the accepted plan has it.
    pub planned: Option<PlanJobRow>,
    /// What has moved since that was made.
    pub moved: Vec<String>,
}

impl Outlook {
    /// What would help: nothing for a job that is in time, whatever else is late.
    pub fn helps(&self) -> &[Help] {
        let in_time = self.outlook.ready.is_some() && self.outlook.late_minutes == 0;
        if in_time { &[] } else { &self.whole.report.helps }
    }
}

/// A shop as it is planned.
struct Shop {
    reading: Reading,
    words: Words,
    at: Instant,
}

impl Shop {
    async fn load(app: &App, who: &Principal, at: Option<Instant>) -> Result<Self, AppError> {
        let mut reading = Reading::begin(app, who.shop).await?;
        let at = at.unwrap_or_else(|| reading.now());
        reading.load(&needs_at(at)).await?;
        let more = needs_of(&reading.state, at);
        reading.load(&more).await?;
        let words = Words::load(&mut reading.snapshot, text_ids(&reading.state)).await?;
        Ok(Self { reading, words, at })
    }

    fn input(&self) -> PlanInput {
        plan_input(&self.reading.state, self.at, &|text| self.words.get(Some(text)).to_owned())
    }

    async fn moved_since(&mut self, number: i64, followed: bool) -> Result<Vec<String>, AppError> {
        let mut facts = self.reading.snapshot.facts_of(KINDS, number, LOOKED_THROUGH).await?;
        // Stock moves often, and is looked through by itself, so that it hides nothing else.
        facts.extend(self.reading.snapshot.facts_of(STOCK_KINDS, number, LOOKED_THROUGH).await?);
        Ok(each_once(facts.iter().filter_map(|entry| moved(&self.reading.state, entry, followed))))
    }
}

/// What several facts say alike is one thing.
fn each_once(all: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    all.filter(|one| seen.insert(one.clone())).collect()
}

impl App {
    /// Proposes a plan, with these things taken for otherwise.
    pub async fn propose_plan(
        &self,
        who: &Principal,
        search: Search,
        changes: &[Change],
    ) -> Result<Proposal, AppError> {
        let shop = Shop::load(self, who, None).await?;
        let mut input = shop.input();
        change(&mut input, changes)?;
        let Shop { reading, .. } = shop;
        let clock = Clock::of(&reading.state, reading.now())?;
        reading.snapshot.end().await?;
        let mut proposal = self.search(input, search, &clock).await?;
        if !changes.is_empty() {
            proposal.plan.number = 0;
        }
        Ok(proposal)
    }

    /// What becomes of a job, and why.
    pub async fn job_outlook(
        &self,
        who: &Principal,
        job: JobNo,
        deadline: Option<tokio::time::Instant>,
    ) -> Result<Outlook, AppError> {
        let mut shop = Shop::load(self, who, None).await?;
        let made_n = shop.reading.state.plan.get(&()).map(|row| row.made_n);
        let moved = match made_n {
            Some(number) => shop.moved_since(number, true).await?,
            None => Vec::new(),
        };
        let input = shop.input();
        let Shop { mut reading, .. } = shop;
        if !input.jobs.iter().any(|row| row.job == job) {
            // It is over, or there is none.
            reading.load(&[Need::Job(job)]).await?;
            let row = look::job(&reading.state, job)?;
            let refusal = leadhand_domain::refusal::Refusal::JobClosed { job, state: row.state };
            return Err(refusal.into());
        }
        let clock = Clock::of(&reading.state, reading.now())?;
        let planned = planned_job(&reading.state, job).cloned();
        reading.snapshot.end().await?;
        let search = Search { schedules: QUICK, within: QUICK_WITHIN, seed: 1, deadline };
        let whole = self.search(input, search, &clock).await?;
        let found = whole.report.jobs.iter().zip(&whole.words).find(|(outlook, _)| outlook.job == job);
        let missing = || AppError::Internal(format!("job {job} was planned without an outlook"));
        let (drawn, words) = found.ok_or_else(missing)?;
        let outlook = as_planned(drawn.clone(), planned.as_ref(), !moved.is_empty());
        let same = (outlook.likely, outlook.safe) == (drawn.likely, drawn.safe);
        let words = if same { words.clone() } else { clock.outlook(outlook.likely, outlook.safe) };
        Ok(Outlook { outlook, words, whole, planned, moved })
    }

    /// The accepted plan as it stands.
    pub async fn accepted_plan(&self, who: &Principal) -> Result<Accepted, AppError> {
        let mut shop = Shop::load(self, who, None).await?;
        let view = plan_view(&shop.reading.state);
        let moved = match &view {
            Some(view) => shop.moved_since(view.row.made_n, true).await?,
            None => Vec::new(),
        };
        let input = shop.input();
        let state = &shop.reading.state;
        let (pins, overtime) = (pins(state), state.overtime.iter().cloned().collect());
        let called = state.persons.iter().filter(|row| !row.forgotten);
        let names = called.map(|row| (row.person, shop.words.get(Some(row.name)).to_owned())).collect();
        let notes = view.iter().flat_map(|view| &view.stages).map(|line| StageNote {
            job: line.row.job,
            stage: line.row.stage.clone(),
            title: title(&input, line.row.job, &line.row.stage),
            started: line.state == leadhand_facts::words::StageState::Active,
            pinned: line.pinned,
        });
        let notes = notes.collect();
        let unplaced = view.iter().flat_map(|view| unplaced(state, &view.jobs, &input)).collect();
        let jobs = || view.iter().flat_map(|view| &view.jobs);
        let hangs_on = jobs().flat_map(|row| still_hangs(&input, row)).collect();
        let late = late(state, jobs(), |row| row.ready_at);
        let likely_late = self::late(state, jobs(), |row| row.likely_at);
        let at_risk = self::late(state, jobs(), |row| row.safe_at);
        let number = state.head;
        shop.reading.snapshot.end().await?;
        Ok(Accepted {
            view,
            notes,
            names,
            moved,
            pins,
            overtime,
            late,
            likely_late,
            at_risk,
            unplaced,
            hangs_on,
            number,
        })
    }

    /// Searches on a thread of its own; refuses when as many searches are under way as may be.
    async fn search(&self, input: PlanInput, search: Search, clock: &Clock) -> Result<Proposal, AppError> {
        let permit = self.planning.clone().try_acquire_owned().map_err(|_| AppError::PlannerBusy)?;
        let gone = CancellationToken::new();
        // Dropped with this call, when its client goes away.
        let _guard = gone.clone().drop_guard();
        let stopping = self.stopping();
        let end = tokio::time::Instant::now() + search.within;
        let end = search.deadline.map_or(end, |deadline| end.min(deadline - ANSWERED_WITHIN));
        let searching = tokio::task::spawn_blocking(move || {
            let _permit = permit;
            let mut stop = || gone.is_cancelled() || stopping.is_cancelled() || tokio::time::Instant::now() >= end;
            let made = propose(&input, search.seed, &mut Budget { schedules: search.schedules, stop: &mut stop });
            (input, made)
        });
        let broken = |error| AppError::Internal(format!("the search for a plan broke off: {error}"));
        let (input, (plan, report)) = searching.await.map_err(broken)?;
        let faults = check_plan(&input, &plan);
        if let Some(fault) = faults.first() {
            tracing::error!(faults = faults.len(), rule = fault.rule, job = %fault.job, "a plan that was made can't be done");
            let what = format!("a plan was made that can't be done ({}: {})", fault.rule, fault.sentence);
            return Err(AppError::Internal(what));
        }
        Ok(proposal(&input, plan, report, clock))
    }
}

fn proposal(input: &PlanInput, plan: Plan, mut report: PlanReport, clock: &Clock) -> Proposal {
    for help in &mut report.helps {
        help.sentence = clock.tell(&help.sentence);
    }
    for job in &mut report.jobs {
        job.sentence = clock.tell(&job.sentence);
    }
    for one in &mut report.unplaced {
        one.reason = clock.tell(&one.reason);
    }
    let words = report.jobs.iter().map(|job| told(input, job, clock)).collect();
    let notes = plan.stages.iter().map(|row| {
        let job = input.jobs.iter().find(|job| job.job == row.job);
        let said = job.and_then(|job| job.stages.iter().find(|stage| stage.stage == row.stage));
        // One that waits with its people was begun, and nobody pinned it.
        let begun = said.is_some_and(|stage| stage.begun);
        StageNote {
            job: row.job,
            stage: row.stage.clone(),
            title: title(input, row.job, &row.stage),
            started: begun || said.is_some_and(|stage| matches!(stage.now, StageNow::Started { .. })),
            pinned: !begun && said.is_some_and(|stage| !stage.pin.is_empty()),
        }
    });
    let names = input.technicians.iter().map(|one| (one.person, one.name.clone())).collect();
    Proposal { notes: notes.collect(), names, made_at: input.at, plan, report, words }
}

/// What has no place in the accepted plan and is not over yet.
fn unplaced(state: &State, jobs: &[PlanJobRow], input: &PlanInput) -> Vec<Unplaced> {
    let open = |job: JobNo, stage: &StageKey| look::stage(state, job, stage).is_ok_and(|row| !look::is_ended(row));
    let of = |row: &PlanJobRow| {
        let job = row.job;
        let left = row.nowhere.iter().filter(|one| open(job, &one.stage));
        let nowhere: Vec<StageKey> = row.nowhere.iter().map(|one| one.stage.clone()).collect();
        let told = left.map(|one| Unplaced {
            job,
            stage: one.stage.clone(),
            why: one.why,
            reason: no_place(one.why, input, job, &one.stage, &nowhere),
        });
        told.collect::<Vec<_>>()
    };
    jobs.iter().flat_map(of).collect()
}

/// Jobs of which a time of the plan lies after the promise.
fn late<'p>(
    state: &State,
    jobs: impl Iterator<Item = &'p PlanJobRow>,
    time: impl Fn(&PlanJobRow) -> Option<Instant>,
) -> Vec<JobNo> {
    let promised = |job: JobNo| look::job(state, job).ok().and_then(|row| row.promised_at);
    let late = jobs.filter(|row| time(row).zip(promised(row.job)).is_some_and(|(at, promised)| promised < at));
    late.map(|row| row.job).collect()
}

/// When a job is ready, in words.
fn told(input: &PlanInput, job: &JobOutlook, clock: &Clock) -> String {
    let none = input.jobs.iter().any(|row| row.job == job.job && row.stages.is_empty());
    if none { "no stages, so nothing can be said".to_owned() } else { clock.outlook(job.likely, job.safe) }
}

fn title(input: &PlanInput, job: JobNo, stage: &StageKey) -> String {
    let found = input.jobs.iter().find(|row| row.job == job);
    let found = found.and_then(|row| row.stages.iter().find(|row| row.stage == *stage));
    found.map_or_else(|| stage.to_string(), |row| row.title.clone())
}

#[cfg(test)]
mod tests {
    use super::each_once;

    #[test]
    fn what_several_facts_say_alike_is_one_thing() {
        let said = ["job 3 was opened", "'oil' came in", "job 3 was opened"].map(str::to_owned);
        assert_eq!(each_once(said.into_iter()), ["job 3 was opened", "'oil' came in"]);
    }
}
