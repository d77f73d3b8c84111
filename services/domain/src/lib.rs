//! The rules: decide and apply.
//!
//! [`decide::decide`] turns a command into facts, or refuses it with a reason; [`apply::apply`]
//! folds a fact into the rows of [`state::State`]. Nothing here reads a clock, draws a random
//! number or speaks to anything: see [`context`].

pub mod answer;
pub mod apply;
pub mod check;
pub mod command;
pub mod condition;
pub mod context;
pub mod decide;
pub mod fill;
pub mod follow;
pub mod hand_over;
pub mod hazard;
pub mod labels;
pub mod lessons;
pub mod look;
pub mod names;
pub mod need;
pub mod network;
pub mod plan;
pub mod reading;
pub mod refusal;
pub mod session;
pub mod state;
pub mod strip;
pub mod supplier;
pub mod telling;
pub mod template;
pub mod toolbox;
pub mod view;
