//! What the server costs beside bare SQL, everything side by side in one run on one Postgres with the same durability:
//! reservations in one shop and spread over many, empty calls, streams, many shops, and the command line as a process.
//!
//! `deploy/bench` runs it. It prints figures beside what must be and what is aimed at, and asserts nothing.
#![allow(clippy::unwrap_used, reason = "a program for one machine, which stops where it can't go on")]
#![allow(clippy::disallowed_methods, reason = "it measures time")]
#![allow(clippy::cast_precision_loss, reason = "figures for people to read")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts, and none below 0")]

mod bare;
mod figures;
mod line;
mod reservation;
mod shop;
mod streams;

use kit::{OwnServer, Surroundings};
use std::path::PathBuf;

/// The parts, by the names that `deploy/bench` takes.
const PARTS: [&str; 3] = ["reservation", "streams", "line"];

/// Every part, or those that were named.
fn asked() -> Vec<String> {
    let named: Vec<String> = std::env::args().skip(1).collect();
    if let Some(unknown) = named.iter().find(|name| !PARTS.contains(&name.as_str())) {
        eprintln!("bench: there is no part '{unknown}'; the parts are {}", PARTS.join(", "));
        std::process::exit(2);
    }
    if named.is_empty() { PARTS.map(str::to_owned).to_vec() } else { named }
}

/// A Postgres on the disk, flushed as in a shop's own.
async fn postgres() -> OwnServer {
    let place = std::env::var_os("LEADHAND_BENCH_PLACE").map_or_else(|| PathBuf::from("/var/tmp"), PathBuf::from);
    let settings = vec!["max_connections=300".to_owned(), "shared_buffers=256MB".to_owned()];
    OwnServer::start_in(Surroundings { place: Some(place), settings, ..Surroundings::default() }).await.unwrap()
}

fn machine(server: &OwnServer) {
    let cpu = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model = cpu.lines().find_map(|line| line.strip_prefix("model name")).unwrap_or(": unknown");
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("machine   {cores} cores,{}", model.trim_start_matches(['\t', ' ', ':']));
    println!("load      {} before the run", load.split(' ').take(3).collect::<Vec<_>>().join(" "));
    println!("postgres  {}", bare::version(server));
    let build = if cfg!(debug_assertions) { "as for tests: figures of a debug build say little" } else { "optimised" };
    println!("build     {build}");
}

#[tokio::main]
async fn main() {
    let parts = asked();
    let postgres = postgres().await;
    machine(&postgres);
    for part in parts {
        match part.as_str() {
            "reservation" => reservation::run(&postgres).await,
            "streams" => streams::run(&postgres).await,
            _ => line::run(&postgres).await,
        }
    }
}
