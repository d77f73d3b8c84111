//! What the refit says now that it did not say before: more came off later, so more goes back, and something waits for
//! it.

use super::order::{Refit, refit};
use leadhand_facts::PositionKey;
use leadhand_facts::rows::{PositionRow, StageRow};
use std::collections::BTreeMap;

/// What became of one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RefitChange {
    /// It was not there.
    Added {
        /// Which.
        position: PositionKey,
        /// What goes back right after it, which had its place before.
        before: Option<PositionKey>,
    },
    /// It waits for these as well.
    WaitsFor {
        /// Which.
        position: PositionKey,
        /// For what.
        others: Vec<PositionKey>,
    },
    /// It goes back at another place among those that were there.
    Moved {
        /// Which.
        position: PositionKey,
    },
}

/// What changed since a journal number, in the order of the refit.
pub fn changes(rows: &[&PositionRow], stages: &[&StageRow], since: i64) -> Vec<RefitChange> {
    let earlier: Vec<&PositionRow> = rows.iter().filter(|row| row.off_n.is_some_and(|n| n <= since)).copied().collect();
    let (then, now) = (refit(&earlier, stages), refit(rows, stages));
    let place: BTreeMap<&PositionKey, usize> = then.iter().enumerate().map(|(at, line)| (&line.position, at)).collect();
    let was = |line: &Refit| place.get(&line.position).copied();
    let mut found = Vec::new();
    let kept: Vec<&Refit> = now.iter().filter(|line| was(line).is_some()).collect();
    for (at, line) in now.iter().enumerate() {
        let position = line.position.clone();
        let Some(before) = was(line) else {
            let next = now[at + 1..].iter().find(|line| was(line).is_some());
            found.push(RefitChange::Added { position, before: next.map(|line| line.position.clone()) });
            continue;
        };
        let others: Vec<PositionKey> =
            line.after.iter().filter(|other| !then[before].after.contains(other)).cloned().collect();
        let moved = kept.iter().position(|other| other.position == position) != Some(before);
        if !others.is_empty() {
            found.push(RefitChange::WaitsFor { position, others });
        } else if moved {
            found.push(RefitChange::Moved { position });
        }
    }
    found
}
