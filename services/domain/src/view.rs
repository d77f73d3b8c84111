//! What people look at, made from loaded rows and a time. Views hold ids and figures; words are
//! looked up where they are shown.

pub mod audit;
pub mod board;
pub mod condition;
pub mod expected;
pub mod hand_over;
pub mod job;
pub mod lives;
pub mod lost;
pub mod parts;
pub mod ready;
pub mod ready_day;
mod ready_tools;
pub mod stock;
pub mod strip;
pub mod to_get;
pub mod tools;

pub use parts::Title;
pub(crate) use ready_tools::{known_as, tools_of};
