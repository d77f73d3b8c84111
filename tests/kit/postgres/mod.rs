//! Where the tests' databases come from.
//!
//! One server per work tree, started by whoever needs it first (nextest's set-up script, or the first test under plain
//! `cargo test`) and kept for the next run; one sealed template database per set of migrations; one clone of it
//! per test. The server is a container when a Docker engine and the image are there, else the machine's own
//! binaries; a printed line says which. `provide_postgres --remove` takes it all away again.

mod binaries;
mod container;
mod database;
mod own_server;
mod place;
mod server;
mod template;

pub use database::{TestDatabase, fresh_database};
pub use own_server::{OwnServer, Surroundings};
pub use place::free_port;
pub use server::{Provided, provide, remove};

/// The role that owns the tables; migrations run as it.
pub const OWNER_ROLE: &str = "leadhand_owner";
/// The role that the server's queries run as: it owns nothing and bypasses nothing.
pub const APP_ROLE: &str = "leadhand_app";
/// The role that may do anything, for what a test does behind the product's back.
pub const SUPERUSER_ROLE: &str = "postgres";
