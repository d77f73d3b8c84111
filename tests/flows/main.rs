//! The four uses over real gRPC and Postgres: assign, progress, reserve, audit; and who may come
//! in. Every flow ends with `verify`. The protocol's codes are gRPC's own; the scenario is
//! invented.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod access;
mod assign;
mod persons;
mod progress;
mod shop;
mod stock;
mod time;
