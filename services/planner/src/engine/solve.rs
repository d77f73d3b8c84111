//! One project, one budget, the best schedule found.

use super::population::{Ways, evolve};
use super::disjunctive::Disjunctive;
use super::project::Project;
use super::serial::Serial;
use crate::budget::{Budget, Ended, Meter};
use crate::rng::Rng;

/// A schedule and how it was come to.
#[derive(Debug, Clone)]
pub struct Solved {
    /// When each activity starts.
    pub start: Vec<u32>,
    /// When the last one is finished.
    pub end: u32,
    /// Schedules made.
    pub schedules: u64,
    /// Why the search ended.
    pub ended: Ended,
}

/// Looks for the shortest schedule of a project.
pub fn solve(project: &Project, seed: u64, budget: &mut Budget<'_>) -> Solved {
    let mut meter = Meter::new(budget, 16);
    if let Some(machine) = &project.machine {
        let mut rng = Rng::new(seed);
        let mut shop = Disjunctive::new(project, machine, Rng::new(rng.bits()));
        let ways = Ways { size: env("JP", 8), patience: env("PAT", 20), mutation: env("MUT", 2) as u32, replace: env("JREP", 3), inverse: 50, uniform: true, looks: 1, short: 25, long: 75 };
        let ended = evolve(&mut shop, rng, ways, &mut meter);
        let schedules = meter.used;
        let (start, end) = shop.best();
        return Solved { start, end, schedules, ended };
    }
    let mut serial = Serial::new(project);
    let ways = Ways { size: env("P", 40), patience: env("PAT", 20), mutation: env("MUT", 2) as u32, replace: env("REP", 0), inverse: env("INV", 0) as u32, uniform: env("UNI", 0) == 1, looks: env("LOOKS", 1), short: env("SHORT", 25), long: env("LONG", 75) };
    let ended = evolve(&mut serial, Rng::new(seed), ways, &mut meter);
    let schedules = meter.used;
    let (start, end) = serial.best();
    Solved { start, end, schedules, ended }
}

pub fn env(name: &str, or: usize) -> usize {
    std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(or)
}
