//! The auditor against journals written by hand, and against books with one cell made wrong.
//!
//! Expected rows come from the meaning of each fact as `src/fold/mod.rs` states it under RULES;
//! there is no source outside of this project for them.

#![allow(clippy::unwrap_used, reason = "a test that finds nothing to unwrap has failed")]

mod comparing;
mod condition;
mod fold_customers;
mod fold_jobs;
mod fold_plan;
mod fold_shop;
mod fold_stages;
mod fold_stock;
mod fold_suppliers;
mod fold_time;
mod fold_tools;
mod journal;
mod kit;
mod labels;
mod laws;
mod laws_jobs;
mod laws_readings;
mod sample;
mod sample_told;
mod texts;
