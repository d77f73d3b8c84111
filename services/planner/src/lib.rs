//! Which stage, in which bay, by whom, when; and when the vehicle will be ready.
//!
//! [`propose`] turns a frozen [`PlanInput`](leadhand_facts::plan::PlanInput) into a plan and a report. It reads no clock
//! and draws no chance but from its seed, so the same input, seed and number of schedules give the same plan. The search
//! behind it ([`engine`]) is the one that the example `instances` measures on public projects and job shops.

// The tests' kit names the crate.
#[cfg(test)]
extern crate self as leadhand_planner;

pub mod beta;
pub mod budget;
pub mod engine;
pub mod rng;
mod shop;

pub use budget::{Budget, Ended};
pub use shop::propose;
