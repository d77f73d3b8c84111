//! The order of the refit, from what really came off: whatever had to come off before something goes back after it,
//! and whatever hangs on something goes back after that.

use super::balance::{never_there, places_left};
use leadhand_facts::rows::{PositionRow, StageRow};
use leadhand_facts::words::{Manner, StageState};
use leadhand_facts::{Instant, PositionKey, StageKey};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// A line of the refit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refit {
    /// What goes back, or comes out.
    pub position: PositionKey,
    /// The stage in which it does, where that is known.
    pub stage: Option<StageKey>,
    /// What goes back before it.
    pub after: Vec<PositionKey>,
    /// Whether nothing is left to do about it.
    pub done: bool,
}

/// Whether a position is off: touched, and not all of it back.
pub(crate) fn is_open(row: &PositionRow) -> bool {
    let left = if row.detail.manner == Manner::In { super::pieces_left(row) } else { places_left(row) };
    row.off_n.is_some() && left > 0
}

/// Whether all of it is back where it was: whatever lies behind it is out of reach again.
pub(crate) fn is_back_on(row: &PositionRow) -> bool {
    let on = row.refitted + row.renewed > 0 && row.detail.manner != Manner::In;
    on && row.off_n.is_some() && !is_open(row)
}

/// Until when something that is back cures, while it does.
pub fn cures_until(row: &PositionRow, at: Instant) -> Option<Instant> {
    if !is_back_on(row) {
        return None;
    }
    let until = row.back_at?.plus_minutes(i64::from(row.detail.cure_minutes?));
    (until > at).then_some(until)
}

/// What has to be back before this position goes back, among those that were touched.
pub(crate) fn first<'a>(rows: &[&'a PositionRow], row: &PositionRow) -> Vec<&'a PositionRow> {
    let behind_it = |other: &&&PositionRow| other.detail.behind.contains(&row.position);
    let holds_it = |other: &&&PositionRow| row.detail.attached_to.as_ref() == Some(&other.position);
    let there = |other: &&&PositionRow| other.off_n.is_some() && !never_there(other);
    let touched = rows.iter().filter(there).filter(|other| other.position != row.position);
    touched.filter(|other| behind_it(other) || holds_it(other)).copied().collect()
}

/// The whole refit: every position that was touched once, each after what goes back before it; within that by stage,
/// and the last that came off first.
pub fn refit(rows: &[&PositionRow], stages: &[&StageRow]) -> Vec<Refit> {
    let ordinals: BTreeMap<&StageKey, i32> = stages
        .iter()
        .filter(|stage| stage.state != StageState::Skipped)
        .map(|stage| (&stage.stage, stage.ordinal))
        .collect();
    let touched: Vec<&PositionRow> =
        rows.iter().filter(|row| row.off_n.is_some() && !never_there(row)).copied().collect();
    let mut waits: BTreeMap<&PositionKey, BTreeSet<&PositionKey>> = BTreeMap::new();
    for row in &touched {
        waits.insert(&row.position, first(&touched, row).into_iter().map(|other| &other.position).collect());
    }
    let own = |row: &PositionRow| row.detail.back.as_ref().and_then(|stage| ordinals.get(stage)).copied();
    let due = due_by(&touched, &waits, own);
    let rank = |row: &PositionRow| {
        (due.get(&row.position).copied().unwrap_or(i32::MAX), Reverse(row.off_n), row.position.clone())
    };
    let mut left: Vec<&PositionRow> = touched.clone();
    left.sort_by_key(|row| rank(row));
    let (mut lines, mut placed) = (Vec::with_capacity(left.len()), BTreeSet::new());
    while !left.is_empty() {
        // What is listed has no ring; should one come here all the same, the order of coming off decides.
        let free = left.iter().position(|row| waits[&row.position].iter().all(|other| placed.contains(*other)));
        let row = left.remove(free.unwrap_or(0));
        placed.insert(&row.position);
        lines.push(Refit {
            position: row.position.clone(),
            stage: row.detail.back.clone().filter(|stage| ordinals.contains_key(stage)),
            after: waits[&row.position].iter().map(|key| (*key).clone()).collect(),
            done: !is_open(row),
        });
    }
    lines
}

/// By which stage each has to be back: its own, or the first of those that can't go back before it. What was met on the way
/// and has no stage must not drag behind it whatever waits for it.
fn due_by<'a>(
    rows: &[&'a PositionRow],
    waits: &BTreeMap<&'a PositionKey, BTreeSet<&'a PositionKey>>,
    own: impl Fn(&PositionRow) -> Option<i32>,
) -> BTreeMap<&'a PositionKey, i32> {
    let mut due: BTreeMap<&PositionKey, i32> = rows.iter().filter_map(|row| Some((&row.position, own(row)?))).collect();
    loop {
        let mut news = Vec::new();
        for (behind, first) in waits {
            let Some(stage) = due.get(behind).copied() else { continue };
            news.extend(
                first.iter().filter(|key| due.get(*key).is_none_or(|known| *known > stage)).map(|key| (*key, stage)),
            );
        }
        if news.is_empty() {
            return due;
        }
        for (key, stage) in news {
            let known = due.entry(key).or_insert(stage);
            *known = (*known).min(stage);
        }
    }
}

/// A ring among positions of which each has to come off before the next, if there is one: what is behind what, and
/// what hangs on what. `pairs` are (first, second): the first comes off before the second.
pub(crate) fn ring<'a>(pairs: &BTreeSet<(&'a PositionKey, &'a PositionKey)>) -> Option<Vec<&'a PositionKey>> {
    let mut left: BTreeSet<&PositionKey> = pairs.iter().flat_map(|(one, other)| [*one, *other]).collect();
    loop {
        let waits = |key: &PositionKey| pairs.iter().any(|(one, other)| *other == key && left.contains(*one));
        let free: Vec<&PositionKey> = left.iter().copied().filter(|key| !waits(key)).collect();
        if free.is_empty() {
            break;
        }
        left.retain(|key| !free.contains(key));
    }
    // Whoever is left waits for somebody who is left, so walking back comes round.
    let mut path: Vec<&PositionKey> = vec![left.first()?];
    loop {
        let here = path.last()?;
        let (before, _) = pairs.iter().find(|(one, other)| other == here && left.contains(*one))?;
        if let Some(at) = path.iter().position(|seen| seen == before) {
            let mut ring = path.split_off(at);
            ring.reverse();
            return Some(ring);
        }
        path.push(before);
    }
}

/// The pairs of [`ring`] that a position takes part in.
pub(crate) fn pairs<'a>(
    position: &'a PositionKey,
    behind: &'a [PositionKey],
    attached_to: Option<&'a PositionKey>,
) -> impl Iterator<Item = (&'a PositionKey, &'a PositionKey)> {
    behind.iter().map(move |other| (other, position)).chain(attached_to.map(|other| (position, other)))
}
