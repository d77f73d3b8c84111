//! Pages of the shop in a browser: the shop screen on the wall, and the page of a bay.
//!
//! A thin client: every rule is the server's. One subscription of the board feeds every browser.

mod act;
mod bay;
mod bring;
pub mod config;
mod frame;
mod hosts;
mod hub;
mod layout;
pub mod logs;
mod marks;
mod pages;
mod render;
pub mod serve;
mod sessions;
mod sign_in;
mod stream;
mod texts;
mod view;

pub use texts::{LOCALES, Texts};
