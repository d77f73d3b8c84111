//! The numbers that a job needs: each with what it was reckoned from, the formula, where that comes from, and the
//! usual cautions.
//!
//! Each question is a struct of what was typed, with a `reckon` that gives an [`Answer`] or a [`Refusal`]. Nothing is
//! answered outside the range of the data, and nothing here is a book: figures are floating point and are shown rounded.
//! What the manufacturer, local codes and licensed practice say comes first, and each answer ends with that.
//!
//! ```
//! use leadhand_reckoner::fasteners::Adapter;
//! use leadhand_reckoner::{Amount, Kind};
//!
//! let adapter = Adapter {
//!     torque: Amount::read(Kind::Torque, "torque", "59 lbf.ft")?,
//!     wrench: Amount::read(Kind::Length, "wrench", "400 mm")?,
//!     adapter: Amount::read(Kind::Length, "adapter", "2 in")?,
//!     angle: Amount::read(Kind::Angle, "angle", "0°")?,
//! };
//! let answer = adapter.reckon()?;
//! assert_eq!(answer.figure("setting").map(ToString::to_string).as_deref(), Some("71.0 N.m"));
//! # Ok::<(), leadhand_reckoner::Refusal>(())
//! ```

pub mod answer;
mod check;
pub mod coolant;
pub mod engine;
pub mod fasteners;
pub mod formulas;
pub mod head;
pub mod job;
pub mod lifting;
pub mod practice;
pub mod quantity;
pub mod refusal;
pub mod wheels;
pub mod words;

pub use answer::Answer;
pub use quantity::{Amount, Kind};
pub use refusal::Refusal;
