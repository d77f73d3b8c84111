//! When a job will be done as far as its minutes say, before there is a plan: the longest way
//! through what is left, laid into the shop's hours.
//!
//! Work passes in shop hours only; waits pass on any clock. A stage that is held up goes on no
//! sooner than its blockers are expected to end, nor than what is short for it arrives.

use super::parts::Index;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::rows::StageRow;
use leadhand_facts::words::{StageKind, StageState};
use leadhand_facts::{Instant, StageKey, Window};
use std::collections::BTreeMap;

/// Which of a stage's three minutes to reckon with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reckon {
    /// The likely ones.
    Likely,
    /// Those if it goes badly.
    High,
}

impl Reckon {
    fn minutes(self, stage: &StageRow) -> i64 {
        i64::from(match self {
            Self::Likely => stage.likely,
            Self::High => stage.high,
        })
    }
}

/// When the last of these stages will be finished; `now` when nothing is left, nothing when the
/// hours that are known end before that.
pub(super) fn finish(index: &Index<'_>, stages: &[&StageRow], now: Instant, reckon: Reckon) -> Option<Instant> {
    let mut ends: BTreeMap<&StageKey, Instant> = BTreeMap::new();
    for stage in stages {
        if let Some(ended_at) = stage.ended_at {
            ends.insert(&stage.stage, ended_at);
        }
    }
    let mut left: Vec<&StageRow> = stages.iter().copied().filter(|stage| stage.ended_at.is_none()).collect();
    let mut last = now;
    // Each round takes the stages whose predecessors are all reckoned; rules refuse rings.
    while !left.is_empty() {
        let known = |stage: &StageRow| index.afters(stage).iter().all(|after| ends.contains_key(&after.after));
        let (due, later): (Vec<_>, Vec<_>) = left.into_iter().partition(|stage| known(stage));
        if due.is_empty() {
            return None;
        }
        for stage in due {
            let end = end_of(index, stage, &ends, now, reckon)?;
            last = last.max(end);
            ends.insert(&stage.stage, end);
        }
        left = later;
    }
    Some(last)
}

fn end_of(
    index: &Index<'_>,
    stage: &StageRow,
    ends: &BTreeMap<&StageKey, Instant>,
    now: Instant,
    reckon: Reckon,
) -> Option<Instant> {
    let minutes_us = reckon.minutes(stage).saturating_mul(MINUTE_US);
    let blockers = index.blockers(stage).iter().filter(|row| row.cleared_at.is_none());
    let free_at = blockers.filter_map(|row| row.expected_at).max().max(index.parts_from(stage)).unwrap_or(now).max(now);
    if stage.state == StageState::Active {
        return match stage.kind {
            StageKind::Wait => Some(free_at.max(stage.started_at.unwrap_or(now).plus_us(minutes_us))),
            StageKind::Work => after_open(index, free_at, (minutes_us - worked_us(index, stage, now)).max(0)),
        };
    }
    let behind = |after: &&leadhand_facts::rows::AfterRow| {
        ends.get(&after.after).map(|end| end.plus_minutes(i64::from(after.wait_minutes)))
    };
    let ready_at = match stage.ready_at {
        Some(ready_at) => ready_at,
        None => index.afters(stage).iter().filter_map(behind).max().unwrap_or(now),
    };
    let start = ready_at.max(free_at);
    match stage.kind {
        StageKind::Wait => Some(start.plus_us(minutes_us)),
        // What was worked on it before its start, as late entries can have it, is done as well.
        StageKind::Work => after_open(index, start, (minutes_us - worked_us(index, stage, now)).max(0)),
    }
}

/// The instant at which so much open time has passed; nothing when the known hours end before.
fn after_open(index: &Index<'_>, from: Instant, us: i64) -> Option<Instant> {
    if us == 0 {
        return Some(from);
    }
    let first = index.openings.partition_point(|opening| opening.window.until <= from);
    let mut left = us;
    for opening in &index.openings[first..] {
        let window = Window { from: opening.window.from.max(from), ..opening.window };
        if window.length_us() >= left {
            return Some(window.from.plus_us(left));
        }
        left -= window.length_us();
    }
    None
}

/// Whether a stage under way has taken even the minutes that it takes if it goes badly: what is left of it nobody knows.
pub(super) fn is_beyond(index: &Index<'_>, stage: &StageRow, now: Instant) -> bool {
    let high_us = Reckon::High.minutes(stage).saturating_mul(MINUTE_US);
    stage.state == StageState::Active && stage.kind == StageKind::Work && worked_us(index, stage, now) > high_us
}

/// How long at least one person has worked on a stage so far.
fn worked_us(index: &Index<'_>, stage: &StageRow, now: Instant) -> i64 {
    let mut reached = Instant(i64::MIN);
    let mut sum = 0;
    for row in index.clockings(stage) {
        let until = row.until_at.unwrap_or(now);
        sum += Window { from: row.from_at.max(reached), until }.length_us();
        reached = reached.max(until);
    }
    sum
}
