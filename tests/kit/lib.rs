//! What every test binary shares.

pub mod postgres;
pub mod process;

pub use postgres::{OwnServer, TestDatabase, fresh_database};
pub use process::Leadhandd;
