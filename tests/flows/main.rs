//! The four uses over real gRPC and Postgres: assign, progress, reserve, audit; and who may come
//! in. Every flow ends with `verify`. The protocol's codes are gRPC's own; the scenario is
//! invented.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod access;
mod assign;
mod audit;
mod bad_input;
mod bays;
mod blockers;
mod board_stream;
mod calendar;
mod clock;
mod condition;
mod corrections;
mod customers;
mod deadlines;
mod drafts;
mod every_field;
mod every_rpc;
mod forget;
mod frames;
mod leaving;
mod mistakes;
mod mutated;
mod neighbours;
mod opening;
mod operators;
mod persons;
mod progress;
mod raw;
mod renamed;
mod repeat;
mod resets;
mod samples;
mod shop;
mod shortage;
mod steps;
mod stock;
mod stock_books;
mod strip;
mod templates;
mod time;
