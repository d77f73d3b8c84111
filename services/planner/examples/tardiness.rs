//! Job shops with due dates, planned as a shop: a machine is a shared tool, an operation a wait that holds it. Prints
//! the least weighted tardiness found in a time.
//!
//! `cargo run --release -p leadhand-planner --example tardiness -- DIR --budget-ms 100`, where DIR has a
//! `weighted_tardiness.csv` with rows of instance and factor, and the `.jsp` files that it names somewhere below. A job
//! is due at the whole part of factor times its processing time; the first fifth of the jobs weigh 4, the next three
//! fifths 2, the rest 1.

#[path = "../tests/kit/due.rs"]
mod due;

use leadhand_planner::{Budget, propose};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// What was asked for on the command line.
struct Asked {
    folder: PathBuf,
    budget: Duration,
    seed: u64,
    schedules: u64,
}

fn main() -> ExitCode {
    match asked().and_then(|asked| run(&asked)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn asked() -> Result<Asked, String> {
    let usage = "say the folder: tardiness DIR --budget-ms 100 [--seed 1] [--schedules 20000]";
    let budget = Duration::from_millis(100);
    let mut asked = Asked { folder: PathBuf::new(), budget, seed: 1, schedules: u64::MAX };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|text| text.parse().ok()).ok_or(usage);
        match word.as_str() {
            "--budget-ms" => asked.budget = Duration::from_millis(number()?),
            "--schedules" => asked.schedules = number()?,
            "--seed" => asked.seed = number()?,
            _ => asked.folder = PathBuf::from(word),
        }
    }
    if asked.folder.as_os_str().is_empty() { Err(usage.to_owned()) } else { Ok(asked) }
}

fn run(asked: &Asked) -> Result<(), String> {
    let table = asked.folder.join("weighted_tardiness.csv");
    let text = fs::read_to_string(&table).map_err(|e| format!("{}: {e}; name its folder", table.display()))?;
    println!("instance,factor,seconds,schedules,weighted_tardiness,starts");
    for line in text.lines().skip(1) {
        let mut cells = line.split(',');
        let (Some(name), Some(factor)) = (cells.next(), cells.next()) else { continue };
        let file = find(&asked.folder, &format!("{name}.jsp"))
            .ok_or_else(|| format!("{}: there is no {name}.jsp below the folder; add it", table.display()))?;
        let text = fs::read_to_string(&file).map_err(|e| format!("{}: {e}", file.display()))?;
        let tenths = due::tenths(factor).ok_or_else(|| format!("{name}: {factor} is no factor in tenths"))?;
        let input = due::shop(&text, tenths).ok_or_else(|| format!("{}: no job shop", file.display()))?;
        let begun = Instant::now();
        let until = begun + asked.budget * 49 / 50;
        let mut stop = || Instant::now() >= until;
        let (plan, report) = propose(&input, asked.seed, &mut Budget { schedules: asked.schedules, stop: &mut stop });
        let seconds = begun.elapsed().as_secs_f64();
        let starts: Vec<String> = due::starts(&input, &plan).iter().map(ToString::to_string).collect();
        let late = report.objective.tardiness;
        println!("{name},{factor},{seconds:.4},{},{late},{}", report.schedules, starts.join(" "));
    }
    Ok(())
}

fn find(folder: &Path, name: &str) -> Option<PathBuf> {
    let entries: Vec<PathBuf> = fs::read_dir(folder).ok()?.flatten().map(|e| e.path()).collect();
    let here = entries.iter().find(|p| p.file_name().is_some_and(|n| n == name)).cloned();
    here.or_else(|| entries.iter().filter(|p| p.is_dir()).find_map(|p| find(p, name)))
}
