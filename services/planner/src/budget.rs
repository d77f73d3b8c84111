//! How long a search may go on: a number of schedules, and whoever watches a clock outside.

/// What a search may spend.
pub struct Budget<'a> {
    /// Most schedules that are made.
    pub schedules: u64,
    /// Asked now and then; the search ends when it says true.
    pub stop: &'a mut dyn FnMut() -> bool,
}

impl Budget<'_> {
    /// Schedules that a plan of a shop is usually given.
    pub const USUAL: u64 = 3_000;
}

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Nothing better is possible.
    Proved,
    /// The schedules were spent; the same input gives the same answer again.
    Spent,
    /// Somebody outside stopped it; another run may give another answer.
    Stopped,
}

/// Counts what is spent.
pub(crate) struct Meter<'a, 'b> {
    budget: &'a mut Budget<'b>,
    /// Schedules made.
    pub used: u64,
    /// Schedules that may not be made yet.
    aside: u64,
    /// Schedules after which the watcher is asked again.
    ask: u64,
    pace: u64,
    stopped: bool,
}

impl<'a, 'b> Meter<'a, 'b> {
    /// A meter that asks the watcher every `pace` schedules.
    pub fn new(budget: &'a mut Budget<'b>, pace: u64) -> Self {
        Self { budget, used: 0, aside: 0, ask: pace, pace, stopped: false }
    }

    /// Sets so many per cent of all schedules aside; what was set aside before is there again.
    pub fn set_aside(&mut self, per_cent: u64) {
        self.aside = self.budget.schedules.saturating_mul(per_cent) / 100;
    }

    /// Notes schedules that were made.
    pub fn count(&mut self, schedules: u64) {
        self.used += schedules;
    }

    /// Whether the search may go on.
    pub fn more(&mut self) -> bool {
        if self.used >= self.ask && !self.stopped {
            self.ask = self.used + self.pace;
            self.stopped = (self.budget.stop)();
        }
        !self.stopped && self.used < self.budget.schedules.saturating_sub(self.aside)
    }

    /// How it ended, for a search that could not prove its answer.
    pub fn ended(&self) -> Ended {
        if self.stopped { Ended::Stopped } else { Ended::Spent }
    }
}
