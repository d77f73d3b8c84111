//! The command line beside `psql`, whole processes.

use crate::bare;
use kit::{Leadhandd, OwnServer};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::Instant;

const RUNS: usize = 30;

/// Milliseconds of a process, from its start to its end: the median.
fn median(mut one: impl FnMut() -> Command) -> f64 {
    let mut all: Vec<f64> = (0..RUNS)
        .map(|_| {
            let begun = Instant::now();
            let status = one().stdout(Stdio::null()).status().unwrap();
            assert!(status.success());
            begun.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    all.sort_by(f64::total_cmp);
    all[RUNS / 2]
}

/// Runs it.
pub async fn run(postgres: &OwnServer) {
    println!("\nCOMMAND LINE  medians of {RUNS} processes");
    let secret = kit::process::open_shop(&postgres.app_url(), "Bench line").await.unwrap();
    let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
    server.start().await.unwrap();
    let own = std::env::current_exe().unwrap();
    let program: PathBuf = own.ancestors().nth(2).unwrap().join("leadhand_under_test");
    let (url, database) = (server.url(), postgres.superuser_url());
    let bays = median(|| {
        let mut command = Command::new(&program);
        command.args(["--server", &url, "bay", "list"]).env("LEADHAND_TOKEN", &secret).stderr(Stdio::null());
        command
    });
    let one = median(|| {
        let mut command = bare::program("psql");
        command.args(["-XAtc", "select 1", &database]);
        command
    });
    println!("{:<44} {bays:>9.1} ms", "leadhand bay list");
    println!("{:<44} {one:>9.1} ms", "psql -c 'select 1'");
    println!("{:<44} {:>9.2}", "ratio", bays / one);
}
