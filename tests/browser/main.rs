//! The pages in a real browser: chromium, driven by chromedriver, before a real server and a real screen.
//!
//! Where there is no browser they say so and are skipped, unless `LEADHAND_TEST_BROWSER=required`.
#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod answers;
mod axe;
mod bay;
mod chrome;
mod desks;
mod hand;
mod looks;
mod pages;
mod pictures;
mod safety;
#[allow(dead_code, reason = "the scene of the tests over plain HTTP, of which not all is played here")]
#[path = "../screens/scene.rs"]
mod scene;
mod shift;
mod wall;
