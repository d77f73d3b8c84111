//! The promises when things break: processes are killed, clients go away, connections run out.
#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod checker;
mod client;
mod client_gone;
mod clock_off;
mod command;
mod connections;
mod disk_full;
mod drill;
mod edge;
mod failover;
mod guards;
mod history;
mod hostile;
mod migrations_killed;
mod migrators;
mod postgres_killed;
mod promises;
mod quiet_end;
mod report;
mod resumed;
mod scene;
mod shop;
mod slow_flush;
mod slow_subscriber;
mod stalled;
mod storm;
mod subscriber;
mod waiting;
mod workload;
