//! What whoever runs the servers is given works: images, Compose file, certificates. Outside source: common practice.

#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod collector;
mod compose;
mod composed;
mod foreign;
mod metrics;
mod side_by_side;
mod traces;
mod unit;
mod web;
