//! What follows by itself: stages that become ready, shortages that begin or cease to hold up.

use crate::decide::{readings, tools};
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::{StageRow, StepRow};
use leadhand_facts::words::{Cause, StageState};
use leadhand_facts::{BlockerNo, Fact, Instant, ItemKey, JobNo, StageKey, StepNo};
use std::collections::{BTreeMap, BTreeSet};

/// Makes ready what has nothing unfinished before it, and takes that back where something was
/// put in front. `newborn` is a stage that was added just now: it can't have lived before.
pub(super) fn settle_ready(session: &mut Session, job: JobNo, newborn: Option<&StageKey>) -> Result<(), Refusal> {
    let ends = ends_of(session.state, job);
    let pending: Vec<StageRow> =
        look::stages(session.state, job).filter(|row| row.state == StageState::Pending).cloned().collect();
    for row in pending {
        let free = free_from(session.state, &row, &ends)?;
        match (free, row.ready_at) {
            (Some(free), None) => {
                let ready_at = if newborn == Some(&row.stage) { free.max(session.at()) } else { free };
                let waits = ready_at > session.context.now;
                session.emit(Fact::StageReady { job, stage: row.stage, ready_at, waits })?;
            }
            (None, Some(_)) => {
                session.emit(Fact::StageHeld { job, stage: row.stage })?;
            }
            _ => {}
        }
    }
    Ok(())
}

/// From when a stage is free of its predecessors, waits included; `None` while one is unfinished.
pub(super) fn free_at(state: &State, row: &StageRow) -> Result<Option<Instant>, Refusal> {
    free_from(state, row, &ends_of(state, row.job))
}

type Ends = BTreeMap<StageKey, Option<Instant>>;

/// From when a stage is free of its predecessors; `None` while one is unfinished.
fn free_from(state: &State, row: &StageRow, ends: &Ends) -> Result<Option<Instant>, Refusal> {
    let opened_at = look::job(state, row.job)?.opened_at;
    Ok(latest_before(state, row, ends, opened_at))
}

fn latest_before(state: &State, row: &StageRow, ends: &Ends, start: Instant) -> Option<Instant> {
    look::afters(state, row.job, &row.stage).try_fold(start, |latest, after| {
        let end = ends.get(&after.after).copied().flatten()?;
        Some(latest.max(end.plus_minutes(i64::from(after.wait_minutes))))
    })
}

/// When each stage ended for those that come after it. A skipped stage passes on what came
/// before it: leaving a stage out does not free its successors from its predecessors.
fn ends_of(state: &State, job: JobNo) -> Ends {
    let mut ends = Ends::new();
    let rows: Vec<&StageRow> = look::stages(state, job).collect();
    let ended = rows.iter().filter(|row| row.state == StageState::Finished);
    ends.extend(ended.map(|row| (row.stage.clone(), row.ended_at)));
    let mut left: Vec<&StageRow> = rows.into_iter().filter(|row| row.state == StageState::Skipped).collect();
    // Each round settles at least one skipped stage, or nothing more can be settled.
    loop {
        let before = left.len();
        left.retain(|row| {
            let start = row.ended_at.unwrap_or(Instant(i64::MIN));
            let end = latest_before(state, row, &ends, start);
            if end.is_some() {
                ends.insert(row.stage.clone(), end);
            }
            end.is_none()
        });
        if left.len() == before {
            return ends;
        }
    }
}

/// Raises a blocker where the step that is next needs what is short, and clears the ones whose
/// shortage is gone or whose step is not next any more; the same for readings that are out of
/// their limits, and for shared tools that another job has.
pub(super) fn settle_blockers(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    type Held = (StageKey, StepNo, ItemKey);
    let wanted = shortages_that_hold_up(session.state, job);
    let standing: BTreeMap<Held, BlockerNo> = look::open_blockers(session.state, job)
        .filter_map(|row| Some(((row.stage.clone(), row.step?, row.item.clone()?), row.blocker)))
        .collect();
    for (held, blocker) in &standing {
        if !wanted.contains(held) {
            session.emit(Fact::BlockerCleared { job, blocker: *blocker, note: None })?;
        }
    }
    for (stage, step, item) in wanted.into_iter().filter(|held| !standing.contains_key(held)) {
        let blocker = next_blocker(session.state, job)?;
        session.emit(Fact::BlockerRaised {
            job,
            blocker,
            stage,
            cause: Cause::Part,
            owner: None,
            expected_at: None,
            note: None,
            step: Some(step),
            item: Some(item),
            reading: None,
            tool: None,
        })?;
    }
    readings::settle(session, job)?;
    tools::settle_blockers(session, job)
}

/// The number that the next blocker of a job gets.
pub(super) fn next_blocker(state: &State, job: JobNo) -> Result<BlockerNo, Refusal> {
    Ok(BlockerNo(look::job(state, job)?.last_blocker + 1))
}

/// The step that is next of each stage that could go on.
pub(super) fn next_steps(state: &State, job: JobNo) -> impl Iterator<Item = &StepRow> {
    look::stages(state, job).filter(|row| look::is_live(row)).filter_map(|row| look::next_step(state, row))
}

fn shortages_that_hold_up(state: &State, job: JobNo) -> BTreeSet<(StageKey, StepNo, ItemKey)> {
    let next: BTreeMap<&StageKey, StepNo> = next_steps(state, job).map(|row| (&row.stage, row.step)).collect();
    state
        .shortages
        .iter()
        .filter(|row| row.job == job && row.quantity.is_positive())
        .filter(|row| next.get(&row.stage) == Some(&row.step))
        .map(|row| (row.stage.clone(), row.step, row.item.clone()))
        .collect()
}
