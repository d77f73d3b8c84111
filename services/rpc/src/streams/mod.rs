//! What streams have in common: what they share, when they end, and how patient they are with
//! whoever reads them.

pub mod boards;
pub mod guard;
pub mod outlet;
pub mod shared;
pub mod tails;

use std::time::Duration;

/// How often a stream says that it lives; clients take three of these without a word for its end.
pub const HEARTBEAT: Duration = Duration::from_secs(5);
