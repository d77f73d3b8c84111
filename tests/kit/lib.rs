//! What every test binary shares.

pub mod postgres;

pub use postgres::{OwnServer, TestDatabase, fresh_database};
