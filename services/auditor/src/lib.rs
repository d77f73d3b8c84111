//! Independent proofs over facts and rows.
//!
//! The auditor folds a shop's journal with code of its own ([`fold`]), proves the laws of the
//! three books over the result ([`laws`]), counts labels of time second by second ([`labels`]),
//! and compares what the facts add up to with what a database holds ([`mod@compare`]). It shares no
//! rule with the code that it checks: only the form of facts and rows.

pub mod compare;
mod fault;
pub mod fold;
pub mod journal;
pub mod labels;
pub mod laws;
mod packed;
pub mod plan;
pub mod tables;
pub mod texts;

pub use compare::{ActualRows, Comparing, Difference, compare};
pub use fault::Fault;
pub use fold::Books;
pub use journal::check_journal;
pub use labels::{LabelSeconds, Life, labels_by_second};
pub use laws::{Violation, check_books};
pub use plan::{PlanFault, check_plan};
pub use tables::{Kept, Tables};
pub use texts::check_texts;
