//! Jobs are opened, promised, handed over and called off.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{CancelJob, CompleteJob, OpenJob, PromiseJob, WhichVehicle};
use crate::decide::{bays, clocking, condition, customers, ends, flow, hand_over, proof, stages, stock, strip, tools};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::template::{OptionRefusal, chosen_options, expand};
use leadhand_facts::fact::{JobStage, Wording};
use leadhand_facts::rows::{ClockingRow, TemplateRow};
use leadhand_facts::words::{JobState, LeaveReason};
use leadhand_facts::{Fact, JobNo, OptionKey, StageKey, TemplateKey, VehicleId};

/// The least urgent priority.
const PRIORITY_LAST: i32 = 5;

/// The heaviest vehicle that is believed, in kilograms.
const WEIGHT_MAX_KG: i32 = 100_000;

pub(super) fn open(session: &mut Session, command: &OpenJob) -> Result<Made, Refusal> {
    check_priority(command.priority)?;
    if let Some(title) = &command.title {
        check::name("title", title)?;
    }
    if command.promised_at.is_some_and(|promised| promised <= session.at()) {
        return Err(Refusal::invalid("promised_at", "it is not later than the job's opening; give a later time"));
    }
    let plan = planned(session.state, command)?;
    let vehicle = vehicle(session, &command.vehicle)?;
    let job = JobNo(look::shop(session.state)?.last_job + 1);
    let came_apart = came_apart(session.state, vehicle);
    if let Some(before) = came_apart {
        session.notice(Notice::CameApart { job: before });
    }
    let title = match (&command.title, plan.title) {
        (Some(title), _) => Wording::Typed(session.seal(title)),
        (None, Some(title)) => Wording::Template(title),
        (None, None) => return Err(Refusal::invalid("title", "it is empty; a job without a template needs one")),
    };
    session.emit(Fact::JobOpened {
        job,
        template: plan.template,
        revision: plan.revision,
        title,
        vehicle,
        priority: command.priority,
        promised_at: command.promised_at,
        options: plan.options,
        stages: plan.stages,
        came_apart,
    })?;
    let customer = look::vehicle(session.state, vehicle)?.customer;
    if customer.is_some() {
        session.emit(Fact::JobCustomerSet { job, customer })?;
    }
    flow::settle_ready(session, job, None)?;
    flow::settle_blockers(session, job)?;
    Ok(Made::Job { job, vehicle })
}

/// The vehicle's last job, where that was called off with the vehicle apart; or the one of which that job has it.
fn came_apart(state: &State, vehicle: VehicleId) -> Option<JobNo> {
    let last = state.jobs.iter().filter(|row| row.vehicle == vehicle).max_by_key(|row| row.job)?;
    let cancelled = last.state == JobState::Cancelled;
    if cancelled && last.apart { Some(last.job) } else { last.came_apart.filter(|_| cancelled) }
}

#[derive(Default)]
struct Planned {
    title: Option<String>,
    template: Option<TemplateKey>,
    revision: Option<i32>,
    options: Vec<OptionKey>,
    stages: Vec<JobStage>,
}

fn planned(state: &State, command: &OpenJob) -> Result<Planned, Refusal> {
    let Some(key) = &command.template else {
        if command.with.is_empty() && command.without.is_empty() {
            return Ok(Planned::default());
        }
        return Err(Refusal::invalid("with", "a job without a template has no options; leave them out"));
    };
    let row = template(state, key, command.revision)?;
    let on = chosen_options(&row.doc, &command.with, &command.without).map_err(|refusal| match refusal {
        OptionRefusal::Unknown { option, .. } => Refusal::UnknownOption { option, template: key.clone() },
        OptionRefusal::Both { option } => {
            Refusal::invalid("without", format!("option '{option}' is asked for and left out; choose one"))
        }
    })?;
    Ok(Planned {
        title: Some(row.title.clone()),
        template: Some(key.clone()),
        revision: Some(row.revision),
        stages: expand(&row.doc, &on),
        options: on.into_iter().collect(),
    })
}

fn template<'a>(state: &'a State, key: &TemplateKey, revision: Option<i32>) -> Result<&'a TemplateRow, Refusal> {
    let found = match revision {
        Some(revision) => state.templates.get(&(key.clone(), revision)),
        None => state.templates.iter().filter(|row| row.template == *key).max_by_key(|row| row.revision),
    };
    found.ok_or_else(|| Refusal::Unknown {
        what: "template",
        which: revision.map_or_else(|| key.to_string(), |revision| format!("{key} revision {revision}")),
        todo: "`leadhand template list` shows them",
    })
}

fn vehicle(session: &mut Session, which: &WhichVehicle) -> Result<VehicleId, Refusal> {
    match which {
        WhichVehicle::Known(vehicle) => {
            look::vehicle(session.state, *vehicle)?;
            let busy = session.state.jobs.iter().find(|job| job.vehicle == *vehicle && job.state == JobState::Open);
            busy.map_or(Ok(*vehicle), |job| Err(Refusal::VehicleBusy { job: job.job }))
        }
        WhichVehicle::New { label, weight_kg, plate, customer } => {
            check::name("vehicle_label", label)?;
            check_weight("vehicle_weight_kg", *weight_kg)?;
            plate.as_deref().map_or(Ok(()), |plate| check::name("vehicle_plate", plate))?;
            customer.map_or(Ok(()), |customer| look::customer(session.state, customer).map(|_| ()))?;
            let vehicle = VehicleId(session.id());
            let label = session.seal(label);
            session.emit(Fact::VehicleAdded { vehicle, label, weight_kg: *weight_kg })?;
            customers::describe_new(session, vehicle, plate.as_deref(), *customer)?;
            Ok(vehicle)
        }
    }
}

/// What a vehicle is said to weigh, when it is.
pub(super) fn check_weight(field: &str, weight_kg: Option<i32>) -> Result<(), Refusal> {
    if weight_kg.is_some_and(|weight| !(1..=WEIGHT_MAX_KG).contains(&weight)) {
        let why = format!("it is not from 1 to {WEIGHT_MAX_KG} kg; leave it out when it is unknown");
        return Err(Refusal::invalid(field, why));
    }
    Ok(())
}

fn check_priority(priority: i32) -> Result<(), Refusal> {
    if (1..=PRIORITY_LAST).contains(&priority) {
        return Ok(());
    }
    Err(Refusal::invalid(
        "priority",
        format!("{priority} is not from 1 (first) to {PRIORITY_LAST} (when there is time)"),
    ))
}

pub(super) fn promise(session: &mut Session, command: &PromiseJob) -> Result<Made, Refusal> {
    if let Some(priority) = command.priority {
        check_priority(priority)?;
    }
    if command.withdraw_promise && command.promised_at.is_some() {
        return Err(Refusal::invalid("withdraw_promise", "a time is promised as well; say one or the other"));
    }
    if command.promised_at.is_some_and(|promised| promised <= session.at()) {
        return Err(Refusal::invalid("promised_at", "it is not later than the promise itself; give a later time"));
    }
    let job = look::open_job(session.state, session.context, command.job)?.clone();
    let priority = command.priority.unwrap_or(job.priority);
    let promised_at = if command.withdraw_promise { None } else { command.promised_at.or(job.promised_at) };
    session.emit(Fact::JobPromised { job: job.job, priority, promised_at })?;
    Ok(Made::Nothing)
}

pub(super) fn complete(session: &mut Session, command: &CompleteJob) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    for (at, one) in command.overrides.iter().enumerate() {
        check::text_some(&format!("overrides[{at}].reason"), one.reason.as_deref())?;
    }
    let job = look::open_job(session.state, session.context, command.job)?.job;
    if let Some(last) = ends::last_of_job(session.state, job).filter(|last| session.at() < *last) {
        return Err(look::too_early(format!("the hand-over of job {job}"), session.at(), last));
    }
    let lines = hand_over::overruled(session, job, command)?;
    condition::tell_ways(session, job);
    stages::end_with_job(session, job)?;
    close_books(session, job)?;
    session.emit(Fact::JobCompleted { job, overridden: None, lines })?;
    tools::tell_out(session, job);
    Ok(Made::Nothing)
}

pub(super) fn cancel(session: &mut Session, command: &CancelJob) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let job = look::open_job(session.state, session.context, command.job)?.job;
    for row in look::stages_in_order(session.state, job) {
        ends::refuse_early(session, row)?;
    }
    let open = hand_over::apart(session.state, job, session.at());
    if !open.is_empty() {
        if !command.as_it_is {
            return Err(Refusal::GoesApart { job, lines: open });
        }
        proof::lead_by_name(session, "let a vehicle go apart")?;
    }
    let reason = session.seal(&command.reason);
    let left: Vec<StageKey> = look::stages_in_order(session.state, job)
        .into_iter()
        .filter(|stage| !look::is_ended(stage))
        .map(|stage| stage.stage.clone())
        .collect();
    for stage in left {
        stages::leave_out(session, job, &stage, &reason)?;
    }
    strip::tell_open(session, job);
    let apart = !open.is_empty();
    hand_over::tell_as_it_is(session, open);
    condition::tell_curing(session, job);
    close_books(session, job)?;
    session.emit(Fact::JobCancelled { job, reason, apart })?;
    tools::tell_out(session, job);
    Ok(Made::Nothing)
}

/// What ends with a job: persons go off it, goods are used up or given up, the bay is free.
fn close_books(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let on: Vec<ClockingRow> =
        session.state.clockings.iter().filter(|row| row.job == job && row.until_at.is_none()).cloned().collect();
    on.iter().try_for_each(|row| clocking::take_off(session, row))?;
    stock::use_up_job(session, job)?;
    stock::release_job(session, job)?;
    let vehicle = look::job(session.state, job)?.vehicle;
    if let Some(stay) = look::stay_of(session.state, vehicle).cloned() {
        bays::leave(session, &stay, LeaveReason::JobEnded, None)?;
    }
    Ok(())
}
