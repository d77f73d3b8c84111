//! Persons clock on and off. Nobody is on two stages at any instant.

use crate::answer::{Made, Notice};
use crate::command::{ClockOn, RecordWork};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::ClockingRow;
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{ClockingId, Fact, Instant, JobNo, PersonId, StageKey, Window};

/// The acting person, who must be known and not forgotten.
pub(super) fn acting_person(session: &Session, what: &'static str) -> Result<PersonId, Refusal> {
    let person = session.context.actor.person.ok_or(Refusal::NoPerson { what })?;
    look::person(session.state, person).map(|row| row.person)
}

pub(super) fn clock_on(session: &mut Session, command: &ClockOn) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, command.job)?;
    let stage = look::stage(session.state, command.job, &command.stage)?.clone();
    if stage.state != StageState::Active {
        let (job, stage, state) = (command.job, stage.stage, stage.state);
        return Err(Refusal::StageIs {
            job,
            stage,
            state,
            attempted: "worked on",
            todo: "start it, or choose another",
        });
    }
    let started_at = stage.started_at.unwrap_or(session.at());
    if session.at() < started_at {
        return Err(look::too_early("clocking on", session.at(), started_at));
    }
    let person = acting_person(session, "clock on")?;
    put_on(session, person, command.job, &command.stage).map(Made::Clocking)
}

pub(super) fn clock_off(session: &mut Session) -> Result<Made, Refusal> {
    let person = acting_person(session, "clock off")?;
    let row = look::clocking_of(session.state, person).cloned().ok_or(Refusal::NotClockedOn {})?;
    take_off(session, &row)?;
    Ok(Made::Clocking(row.clocking))
}

pub(super) fn record_work(session: &mut Session, command: &RecordWork) -> Result<Made, Refusal> {
    let job = look::job(session.state, command.job)?;
    // Work may be entered late even after the hand-over; it never reaches before the opening.
    if command.from_at < job.opened_at {
        return Err(look::too_early("the work", command.from_at, job.opened_at));
    }
    if command.until_at > session.context.now {
        return Err(Refusal::InTheFuture { happened_at: command.until_at, now: session.context.now });
    }
    if command.until_at <= command.from_at {
        return Err(Refusal::invalid("until_at", "it is not later than from_at; give the end after the beginning"));
    }
    let stage = look::stage(session.state, command.job, &command.stage)?;
    if stage.kind == StageKind::Wait {
        return Err(Refusal::invalid("stage", "it is a wait, on which nobody works; choose a stage of work"));
    }
    let person = acting_person(session, "enter work")?;
    let times = Window { from: command.from_at, until: command.until_at };
    refuse_elsewhere(session.state, person, times, None)?;
    let clocking = ClockingId(session.id());
    session.emit(Fact::WorkRecorded {
        clocking,
        person,
        job: command.job,
        stage: command.stage.clone(),
        from_at: command.from_at,
        until_at: command.until_at,
    })?;
    Ok(Made::Clocking(clocking))
}

/// Clocks a person on to a stage, off whatever else that person is on, and says so.
pub(super) fn put_on(
    session: &mut Session,
    person: PersonId,
    job: JobNo,
    stage: &StageKey,
) -> Result<ClockingId, Refusal> {
    let open = look::clocking_of(session.state, person).cloned();
    if let Some(row) = &open
        && row.job == job
        && row.stage == *stage
    {
        return Err(Refusal::OnAlready { job, stage: stage.clone() });
    }
    let from_here = Window { from: session.at(), until: Instant(i64::MAX) };
    refuse_elsewhere(session.state, person, from_here, open.as_ref().map(|row| row.clocking))?;
    if let Some(row) = open {
        take_off(session, &row)?;
        session.notice(Notice::MovedOver { person, from_job: row.job, from_stage: row.stage });
    }
    let clocking = ClockingId(session.id());
    session.emit(Fact::ClockedOn { clocking, person, job, stage: stage.clone() })?;
    Ok(clocking)
}

/// Ends a clocking at the command's time; an empty stretch is refused.
pub(super) fn take_off(session: &mut Session, row: &ClockingRow) -> Result<(), Refusal> {
    if session.at() <= row.from_at {
        let (job, stage, from_at) = (row.job, row.stage.clone(), row.from_at);
        return Err(Refusal::PersonElsewhere { job, stage, from_at });
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

fn refuse_elsewhere(state: &State, person: PersonId, times: Window, except: Option<ClockingId>) -> Result<(), Refusal> {
    let clash = state.clockings.iter().find(|row| {
        let taken = Window { from: row.from_at, until: row.until_at.unwrap_or(Instant(i64::MAX)) };
        row.person == person && Some(row.clocking) != except && taken.meets(times)
    });
    match clash {
        Some(row) => Err(Refusal::PersonElsewhere { job: row.job, stage: row.stage.clone(), from_at: row.from_at }),
        None => Ok(()),
    }
}
