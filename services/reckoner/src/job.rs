//! What the books of a job ask: its tightenings, its readings, and what to fill in again.

mod fluid;
mod readings;
mod tightening;

pub use fluid::{Remaining, held, remaining};
pub use readings::{Judgement, Judging, judge};
pub use tightening::{Setting, TightenBy, Tightening, Wanted};
