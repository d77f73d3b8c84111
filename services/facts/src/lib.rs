//! Data only: ids, quantities, instants, stored facts and the rows they add up to.
//!
//! Nothing in here decides anything. `domain` makes facts and folds them into rows;
//! `auditor` folds the same facts with code of its own and compares.

pub mod calendar;
pub mod entry;
pub mod fact;
pub mod fluid;
pub mod ids;
pub mod instant;
pub mod job;
pub mod plan;
pub mod quantity;
pub mod reading;
pub mod rows;
pub mod safety;
pub mod strip;
pub mod supplier;
pub mod template;
pub mod text;
pub mod upcast;
pub mod words;

pub use entry::{Entry, Stored};
pub use fact::Fact;
pub use fluid::{ItemFluid, Mixture};
pub use ids::*;
pub use instant::{Instant, Window};
pub use quantity::{Quantity, Unit};
pub use reading::Measure;
pub use text::TextRef;
