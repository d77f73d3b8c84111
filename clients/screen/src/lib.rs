//! Pages of the shop in a browser: the shop screen on the wall, the page of a bay, and the desks.
//!
//! A thin client: every rule is the server's. One subscription of the board feeds every browser.

mod act;
mod bay;
mod bring;
pub mod config;
mod decided;
mod desk;
mod desk_act;
mod fill;
mod fluid_act;
mod form;
mod frame;
mod going;
mod hosts;
mod hours;
mod hours_act;
mod hours_drawn;
mod hub;
mod late;
mod layout;
mod leaving;
pub mod logs;
mod marks;
mod measure;
mod met;
mod named;
mod opening;
mod overrule;
mod pages;
mod part;
mod ready;
mod render;
pub mod serve;
mod sessions;
mod sheet;
mod shift;
mod sign_in;
mod stage;
mod stores;
mod stores_act;
mod stream;
mod strip;
mod strip_act;
mod texts;
mod undo;
mod view;
mod witness;

pub use texts::{LOCALES, Texts};
