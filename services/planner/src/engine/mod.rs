//! The search: schedules from orders, and better orders from schedules.
//!
//! An order of activities is turned into a schedule one activity after the other, each as early as everything that
//! binds allows (serial generation). `population` looks for better orders, whatever turns them into schedules:
//! `serial` for projects with shared resources, and the shop's own placement for a workshop.

mod arcs;
mod disjunctive;
mod graph;
pub(crate) mod population;
mod profile;
pub mod project;
mod serial;
mod solve;

pub use project::{Activity, Project};
pub use solve::{Solved, solve};
