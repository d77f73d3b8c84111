//! Persons clock on and off. Nobody is on two stages at any instant.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::ClockOn;
use crate::decide::{condition, place, skills};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{ClockingRow, StageRow};
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{ClockingId, Fact, Instant, JobNo, PersonId, StageKey, TextRef, Window};

/// The acting person, who must be known and not forgotten.
pub(super) fn acting_person(session: &Session, what: &'static str) -> Result<PersonId, Refusal> {
    let person = session.context.actor.person.ok_or(Refusal::NoPerson { what })?;
    look::person(session.state, person).map(|row| row.person)
}

pub(super) fn clock_on(session: &mut Session, command: &ClockOn) -> Result<Made, Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    if row.kind == StageKind::Wait {
        return Err(Refusal::invalid("stage", "it is a wait, on which nobody works; choose a stage of work"));
    }
    if row.state != StageState::Active {
        let (job, stage, state) = (row.job, row.stage, row.state);
        let todo = "start it, or choose another";
        return Err(Refusal::StageIs { job, stage, state, attempted: "worked on", todo });
    }
    if let Some(started_at) = row.started_at.filter(|started_at| session.at() < *started_at) {
        return Err(look::too_early("clocking on", session.at(), started_at));
    }
    let person = acting_person(session, "clock on")?;
    condition::refuse_called(session, row.job, &row.stage)?;
    place::refuse_present(session, &row)?;
    let unskilled = skills::objection(session.state, &row, Some(person))?;
    let reason = command.override_reason.as_deref();
    let overridden = skills::overruled(session, unskilled, reason, skills::WITHOUT_SKILL)?;
    put_on(session, person, &row, overridden).map(Made::Clocking)
}

pub(super) fn clock_off(session: &mut Session) -> Result<Made, Refusal> {
    let person = acting_person(session, "clock off")?;
    let row = look::clocking_of(session.state, person).cloned().ok_or(Refusal::NotClockedOn {})?;
    take_off(session, &row)?;
    Ok(Made::Clocking(row.clocking))
}

/// Clocks a person on to a stage, off whatever else that person is on, and says so.
pub(super) fn put_on(
    session: &mut Session,
    person: PersonId,
    stage: &StageRow,
    overridden: Option<TextRef>,
) -> Result<ClockingId, Refusal> {
    condition::refuse_looked(session.state, stage, person, session.at())?;
    condition::refuse_voltage(session, stage.job, || format!("stage '{}'", stage.stage))?;
    let (job, stage) = (stage.job, stage.stage.clone());
    let open = look::clocking_of(session.state, person).cloned();
    if open.as_ref().is_some_and(|row| (row.job, &row.stage) == (job, &stage)) {
        return Err(Refusal::OnAlready { job, stage });
    }
    if let Some(row) = elsewhere(session.state, person, session.at()) {
        return Err(was_on(row));
    }
    if let Some(row) = open {
        take_off(session, &row)?;
        session.notice(Notice::MovedOver { person, from_job: row.job, from_stage: row.stage });
    }
    let clocking = ClockingId(session.id());
    session.emit(Fact::ClockedOn { clocking, person, job, stage, overridden })?;
    Ok(clocking)
}

/// Ends a clocking at the command's time; an empty stretch is refused.
pub(super) fn take_off(session: &mut Session, row: &ClockingRow) -> Result<(), Refusal> {
    if session.at() <= row.from_at {
        return Err(look::too_early(format!("clocking off stage '{}'", row.stage), session.at(), row.from_at));
    }
    let (clocking, person) = (row.clocking, row.person);
    session.emit(Fact::ClockedOff { clocking, person, job: row.job, stage: row.stage.clone() })?;
    Ok(())
}

/// Clocks everybody off a stage.
pub(super) fn clear_stage(session: &mut Session, job: JobNo, stage: &StageKey) -> Result<(), Refusal> {
    let on: Vec<ClockingRow> = look::clockings_on(session.state, job, stage).cloned().collect();
    on.iter().try_for_each(|row| take_off(session, row))
}

/// What a person was on at that time or later, apart from what they can be clocked off then.
pub(super) fn elsewhere(state: &State, person: PersonId, from: Instant) -> Option<&ClockingRow> {
    state
        .clockings
        .iter()
        .filter(|row| row.person == person && row.until_at.is_none_or(|until| until > from))
        .find(|row| row.until_at.is_some() || row.from_at >= from)
}

/// Refuses work of a person who was on something else meanwhile.
pub(super) fn refuse_elsewhere(state: &State, person: PersonId, times: Window) -> Result<(), Refusal> {
    let clash = state.clockings.iter().find(|row| {
        let taken = Window { from: row.from_at, until: row.until_at.unwrap_or(Instant(i64::MAX)) };
        row.person == person && taken.meets(times)
    });
    clash.map_or(Ok(()), |row| Err(was_on(row)))
}

fn was_on(row: &ClockingRow) -> Refusal {
    Refusal::PersonElsewhere { job: row.job, stage: row.stage.clone(), from_at: row.from_at }
}
