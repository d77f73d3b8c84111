//! leadhandd: configuration, composition, private database.

// How a call waits is one value, as deep as its way through app, store and driver; an optimised build looks all the
// way down.
#![recursion_limit = "256"]
#![forbid(unsafe_code)]

pub mod backup;
pub mod cli;
pub mod clock;
pub mod commands;
pub mod compose;
pub mod configuration;
pub mod entropy;
pub mod health;
pub mod healthy;
pub mod http;
pub mod logs;
mod metrics_told;
pub mod operators;
pub mod private_database;
mod progress;
pub mod serve;
pub mod traces;
pub mod transfer;
pub mod upgrade;
