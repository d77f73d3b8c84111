//! Time of persons that was entered wrongly: withdrawn, or withdrawn and entered anew. Nothing is
//! edited; what was entered first stays in the journal.

use crate::answer::Made;
use crate::check;
use crate::command::{CorrectClocking, WithdrawClocking};
use crate::decide::{clocking, condition, place, skills, work};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{ClockingRow, JobRow, StageRow};
use leadhand_facts::words::{JobState, Role, StageKind, StageState};
use leadhand_facts::{ClockingId, Fact, Instant, TextRef, Window};

pub(super) fn withdraw(session: &mut Session, command: &WithdrawClocking) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = entry(session.state, command.entry)?.clone();
    let job = look::job_as_seen(session.state, session.context, row.job)?;
    refuse_others(session, &row, job)?;
    let reason = session.seal(&command.reason);
    take_back(session, &row, reason, None)?;
    Ok(Made::Nothing)
}

pub(super) fn correct(session: &mut Session, command: &CorrectClocking) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    check::text_some("override_reason", command.override_reason.as_deref())?;
    let row = entry(session.state, command.entry)?.clone();
    let job = look::job_as_seen(session.state, session.context, row.job)?;
    refuse_others(session, &row, job)?;
    look::person(session.state, row.person)?;
    let (from, until) = times(session, &row, command)?;
    let stage = aim(session.state, &row, command)?;
    if (stage.job, &stage.stage, from, until) == (row.job, &row.stage, row.from_at, row.until_at) {
        return Err(Refusal::NothingToDo { what: "correct: that is what was entered".to_owned() });
    }
    let job = look::job(session.state, stage.job)?;
    refuse_others(session, &row, job)?;
    if from < job.opened_at {
        return Err(look::too_early("the work", from, job.opened_at));
    }
    let (clocking, reason) = (ClockingId(session.id()), session.seal(&command.reason));
    // First, so that what is entered anew does not meet what it replaces.
    take_back(session, &row, reason, Some(clocking))?;
    let why = command.override_reason.as_deref();
    match until {
        Some(until) => enter(session, clocking, &row, &stage, Window { from, until }, why)?,
        None => go_on(session, clocking, &row, &stage, from, why)?,
    }
    Ok(Made::Clocking(clocking))
}

/// The entry that began with this fact.
pub(super) fn entry(state: &State, number: i64) -> Result<&ClockingRow, Refusal> {
    state.clockings.iter().find(|row| row.on_n == number).ok_or_else(|| Refusal::Unknown {
        what: "entry of time",
        which: number.to_string(),
        todo: "`leadhand clock list` shows them",
    })
}

/// Persons correct their own time while the job is open; a lead anybody's, at any time.
pub(super) fn refuse_others(session: &Session, row: &ClockingRow, job: &JobRow) -> Result<(), Refusal> {
    let actor = session.context.actor;
    if actor.role == Role::Lead {
        return Ok(());
    }
    if actor.person != Some(row.person) {
        return Err(Refusal::LeadOnly { what: "correct somebody else's time" });
    }
    if job.state != JobState::Open {
        return Err(Refusal::LeadOnly {
            what: "correct time on a job that is closed (`leadhand clock ask` puts it to the lead)",
        });
    }
    Ok(())
}

/// When the work is said to have been; without an end while it goes on.
pub(super) fn times(
    session: &Session,
    row: &ClockingRow,
    command: &CorrectClocking,
) -> Result<(Instant, Option<Instant>), Refusal> {
    let context = session.context;
    if context.happened_at != context.now {
        let why = "from_at and until_at say when the work was; leave it out";
        return Err(Refusal::invalid("write.happened_at", why));
    }
    let from = command.from_at.unwrap_or(row.from_at);
    let until = command.until_at.or(row.until_at);
    let late = |at: &Instant| *at > context.now;
    if late(&from) {
        return Err(Refusal::invalid("from_at", "it has not come yet; give a time that has passed"));
    }
    if until.as_ref().is_some_and(late) {
        return Err(Refusal::invalid("until_at", "it has not come yet; give a time that has passed"));
    }
    if until.is_some_and(|until| until <= from) {
        let field = if command.until_at.is_some() { "until_at" } else { "from_at" };
        return Err(Refusal::invalid(field, "the work would end before it begins; give both ends"));
    }
    Ok((from, until))
}

/// The stage that the time belongs to.
pub(super) fn aim(state: &State, row: &ClockingRow, command: &CorrectClocking) -> Result<StageRow, Refusal> {
    let job = command.job.unwrap_or(row.job);
    if job != row.job && command.stage.is_none() {
        look::job(state, job)?;
        return Err(Refusal::invalid("stage", "it is missing; name the stage of that other job"));
    }
    let stage = look::stage(state, job, command.stage.as_ref().unwrap_or(&row.stage))?;
    if stage.kind == StageKind::Wait {
        return Err(Refusal::invalid("stage", "it is a wait, on which nobody works; choose a stage of work"));
    }
    Ok(stage.clone())
}

fn take_back(
    session: &mut Session,
    row: &ClockingRow,
    reason: TextRef,
    replaced_by: Option<ClockingId>,
) -> Result<(), Refusal> {
    let ClockingRow { clocking, person, job, stage, .. } = row.clone();
    session.emit(Fact::ClockingWithdrawn { clocking, person, job, stage, reason, replaced_by })?;
    Ok(())
}

/// Work that is over, under the rules of work entered late.
fn enter(
    session: &mut Session,
    clocking: ClockingId,
    row: &ClockingRow,
    stage: &StageRow,
    times: Window,
    why: Option<&str>,
) -> Result<(), Refusal> {
    if stage.state == StageState::Pending {
        return Err(not_begun(stage));
    }
    work::refuse_outside(stage, times)?;
    clocking::refuse_elsewhere(session.state, row.person, times)?;
    condition::refuse_looked(session.state, stage, row.person, times.from)?;
    place::refuse_absent(session.state, stage, times)?;
    let unskilled = skills::objection(session.state, stage, Some(row.person))?;
    let overridden = skills::overruled(session, unskilled, why, skills::WITHOUT_SKILL)?;
    session.emit(Fact::WorkRecorded {
        clocking,
        person: row.person,
        job: stage.job,
        stage: stage.stage.clone(),
        from_at: times.from,
        until_at: times.until,
        overridden,
    })?;
    Ok(())
}

/// Work that goes on, under the rules of clocking on late.
fn go_on(
    session: &mut Session,
    clocking: ClockingId,
    row: &ClockingRow,
    stage: &StageRow,
    from: Instant,
    why: Option<&str>,
) -> Result<(), Refusal> {
    if stage.state != StageState::Active {
        return Err(not_begun(stage));
    }
    condition::refuse_called(session, stage.job, &stage.stage)?;
    if let Some(started_at) = stage.started_at.filter(|started_at| from < *started_at) {
        return Err(look::too_early("clocking on", from, started_at));
    }
    clocking::refuse_elsewhere(session.state, row.person, Window { from, until: Instant(i64::MAX) })?;
    condition::refuse_looked(session.state, stage, row.person, from)?;
    session.date(from);
    place::refuse_present(session, stage)?;
    let unskilled = skills::objection(session.state, stage, Some(row.person))?;
    let overridden = skills::overruled(session, unskilled, why, skills::WITHOUT_SKILL)?;
    let (person, job, stage) = (row.person, stage.job, stage.stage.clone());
    session.emit(Fact::ClockedOn { clocking, person, job, stage, overridden })?;
    session.date(session.context.happened_at);
    Ok(())
}

fn not_begun(stage: &StageRow) -> Refusal {
    let (job, state, stage) = (stage.job, stage.state, stage.stage.clone());
    let todo = "start it first, or withdraw this time and enter the work with `leadhand clock work`";
    Refusal::StageIs { job, stage, state, attempted: "worked on", todo }
}
