//! Everything about one job.

use super::board::{JobCard, Standing, card_of};
use super::condition::ConditionView;
use super::parts::{BlockerLine, Index, PersonOn, ShortageLine, Title, note};
use super::to_get::{ToGet, to_get};
use crate::condition::wanted;
use crate::decide::told;
use crate::plan::view::{PlannedWork, planned_work};
use crate::state::State;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::rows::{DemandRow, JobRow, StageRow, StepRow, ToldRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::template::{Caution, Minutes, Need};
use leadhand_facts::words::{BayKind, JobState, LeaveReason, StageKind, StepState, VehicleState};
use leadhand_facts::{
    BayKey, ClockingId, Instant, ItemKey, JobNo, OptionKey, PersonId, PlaceKey, Quantity, StageKey, StepNo,
    TemplateKey, TextId, ToolKey, Unit,
};
use std::collections::{BTreeMap, BTreeSet};

/// A job with all that belongs to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobView {
    /// The journal number at which it is true.
    pub number: i64,
    /// When it was made.
    pub at: Instant,
    /// What the board says about it.
    pub card: JobCard,
    /// Its template and revision; none for a blank job.
    pub template: Option<(TemplateKey, i32)>,
    /// Options that are on.
    pub options: Vec<OptionKey>,
    /// Where it stands.
    pub state: JobState,
    /// When it was opened.
    pub opened_at: Instant,
    /// When it was handed over or called off.
    pub closed_at: Option<Instant>,
    /// Why it was called off.
    pub reason: Option<TextId>,
    /// The bay in which the vehicle is.
    pub bay: Option<BayKey>,
    /// The vehicle's stays in bays, earliest first.
    pub stays: Vec<StayLine>,
    /// Its stages in their written order.
    pub stages: Vec<StageDetail>,
    /// Its open shortages, those of later stages included.
    pub shortages: Vec<ShortageLine>,
    /// What was issued to it and lies at the job, by item.
    pub at_job: Vec<AtJob>,
    /// What soaks before its turn.
    pub soaking: Vec<super::strip::Soaking>,
    /// New pieces that it takes and that no stock has.
    pub to_get: Vec<ToGet>,
    /// The condition of its vehicle.
    pub condition: ConditionView,
    /// What was told to whom, in order; what was withdrawn included.
    pub told: Vec<ToldLine>,
}

/// What somebody was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToldLine {
    /// As it is kept.
    pub row: ToldRow,
    /// Whether a customer was told.
    pub to_customer: bool,
    /// The name of who told it.
    pub by: Option<TextId>,
}

/// A stay in a bay.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct StayLine {
    pub bay: BayKey,
    pub from_at: Instant,
    pub until_at: Option<Instant>,
    pub why_left: Option<LeaveReason>,
}

/// A stage with all that belongs to it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct StageDetail {
    pub stage: StageKey,
    pub title: Title,
    pub kind: StageKind,
    pub place: usize,
    pub standing: Standing,
    pub minutes: Minutes,
    pub bays: Vec<BayKind>,
    pub skills: Vec<String>,
    pub hands: i32,
    pub tools: Vec<String>,
    pub may_leave: bool,
    pub in_one_go: bool,
    pub unplanned: bool,
    pub started_at: Option<Instant>,
    pub reason: Option<TextId>,
    /// What comes before it.
    pub after: Vec<JobAfter>,
    /// Predecessors that are not finished.
    pub waits_for: Vec<StageKey>,
    /// Who is on it now.
    pub persons: Vec<PersonOn>,
    /// All time of persons on it, earliest first.
    pub clockings: Vec<ClockingLine>,
    pub steps: Vec<StepLine>,
    /// Every blocker, cleared ones included.
    pub blockers: Vec<BlockerLine>,
    /// Where, by whom and when the accepted plan has it.
    pub planned: Option<PlannedWork>,
    /// States that its steps will need and that the vehicle is not in: from which step on, what is needed, what there is.
    pub wanted: Vec<(StepNo, VehicleState, VehicleState)>,
}

/// A stretch of a person's time.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct ClockingLine {
    pub clocking: ClockingId,
    pub person: PersonId,
    pub name: Option<TextId>,
    pub from_at: Instant,
    pub until_at: Option<Instant>,
}

/// A step.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct StepLine {
    pub step: StepNo,
    pub instruction: Title,
    pub tools: Vec<String>,
    pub shared_tools: Vec<ToolKey>,
    pub cautions: Vec<Caution>,
    pub needs: Vec<Need>,
    pub names: BTreeMap<ItemKey, String>,
    pub safety: StepSafety,
    pub unplanned: bool,
    pub state: StepState,
    pub done_at: Option<Instant>,
    pub done_by: Option<PersonId>,
    pub done_by_name: Option<TextId>,
    pub reason: Option<TextId>,
    pub overridden: Option<TextId>,
    /// What was put on the list for it, and where that stands.
    pub demand: Vec<DemandLine>,
}

/// What a step wants of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs, reason = "fields are named by their types, as in the row")]
pub struct DemandLine {
    pub item: ItemKey,
    pub name: Option<String>,
    pub unit: Option<Unit>,
    pub wanted: Quantity,
    pub reserved: Quantity,
    pub issued: Quantity,
    pub short: Quantity,
}

/// What lies at the job of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtJob {
    /// The item.
    pub item: ItemKey,
    /// How much.
    pub quantity: Quantity,
}

/// Everything about a job that is loaded; nothing when it is not.
pub fn job_view(state: &State, job: JobNo, now: Instant) -> Option<JobView> {
    let row = state.jobs.get(&(job,))?;
    let index = Index::at(state, now);
    let stay = |stay: &&leadhand_facts::rows::StayRow| StayLine {
        bay: stay.bay.clone(),
        from_at: stay.from_at,
        until_at: stay.until_at,
        why_left: stay.why_left,
    };
    let stages = index.stages(job).iter().enumerate();
    Some(JobView {
        number: state.head,
        at: now,
        card: card_of(&index, row, now),
        template: template_of(row),
        options: row.options.clone(),
        state: row.state,
        opened_at: row.opened_at,
        closed_at: row.closed_at,
        reason: row.reason,
        bay: index.bay(job).cloned(),
        stays: index.stays(job).iter().map(stay).collect(),
        stages: stages.map(|(at, stage)| detail(&index, stage, at + 1, now)).collect(),
        shortages: index.shortages(job),
        at_job: at_job(state, job),
        soaking: super::strip::soaking(state, job, now),
        to_get: to_get(state, job),
        condition: ConditionView::of(&index, job),
        told: told(state, job).map(|row| told_line(&index, row)).collect(),
    })
}

fn told_line(index: &Index<'_>, row: &ToldRow) -> ToldLine {
    let to_customer = row.customer.is_some();
    ToldLine { row: row.clone(), to_customer, by: row.told_by.and_then(|person| index.name(person)) }
}

fn template_of(row: &JobRow) -> Option<(TemplateKey, i32)> {
    Some((row.template.clone()?, row.revision?))
}

fn detail(index: &Index<'_>, stage: &StageRow, place: usize, now: Instant) -> StageDetail {
    let afters = index.afters(stage);
    let unfinished = |key: &StageKey| {
        let before = index.state.stages.get(&(stage.job, key.clone()));
        before.is_some_and(|before| before.ended_at.is_none())
    };
    let clocking = |row: &&leadhand_facts::rows::ClockingRow| ClockingLine {
        clocking: row.clocking,
        person: row.person,
        name: index.name(row.person),
        from_at: row.from_at,
        until_at: row.until_at,
    };
    StageDetail {
        stage: stage.stage.clone(),
        title: Title::of_stage(stage),
        kind: stage.kind,
        place,
        standing: Standing::of(stage, now),
        minutes: Minutes { low: stage.low, likely: stage.likely, high: stage.high },
        bays: stage.bays.clone(),
        skills: stage.skills.clone(),
        hands: stage.hands,
        tools: stage.tools.clone(),
        may_leave: stage.may_leave,
        in_one_go: stage.in_one_go,
        unplanned: stage.unplanned,
        started_at: stage.started_at,
        reason: stage.reason,
        waits_for: afters.iter().map(|row| row.after.clone()).filter(unfinished).collect(),
        after: afters.iter().map(|row| JobAfter { stage: row.after.clone(), wait_minutes: row.wait_minutes }).collect(),
        persons: index.persons_on(stage),
        clockings: index.clockings(stage).iter().map(clocking).collect(),
        steps: index.steps(stage).into_iter().map(|step| step_line(index, step)).collect(),
        blockers: index.blockers(stage).iter().map(|row| index.blocker(row)).collect(),
        planned: planned_work(index.state, stage),
        wanted: wanted(index.state, stage),
    }
}

fn step_line(index: &Index<'_>, step: &StepRow) -> StepLine {
    let (job, stage, number) = (step.job, step.stage.clone(), step.step);
    let first = (job, stage.clone(), number, ItemKey(String::new()));
    let demand = index.state.demands.from_key(first);
    let demand = demand.take_while(|row| row.job == job && row.stage == stage && row.step == number);
    StepLine {
        step: step.step,
        instruction: Title::of(step.instruction.as_ref(), step.instruction_text),
        tools: step.tools.clone(),
        shared_tools: step.shared_tools.clone(),
        cautions: step.cautions.clone(),
        needs: step.needs.clone(),
        names: step.needs.iter().filter_map(|need| named(index.state, need)).collect(),
        safety: step.safety.clone(),
        unplanned: step.unplanned,
        state: step.state,
        done_at: step.done_at,
        done_by: step.done_by,
        done_by_name: step.done_by.and_then(|person| index.name(person)),
        reason: step.reason,
        overridden: step.overridden,
        demand: demand.map(|row| demand_line(index.state, row)).collect(),
    }
}

/// What a need's item is called, where it is listed.
fn named(state: &State, need: &Need) -> Option<(ItemKey, String)> {
    state.items.get(&(need.item.clone(),)).map(|row| (need.item.clone(), row.name.clone()))
}

fn demand_line(state: &State, row: &DemandRow) -> DemandLine {
    let item = state.items.get(&(row.item.clone(),));
    DemandLine {
        item: row.item.clone(),
        name: item.map(|item| item.name.clone()),
        unit: item.map(|item| item.unit),
        wanted: row.wanted,
        reserved: row.reserved,
        issued: row.issued,
        short: row.short,
    }
}

fn at_job(state: &State, job: JobNo) -> Vec<AtJob> {
    let place = PlaceKey::of_job(job);
    let here = state.holds.iter().filter(|hold| hold.place == place && hold.on_hand.is_positive());
    here.map(|hold| AtJob { item: hold.item.clone(), quantity: hold.on_hand }).collect()
}

impl JobView {
    /// Every text that it refers to.
    pub fn text_ids(&self) -> BTreeSet<TextId> {
        let mut texts = self.card.text_ids();
        note(&mut texts, [self.reason]);
        note(&mut texts, self.to_get.iter().map(|one| one.what.text));
        note(&mut texts, self.soaking.iter().map(|soaking| soaking.row.what_text));
        for stage in &self.stages {
            note(&mut texts, [stage.title.text, stage.reason]);
            note(&mut texts, stage.persons.iter().map(|person| person.name));
            note(&mut texts, stage.planned.iter().flat_map(|planned| planned.people.iter().copied()));
            note(&mut texts, stage.clockings.iter().map(|line| line.name));
            note(&mut texts, stage.steps.iter().flat_map(|s| [s.instruction.text, s.done_by_name, s.reason]));
            note(&mut texts, stage.steps.iter().map(|step| step.overridden));
            texts.extend(stage.blockers.iter().flat_map(BlockerLine::text_ids));
        }
        self.condition.note_texts(&mut texts);
        let said = |ToldLine { row, by, .. }: &ToldLine| [Some(row.words), row.whom, row.withdrawn_reason, *by];
        note(&mut texts, self.told.iter().flat_map(said));
        texts
    }

    /// Every item that it refers to, so that names and units can be loaded.
    pub fn items(&self) -> BTreeSet<ItemKey> {
        let steps = self.stages.iter().flat_map(|stage| &stage.steps);
        let needs = steps.clone().flat_map(|step| step.needs.iter().map(|need| need.item.clone()));
        let demand = steps.flat_map(|step| step.demand.iter().map(|line| line.item.clone()));
        let at_job = self.at_job.iter().map(|line| line.item.clone());
        needs.chain(demand).chain(at_job).chain(self.shortages.iter().map(|line| line.item.clone())).collect()
    }
}
