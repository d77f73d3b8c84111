//! What a vehicle goes back with, in writing, and what is open at the end of a shift.

use crate::condition;
use crate::decide::{remarks, told};
use crate::fill;
use crate::hand_over::{Line, Remedy, Subject, follow_ups, lines, subject};
use crate::hazard::DEFERENCE;
use crate::look;
use crate::reading;
use crate::state::State;
use crate::strip;
use leadhand_facts::reading::OverruledLine;
use leadhand_facts::rows::{
    AttemptRow, BlockerRow, FluidRow, JobRow, PositionRow, ReadingRow, RemarkRow, StageRow, StepRow, ToldRow, WayRow,
};
use leadhand_facts::template::Caution;
use leadhand_facts::words::{
    Cause, Feature, JobState, Manner, Renew, StageState, StepState, Tightness, VehicleState, Verdict,
};
use leadhand_facts::{BayKey, Instant, ItemKey, JobNo, PersonId, Quantity, TextId, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// The readings of a job in the order of the stages and steps at which they are taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadingsView {
    /// The readings.
    pub readings: Vec<ReadingRow>,
    /// The journal number at which it is true.
    pub number: i64,
}

impl ReadingsView {
    /// Every text that it refers to, the names of persons aside.
    pub fn text_ids(&self) -> impl Iterator<Item = TextId> {
        self.readings.iter().flat_map(texts_of_reading)
    }

    /// Everybody who is named in it.
    pub fn persons(&self) -> impl Iterator<Item = PersonId> {
        self.readings.iter().flat_map(|row| [row.taken_by, row.decided_by]).flatten()
    }
}

fn texts_of_reading(row: &ReadingRow) -> impl Iterator<Item = TextId> + use<> {
    [row.what_text, row.instrument, row.note, row.decided_reason].into_iter().flatten()
}

/// The readings of a job that is loaded.
pub fn readings_view(state: &State, job: JobNo) -> ReadingsView {
    let stages = look::stages_in_order(state, job);
    let place = |row: &ReadingRow| stages.iter().position(|stage| stage.stage == row.stage);
    let mut rows: Vec<&ReadingRow> = reading::readings(state, job).collect();
    rows.sort_by_key(|row| (place(row), row.step.is_none(), row.step, row.reading.clone()));
    ReadingsView { readings: rows.into_iter().cloned().collect(), number: state.head }
}

/// Goods that went into a vehicle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// The item.
    pub item: ItemKey,
    /// What it is called, as far as it is loaded.
    pub name: Option<String>,
    /// Its unit, as far as it is loaded.
    pub unit: Option<Unit>,
    /// How much, what was brought back aside.
    pub quantity: Quantity,
}

/// A hand-over sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// The job.
    pub job: JobRow,
    /// What people call the vehicle.
    pub label: Option<TextId>,
    /// The vehicle's plate.
    pub plate: Option<TextId>,
    /// The shop's name.
    pub shop: Option<TextId>,
    /// The stages in their order, each with its steps.
    pub stages: Vec<(StageRow, Vec<StepRow>)>,
    /// What went in from stock.
    pub parts: Vec<Part>,
    /// Fluids of which something was said.
    pub fluids: Vec<FluidRow>,
    /// Positions of which something is to be said.
    pub positions: Vec<PositionRow>,
    /// What was tried where one of them would not move, in order.
    pub attempts: Vec<AttemptRow>,
    /// What was measured.
    pub readings: ReadingsView,
    /// What steps that were done leave to be watched.
    pub follow_ups: Vec<String>,
    /// Cautions of those steps, gravest first.
    pub cautions: Vec<Caution>,
    /// Remarks that count.
    pub remarks: Vec<RemarkRow>,
    /// What the job's customer was told, as far as it counts.
    pub told: Vec<ToldRow>,
    /// Ways that are not the book's, by which steps were done.
    pub ways: Vec<WayRow>,
    /// What a lead overruled.
    pub overruled: Vec<Gone>,
    /// What is open, while the job is, and what it is about.
    pub open: Vec<(Line, Subject)>,
}

/// A line that a lead overruled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gone {
    /// Its key, the reason, and on whose word.
    pub line: OverruledLine,
    /// What was open, and what that is about; nothing for a line that this version does not know any more.
    pub open: Option<(Line, Subject)>,
    /// What it is about, where nothing was open but something was done all the same: a position.
    pub about: Option<Subject>,
}

impl Sheet {
    /// Every text that it refers to, the names of persons aside.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let head = [self.label, self.plate, self.shop, self.job.title_text].into_iter().flatten();
        let stages = self.stages.iter().flat_map(|(stage, steps)| {
            let steps = steps.iter().flat_map(|step| [step.instruction_text, step.reason]);
            [stage.title_text, stage.reason].into_iter().chain(steps).flatten()
        });
        let positions =
            self.positions.iter().flat_map(|row| [row.what_text, row.note, row.reason, row.repair]).flatten();
        let overruled = self.overruled.iter().map(|gone| gone.line.reason);
        let gone = self.overruled.iter().filter_map(|gone| gone.open.as_ref());
        let lines = gone.chain(&self.open).filter_map(|(_, subject)| subject.text);
        let lines = lines.chain(self.overruled.iter().filter_map(|gone| gone.about.as_ref()?.text));
        let overruled = overruled.chain(lines).chain(self.ways.iter().flat_map(|row| [row.note, row.reason]));
        let overruled = overruled.chain(self.fluids.iter().filter_map(|row| row.note));
        let remarks = self.remarks.iter().map(|row| row.words);
        let remarks = remarks.chain(self.told.iter().map(|row| row.words));
        let all = head.chain(stages).chain(positions).chain(overruled).chain(remarks);
        all.chain(self.readings.text_ids()).collect()
    }

    /// Everybody who is named in it: who decided, who overruled, and who looked as a second person. Nobody's work is.
    pub fn persons(&self) -> BTreeSet<PersonId> {
        let overruled = self.overruled.iter().filter_map(|gone| gone.line.by);
        let overruled = overruled.chain(self.ways.iter().filter_map(|row| row.decided_by));
        let steps = self.stages.iter().flat_map(|(_, steps)| steps);
        let looked = steps.filter_map(looked_at_by).chain(self.positions.iter().filter_map(|row| row.checked_by));
        overruled.chain(self.readings.readings.iter().filter_map(|row| row.decided_by)).chain(looked).collect()
    }
}

/// Who passed a hold point as a second pair of eyes.
pub fn looked_at_by(step: &StepRow) -> Option<PersonId> {
    let second = step.safety.hold.as_ref().is_some_and(|hold| hold.second);
    step.done_by.filter(|_| second && step.state == StepState::Done)
}

/// The items that went into a vehicle, also those that were never taken from stock.
pub fn items_of(state: &State, job: JobNo) -> Vec<ItemKey> {
    let renewed = strip::not_taken(state, job).into_keys();
    let fills = fill::not_drawn(state, job).into_keys().chain(fill::gainsaid(state, job));
    used(state, job).into_keys().chain(renewed).chain(fills).collect()
}

fn used(state: &State, job: JobNo) -> BTreeMap<ItemKey, Quantity> {
    let mut used: BTreeMap<ItemKey, Quantity> = BTreeMap::new();
    for row in state.demands.iter().filter(|row| row.job == job && row.issued.is_positive()) {
        let sum = used.entry(row.item.clone()).or_default();
        *sum = sum.plus(row.issued).unwrap_or(*sum);
    }
    used
}

/// The sheet of a job that is loaded, as it is now or was when the job was closed; nothing when it is not.
pub fn sheet(state: &State, job: JobNo, now: Instant) -> Option<Sheet> {
    let row = state.jobs.get(&(job,))?.clone();
    // What is closed is as it was then.
    let at = row.closed_at.unwrap_or(now);
    let vehicle = state.vehicles.get(&(row.vehicle,));
    let stages = look::stages_in_order(state, job).into_iter();
    let steps = |stage: &StageRow| look::steps(state, job, &stage.stage).cloned().collect();
    let part = |(item, quantity): (ItemKey, Quantity)| {
        let found = state.items.get(&(item.clone(),));
        Part { name: found.map(|row| row.name.clone()), unit: found.map(|row| row.unit), item, quantity }
    };
    let watched = follow_ups(state, job);
    let mut cautions: Vec<Caution> = watched.iter().flat_map(|step| step.cautions.iter().cloned()).collect();
    // That others come before a list of hazards is said on the sheet by itself.
    cautions.retain(|caution| caution.text != DEFERENCE);
    cautions.sort();
    cautions.dedup();
    // What is called off leaves as it is, and whoever drives or tows it away has to know how that is.
    let as_it_is = |line: &Line| row.state == JobState::Open || line.remedy() != Remedy::End;
    let open: Vec<Line> = match row.state {
        JobState::Completed => Vec::new(),
        JobState::Open | JobState::Cancelled => lines(state, job, at).into_iter().filter(as_it_is).collect(),
    };
    let about = |line: Line| {
        let subject = subject(state, job, &line);
        (line, subject)
    };
    Some(Sheet {
        label: vehicle.map(|vehicle| vehicle.label),
        plate: vehicle.and_then(|vehicle| vehicle.plate),
        shop: state.shop.get(&()).map(|shop| shop.name),
        stages: stages.map(|stage| (stage.clone(), steps(stage))).collect(),
        parts: used(state, job).into_iter().map(part).collect(),
        fluids: condition::fluids(state, job).filter(|row| row.said_at.is_some()).cloned().collect(),
        positions: strip::positions(state, job).filter(|row| is_told(state, row)).cloned().collect(),
        attempts: strip::positions(state, job)
            .flat_map(|row| strip::attempts(state, job, &row.position))
            .cloned()
            .collect(),
        readings: readings_view(state, job),
        follow_ups: watched.iter().filter_map(|step| step.follow_up.clone()).collect(),
        cautions,
        remarks: remarks(state, job).filter(|row| row.withdrawn_n.is_none()).cloned().collect(),
        told: told(state, job).filter(|said| is_to_customer(&row, said)).cloned().collect(),
        ways: condition::ways(state, job).filter(|way| is_done_so(state, way)).cloned().collect(),
        overruled: gone(state, &row, at).chain(done_all_the_same(state, job)).collect(),
        open: open.into_iter().map(about).collect(),
        job: row,
    })
}

/// Whether the customer who takes the vehicle was told this, and not somebody else or another customer before.
fn is_to_customer(job: &JobRow, said: &ToldRow) -> bool {
    said.withdrawn_n.is_none() && said.customer.is_some() && said.customer == job.customer
}

/// What a lead overruled, with what was open: a job that was handed over is as it was then.
fn gone<'s>(state: &'s State, row: &JobRow, at: Instant) -> impl Iterator<Item = Gone> + use<'s> {
    let (open, job) = (lines(state, row.job, at), row.job);
    row.overruled.clone().into_iter().map(move |line| {
        let found = open.iter().find(|one| one.key() == line.line);
        let told = found.map(|found| (found.clone(), subject(state, job, found)));
        Gone { line, open: told, about: None }
    })
}

/// What a lead let be taken off or put back against a rule of the strip book, in the order of the positions.
fn done_all_the_same(state: &State, job: JobNo) -> impl Iterator<Item = Gone> {
    strip::positions(state, job).flat_map(|row| {
        let about = Subject { own: row.what.clone(), text: row.what_text, key: row.position.to_string() };
        let lines = row.off_overruled.iter().chain(&row.back_overruled).cloned();
        lines.map(move |line| Gone { line, open: None, about: Some(about.clone()) })
    })
}

/// Whether a step was done in another way than the book's, as a lead approved.
fn is_done_so(state: &State, way: &WayRow) -> bool {
    let step = state.steps.get(&(way.job, way.stage.clone(), way.step));
    way.approved == Some(true) && step.is_some_and(|step| step.state == StepState::Done)
}

/// Whether the customer is to hear of a position: it was not as it should be, or is not what it was.
fn is_told(state: &State, row: &PositionRow) -> bool {
    let said = row.repair.is_some() || row.checked_by.is_some();
    let tried = strip::attempts(state, row.job, &row.position).next().is_some();
    let found = row.missing + row.damaged > 0 || (row.unplanned && row.off_n.is_some() && !strip::never_there(row));
    let changed =
        row.renewed + row.left_out + row.kept > 0 || (row.detail.renew == Renew::Always && row.back_n.is_some());
    row.detail.manner != Manner::In && (found || changed || said || tried)
}

/// What is open on a job at the end of a shift.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LooseJob {
    /// The bay in which its vehicle is.
    pub bay: Option<BayKey>,
    /// The job.
    pub job: JobRow,
    /// What people call the vehicle.
    pub label: Option<TextId>,
    /// Stages under way, with the steps that are left.
    pub half_done: Vec<(StageRow, Vec<StepRow>)>,
    /// What is back and not tight.
    pub loose: Vec<PositionRow>,
    /// What is still in.
    pub still_in: Vec<PositionRow>,
    /// What is off, with where it is kept.
    pub kept: Vec<PositionRow>,
    /// Readings that hold something up.
    pub readings: Vec<ReadingRow>,
    /// What holds it up.
    pub blockers: Vec<BlockerRow>,
    /// States in which the vehicle does not go, and whatever was said of high voltage.
    pub states: Vec<VehicleState>,
    /// Fluids of which less went in than came out, or some did not come out.
    pub fluids: Vec<FluidRow>,
    /// What soaks before it is tried, the next one first.
    pub soaking: Vec<PositionRow>,
    /// What is back and cures, with until when; the next one first.
    pub curing: Vec<(PositionRow, Instant)>,
    /// Ways that are not the book's, on which no lead has decided.
    pub ways: Vec<WayRow>,
    /// States in which the vehicle is alive, as somebody said or did, while these are off, still in or not tight.
    pub live: Vec<(VehicleState, Vec<PositionRow>)>,
}

impl LooseJob {
    /// Whether nothing is open on it.
    pub fn is_settled(&self) -> bool {
        self.half_done.is_empty()
            && self.loose.is_empty()
            && self.still_in.is_empty()
            && self.kept.is_empty()
            && self.readings.is_empty()
            && self.blockers.is_empty()
            && self.states.is_empty()
            && self.fluids.is_empty()
            && self.soaking.is_empty()
            && self.curing.is_empty()
            && self.ways.is_empty()
            && self.live.is_empty()
    }

    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let half = self
            .half_done
            .iter()
            .flat_map(|(stage, steps)| steps.iter().map(|step| step.instruction_text).chain([stage.title_text]));
        let live = self.live.iter().flat_map(|(_, rows)| rows).chain(self.curing.iter().map(|(row, _)| row));
        let positions = self.loose.iter().chain(&self.still_in).chain(&self.kept).chain(&self.soaking).chain(live);
        let positions = positions.flat_map(|row| [row.what_text, row.kept_at, row.note, row.repair]);
        let ways = self.ways.iter().flat_map(|row| [Some(row.note), Some(row.reason)]);
        let notes = self.blockers.iter().map(|row| row.note).chain(ways);
        let readings = self.readings.iter().map(|row| row.what_text);
        let all = half.chain(positions).chain(notes).chain(readings).chain([self.label, self.job.title_text]);
        all.flatten().collect()
    }
}

/// What is open on the open jobs that are loaded, by bay, those outside last; jobs without anything are left out.
pub fn loose_ends(state: &State, only: Option<JobNo>, at: Instant) -> Vec<LooseJob> {
    let open = state.jobs.iter().filter(|row| row.state == JobState::Open);
    let open = open.filter(|row| only.is_none_or(|only| row.job == only));
    let mut jobs: Vec<LooseJob> = open.map(|row| of_job(state, row, at)).filter(|job| !job.is_settled()).collect();
    jobs.sort_by_key(|job| (job.bay.is_none(), job.bay.clone(), job.job.job));
    jobs
}

fn of_job(state: &State, row: &JobRow, at: Instant) -> LooseJob {
    let job = row.job;
    let active = look::stages_in_order(state, job).into_iter().filter(|stage| stage.state == StageState::Active);
    let left = |stage: &StageRow| {
        let steps = look::steps(state, job, &stage.stage).filter(|step| step.state == StepState::Pending);
        steps.cloned().collect()
    };
    let positions = |which: &dyn Fn(&PositionRow) -> bool| {
        strip::positions(state, job).filter(|row| row.off_n.is_some() && which(row)).cloned().collect()
    };
    let is_in = |row: &PositionRow| row.detail.manner == Manner::In;
    let fitted = |row: &PositionRow| row.refitted + row.renewed > 0;
    let not_tight = |row: &PositionRow| row.tightness.is_some_and(|tightness| tightness != Tightness::Final);
    let soaks = |row: &&PositionRow| row.off_n.is_none() && row.soak_until.is_some();
    let mut soaking: Vec<PositionRow> = strip::positions(state, job).filter(soaks).cloned().collect();
    soaking.sort_by_key(|row| row.soak_until);
    let cures = |row: &PositionRow| Some((row.clone(), strip::cures_until(row, at)?));
    let mut curing: Vec<(PositionRow, Instant)> = strip::positions(state, job).filter_map(cures).collect();
    curing.sort_by_key(|(_, until)| *until);
    let held = |row: &&ReadingRow| row.verdict == Some(Verdict::Out) && reading::holds(row);
    LooseJob {
        bay: look::stay_of(state, row.vehicle).filter(|stay| stay.job == job).map(|stay| stay.bay.clone()),
        label: state.vehicles.get(&(row.vehicle,)).map(|vehicle| vehicle.label),
        half_done: active.map(|stage| (stage.clone(), left(stage))).collect(),
        loose: positions(&|row| !is_in(row) && fitted(row) && not_tight(row)),
        still_in: positions(&|row| is_in(row) && strip::pieces_left(row) > 0),
        kept: positions(&|row| !is_in(row) && strip::places_left(row) > 0),
        readings: reading::readings(state, job).filter(held).cloned().collect(),
        blockers: {
            let mut all: Vec<BlockerRow> = look::open_blockers(state, job).cloned().collect();
            all.sort_by_key(|row| row.cause != Cause::Safety);
            all
        },
        states: condition::states(state, job).map(|row| row.state).filter(|state| is_odd(*state)).collect(),
        fluids: condition::fluids(state, job).filter(|row| is_not_full(row)).cloned().collect(),
        soaking,
        curing,
        ways: condition::ways(state, job).filter(|way| way.approved.is_none()).cloned().collect(),
        live: live(state, job, at),
        job: row.clone(),
    }
}

/// What lives while something is open: a state that somebody said or brought about, and what is open then.
fn live(state: &State, job: JobNo, at: Instant) -> Vec<(VehicleState, Vec<PositionRow>)> {
    let said = condition::states(state, job).map(|row| row.state);
    let open = said.map(|set| (set, strip::open_while(state, job, set, at).into_iter().cloned().collect::<Vec<_>>()));
    open.filter(|(_, rows)| !rows.is_empty()).collect()
}

/// Whether whoever takes over has to know of a state: it is not how the vehicle goes, or about high voltage.
fn is_odd(state: VehicleState) -> bool {
    let feature = state.feature();
    feature.rest().map_or(feature == Feature::HighVoltage, |rest| rest != state)
}

fn is_not_full(row: &FluidRow) -> bool {
    row.filled_ml < row.drained_ml || condition::still_in(row).is_some()
}
