//! Lines that several views share, and the rows of a state by job and stage.

use crate::labels::{Held, Life, Mark, Opening, StageTimes, Work};
use crate::state::State;
use crate::supplier;
use leadhand_facts::rows::{AfterRow, BlockerRow, ClockingRow, JobRow, ShortageRow, StageRow, StayRow, StepRow};
use leadhand_facts::words::Cause;
use leadhand_facts::{
    BayKey, BlockerNo, Instant, ItemKey, JobNo, PersonId, Quantity, ReadingKey, ShortageId, StageKey, StepNo, TextId,
    ToolKey, Unit, Window,
};
use std::collections::{BTreeMap, BTreeSet};

/// Words of a template, or the id of words typed by hand.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Title {
    /// The template's words.
    pub words: Option<String>,
    /// The text with the typed ones.
    pub text: Option<TextId>,
}

impl Title {
    /// As a row has it.
    pub fn of(words: Option<&String>, text: Option<TextId>) -> Self {
        Self { words: words.cloned(), text }
    }

    /// Of a job.
    pub fn of_job(job: &JobRow) -> Self {
        Self::of(job.title.as_ref(), job.title_text)
    }

    /// Of a stage.
    pub fn of_stage(stage: &StageRow) -> Self {
        Self::of(stage.title.as_ref(), stage.title_text)
    }
}

/// A person on a stage now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonOn {
    /// Who.
    pub person: PersonId,
    /// The text with the name.
    pub name: Option<TextId>,
    /// Since when.
    pub since: Instant,
}

/// Something that holds a stage up, or did.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct BlockerLine {
    pub job: JobNo,
    pub blocker: BlockerNo,
    pub stage: StageKey,
    pub title: Title,
    pub cause: Cause,
    pub owner: Option<PersonId>,
    pub owner_name: Option<TextId>,
    pub since: Instant,
    pub expected_at: Option<Instant>,
    pub item: Option<ItemKey>,
    pub tool: Option<ToolKey>,
    /// The reading that is out of its limits, when that raised it.
    pub reading: Option<ReadingKey>,
    pub step: Option<StepNo>,
    pub note: Option<TextId>,
    pub raised_n: i64,
    pub cleared_at: Option<Instant>,
    pub cleared_n: Option<i64>,
    pub cleared_note: Option<TextId>,
}

impl BlockerLine {
    pub(super) fn text_ids(&self) -> impl Iterator<Item = TextId> {
        [self.title.text, self.owner_name, self.note, self.cleared_note].into_iter().flatten()
    }
}

/// What a step needs and nobody has promised.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShortageLine {
    /// The shortage.
    pub shortage: ShortageId,
    /// The job that needs it.
    pub job: JobNo,
    /// The stage.
    pub stage: StageKey,
    /// The step.
    pub step: StepNo,
    /// The item.
    pub item: ItemKey,
    /// What the item is called, as far as it is loaded.
    pub name: Option<String>,
    /// The item's unit, as far as it is loaded.
    pub unit: Option<Unit>,
    /// How much.
    pub quantity: Quantity,
    /// Since when.
    pub since: Instant,
    /// The fact that opened it.
    pub opened_n: i64,
    /// Which other jobs have the item set aside meanwhile.
    pub held_by: Vec<Holder>,
}

/// A job with some of an item set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// The job.
    pub job: JobNo,
    /// How much.
    pub quantity: Quantity,
}

/// Rows by job and the stage's key.
type ByStage<'a, R> = BTreeMap<JobNo, BTreeMap<&'a str, Vec<&'a R>>>;

/// Loaded rows by job and stage.
pub(super) struct Index<'a> {
    pub state: &'a State,
    pub openings: Vec<Opening>,
    stages: BTreeMap<JobNo, Vec<&'a StageRow>>,
    clockings: ByStage<'a, ClockingRow>,
    blockers: ByStage<'a, BlockerRow>,
    stays: BTreeMap<JobNo, Vec<&'a StayRow>>,
    shortages: BTreeMap<JobNo, Vec<&'a ShortageRow>>,
    set_aside: BTreeMap<&'a ItemKey, BTreeMap<JobNo, i64>>,
    arrivals: BTreeMap<&'a ItemKey, Instant>,
}

impl<'a> Index<'a> {
    pub fn of(state: &'a State) -> Self {
        let opening = |row: &leadhand_facts::rows::OpenWindowRow| Opening {
            window: Window { from: row.from_at, until: row.until_at },
            set_n: row.set_n,
        };
        let mut set_aside: BTreeMap<&ItemKey, BTreeMap<JobNo, i64>> = BTreeMap::new();
        for row in state.reservations.iter().filter(|row| row.quantity.is_positive()) {
            *set_aside.entry(&row.item).or_default().entry(row.job).or_default() += row.quantity.0;
        }
        let mut stages = grouped(state.stages.iter(), |row| row.job);
        for rows in stages.values_mut() {
            rows.sort_by_key(|row| (row.ordinal, &row.stage));
        }
        let mut clockings = by_stage(state.clockings.iter(), |row| (row.job, &row.stage));
        for rows in clockings.values_mut().flat_map(BTreeMap::values_mut) {
            rows.sort_by_key(|row| (row.from_at, row.on_n));
        }
        let mut stays = grouped(state.stays.iter(), |row| row.job);
        for rows in stays.values_mut() {
            rows.sort_by_key(|row| (row.from_at, row.from_n));
        }
        let open_shortages = state.shortages.iter().filter(|row| row.quantity.is_positive());
        let mut shortages = grouped(open_shortages, |row| row.job);
        for rows in shortages.values_mut() {
            rows.sort_by_key(|row| (&row.stage, row.step, row.opened_n));
        }
        Self {
            state,
            openings: state.open_windows.iter().map(opening).collect(),
            stages,
            clockings,
            blockers: by_stage(state.blockers.iter(), |row| (row.job, &row.stage)),
            stays,
            shortages,
            set_aside,
            arrivals: BTreeMap::new(),
        }
    }

    /// The same, which also knows when what is short now arrives if it is ordered in time.
    pub fn at(state: &'a State, now: Instant) -> Self {
        let mut index = Self::of(state);
        let short: BTreeSet<&ItemKey> = index.shortages.values().flatten().map(|row| &row.item).collect();
        let here_at = |item: &ItemKey| Some(supplier::order_of(state, item, now)?.next?.here_at);
        index.arrivals = short.into_iter().filter_map(|item| Some((item, here_at(item)?))).collect();
        index
    }

    /// When the last of what a stage lacks arrives, as far as that is known. What somebody expects by a time of their own is
    /// looked for then.
    pub fn parts_from(&self, stage: &StageRow) -> Option<Instant> {
        let rows = self.shortages.get(&stage.job).into_iter().flatten().filter(|row| row.stage == stage.stage);
        let open = |blocker: &&&BlockerRow| blocker.cleared_at.is_none() && blocker.expected_at.is_some();
        let said = |item: &ItemKey| self.blockers(stage).iter().filter(open).any(|one| one.item.as_ref() == Some(item));
        rows.filter(|row| !said(&row.item)).filter_map(|row| self.arrivals.get(&row.item).copied()).max()
    }

    /// Whether a stage lacks something of which nobody knows when it comes: no supplier says so, and nobody expects it.
    pub fn lacks_for_good(&self, stage: &StageRow, now: Instant) -> bool {
        let mut rows = self.shortages.get(&stage.job).into_iter().flatten().filter(|row| row.stage == stage.stage);
        let open = |blocker: &&&BlockerRow| {
            blocker.cleared_at.is_none() && blocker.expected_at.is_some_and(|expected_at| expected_at > now)
        };
        let said = |item: &ItemKey| self.blockers(stage).iter().filter(open).any(|one| one.item.as_ref() == Some(item));
        rows.any(|row| !said(&row.item) && !self.arrivals.contains_key(&row.item))
    }

    /// A job's stages in their written order.
    pub fn stages(&self, job: JobNo) -> &[&'a StageRow] {
        self.stages.get(&job).map_or(&[], Vec::as_slice)
    }

    /// What comes before a stage.
    pub fn afters(&self, stage: &StageRow) -> Vec<&'a AfterRow> {
        let (job, key) = (stage.job, stage.stage.clone());
        let rows = self.state.afters.from_key((job, key.clone(), StageKey(String::new())));
        rows.take_while(|row| row.job == job && row.stage == key).collect()
    }

    /// A stage's steps in order.
    pub fn steps(&self, stage: &StageRow) -> Vec<&'a StepRow> {
        let (job, key) = (stage.job, stage.stage.clone());
        let rows = self.state.steps.from_key((job, key.clone(), StepNo(i32::MIN)));
        rows.take_while(|row| row.job == job && row.stage == key).collect()
    }

    /// All time of persons on a stage, earliest first.
    pub fn clockings(&self, stage: &StageRow) -> &[&'a ClockingRow] {
        self.clockings.get(&stage.job).and_then(|of| of.get(stage.stage.as_str())).map_or(&[], Vec::as_slice)
    }

    /// All blockers of a stage by number.
    pub fn blockers(&self, stage: &StageRow) -> &[&'a BlockerRow] {
        self.blockers.get(&stage.job).and_then(|of| of.get(stage.stage.as_str())).map_or(&[], Vec::as_slice)
    }

    /// A job's stays in bays, earliest first.
    pub fn stays(&self, job: JobNo) -> &[&'a StayRow] {
        self.stays.get(&job).map_or(&[], Vec::as_slice)
    }

    /// The bay in which a job's vehicle is now.
    pub fn bay(&self, job: JobNo) -> Option<&'a BayKey> {
        self.stays(job).iter().find(|stay| stay.until_at.is_none()).map(|stay| &stay.bay)
    }

    /// A job's open shortages by stage and step.
    pub fn shortages(&self, job: JobNo) -> Vec<ShortageLine> {
        self.shortages.get(&job).into_iter().flatten().map(|row| self.shortage(row)).collect()
    }

    /// Every open shortage, the most urgent job first.
    pub fn all_shortages(&self) -> Vec<ShortageLine> {
        let mut jobs: Vec<JobNo> = self.shortages.keys().copied().collect();
        jobs.sort_by_key(|job| self.urgency(*job));
        jobs.into_iter().flat_map(|job| self.shortages(job)).collect()
    }

    /// Lower comes first: priority (1 is the most urgent), what was promised sooner, number.
    fn urgency(&self, job: JobNo) -> (i32, Instant, JobNo) {
        let row = self.state.jobs.get(&(job,));
        let promised = row.and_then(|row| row.promised_at).unwrap_or(Instant(i64::MAX));
        (row.map_or(i32::MAX, |row| row.priority), promised, job)
    }

    fn shortage(&self, row: &ShortageRow) -> ShortageLine {
        let item = self.state.items.get(&(row.item.clone(),));
        let held_by = self.set_aside.get(&row.item).into_iter().flatten();
        ShortageLine {
            shortage: row.shortage,
            job: row.job,
            stage: row.stage.clone(),
            step: row.step,
            item: row.item.clone(),
            name: item.map(|item| item.name.clone()),
            unit: item.map(|item| item.unit),
            quantity: row.quantity,
            since: row.since,
            opened_n: row.opened_n,
            held_by: held_by
                .filter(|(job, _)| **job != row.job)
                .map(|(job, quantity)| Holder { job: *job, quantity: Quantity(*quantity) })
                .collect(),
        }
    }

    /// The text with a person's name.
    pub fn name(&self, person: PersonId) -> Option<TextId> {
        self.state.persons.get(&(person,)).map(|row| row.name)
    }

    /// Who is on a stage now.
    pub fn persons_on(&self, stage: &StageRow) -> Vec<PersonOn> {
        let open = self.clockings(stage).iter().filter(|row| row.until_at.is_none());
        open.map(|row| PersonOn { person: row.person, name: self.name(row.person), since: row.from_at }).collect()
    }

    /// A blocker as a line.
    pub fn blocker(&self, row: &BlockerRow) -> BlockerLine {
        let stage = self.state.stages.get(&(row.job, row.stage.clone()));
        BlockerLine {
            title: stage.map(Title::of_stage).unwrap_or_default(),
            job: row.job,
            blocker: row.blocker,
            stage: row.stage.clone(),
            cause: row.cause,
            owner: row.owner,
            owner_name: row.owner.and_then(|owner| self.name(owner)),
            since: row.since,
            expected_at: row.expected_at,
            item: row.item.clone(),
            tool: row.tool.clone(),
            reading: row.reading.clone(),
            step: row.step,
            note: row.note,
            raised_n: row.raised_n,
            cleared_at: row.cleared_at,
            cleared_n: row.cleared_n,
            cleared_note: row.cleared_note,
        }
    }

    /// A stage's time of persons, for the time book.
    pub fn work(&self, stage: &StageRow) -> Vec<Work> {
        let work = |row: &&ClockingRow| Work {
            from: row.from_at,
            until: row.until_at,
            person: row.person,
            on_n: row.on_n,
            off_n: row.off_n,
        };
        self.clockings(stage).iter().map(work).collect()
    }

    /// What the labels of a stage depend on; none when it has no life yet.
    pub fn times(&self, stage: &StageRow, now: Instant) -> Option<StageTimes<'_>> {
        let held = |row: &&BlockerRow| Held {
            from: row.since,
            until: row.cleared_at,
            cause: row.cause,
            blocker: row.blocker,
            raised_n: row.raised_n,
            cleared_n: row.cleared_n,
        };
        let marks =
            [(stage.ready_at, stage.ready_n), (stage.started_at, stage.started_n), (stage.ended_at, stage.ended_n)];
        Some(StageTimes {
            life: Life::of(stage.ready_at, stage.started_at, stage.ended_at, now)?,
            kind: stage.kind,
            started_at: stage.started_at,
            high_minutes: stage.high,
            work: self.work(stage),
            blockers: self.blockers(stage).iter().map(held).collect(),
            open: &self.openings,
            marks: marks.into_iter().filter_map(|(at, n)| Some(Mark { at: at?, n: n? })).collect(),
        })
    }
}

fn grouped<'a, K: Ord, R>(rows: impl Iterator<Item = &'a R>, key: impl Fn(&'a R) -> K) -> BTreeMap<K, Vec<&'a R>> {
    let mut groups: BTreeMap<K, Vec<&'a R>> = BTreeMap::new();
    for row in rows {
        groups.entry(key(row)).or_default().push(row);
    }
    groups
}

fn by_stage<'a, R>(rows: impl Iterator<Item = &'a R>, key: impl Fn(&'a R) -> (JobNo, &'a StageKey)) -> ByStage<'a, R> {
    let mut groups: ByStage<'a, R> = BTreeMap::new();
    for row in rows {
        let (job, stage) = key(row);
        groups.entry(job).or_default().entry(stage.as_str()).or_default().push(row);
    }
    groups
}

/// Gathers text ids for the look-up.
pub(super) fn note(texts: &mut BTreeSet<TextId>, ids: impl IntoIterator<Item = Option<TextId>>) {
    texts.extend(ids.into_iter().flatten());
}
