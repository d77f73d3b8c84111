//! Which stage, in which bay, by whom, when.
pub mod budget;
pub mod engine;
pub mod rng;

pub use budget::{Budget, Ended};
