//! When vehicles are moved: in one go, while the shop is open or somebody has overtime that the lead opened.

use super::calendar::{Span, inside, join};
use super::model::{Model, Person};
use super::place::NOWHERE;

/// When somebody is there who could move a vehicle.
pub(super) fn hours(open: &[Span], people: &[Person]) -> Vec<Span> {
    join(open.iter().chain(people.iter().flat_map(|person| &person.all)).copied().collect())
}

/// A move of a vehicle: its minutes, and whether it may lie in overtime.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Moving {
    pub minutes: i32,
    pub overtime: bool,
}

impl Model<'_> {
    /// What it takes to move a job's vehicle.
    pub fn moving(&self, j: usize, overtime: bool) -> Moving {
        Moving { minutes: self.jobs[j].moving, overtime }
    }

    /// A move of so many minutes that begins when the plan has it: in overtime only if it lies there.
    pub fn as_planned(&self, from: i32, minutes: i32) -> Moving {
        Moving { minutes, overtime: self.beyond(from, minutes) > 0 }
    }

    /// How many minutes of a move lie outside the shop's hours.
    pub fn beyond(&self, from: i32, minutes: i32) -> i64 {
        let span = Span { from, until: from.saturating_add(minutes) };
        if minutes <= 0 { 0 } else { i64::from(minutes) - inside(&self.open, span) }
    }

    fn moved_in(&self, overtime: bool) -> &[Span] {
        if overtime { &self.moves } else { &self.open }
    }

    /// The first time, from a minute on, for a move; `NOWHERE` where the hours that are known have none. What takes no
    /// minutes is bound to no hours.
    pub fn move_from(&self, at: i32, Moving { minutes, overtime }: Moving) -> Span {
        if minutes <= 0 {
            return Span { from: at, until: at };
        }
        let hours = self.moved_in(overtime);
        let first = hours.partition_point(|span| span.until <= at);
        for span in &hours[first..] {
            let from = span.from.max(at);
            if span.until - from >= minutes {
                return Span { from, until: from + minutes };
            }
        }
        Span { from: NOWHERE, until: NOWHERE }
    }

    /// When a move begins at the latest that is over by a minute; that long before it where there is no such time.
    pub fn move_by(&self, at: i32, Moving { minutes, overtime }: Moving) -> i32 {
        if minutes <= 0 {
            return at;
        }
        let hours = self.moved_in(overtime);
        let begun = hours.partition_point(|span| span.from < at);
        let latest = |span: &Span| Some(span.until.min(at) - minutes).filter(|from| *from >= span.from);
        hours[..begun].iter().rev().find_map(latest).unwrap_or(at.saturating_sub(minutes))
    }

    /// When a vehicle that can be moved from a minute on has been: as long after it, where the known hours have no time for it.
    pub fn moved(&self, at: i32, moving: Moving) -> i32 {
        let until = self.move_from(at, moving).until;
        if until == NOWHERE { at.saturating_add(moving.minutes) } else { until }
    }
}
