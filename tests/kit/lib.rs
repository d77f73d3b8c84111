//! What every test binary shares.

mod forwarder;
pub mod postgres;
mod preload;
pub mod process;
mod small_disk;

pub use forwarder::Forwarder;
pub use postgres::{OwnServer, Surroundings, TestDatabase, fresh_database};
pub use preload::Preload;
pub use process::{Leadhandd, leadhand};
pub use small_disk::SmallDisk;
