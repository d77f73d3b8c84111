//! The store against a real Postgres. Outside sources are named beside the checks.

#![allow(clippy::unwrap_used, reason = "a helper that fails ends its test")]

mod batches;
mod due;
mod guards;
mod isolation;
mod joint;
mod migrating;
mod needs;
mod rows;
mod samples;
mod shop;
mod texts;
mod waking;
