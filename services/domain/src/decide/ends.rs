//! When a stage may end: never before something about it that came later.

use crate::condition;
use crate::look;
use crate::reading;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use crate::strip;
use leadhand_facts::rows::StageRow;
use leadhand_facts::words::StageState;
use leadhand_facts::{Instant, JobNo};
use std::collections::BTreeSet;

/// Refuses an end at the command's time when the stage was begun, worked on, ticked or held up
/// later.
pub(super) fn refuse_early(session: &Session, row: &StageRow) -> Result<(), Refusal> {
    let (state, at) = (&*session.state, session.at());
    let too_early = |earliest| Err(look::too_early(format!("the end of stage '{}'", row.stage), at, earliest));
    // An empty life or an empty stretch of work means nothing, so these must be earlier.
    let on = look::clockings_on(state, row.job, &row.stage).map(|clocking| clocking.from_at);
    if let Some(begun) = on.chain(row.started_at).max().filter(|begun| at <= *begun) {
        return too_early(begun);
    }
    match last_of(state, row).filter(|last| at < *last) {
        Some(last) => too_early(last),
        None => Ok(()),
    }
}

/// The last that is known of a stage's work, steps and blockers, and its end.
fn last_of(state: &State, row: &StageRow) -> Option<Instant> {
    let own = |job, stage| (job, stage) == (row.job, &row.stage);
    let work = state.clockings.iter().filter(|clocking| own(clocking.job, &clocking.stage));
    let steps = look::steps(state, row.job, &row.stage).filter_map(|step| step.done_at);
    let held = state.blockers.iter().filter(|blocker| own(blocker.job, &blocker.stage));
    let held = held.map(|blocker| blocker.cleared_at.unwrap_or(blocker.since));
    let measured = reading::of_stage(state, row.job, &row.stage).filter_map(|row| row.taken_at.max(row.decided_at));
    let steps = steps.chain(measured);
    work.filter_map(|clocking| clocking.until_at).chain(steps).chain(held).chain(row.ended_at).max()
}

/// The last that is known of a job: the ends of its stages, and all that is said of it beside them.
pub(super) fn last_of_job(state: &State, job: JobNo) -> Option<Instant> {
    let stages = look::stages(state, job).filter_map(|row| row.ended_at.max(row.started_at));
    let measured = reading::readings(state, job).filter_map(|row| row.taken_at.max(row.decided_at));
    let strip = strip::positions(state, job).filter_map(|row| row.off_at.max(row.back_at).max(row.checked_at));
    let fluids = condition::fluids(state, job).filter_map(|row| row.said_at);
    let states = condition::states(state, job).map(|row| row.set_at);
    let ways = condition::ways(state, job).map(|row| row.decided_at.unwrap_or(row.proposed_at));
    let steps = look::stages(state, job).flat_map(|row| look::steps(state, job, &row.stage));
    let stages = stages.chain(steps.filter_map(|row| row.done_at));
    stages.chain(measured).chain(strip).chain(fluids).chain(states).chain(ways).max()
}

/// Refuses to leave a stage out before what comes before it had ended, or before it was added. A
/// planned wait may still run: it is cut short.
pub(super) fn refuse_unready(session: &Session, row: &StageRow, free_at: Option<Instant>) -> Result<(), Refusal> {
    let Some(ready_at) = row.ready_at else { return Ok(()) };
    let added_later = free_at.is_some_and(|free_at| free_at < ready_at);
    let earliest = if added_later { Some(ready_at) } else { last_before(session.state, row) };
    match earliest.filter(|earliest| session.at() < *earliest) {
        Some(earliest) => Err(look::too_early(format!("leaving out stage '{}'", row.stage), session.at(), earliest)),
        None => Ok(()),
    }
}

/// When the last of what comes before a stage ended, waits aside; what was left out passes on
/// what came before it.
fn last_before(state: &State, row: &StageRow) -> Option<Instant> {
    let mut last = None;
    let mut seen = BTreeSet::new();
    let mut left = vec![&row.stage];
    while let Some(stage) = left.pop() {
        for after in look::afters(state, row.job, stage).filter(|after| seen.insert(&after.after)) {
            let Some(before) = state.stages.get(&(row.job, after.after.clone())) else { continue };
            last = last.max(before.ended_at);
            if before.state == StageState::Skipped {
                left.push(&before.stage);
            }
        }
    }
    last
}
