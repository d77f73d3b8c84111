//! Between the wire's types and the domain's: the one place where they meet.
//!
//! On the wire an empty text, a number 0 and an absent message mean "not said". Whatever can't be
//! understood is refused with the field named.

pub mod audit;
pub mod board;
pub mod calendar;
pub mod condition;
pub mod enums;
pub mod fact;
pub mod fields;
pub mod hand_over;
pub mod job;
pub mod lessons;
pub mod notice;
pub mod page;
pub mod plan;
pub mod plan_change;
pub mod reading;
pub mod ready;
pub mod reckon;
pub mod refit;
pub mod seized;
pub mod stock;
pub mod strip;
pub mod supplier;
pub mod template;
pub mod time;
pub mod told;
pub mod tool;

use leadhand_app::AppError;
use leadhand_domain::refusal::Refusal;

/// A refusal of one field.
pub fn invalid(field: impl Into<String>, why: impl Into<String>) -> AppError {
    Refusal::invalid(field, why).into()
}

/// A count for the wire; one that does not fit stays at the end of the range.
pub fn count(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}
