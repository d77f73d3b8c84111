//! When a vehicle may leave its bay: what the shop's rules look at when somebody moves it.
//!
//! Not while work of its job is under way, in a bay or not; else as the work says that was finished last; and once every
//! stage is over, at any time. What was left out was never work.

use super::Row;
use leadhand_facts::Instant;
use leadhand_facts::plan::{PlanJob, StageNow};
use leadhand_facts::words::StageKind;

/// A job's work, by when it is under way.
pub(super) struct Leaving {
    /// Begin, end, and whether the vehicle may leave after it; what was over before the plan has no begin that matters.
    work: Vec<(Instant, Instant, bool)>,
    /// When every stage is over; nothing when one has no place.
    over: Option<Instant>,
    /// Whether something was begun of which the plan knows no end.
    endless: bool,
}

const EVER: Instant = Instant(i64::MIN);

impl Leaving {
    pub fn of(job: &PlanJob, own: &[&Row<'_>]) -> Self {
        let mut leaving = Self { work: Vec::new(), over: Some(EVER), endless: false };
        for said in &job.stages {
            let planned = own.iter().find(|row| row.said.stage == said.stage).map(|row| row.planned);
            let end = said.now.over().or(planned.map(|row| row.until));
            leaving.over = leaving.over.zip(end).map(|(latest, end)| latest.max(end));
            let left_out = matches!(said.now, StageNow::LeftOut { .. });
            if said.kind == StageKind::Wait || left_out {
                continue;
            }
            let begun = said.begun || matches!(said.now, StageNow::Started { .. });
            match (&said.now, planned) {
                (StageNow::Ended { at }, _) => leaving.work.push((*at, *at, said.may_leave)),
                (_, Some(row)) => {
                    let from = if begun { EVER } else { row.from };
                    leaving.work.push((from, row.until, said.may_leave));
                }
                (_, None) => leaving.endless |= begun,
            }
        }
        leaving
    }

    /// When every stage is over; nothing when one has no place.
    pub fn over(&self) -> Option<Instant> {
        self.over
    }

    /// Whether the vehicle may leave at a moment.
    pub fn may_at(&self, at: Instant) -> bool {
        let under_way = |(from, until, _): &(Instant, Instant, bool)| *from < at && at < *until;
        if self.endless || self.work.iter().any(under_way) {
            return false;
        }
        // What is over before the plan begins stands in it with its end, which may be later by seconds.
        let done = || self.work.iter().filter(|(from, until, _)| *until <= at || from == until);
        let latest = done().map(|(_, until, _)| *until).max();
        let lets_go = done().any(|(_, until, may)| Some(*until) == latest && *may);
        latest.is_none() || lets_go || self.over.is_some_and(|over| over <= at)
    }

    /// Whether there is a moment between two at which it may leave.
    pub fn may_within(&self, first: Instant, last: Instant) -> bool {
        let ends = self.work.iter().map(|(_, until, _)| *until).chain(self.over);
        let moments = ends.chain([first, last]).filter(|at| first <= *at && *at <= last);
        moments.into_iter().any(|at| self.may_at(at))
    }
}
