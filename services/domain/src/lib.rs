//! The rules: decide and apply.
//!
//! [`decide::decide`] turns a command into facts, or refuses it with a reason; [`apply::apply`]
//! folds a fact into the rows of [`state::State`]. Nothing here reads a clock, draws a random
//! number or speaks to anything: see [`context`].

pub mod need;
pub mod state;
