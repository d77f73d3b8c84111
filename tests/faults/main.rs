//! The promises when things break: processes are killed, clients go away, connections run out.
#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod checker;
mod client;
mod client_gone;
mod command;
mod connections;
mod edge;
mod guards;
mod history;
mod migrators;
mod postgres_killed;
mod promises;
mod quiet_end;
mod scene;
mod shop;
mod slow_subscriber;
mod storm;
mod subscriber;
mod waiting;
mod workload;
