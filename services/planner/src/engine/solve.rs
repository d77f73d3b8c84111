//! One project, one budget, the best schedule found.

use super::disjunctive::Disjunctive;
use super::population::{Ways, evolve};
use super::project::Project;
use super::serial::{MANY, Serial};
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
    let mut rng = Rng::new(seed);
    if let Some(machine) = &project.machine {
        let mut shop = Disjunctive::new(project, machine, Rng::new(rng.bits()));
        let ways = Ways { size: 8, patience: 20, moves: 3 };
        let ended = evolve(&mut shop, rng, ways, &mut meter);
        return answer(shop.best(), &meter, ended);
    }
    let mut serial = Serial::new(project);
    let large = project.len() >= MANY;
    let ways = Ways { size: if large { 60 } else { 40 }, patience: 10, moves: if large { 1 } else { 3 } };
    let ended = evolve(&mut serial, rng, ways, &mut meter);
    answer(serial.best(), &meter, ended)
}

fn answer((start, end): (Vec<u32>, u32), meter: &Meter<'_, '_>, ended: Ended) -> Solved {
    Solved { start, end, schedules: meter.used, ended }
}
