//! Prints the random shops that `tests/reference/shops.py` finds bounds for, one a line; or looks at plans for them.
//!
//! `cargo run --release -p leadhand-planner --example cases -- COUNT` prints; with `--audit FILE` it reads a file with a
//! line of seed and plan each, and says what the auditor finds in them; with `--plan SCHEDULES COUNT` it prints what the
//! planner comes to. `--tiny`, `--audit-tiny` and `--plan-tiny` are the same for shops that are small enough to be proved.

#[path = "../tests/kit/mod.rs"]
mod kit;

use leadhand_auditor::check_plan;
use leadhand_facts::plan::{Plan, PlanInput};
use leadhand_planner::{Budget, propose};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let done = match words[..] {
        ["--audit", file] => audit(file, kit::case),
        ["--audit-tiny", file] => audit(file, kit::tiny),
        ["--tiny", count] => print(count, kit::tiny),
        ["--plan", schedules, count] => plan(schedules, count, kit::case),
        ["--plan-tiny", schedules, count] => plan(schedules, count, kit::tiny),
        [count] => print(count, kit::case),
        _ => Err("say how many: cases COUNT, or a file of plans: cases --audit FILE".to_owned()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn print(count: &str, shop: fn(u64) -> PlanInput) -> Result<(), String> {
    let count: u64 = count.parse().map_err(|_| format!("{count} is no number of shops; say one"))?;
    for seed in 0..count {
        println!("{}", serde_json::to_string(&shop(seed)).map_err(|e| e.to_string())?);
    }
    Ok(())
}

fn plan(schedules: &str, count: &str, shop: fn(u64) -> PlanInput) -> Result<(), String> {
    let number = |text: &str| text.parse::<u64>().map_err(|_| format!("{text} is no number; say one"));
    let (schedules, count) = (number(schedules)?, number(count)?);
    println!("seed,seconds,unplaced,tardiness,overtime_minutes,makespan_minutes");
    for seed in 0..count {
        let input = shop(seed);
        let begun = Instant::now();
        let mut stop = || false;
        let o = propose(&input, 1, &mut Budget { schedules, stop: &mut stop }).1.objective;
        let seconds = begun.elapsed().as_secs_f64();
        println!("{seed},{seconds:.4},{},{},{},{}", o.unplaced, o.tardiness, o.overtime_minutes, o.makespan_minutes);
    }
    Ok(())
}

fn audit(file: &str, shop: fn(u64) -> PlanInput) -> Result<(), String> {
    let text = std::fs::read_to_string(file).map_err(|e| format!("{file}: {e}; name a file of plans"))?;
    let (mut plans, mut wrong) = (0, 0);
    for line in text.lines() {
        let (seed, plan) =
            line.split_once(' ').ok_or_else(|| format!("{file}: a line without a seed; make it anew"))?;
        let seed: u64 = seed.parse().map_err(|_| format!("{file}: {seed} is no seed; make it anew"))?;
        let plan: Plan = serde_json::from_str(plan).map_err(|e| format!("{file}: shop {seed}: {e}"))?;
        let faults = check_plan(&shop(seed), &plan);
        plans += 1;
        wrong += usize::from(!faults.is_empty());
        for fault in faults {
            println!("shop {seed}: {}: {}", fault.rule, fault.sentence);
        }
    }
    println!("{plans} plans, {wrong} of them with faults");
    if wrong > 0 { Err(format!("{wrong} plans can't be done so")) } else { Ok(()) }
}
