//! When vehicles are moved: in one go, while the shop is open or somebody has overtime that the lead opened.

use super::calendar::{Span, join};
use super::model::{Model, Person};
use super::place::NOWHERE;

/// When somebody is there who could move a vehicle.
pub(super) fn hours(open: &[Span], people: &[Person]) -> Vec<Span> {
    join(open.iter().chain(people.iter().flat_map(|person| &person.all)).copied().collect())
}

impl Model<'_> {
    /// The first time, from a minute on, for a move of so many minutes; `NOWHERE` where the hours that are known have none.
    /// What takes no minutes is bound to no hours.
    pub fn move_from(&self, at: i32, minutes: i32) -> Span {
        if minutes <= 0 {
            return Span { from: at, until: at };
        }
        let first = self.moves.partition_point(|span| span.until <= at);
        for span in &self.moves[first..] {
            let from = span.from.max(at);
            if span.until - from >= minutes {
                return Span { from, until: from + minutes };
            }
        }
        Span { from: NOWHERE, until: NOWHERE }
    }

    /// When a move of so many minutes begins at the latest that is over by a minute; that long before it where there is no
    /// such time.
    pub fn move_by(&self, at: i32, minutes: i32) -> i32 {
        if minutes <= 0 {
            return at;
        }
        let begun = self.moves.partition_point(|span| span.from < at);
        let latest = |span: &Span| Some(span.until.min(at) - minutes).filter(|from| *from >= span.from);
        self.moves[..begun].iter().rev().find_map(latest).unwrap_or(at.saturating_sub(minutes))
    }

    /// When a vehicle that can be moved from a minute on has been: as long after it, where the known hours have no time for it.
    pub fn moved(&self, at: i32, minutes: i32) -> i32 {
        let until = self.move_from(at, minutes).until;
        if until == NOWHERE { at.saturating_add(minutes) } else { until }
    }
}
