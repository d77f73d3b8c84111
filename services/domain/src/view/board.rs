//! The board: every bay with what is in it, what holds it up, what it needs next and whether the
//! promise holds; the vehicles that wait outside; what is short.

use super::expected::{self, Reckon};
use super::parts::{BlockerLine, Index, PersonOn, ShortageLine, Title, note};
use crate::state::State;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::{JobRow, StageRow};
use leadhand_facts::words::{BayKind, Cause, JobState, StageKind, StageState, StepState};
use leadhand_facts::{BayKey, Instant, JobNo, StageKey, TextId, VehicleId};
use std::collections::{BTreeMap, BTreeSet};

/// Most stages shown as coming next.
pub const NEXT_MAX: usize = 3;

/// An expected finish is rounded up to whole steps of this: minutes that are guesses bear no
/// more, and a board that changes every second says nothing.
pub const FINISH_STEP_US: i64 = 5 * MINUTE_US;

/// The board at one journal number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Board {
    /// The journal number at which it is true.
    pub number: i64,
    /// When it was made.
    pub at: Instant,
    /// Every bay, by key.
    pub bays: Vec<BayLine>,
    /// Open jobs whose vehicle is in no bay, by number.
    pub outside: Vec<JobCard>,
    /// What is short, the most urgent job first.
    pub shortages: Vec<ShortageLine>,
}

/// A bay.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BayLine {
    /// Its key.
    pub bay: BayKey,
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: BayKind,
    /// The job whose vehicle is in it.
    pub card: Option<JobCard>,
    /// Since when.
    pub since: Option<Instant>,
}

/// A job on the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobCard {
    /// Its number.
    pub job: JobNo,
    /// The journal number of the last fact about it.
    pub version: i64,
    /// Its title.
    pub title: Title,
    /// Its vehicle.
    pub vehicle: VehicleId,
    /// The text with what people call the vehicle.
    pub vehicle_label: Option<TextId>,
    /// How urgent.
    pub priority: i32,
    /// What was promised.
    pub promised_at: Option<Instant>,
    /// How many stages are finished or left out.
    pub stages_done: usize,
    /// How many stages it has.
    pub stages_all: usize,
    /// Stages under way.
    pub under_way: Vec<StageLine>,
    /// What may start, and what comes after that, at most [`NEXT_MAX`].
    pub next: Vec<StageLine>,
    /// What holds it up, earliest first.
    pub blockers: Vec<BlockerLine>,
    /// What is missing for the stages under way and next.
    pub missing: Vec<ShortageLine>,
    /// When it will be done as far as the likely minutes say; nothing when no stage is left, or
    /// when the shop's hours are not known so far ahead.
    pub expected_at: Option<Instant>,
    /// By when it will be done even if what is left goes badly; nothing while something holds it up or is short and nobody
    /// knows until when, or a stage has taken longer than if it goes badly.
    pub if_badly_at: Option<Instant>,
    /// Whether the promise holds.
    pub promise: Promise,
    /// Whether the moment that was promised has passed.
    pub promise_passed: bool,
}

/// A stage on the board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageLine {
    /// Its key.
    pub stage: StageKey,
    /// Its title.
    pub title: Title,
    /// Work or wait.
    pub kind: StageKind,
    /// Which one it is in the written order, from 1, of the card's `stages_all`.
    pub place: usize,
    /// Where it stands.
    pub standing: Standing,
    /// Likely minutes.
    pub likely: i32,
    /// Who is on it.
    pub persons: Vec<PersonOn>,
    /// How many of its steps are done or left out.
    pub steps_done: usize,
    /// How many steps it has.
    pub steps_all: usize,
}

/// Where a stage stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Under way since then.
    UnderWay(Instant),
    /// It may start, since then.
    Ready(Instant),
    /// A planned wait has to pass, until then.
    Waiting(Instant),
    /// Something that comes before it is not finished.
    Later,
    /// Finished then.
    Finished(Instant),
    /// Left out then.
    Skipped(Instant),
}

impl Standing {
    /// Of a stage.
    pub fn of(stage: &StageRow, now: Instant) -> Self {
        match (stage.state, stage.ready_at) {
            (StageState::Active, _) => Self::UnderWay(stage.started_at.unwrap_or(now)),
            (StageState::Finished, _) => Self::Finished(stage.ended_at.unwrap_or(now)),
            (StageState::Skipped, _) => Self::Skipped(stage.ended_at.unwrap_or(now)),
            (StageState::Pending, Some(ready_at)) if stage.waiting && ready_at > now => Self::Waiting(ready_at),
            (StageState::Pending, Some(ready_at)) => Self::Ready(ready_at),
            (StageState::Pending, None) => Self::Later,
        }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::UnderWay(_) => "under way",
            Self::Ready(_) => "ready",
            Self::Waiting(_) => "waiting",
            Self::Later => "later",
            Self::Finished(_) => "finished",
            Self::Skipped(_) => "skipped",
        }
    }
}

/// Whether a promise holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Promise {
    /// Nothing was promised.
    None,
    /// Even if it goes badly.
    Holds,
    /// If it goes as is likely; not if it goes badly, or something holds it up and nobody knows
    /// for how long.
    AtRisk,
    /// Not by what is likely, or it has passed.
    Late,
    /// The shop's hours are not known so far ahead.
    Unknown,
    /// The accepted plan has no place for a stage of it.
    NoPlace,
    /// It has no stages.
    NoStages,
}

impl Promise {
    /// The words for it.
    pub fn words(self) -> &'static str {
        match self {
            Self::None => "no promise",
            Self::Holds => "holds",
            Self::AtRisk => "at risk",
            Self::Late => "late, or likely late",
            Self::Unknown => "unknown: no shop hours so far ahead",
            Self::NoPlace => "the plan has no place for it",
            Self::NoStages => "no stages, so nothing can be said",
        }
    }
}

/// The board of what is loaded: shop, bays, hours, and the open jobs.
pub fn board(state: &State, now: Instant) -> Board {
    let index = Index::at(state, now);
    let open = state.jobs.iter().filter(|job| job.state == JobState::Open);
    let mut in_bays: BTreeMap<&BayKey, JobCard> = BTreeMap::new();
    let mut outside = Vec::new();
    for job in open {
        let card = card_of(&index, job, now);
        match index.bay(job.job) {
            Some(bay) => {
                in_bays.insert(bay, card);
            }
            None => outside.push(card),
        }
    }
    let since = |job: JobNo| index.stays(job).iter().find(|stay| stay.until_at.is_none()).map(|stay| stay.from_at);
    let bays = state.bays.iter().map(|bay| {
        let card = in_bays.remove(&bay.bay);
        let since = card.as_ref().and_then(|card| since(card.job));
        BayLine { bay: bay.bay.clone(), name: bay.name.clone(), kind: bay.kind, card, since }
    });
    Board { number: state.head, at: now, bays: bays.collect(), outside, shortages: index.all_shortages() }
}

pub(super) fn card_of(index: &Index<'_>, job: &JobRow, now: Instant) -> JobCard {
    let stages = index.stages(job.job);
    let line = |place: usize| stage_line(index, stages[place], place + 1, now);
    let in_state = |state: StageState| (0..stages.len()).filter(move |place| stages[*place].state == state);
    let mut next: Vec<usize> = in_state(StageState::Pending).collect();
    next.sort_by_key(|place| stages[*place].ready_at.is_none());
    let under_way: Vec<StageLine> = in_state(StageState::Active).map(line).collect();
    let next: Vec<StageLine> = next.into_iter().take(NEXT_MAX).map(line).collect();
    let shown: BTreeSet<&StageKey> = under_way.iter().chain(&next).map(|line| &line.stage).collect();
    let missing = index.shortages(job.job).into_iter().filter(|line| shown.contains(&line.stage)).collect();
    let open = stages.iter().flat_map(|stage| index.blockers(stage)).filter(|row| row.cleared_at.is_none());
    let mut blockers: Vec<BlockerLine> = open.map(|row| index.blocker(row)).collect();
    // Whoever saw a danger comes before everything that only costs time.
    blockers.sort_by_key(|line| (line.cause != Cause::Safety, line.since, line.blocker));
    let expected_at = finish(index, job, now, Reckon::Likely);
    let left = || stages.iter().filter(|stage| stage.ended_at.is_none());
    let unknown = is_open_ended(&blockers, now)
        || left().any(|stage| index.lacks_for_good(stage, now) || expected::is_beyond(index, stage, now));
    let is_left = left().next().is_some();
    let if_badly = finish(index, job, now, Reckon::High).filter(|_| !unknown);
    JobCard {
        job: job.job,
        version: job.version,
        title: Title::of_job(job),
        vehicle: job.vehicle,
        vehicle_label: index.state.vehicles.get(&(job.vehicle,)).map(|vehicle| vehicle.label),
        priority: job.priority,
        promised_at: job.promised_at,
        stages_done: stages.iter().filter(|stage| stage.ended_at.is_some()).count(),
        stages_all: stages.len(),
        promise: promise(index, job, expected_at, if_badly, now),
        promise_passed: has_passed(job, now),
        under_way,
        next,
        blockers,
        missing,
        expected_at: expected_at.filter(|_| is_left).map(rounded_up),
        if_badly_at: if_badly.filter(|_| is_left).map(rounded_up),
    }
}

/// When a job will be done: by the accepted plan, if it knows the job, and no earlier than the stages that are left let it
/// be.
fn finish(index: &Index<'_>, job: &JobRow, now: Instant, reckon: Reckon) -> Option<Instant> {
    if nowhere(index, job) {
        return None;
    }
    let path = expected::finish(index, index.stages(job.job), now, reckon)?;
    let planned = index.state.plan_jobs.get(&(job.job,));
    let planned = planned.and_then(|row| if reckon == Reckon::Likely { row.likely_at } else { row.safe_at });
    Some(planned.map_or(path, |planned| planned.max(path)))
}

/// Whether the accepted plan has no place for a stage of it that is not over.
fn nowhere(index: &Index<'_>, job: &JobRow) -> bool {
    let Some(row) = index.state.plan_jobs.get(&(job.job,)) else { return false };
    let stages = index.stages(job.job);
    let mut left = stages.iter().filter(|stage| stage.ended_at.is_none());
    // An older plan did not say which.
    let unsaid = row.ready_at.is_none() && row.likely_at.is_none() && row.nowhere.is_empty();
    left.any(|stage| unsaid || row.nowhere.iter().any(|one| one.stage == stage.stage))
}

fn stage_line(index: &Index<'_>, stage: &StageRow, place: usize, now: Instant) -> StageLine {
    let steps = index.steps(stage);
    StageLine {
        stage: stage.stage.clone(),
        title: Title::of_stage(stage),
        kind: stage.kind,
        place,
        standing: Standing::of(stage, now),
        likely: stage.likely,
        persons: index.persons_on(stage),
        steps_done: steps.iter().filter(|step| step.state != StepState::Pending).count(),
        steps_all: steps.len(),
    }
}

fn has_passed(job: &JobRow, now: Instant) -> bool {
    job.promised_at.is_some_and(|promised_at| promised_at < now)
}

fn promise(
    index: &Index<'_>,
    job: &JobRow,
    expected_at: Option<Instant>,
    if_badly: Option<Instant>,
    now: Instant,
) -> Promise {
    if has_passed(job, now) {
        return Promise::Late;
    }
    if nowhere(index, job) {
        return Promise::NoPlace;
    }
    let Some(promised_at) = job.promised_at else { return Promise::None };
    if index.stages(job.job).is_empty() {
        return Promise::NoStages;
    }
    let Some(expected_at) = expected_at else { return Promise::Unknown };
    if expected_at > promised_at {
        return Promise::Late;
    }
    if if_badly.is_none_or(|at| at > promised_at) { Promise::AtRisk } else { Promise::Holds }
}

/// Whether something holds it up and nobody knows until when.
fn is_open_ended(blockers: &[BlockerLine], now: Instant) -> bool {
    blockers.iter().any(|line| line.expected_at.is_none_or(|expected_at| expected_at <= now))
}

fn rounded_up(at: Instant) -> Instant {
    let over = at.0.rem_euclid(FINISH_STEP_US);
    if over == 0 { at } else { at.plus_us(FINISH_STEP_US - over) }
}

/// What differs between two boards.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Changes {
    /// Bays with another value, new ones included, by key.
    pub bays: Vec<BayKey>,
    /// Bays that are there no longer.
    pub gone: Vec<BayKey>,
    /// Whether what waits outside differs.
    pub outside: bool,
    /// Whether what is short differs.
    pub shortages: bool,
}

impl Changes {
    /// Whether nothing differs.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// What differs between a board and a later one, apart from number and time.
pub fn changed(before: &Board, after: &Board) -> Changes {
    let old: BTreeMap<&BayKey, &BayLine> = before.bays.iter().map(|line| (&line.bay, line)).collect();
    let new: BTreeSet<&BayKey> = after.bays.iter().map(|line| &line.bay).collect();
    let differs = |line: &&BayLine| old.get(&line.bay) != Some(line);
    Changes {
        bays: after.bays.iter().filter(differs).map(|line| line.bay.clone()).collect(),
        gone: old.into_keys().filter(|bay| !new.contains(bay)).cloned().collect(),
        outside: before.outside != after.outside,
        shortages: before.shortages != after.shortages,
    }
}

impl Board {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let cards = self.bays.iter().filter_map(|line| line.card.as_ref()).chain(&self.outside);
        cards.flat_map(JobCard::text_ids).collect()
    }
}

impl JobCard {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let mut texts = BTreeSet::new();
        note(&mut texts, [self.title.text, self.vehicle_label]);
        for line in self.under_way.iter().chain(&self.next) {
            note(&mut texts, [line.title.text]);
            note(&mut texts, line.persons.iter().map(|person| person.name));
        }
        texts.extend(self.blockers.iter().flat_map(BlockerLine::text_ids));
        texts
    }
}
