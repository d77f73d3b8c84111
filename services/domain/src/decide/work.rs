//! Work entered late with both ends, for whoever forgot to clock on, or to start the stage.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::RecordWork;
use crate::context::Context;
use crate::decide::{clocking, condition, place, skills, stages};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::rows::StageRow;
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{ClockingId, Fact, PersonId, TextRef, Window};

pub(super) fn record(session: &mut Session, command: &RecordWork) -> Result<Made, Refusal> {
    check_times(session.context, command)?;
    let job = look::job_as_seen(session.state, session.context, command.job)?;
    // Work may be entered late even after the hand-over; it never reaches before the opening.
    if command.from_at < job.opened_at {
        return Err(look::too_early("the work", command.from_at, job.opened_at));
    }
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    if row.kind == StageKind::Wait {
        return Err(Refusal::invalid("stage", "it is a wait, on which nobody works; choose a stage of work"));
    }
    let times = Window { from: command.from_at, until: command.until_at };
    refuse_outside(&row, times)?;
    let person = clocking::acting_person(session, "enter work")?;
    clocking::refuse_elsewhere(session.state, person, times)?;
    condition::refuse_looked(session.state, &row, person, times.from)?;
    place::refuse_absent(session.state, &row, times)?;
    let overridden = allowed(session, &row, person, command)?;
    let clocking = ClockingId(session.id());
    session.emit(Fact::WorkRecorded {
        clocking,
        person,
        job: command.job,
        stage: command.stage.clone(),
        from_at: command.from_at,
        until_at: command.until_at,
        overridden,
    })?;
    Ok(Made::Clocking(clocking))
}

fn check_times(context: &Context, command: &RecordWork) -> Result<(), Refusal> {
    check::text_some("override_reason", command.override_reason.as_deref())?;
    if context.happened_at != context.now {
        let why = "from_at and until_at say when the work was; leave it out";
        return Err(Refusal::invalid("write.happened_at", why));
    }
    if command.until_at > context.now {
        return Err(Refusal::invalid("until_at", "it has not come yet; give a time that has passed"));
    }
    if command.until_at <= command.from_at {
        return Err(Refusal::invalid("until_at", "it is not later than from_at; give the end after the beginning"));
    }
    Ok(())
}

/// Work lies within the stage, from its start to its end, as far as it has them.
pub(super) fn refuse_outside(row: &StageRow, times: Window) -> Result<(), Refusal> {
    let what = || format!("work on stage '{}'", row.stage);
    if row.state == StageState::Skipped && row.started_at.is_none() {
        let (job, stage, state) = (row.job, row.stage.clone(), row.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "worked on", todo: "choose another" });
    }
    if let Some(started_at) = row.started_at.filter(|started_at| times.from < *started_at) {
        return Err(look::too_early(what(), times.from, started_at));
    }
    match row.ended_at.filter(|ended_at| *ended_at < times.until) {
        Some(latest) => Err(Refusal::TooLate { what: what(), at: times.until, latest }),
        None => Ok(()),
    }
}

/// Starts the stage if nobody has; the lead's reason as far as the person lacks a skill.
fn allowed(
    session: &mut Session,
    row: &StageRow,
    person: PersonId,
    command: &RecordWork,
) -> Result<Option<TextRef>, Refusal> {
    let reason = command.override_reason.as_deref();
    if row.state != StageState::Pending {
        let unskilled = skills::objection(session.state, row, Some(person))?;
        return skills::overruled(session, unskilled, reason, skills::WITHOUT_SKILL);
    }
    look::open_job(session.state, session.context, row.job)?;
    condition::refuse_called(session, row.job, &row.stage)?;
    session.date(command.from_at);
    let overridden = stages::begin(session, row, reason)?;
    stages::tell(session, row)?;
    session.date(session.context.happened_at);
    session.notice(Notice::StartedWithWork { stage: row.stage.clone() });
    Ok(overridden)
}
