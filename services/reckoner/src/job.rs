//! What the books of a job ask: its tightenings, its readings, and what to fill in again.

mod fluid;
mod item;
mod plain;
mod pour;
mod readings;
mod tightening;

pub use fluid::{Remaining, fluid_of, held, in_words, is_coolant, refuse_unknown_strength, remaining};
pub use item::{Poured, millionths, share};
pub use plain::Plain;
pub use pour::{Pour, pour, whole_millilitres};
pub use readings::{Judgement, Judging, judge, judged_with, untaken};
pub use tightening::{Setting, TightenBy, Tightening, Wanted};
