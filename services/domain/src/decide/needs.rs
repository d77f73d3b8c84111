//! What each command needs to see. Asked again and again until nothing is missing, so that what
//! was loaded may lead to more.

use crate::command::{
    Change, Command, CorrectClocking, CorrectStay, DecideCorrection, EditVehicle, OpenJob, SetBay, WhichVehicle,
};
use crate::context::Context;
use crate::decide::{asked, calendar, condition, plan, readings, stock, suppliers, told, tools};
use crate::need::Need;
use crate::state::State;
use crate::strip;
use crate::template::items_named;
use leadhand_facts::words::StageState;
use leadhand_facts::{BayKey, Instant, ItemKey, JobNo, PersonId, TemplateKey};
use std::collections::BTreeSet;

/// What is still to be loaded before a command can be decided.
pub fn needs(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    let mut all = vec![Need::Shop];
    all.extend(needs_of(state, command, context));
    all.extend(stock::needs(state, command, context));
    all.extend(tools::needs(state, command, context));
    all.extend(calendar::needs(state, command, context));
    all.extend(condition::needs(state, command, context));
    all.extend(of_strip(state, command, context));
    all.extend(readings::needs(command));
    all.extend(suppliers::needs(command));
    all.extend(told::needs(command));
    all.extend(plan::needs(command, context));
    all.retain(|need| !state.has(need));
    all.sort();
    all.dedup();
    all
}

fn needs_of(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    let at = since(context.happened_at);
    match command {
        Command::ForgetPerson(c) => {
            vec![Need::Tokens, Need::PersonTexts(c.person), Need::PersonClockings(c.person, at)]
        }
        Command::RenamePerson(c) => vec![Need::PersonName(c.person)],
        Command::SetBay(c) => of_bay(state, c, at),
        Command::IssueToken(_)
        | Command::RevokeToken(_)
        | Command::RotateToken(_)
        | Command::ReplaceLead(_)
        | Command::SetBadge(_)
        | Command::SetPin(_)
        | Command::WithdrawProof(_)
        | Command::SignIn(_) => vec![Need::Tokens],
        Command::SignOut(c) => vec![Need::SignIn(c.session)],
        Command::PublishTemplate(c) => of_template(&c.source),
        Command::EditCustomer(c) => vec![Need::Customer(c.customer)],
        Command::ForgetCustomer(c) => vec![Need::CustomerBooks(c.customer), Need::CustomerTexts(c.customer)],
        Command::EditVehicle(c) => of_vehicle(c, at),
        Command::OpenJob(c) => of_new_job(c, at),
        Command::PromiseJob(c) => vec![Need::Job(c.job)],
        Command::AssignJob(c) => of_assignment(state, c.job, &c.bay, at),
        Command::RollOut(c) => vec![Need::Job(c.job)],
        Command::CompleteJob(c) => stock::needs_of_job(state, c.job, context),
        Command::CancelJob(c) => stock::needs_of_job(state, c.job, context),
        Command::ReopenJob(c) => of_closed_job(state, c.job),
        Command::AddStage(c) => vec![Need::Job(c.job)],
        Command::AddStep(c) => {
            vec![Need::Job(c.job), Need::Items(c.needs.iter().map(|need| need.item.clone()).collect())]
        }
        Command::StartStage(c) => of_work(state, c.job, context.actor.person, at),
        Command::ClockOn(c) => of_work(state, c.job, context.actor.person, at),
        Command::RecordWork(c) => {
            let mut needs = of_work(state, c.job, context.actor.person, since(c.from_at));
            let vehicle = state.jobs.get(&(c.job,)).map(|row| row.vehicle);
            needs.extend(vehicle.map(|vehicle| Need::VehicleStays(vehicle, since(c.from_at))));
            needs
        }
        Command::FinishStage(c) => stock::needs_of_job(state, c.job, context),
        Command::SkipStage(c) => with_ladder(state, c.job, stock::needs_of_job(state, c.job, context)),
        Command::TickSteps(c) => stock::needs_of_job(state, c.job, context),
        Command::SkipStep(c) => stock::needs_of_job(state, c.job, context),
        Command::RaiseBlocker(c) => vec![Need::Job(c.job)],
        Command::OwnBlocker(c) => vec![Need::Job(c.job)],
        Command::ClearBlocker(c) => with_ladder(state, c.job, vec![Need::Job(c.job)]),
        Command::ClockOff(_) => of_clock_off(state, context.actor.person, at),
        Command::CorrectClocking(c) => of_correction(state, c),
        Command::WithdrawClocking(c) => of_entry(state, c.entry),
        Command::AskCorrection(c) => of_correction(state, &asked::as_correction(c)),
        Command::DecideCorrection(c) => of_answer(state, c),
        Command::CorrectStay(c) => of_stay(state, c),
        Command::ReopenStep(c) => vec![Need::Job(c.job)],
        Command::ReopenStage(c) => vec![Need::Job(c.job)],
        Command::Tick(_) => of_tick(state, context),
        _ => Vec::new(),
    }
}

fn of_strip(state: &State, command: &Command, context: &Context) -> Vec<Need> {
    match command {
        Command::TakeOff(c) => of_new_pieces(state, context, c.job, None),
        Command::AddPosition(c) => {
            let mut needs = of_new_pieces(state, context, c.job, c.item.as_ref());
            needs.extend(c.item.iter().map(|item| Need::Items(vec![item.clone()])));
            needs.extend(c.fitting.ladder.as_ref().and_then(|_| of_ladder(state, c.job)));
            needs
        }
        Command::SplitPosition(c) => vec![Need::Job(c.job)],
        Command::SoakPosition(c) => vec![Need::Job(c.job)],
        Command::RecordAttempt(c) => {
            let mut needs = of_new_pieces(state, context, c.job, c.item.as_ref());
            needs.extend(of_ladder(state, c.job));
            needs
        }
        Command::PutBack(c) => vec![Need::Job(c.job)],
        Command::TightenPositions(c) => vec![Need::Job(c.job)],
        Command::ConfirmPositions(c) => vec![Need::Job(c.job)],
        Command::ReopenPosition(c) => vec![Need::Job(c.job)],
        _ => Vec::new(),
    }
}

/// A job, with the stock of what its positions are renewed with.
fn of_new_pieces(state: &State, context: &Context, job: JobNo, item: Option<&ItemKey>) -> Vec<Need> {
    stock::needs_of_named(state, context, job, |state| {
        strip::positions(state, job).filter_map(|row| row.detail.item.clone()).chain(item.cloned()).collect()
    })
}

/// The template of a job, in which its ladders are.
fn with_ladder(state: &State, job: JobNo, mut needs: Vec<Need>) -> Vec<Need> {
    needs.extend(of_ladder(state, job));
    needs
}

fn of_ladder(state: &State, job: JobNo) -> Option<Need> {
    let row = state.jobs.get(&(job,))?;
    Some(Need::Template(row.template.clone()?, row.revision?))
}

/// The start of the day: what was loaded for one command of a day serves the next one as well.
pub(super) fn since(at: Instant) -> Instant {
    const DAY_US: i64 = 24 * 60 * 60 * 1_000_000;
    Instant(at.0.div_euclid(DAY_US).saturating_mul(DAY_US))
}

fn of_template(source: &str) -> Vec<Need> {
    let mut needs = vec![Need::Items(items_named(source).into_iter().collect())];
    if let Ok(parsed) = crate::template::parse(source) {
        needs.push(Need::LatestTemplate(parsed.template.key));
    }
    needs
}

fn of_new_job(command: &OpenJob, at: Instant) -> Vec<Need> {
    let mut needs: Vec<Need> = command.template.iter().map(|key| of_revision(key, command.revision)).collect();
    match command.vehicle {
        WhichVehicle::Known(vehicle) => needs.extend([Need::VehicleStays(vehicle, at), Need::VehicleHistory(vehicle)]),
        WhichVehicle::New { customer, .. } => needs.extend(customer.map(Need::Customer)),
    }
    needs
}

fn of_vehicle(command: &EditVehicle, at: Instant) -> Vec<Need> {
    let mut needs = vec![Need::VehicleHistory(command.vehicle), Need::VehicleStays(command.vehicle, at)];
    if let Change::Set(customer) = command.customer {
        needs.push(Need::Customer(customer));
    }
    needs
}

fn of_revision(key: &TemplateKey, revision: Option<i32>) -> Need {
    match revision {
        Some(revision) => Need::Template(key.clone(), revision),
        None => Need::LatestTemplate(key.clone()),
    }
}

fn of_assignment(state: &State, job: JobNo, bay: &BayKey, at: Instant) -> Vec<Need> {
    let mut needs = vec![Need::Job(job), Need::BayStays(bay.clone(), at)];
    if let Some(row) = state.jobs.get(&(job,)) {
        needs.push(Need::VehicleStays(row.vehicle, at));
    }
    needs
}

/// Starting or entering work may take the person off another job.
fn of_work(state: &State, job: JobNo, person: Option<PersonId>, at: Instant) -> Vec<Need> {
    let mut needs = vec![Need::Job(job)];
    needs.extend(of_clock_off(state, person, at));
    needs
}

pub(super) fn of_clock_off(state: &State, person: Option<PersonId>, at: Instant) -> Vec<Need> {
    let Some(person) = person else { return Vec::new() };
    let on = state.clockings.iter().filter(|row| row.person == person && row.until_at.is_none());
    let mut needs: Vec<Need> = on.map(|row| Need::Job(row.job)).collect();
    needs.push(Need::PersonClockings(person, at));
    needs
}

/// An entry of time by the fact that began it, with its job.
fn of_entry(state: &State, entry: i64) -> Vec<Need> {
    let mut needs = vec![Need::Clocking(entry)];
    needs.extend(state.clockings.iter().find(|row| row.on_n == entry).map(|row| Need::Job(row.job)));
    needs
}

/// All that was in that bay, and all places of the vehicle, since the job began: work leans on them.
fn of_stay(state: &State, command: &CorrectStay) -> Vec<Need> {
    let mut needs = vec![Need::Job(command.job)];
    if let Some(job) = state.jobs.get(&(command.job,)) {
        let from = since(job.opened_at);
        needs.push(Need::VehicleStays(job.vehicle, from));
        let own = state.stays.iter().filter(|row| row.job == command.job).map(|row| row.bay.clone());
        let bays: BTreeSet<BayKey> = own.chain(command.bay.clone()).collect();
        needs.extend(bays.into_iter().map(|bay| Need::BayStays(bay, from)));
    }
    needs
}

/// What stands in a bay, and the jobs whose work there forbids the kind that it is to have.
fn of_bay(state: &State, command: &SetBay, at: Instant) -> Vec<Need> {
    let bay = &command.bay;
    let own = state.stays.iter().filter(|row| row.bay == *bay).map(|row| Need::Job(row.job));
    let mut needs: Vec<Need> = own.collect();
    needs.push(Need::BayStays(bay.clone(), at));
    needs.extend(command.kind.map(|kind| Need::BayMisfits(bay.clone(), kind)));
    needs
}

fn of_closed_job(state: &State, job: JobNo) -> Vec<Need> {
    let mut needs = vec![Need::Job(job)];
    if let Some(row) = state.jobs.get(&(job,)) {
        needs.push(Need::VehicleHistory(row.vehicle));
        needs.extend(row.customer.map(Need::Customer));
    }
    needs
}

fn of_correction(state: &State, command: &CorrectClocking) -> Vec<Need> {
    let mut needs = of_entry(state, command.entry);
    let Some(row) = state.clockings.iter().find(|row| row.on_n == command.entry) else { return needs };
    let from = since(command.from_at.unwrap_or(row.from_at));
    let job = command.job.unwrap_or(row.job);
    needs.extend([Need::Job(job), Need::PersonClockings(row.person, from)]);
    needs.extend(state.jobs.get(&(job,)).map(|job| Need::VehicleStays(job.vehicle, from)));
    needs
}

/// A correction that was asked for, and all that making it needs to see.
fn of_answer(state: &State, command: &DecideCorrection) -> Vec<Need> {
    let mut needs = vec![Need::Job(command.job)];
    if let Some(row) = state.asked.get(&(command.job, command.ask)) {
        match asked::of_row(row, &command.reason, None) {
            Some(correction) => needs.extend(of_correction(state, &correction)),
            None => needs.extend(of_entry(state, row.entry)),
        }
    }
    needs
}

fn of_tick(state: &State, context: &Context) -> Vec<Need> {
    let now = context.now;
    let mut needs = vec![Need::WaitsOver(now)];
    needs.extend(stock::needs_of_expiry(state, context));
    needs.extend(calendar::needs_of_extend(state, context));
    let over = state.stages.iter().filter(|row| {
        row.waiting && row.state == StageState::Pending && row.ready_at.is_some_and(|ready_at| ready_at <= now)
    });
    needs.extend(over.map(|row| Need::Job(row.job)));
    needs
}
