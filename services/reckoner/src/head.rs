//! The cylinder head: how flat it is, how much may come off, what that does to compression, and a picture.

mod edge;
mod flatness;
mod picture;
mod skim;
mod squares;
mod zone;

pub use flatness::{Flatness, Point};
pub use picture::surface_svg;
pub use skim::{CompressionChange, Skim};
