//! What was ticked, finished, left out, handed over or called off by mistake goes on.

use crate::answer::{Made, Notice};
use crate::check;
use crate::command::{ReopenJob, ReopenStage, ReopenStep};
use crate::decide::{condition, flow, strip};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{StageRow, StepRow};
use leadhand_facts::words::{JobState, StageKind, StageState, StepState};
use leadhand_facts::{Fact, Instant, Quantity, StepNo, TextRef};

/// A closed job goes on, unless its vehicle has come again since. Its stages are as they were when it was
/// closed, its vehicle is outside, and what was used up stays used up.
pub(super) fn job(session: &mut Session, command: &ReopenJob) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    let row = look::job_as_seen(session.state, session.context, command.job)?.clone();
    let Some(closed_at) = row.closed_at else {
        return Err(Refusal::NothingToDo { what: format!("take up again: job {} is open", row.job) });
    };
    let of_vehicle = || session.state.jobs.iter().filter(|job| job.vehicle == row.vehicle && job.job != row.job);
    if let Some(open) = of_vehicle().find(|job| job.state == JobState::Open) {
        return Err(Refusal::VehicleBusy { job: open.job });
    }
    if let Some(later) = of_vehicle().find(|job| job.job > row.job) {
        return Err(Refusal::CameAgain { job: row.job, later: later.job });
    }
    row.customer.map_or(Ok(()), |customer| look::customer(session.state, customer).map(|_| ()))?;
    if session.at() < closed_at {
        return Err(look::too_early(format!("taking up job {} again", row.job), session.at(), closed_at));
    }
    let reason = session.seal(&command.reason);
    session.emit(Fact::JobReopened { job: row.job, reason })?;
    // A shared tool that was waited for may have come back meanwhile.
    flow::settle_blockers(session, row.job)?;
    Ok(Made::Nothing)
}

pub(super) fn step(session: &mut Session, command: &ReopenStep) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    let step = look::step(session.state, command.job, &command.stage, command.step)?.clone();
    if look::is_ended(&row) {
        let (job, stage, state) = (row.job, row.stage, row.state);
        let todo = "take the stage up again first, with `leadhand stage reopen`";
        return Err(Refusal::StageIs { job, stage, state, attempted: "changed", todo });
    }
    let Some(done_at) = step.done_at else {
        let what = format!("take back: step {} of stage '{}' is not done yet", command.step, command.stage);
        return Err(Refusal::NothingToDo { what });
    };
    if session.at() < done_at {
        return Err(look::too_early(format!("taking back step {}", command.step), session.at(), done_at));
    }
    let reason = session.seal(&command.reason);
    take_back(session, &row, step, &reason)?;
    flow::settle_blockers(session, row.job)?;
    tell_goods(session, &row, &[command.step]);
    Ok(Made::Nothing)
}

/// Takes a step back, with the hold points behind it: what they looked at is not what will be there.
pub(super) fn take_back(session: &mut Session, row: &StageRow, step: StepRow, reason: &TextRef) -> Result<(), Refusal> {
    for one in condition::passed_behind(session.state, row, &step).into_iter().chain([step]) {
        let (stage, reason) = (row.stage.clone(), reason.clone());
        session.emit(Fact::StepReopened { job: row.job, stage, step: one.step, reason: reason.clone() })?;
        condition::unset_by_step(session, &one, &reason)?;
    }
    Ok(())
}

pub(super) fn stage(session: &mut Session, command: &ReopenStage) -> Result<Made, Refusal> {
    check::text("reason", &command.reason)?;
    look::open_job(session.state, session.context, command.job)?;
    let row = look::stage(session.state, command.job, &command.stage)?.clone();
    let Some(ended_at) = row.ended_at else {
        let (job, stage, state) = (row.job, row.stage, row.state);
        return Err(Refusal::StageIs { job, stage, state, attempted: "taken up again", todo: "it has not ended" });
    };
    refuse_begun_behind(session.state, &row)?;
    if session.at() < ended_at {
        return Err(look::too_early(format!("taking up stage '{}' again", row.stage), session.at(), ended_at));
    }
    let ready_at = ready_again(session, &row)?;
    let reason = session.seal(&command.reason);
    let (job, stage) = (row.job, row.stage.clone());
    session.emit(Fact::StageReopened { job, stage, ready_at, reason: reason.clone() })?;
    // Steps that were left out with the stage, and only those.
    let with_it: Vec<StepNo> = look::steps(session.state, row.job, &row.stage)
        .filter(|step| step.state == StepState::Skipped && step.reason == row.reason)
        .map(|step| step.step)
        .collect();
    for step in &with_it {
        let (job, stage, reason) = (row.job, row.stage.clone(), reason.clone());
        session.emit(Fact::StepReopened { job, stage, step: *step, reason })?;
    }
    strip::again(session, &row, &reason)?;
    flow::settle_ready(session, row.job, None)?;
    flow::settle_blockers(session, row.job)?;
    if row.started_at.is_some() && row.kind == StageKind::Work {
        session.notice(Notice::ClockOnAgain { stage: row.stage.clone() });
    }
    tell_goods(session, &row, &with_it);
    Ok(Made::Nothing)
}

/// Nothing behind it may have begun: that began on the word that this one had ended.
fn refuse_begun_behind(state: &State, row: &StageRow) -> Result<(), Refusal> {
    let behind = state.afters.iter().filter(|after| after.job == row.job && after.after == row.stage);
    for after in behind {
        let later = look::stage(state, row.job, &after.stage)?;
        if later.state != StageState::Pending {
            let (job, stage, behind, state) = (row.job, row.stage.clone(), later.stage.clone(), later.state);
            return Err(Refusal::BegunBehind { job, stage, behind, state });
        }
    }
    Ok(())
}

/// From when the stage counts as ready. Its end may have cut a planned wait short; that wait counts
/// again. Nothing, where it is to be said anew.
fn ready_again(session: &Session, row: &StageRow) -> Result<Option<Instant>, Refusal> {
    let Some(mut ready_at) = row.ready_at else { return Ok(None) };
    if row.ended_at == Some(ready_at) {
        ready_at = ready_at.max(flow::free_at(session.state, row)?.unwrap_or(ready_at));
    }
    Ok(Some(ready_at).filter(|ready_at| row.started_at.is_some() || *ready_at <= session.context.now))
}

/// What these steps took or had set aside is not put back by itself.
fn tell_goods(session: &mut Session, row: &StageRow, steps: &[StepNo]) {
    let again = look::steps(session.state, row.job, &row.stage).filter(|step| steps.contains(&step.step));
    let notices: Vec<Notice> = again.flat_map(|step| goods(session.state, step)).collect();
    session.notices.extend(notices);
}

fn goods(state: &State, row: &StepRow) -> Vec<Notice> {
    let mut notices = Vec::new();
    for need in &row.needs {
        let (stage, step, item, unit) = (row.stage.clone(), row.step, need.item.clone(), need.unit);
        let Some(demand) = state.demands.get(&(row.job, stage.clone(), step, item.clone())) else { continue };
        let left = Quantity(demand.wanted.0 - demand.issued.0 - demand.reserved.0 - demand.short.0);
        if demand.issued.is_positive() {
            let (stage, item) = (stage.clone(), item.clone());
            notices.push(Notice::StaysIssued { stage, step, item, quantity: demand.issued, unit });
        }
        if left.is_positive() {
            notices.push(Notice::ReserveAgain { stage, step, item, quantity: left, unit });
        }
    }
    notices
}
