//! The shop's plan: what binds it, read from the rows; what an accepted one is worth as things stand; and how it is told.

pub mod hours;
pub mod input;
pub mod moved;
mod parts;
pub mod steps;
pub mod view;
pub mod what_if;
pub mod words;

pub use input::{needs_at, needs_of, plan_input, text_ids};
