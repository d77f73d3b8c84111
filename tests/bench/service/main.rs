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
mod history;
mod line;
mod many;
mod past;
mod reservation;
mod shop;
mod streams;

use clap::{Parser, ValueEnum};
use kit::{OwnServer, Surroundings};
use std::path::PathBuf;

/// A part of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    Reservation,
    Streams,
    Line,
    History,
    Many,
}

/// What the server costs beside bare SQL, on this machine.
#[derive(Debug, Clone, Parser)]
#[command(name = "bench")]
pub struct Asked {
    /// Only these parts
    #[arg(value_enum)]
    parts: Vec<Part>,
    /// A small past, and fewer shops
    #[arg(long)]
    quick: bool,
    /// Jobs of the past [default: 5,000, quick 250]
    #[arg(long)]
    jobs: Option<usize>,
    /// What the past is drawn from
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Shops of the part with many [default: 2,000, quick 200]
    #[arg(long)]
    shops: Option<usize>,
}

impl Asked {
    /// Jobs of the past.
    pub fn jobs(&self) -> usize {
        self.jobs.unwrap_or(if self.quick { 250 } else { 5_000 })
    }

    /// Shops where there are many.
    pub fn shops(&self) -> usize {
        self.shops.unwrap_or(if self.quick { 200 } else { 2_000 })
    }
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
    let asked = Asked::parse();
    let parts: Vec<Part> = if asked.parts.is_empty() { Part::value_variants().to_vec() } else { asked.parts.clone() };
    let mut first = true;
    for part in parts {
        // Each on a Postgres of its own, so that none works in what another left.
        let postgres = postgres().await;
        if std::mem::take(&mut first) {
            machine(&postgres);
        }
        match part {
            Part::Reservation => reservation::run(&postgres).await,
            Part::Streams => streams::run(&postgres).await,
            Part::Line => line::run(&postgres).await,
            Part::History => history::run(&postgres, &asked).await,
            Part::Many => many::run(&postgres, &asked).await,
        }
    }
}
