//! From a command to facts, or to a refusal.

use crate::answer::{Answer, Made};
use crate::command::Command;
use crate::context::{Chance, Context};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::Entry;

mod access;
mod again;
mod asked;
mod bays;
mod blockers;
mod calendar;
mod clocking;
mod condition;
mod corrections;
mod customers;
mod ends;
mod flow;
mod hand_over;
mod jobs;
mod needs;
mod not_taken;
mod place;
mod plan;
mod proof;
mod readings;
mod remarks;
mod shop;
mod skills;
mod stages;
mod stays;
mod steps;
mod stock;
mod strip;
mod suppliers;
mod templates;
mod timer;
mod told;
mod tools;
mod work;

pub(crate) use calendar::{day_begins, earliest, latest, zone};
pub use needs::needs;
pub use plan::{plan_form, plan_stands};
pub use proof::{check_pin, session_counts};
pub use remarks::remarks;
pub use shop::check_opening;
pub use stock::check_import;
pub use templates::checked as checked_template;
pub use told::told;
pub(crate) use tools::{loan_of, out_of_calibration};

/// An accepted command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// Its facts, already applied to the state.
    pub entries: Vec<Entry>,
    /// Its answer.
    pub answer: Answer,
}

/// Decides a command. On success the state has its facts applied; a refusal leaves the state as
/// it was.
pub fn decide(
    state: &mut State,
    command: &Command,
    context: &Context,
    chance: &mut dyn Chance,
) -> Result<Decision, Refusal> {
    let head = state.head;
    let mut session = Session::new(state, context, chance);
    let made = check_context(session.state, context).and_then(|()| dispatch(&mut session, command));
    let (entries, notices) = session.into_entries();
    match made {
        Ok(made) => {
            let recorded_at = entries.last().map(|entry| entry.recorded_at);
            Ok(Decision { answer: Answer { number: state.head, recorded_at, made, notices }, entries })
        }
        Err(refusal) => {
            state.roll_back(head);
            Err(refusal)
        }
    }
}

fn check_context(state: &State, context: &Context) -> Result<(), Refusal> {
    if context.happened_at > context.now {
        return Err(Refusal::InTheFuture { happened_at: context.happened_at, now: context.now });
    }
    // Whoever acts, or is recorded for, is known here and was not forgotten while this waited.
    if let Some(person) = context.actor.person {
        look::person(state, person)?;
    }
    Ok(())
}

#[expect(clippy::too_many_lines, reason = "a table, a line a command")]
fn dispatch(session: &mut Session, command: &Command) -> Result<Made, Refusal> {
    let apart = stock::decide(session, command)
        .or_else(|| calendar::decide(session, command))
        .or_else(|| condition::decide(session, command))
        .or_else(|| readings::dispatch(session, command))
        .or_else(|| tools::decide(session, command))
        .or_else(|| suppliers::decide(session, command))
        .or_else(|| told::decide(session, command))
        .or_else(|| asked::decide(session, command))
        .or_else(|| plan::decide(session, command));
    if let Some(made) = apart {
        return made;
    }
    match command {
        Command::OpenShop(c) => shop::open(session, c),
        Command::AddBay(c) => shop::add_bay(session, c),
        Command::AddPerson(c) => shop::add_person(session, c),
        Command::RenamePerson(c) => shop::rename(session, c),
        Command::SetBay(c) => stays::set_bay(session, c),
        Command::SetSkills(c) => shop::set_skills(session, c),
        Command::SetYard(c) => shop::set_yard(session, c),
        Command::ForgetPerson(c) => shop::forget(session, c),
        Command::IssueToken(c) => access::issue(session, c),
        Command::RevokeToken(c) => access::revoke(session, c),
        Command::RotateToken(c) => access::rotate(session, c),
        Command::ReplaceLead(c) => access::replace_lead(session, c),
        Command::SetBadge(c) => proof::set_badge(session, c),
        Command::SetPin(c) => proof::set_pin(session, c),
        Command::WithdrawProof(c) => proof::withdraw(session, c),
        Command::SignIn(c) => proof::sign_in(session, c),
        Command::SignOut(c) => proof::sign_out(session, c),
        Command::PublishTemplate(c) => templates::publish(session, c),
        Command::AddCustomer(c) => customers::add(session, c),
        Command::EditCustomer(c) => customers::edit(session, c),
        Command::ForgetCustomer(c) => customers::forget(session, c),
        Command::EditVehicle(c) => customers::edit_vehicle(session, c),
        Command::OpenJob(c) => jobs::open(session, c),
        Command::PromiseJob(c) => jobs::promise(session, c),
        Command::AssignJob(c) => bays::assign(session, c),
        Command::RollOut(c) => bays::roll_out(session, c),
        Command::CompleteJob(c) => jobs::complete(session, c),
        Command::CancelJob(c) => jobs::cancel(session, c),
        Command::ReopenJob(c) => again::job(session, c),
        Command::AddStage(c) => stages::add(session, c),
        Command::AddStep(c) => steps::add(session, c),
        Command::StartStage(c) => stages::start(session, c),
        Command::FinishStage(c) => stages::finish(session, c),
        Command::SkipStage(c) => stages::skip(session, c),
        Command::TickSteps(c) => steps::tick(session, c),
        Command::SkipStep(c) => steps::skip(session, c),
        Command::RaiseBlocker(c) => blockers::raise(session, c),
        Command::ClearBlocker(c) => blockers::clear(session, c),
        Command::OwnBlocker(c) => blockers::own(session, c),
        Command::ClockOn(c) => clocking::clock_on(session, c),
        Command::ClockOff(_) => clocking::clock_off(session),
        Command::RecordWork(c) => work::record(session, c),
        Command::CorrectClocking(c) => corrections::correct(session, c),
        Command::WithdrawClocking(c) => corrections::withdraw(session, c),
        Command::CorrectStay(c) => stays::correct(session, c),
        Command::ReopenStep(c) => again::step(session, c),
        Command::ReopenStage(c) => again::stage(session, c),
        Command::TakeOff(c) => strip::take_off(session, c),
        Command::AddPosition(c) => strip::add(session, c),
        Command::PutBack(c) => not_taken::put_back(session, c),
        Command::TightenPositions(c) => strip::tighten(session, c),
        Command::ConfirmPositions(c) => strip::check(session, c),
        Command::ReopenPosition(c) => strip::reopen(session, c),
        Command::SplitPosition(c) => strip::split(session, c),
        Command::SoakPosition(c) => strip::soak(session, c),
        Command::RecordAttempt(c) => strip::attempt(session, c),
        Command::Tick(_) => timer::tick(session),
        other => Err(Refusal::Defect { why: format!("nothing decides {}", other.name()) }),
    }
}
