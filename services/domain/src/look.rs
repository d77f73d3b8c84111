//! Looking things up in what is loaded, with a refusal for what isn't there.

use crate::context::Context;
use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::rows::{
    AfterRow, BayRow, BlockerRow, ClockingRow, CustomerRow, ItemRow, JobRow, PersonRow, ShopRow, StageRow, StayRow,
    StepRow, TemplateRow, VehicleRow,
};
use leadhand_facts::words::{JobState, StageState, StepState};
use leadhand_facts::{
    BayKey, BlockerNo, CustomerId, Instant, ItemKey, JobNo, PersonId, StageKey, StepNo, TemplateKey, VehicleId,
};

/// The shop.
pub fn shop(state: &State) -> Result<&ShopRow, Refusal> {
    state.shop.get(&()).ok_or_else(|| Refusal::Unknown {
        what: "shop",
        which: String::new(),
        todo: "run `leadhandd init` first",
    })
}

/// An item of the stock.
pub fn item<'a>(state: &'a State, item: &ItemKey) -> Result<&'a ItemRow, Refusal> {
    state.items.get(&(item.clone(),)).ok_or_else(|| Refusal::Unknown {
        what: "item",
        which: item.to_string(),
        todo: "`leadhand stock list` shows them",
    })
}

/// A job in any state.
pub fn job(state: &State, job: JobNo) -> Result<&JobRow, Refusal> {
    state.jobs.get(&(job,)).ok_or_else(|| Refusal::Unknown {
        what: "job",
        which: job.to_string(),
        todo: "`leadhand job list` shows them",
    })
}

/// A job in any state, at the version on which the client insists.
pub fn job_as_seen<'a>(state: &'a State, context: &Context, number: JobNo) -> Result<&'a JobRow, Refusal> {
    let row = job(state, number)?;
    if context.etag.is_some_and(|etag| etag != row.version) {
        return Err(Refusal::Changed { job: number, version: row.version });
    }
    Ok(row)
}

/// A job that takes entries, at the version on which the client insists.
pub fn open_job<'a>(state: &'a State, context: &Context, number: JobNo) -> Result<&'a JobRow, Refusal> {
    let row = job_as_seen(state, context, number)?;
    if row.state != JobState::Open {
        return Err(Refusal::JobClosed { job: number, state: row.state });
    }
    if context.happened_at < row.opened_at {
        return Err(too_early(format!("an entry for job {number}"), context.happened_at, row.opened_at));
    }
    Ok(row)
}

/// A time that lies before something it must come after.
pub fn too_early(what: impl Into<String>, at: Instant, earliest: Instant) -> Refusal {
    Refusal::TooEarly { what: what.into(), at, earliest }
}

/// A stage.
pub fn stage<'a>(state: &'a State, job: JobNo, stage: &StageKey) -> Result<&'a StageRow, Refusal> {
    state.stages.get(&(job, stage.clone())).ok_or_else(|| Refusal::Unknown {
        what: "stage",
        which: format!("{stage}' of job '{job}"),
        todo: "`leadhand job show` lists them",
    })
}

/// A step.
pub fn step<'a>(state: &'a State, job: JobNo, stage: &StageKey, step: StepNo) -> Result<&'a StepRow, Refusal> {
    state.steps.get(&(job, stage.clone(), step)).ok_or_else(|| Refusal::Unknown {
        what: "step",
        which: format!("{step}' of stage '{stage}' of job '{job}"),
        todo: "`leadhand job show` lists them",
    })
}

/// A blocker.
pub fn blocker(state: &State, job: JobNo, blocker: BlockerNo) -> Result<&BlockerRow, Refusal> {
    state.blockers.get(&(job, blocker)).ok_or_else(|| Refusal::Unknown {
        what: "blocker",
        which: format!("{blocker}' of job '{job}"),
        todo: "`leadhand job show` lists them",
    })
}

/// A bay.
pub fn bay<'a>(state: &'a State, bay: &BayKey) -> Result<&'a BayRow, Refusal> {
    state.bays.get(&(bay.clone(),)).ok_or_else(|| Refusal::Unknown {
        what: "bay",
        which: bay.to_string(),
        todo: "`leadhand bay list` shows them",
    })
}

/// Whether a vehicle of that weight may stand in it. A floor or a pit may have no rating of its own, which is 0.
pub fn bears(bay: &BayRow, weight_kg: i32) -> bool {
    bay.rated_kg == 0 || weight_kg <= bay.rated_kg
}

/// A person who is not forgotten.
pub fn person(state: &State, person: PersonId) -> Result<&PersonRow, Refusal> {
    let row = any_person(state, person)?;
    if row.forgotten { Err(Refusal::Forgotten {}) } else { Ok(row) }
}

/// A person, also one who was forgotten.
pub fn any_person(state: &State, person: PersonId) -> Result<&PersonRow, Refusal> {
    state.persons.get(&(person,)).ok_or_else(|| Refusal::Unknown {
        what: "person",
        which: person.to_string(),
        todo: "`leadhand person list` shows them",
    })
}

/// A customer who is not forgotten.
pub fn customer(state: &State, customer: CustomerId) -> Result<&CustomerRow, Refusal> {
    let row = any_customer(state, customer)?;
    if row.forgotten { Err(Refusal::CustomerForgotten {}) } else { Ok(row) }
}

/// A customer, also one who was forgotten.
pub fn any_customer(state: &State, customer: CustomerId) -> Result<&CustomerRow, Refusal> {
    state.customers.get(&(customer,)).ok_or_else(|| Refusal::Unknown {
        what: "customer",
        which: customer.to_string(),
        todo: "`leadhand customer list` shows them",
    })
}

/// A vehicle.
pub fn vehicle(state: &State, vehicle: VehicleId) -> Result<&VehicleRow, Refusal> {
    state.vehicles.get(&(vehicle,)).ok_or_else(|| Refusal::Unknown {
        what: "vehicle",
        which: vehicle.to_string(),
        todo: "`leadhand job list` shows them",
    })
}

/// The latest revision of a template.
pub fn template<'a>(state: &'a State, key: &TemplateKey) -> Result<&'a TemplateRow, Refusal> {
    let of_key = state.templates.iter().filter(|row| row.template == *key);
    of_key.max_by_key(|row| row.revision).ok_or_else(|| Refusal::Unknown {
        what: "template",
        which: key.to_string(),
        todo: "`leadhand template list` shows them",
    })
}

/// The stages of a job, by key.
pub fn stages(state: &State, job: JobNo) -> impl Iterator<Item = &StageRow> {
    state.stages.from_key((job, StageKey(String::new()))).take_while(move |row| row.job == job)
}

/// The stages of a job in their written order.
pub fn stages_in_order(state: &State, job: JobNo) -> Vec<&StageRow> {
    let mut rows: Vec<&StageRow> = stages(state, job).collect();
    rows.sort_by_key(|row| row.ordinal);
    rows
}

/// What comes before a stage.
pub fn afters<'a>(state: &'a State, job: JobNo, stage: &'a StageKey) -> impl Iterator<Item = &'a AfterRow> {
    state
        .afters
        .from_key((job, stage.clone(), StageKey(String::new())))
        .take_while(move |row| row.job == job && row.stage == *stage)
}

/// The steps of a stage in order.
pub fn steps<'a>(state: &'a State, job: JobNo, stage: &'a StageKey) -> impl Iterator<Item = &'a StepRow> {
    state.steps.from_key((job, stage.clone(), StepNo(0))).take_while(move |row| row.job == job && row.stage == *stage)
}

/// The step that is next: the first one left of a stage that is not ended.
pub fn next_step<'a>(state: &'a State, stage: &'a StageRow) -> Option<&'a StepRow> {
    if is_ended(stage) {
        return None;
    }
    steps(state, stage.job, &stage.stage).find(|step| step.state == StepState::Pending)
}

/// Whether a stage is finished or skipped.
pub fn is_ended(stage: &StageRow) -> bool {
    matches!(stage.state, StageState::Finished | StageState::Skipped)
}

/// Whether a stage is under way or could be: it lives, and nothing planned is to be waited for.
pub fn is_live(stage: &StageRow) -> bool {
    match stage.state {
        StageState::Active => true,
        StageState::Pending => stage.ready_at.is_some() && !stage.waiting,
        StageState::Finished | StageState::Skipped => false,
    }
}

/// The open blockers of a job.
pub fn open_blockers(state: &State, job: JobNo) -> impl Iterator<Item = &BlockerRow> {
    state
        .blockers
        .from_key((job, BlockerNo(0)))
        .take_while(move |row| row.job == job)
        .filter(|row| row.cleared_at.is_none())
}

/// Where a vehicle stands now, when it is in a bay.
pub fn stay_of(state: &State, vehicle: VehicleId) -> Option<&StayRow> {
    state.stays.iter().find(|row| row.vehicle == vehicle && row.until_at.is_none())
}

/// Which stay holds a bay now.
pub fn stay_in<'a>(state: &'a State, bay: &BayKey) -> Option<&'a StayRow> {
    state.stays.iter().find(|row| row.bay == *bay && row.until_at.is_none())
}

/// Which stay held a bay at that time.
pub fn stay_in_at<'a>(state: &'a State, bay: &BayKey, at: Instant) -> Option<&'a StayRow> {
    state.stays.iter().find(|row| row.bay == *bay && held_at(row, at))
}

/// Where a job's vehicle stood at that time.
pub fn stay_of_job_at(state: &State, job: JobNo, at: Instant) -> Option<&StayRow> {
    state.stays.iter().find(|row| row.job == job && held_at(row, at))
}

fn held_at(stay: &StayRow, at: Instant) -> bool {
    stay.from_at <= at && stay.until_at.is_none_or(|until| at < until)
}

/// What a person is clocked on to.
pub fn clocking_of(state: &State, person: PersonId) -> Option<&ClockingRow> {
    state.clockings.iter().find(|row| row.person == person && row.until_at.is_none())
}

/// Who is clocked on to a stage.
pub fn clockings_on<'a>(state: &'a State, job: JobNo, stage: &'a StageKey) -> impl Iterator<Item = &'a ClockingRow> {
    state.clockings.iter().filter(move |row| row.job == job && row.stage == *stage && row.until_at.is_none())
}
