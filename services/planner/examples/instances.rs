//! Reads every `.sm` and `.jsp` file below a folder, and prints the best schedule found in a time.
//!
//! `cargo run --release -p leadhand-planner --example instances -- DIR --budget-ms 100`

use leadhand_planner::Budget;
use leadhand_planner::engine::{Activity, Project, solve};
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
    /// Whether the number of schedules is told too.
    count: bool,
}

fn main() -> ExitCode {
    let run = asked().and_then(|asked| {
        let mut files = Vec::new();
        find(&asked.folder, &mut files)?;
        files.sort();
        println!("instance,seconds,starts{}", if asked.count { ",schedules" } else { "" });
        files.iter().try_for_each(|file| solve_file(file, &asked))
    });
    match run {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn asked() -> Result<Asked, String> {
    let usage = "say the folder, and how long each may take: instances DIR --budget-ms 100 [--seed 1] \
                 [--schedules 20000] [--count]";
    let budget = Duration::from_millis(100);
    let mut asked = Asked { folder: PathBuf::new(), budget, seed: 1, schedules: u64::MAX, count: false };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|text| text.parse().ok()).ok_or(usage);
        match word.as_str() {
            "--budget-ms" => asked.budget = Duration::from_millis(number()?),
            "--schedules" => asked.schedules = number()?,
            "--count" => asked.count = true,
            "--seed" => asked.seed = number()?,
            _ => asked.folder = PathBuf::from(word),
        }
    }
    if asked.folder.as_os_str().is_empty() { Err(usage.to_owned()) } else { Ok(asked) }
}

fn find(folder: &Path, files: &mut Vec<PathBuf>) -> Result<(), String> {
    let entries = fs::read_dir(folder).map_err(|e| format!("{}: {e}; name a folder", folder.display()))?;
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            find(&path, files)?;
        } else if path.extension().is_some_and(|e| e == "sm" || e == "jsp") {
            files.push(path);
        }
    }
    Ok(())
}

fn solve_file(file: &Path, asked: &Asked) -> Result<(), String> {
    let text = fs::read_to_string(file).map_err(|e| format!("{}: {e}", file.display()))?;
    let begun = Instant::now();
    let read = if file.extension().is_some_and(|e| e == "sm") { read_sm(&text) } else { read_jsp(&text) };
    let (activities, capacity) =
        read.ok_or_else(|| format!("{}: not in the format that its name says", file.display()))?;
    let project = Project::new(&activities, &capacity).map_err(|e| format!("{}: {e}", file.display()))?;
    // A little is left for making the project and the line.
    let until = begun + asked.budget * 49 / 50;
    let mut stop = || Instant::now() >= until;
    let solved = solve(&project, asked.seed, &mut Budget { schedules: asked.schedules, stop: &mut stop });
    let seconds = begun.elapsed().as_secs_f64();
    let starts: Vec<String> = solved.start.iter().map(ToString::to_string).collect();
    let name = file.file_stem().and_then(|n| n.to_str()).unwrap_or_default();
    let count = if asked.count { format!(",{}", solved.schedules) } else { String::new() };
    println!("{name},{seconds:.4},{}{count}", starts.join(" "));
    Ok(())
}

fn numbers(line: &str) -> Option<Vec<usize>> {
    line.split_whitespace().map(|word| word.parse().ok()).collect()
}

/// The single-mode format of PSPLIB.
fn read_sm(text: &str) -> Option<(Vec<Activity>, Vec<u32>)> {
    let mut activities: Vec<Activity> = Vec::new();
    let mut capacity = Vec::new();
    let mut part = "";
    for line in text.lines() {
        if let Some(head) = ["PRECEDENCE", "REQUESTS", "RESOURCEAVAIL"].into_iter().find(|head| line.starts_with(head))
        {
            part = head;
            continue;
        }
        let Some(row) = numbers(line).filter(|row| !row.is_empty()) else { continue };
        match part {
            "PRECEDENCE" => {
                let before = row.iter().skip(3).map(|&j| Some((j.checked_sub(1)?, 0))).collect::<Option<_>>()?;
                activities.push(Activity { before, ..Activity::default() });
            }
            "REQUESTS" => {
                let activity = activities.get_mut(row[0].checked_sub(1)?)?;
                activity.duration = u32::try_from(*row.get(2)?).ok()?;
                activity.demand = row.iter().skip(3).map(|&k| u32::try_from(k).ok()).collect::<Option<_>>()?;
            }
            "RESOURCEAVAIL" => capacity = row.iter().map(|&k| u32::try_from(k).ok()).collect::<Option<_>>()?,
            _ => {}
        }
    }
    (!activities.is_empty() && !capacity.is_empty()).then_some((activities, capacity))
}

/// The text of job shops: jobs and machines, then a line a job of machine and duration in turn.
fn read_jsp(text: &str) -> Option<(Vec<Activity>, Vec<u32>)> {
    let mut lines = text.lines().filter(|line| !line.trim_start().starts_with('#')).filter_map(numbers);
    let mut lines = lines.by_ref().filter(|row| !row.is_empty());
    let head = lines.next()?;
    let (jobs, machines) = (*head.first()?, *head.get(1)?);
    let mut activities = Vec::new();
    for row in lines.take(jobs) {
        let steps = row.chunks_exact(2).len();
        for (k, step) in row.chunks_exact(2).enumerate() {
            let mut demand = vec![0; machines];
            *demand.get_mut(step[0])? = 1;
            let before = if k + 1 < steps { vec![(activities.len() + 1, 0)] } else { Vec::new() };
            activities.push(Activity { duration: u32::try_from(step[1]).ok()?, demand, before });
        }
    }
    Some((activities, vec![1; machines]))
}
