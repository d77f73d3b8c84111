//! The pages in a browser's place: a real server, a real screen before it, plain HTTP.
#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod browser;
mod desks;
mod hands;
mod http;
mod scene;
mod strip;
mod wall;
mod work;
