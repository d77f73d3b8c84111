//! Engine condition: a set of compressions, and leak-down.

mod compression;
mod leak_down;

pub use compression::{Compression, Cylinder, Ignition};
pub use leak_down::{Heard, LeakDown};
