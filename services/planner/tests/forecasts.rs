//! Forecasts of small networks against every case that there is: each stage's minutes have a distribution over whole
//! minutes, worked out here from the two moments by Simpson's rule, and all combinations of them are gone through.

mod kit;

use kit::{after, empty, job, minute, stage, technician, window};
use leadhand_facts::plan::{Plan, PlanInput, PlanStage};
use leadhand_facts::template::Minutes;
use leadhand_planner::rng::Rng;
use leadhand_planner::{Budget, propose};
use std::collections::BTreeMap;

/// The chances of the whole minutes of a three-point estimate with mean (a + 4 m + b) / 6 and deviation (b - a) / 6.
fn chances(three: Minutes) -> Vec<(i64, f64)> {
    let (low, likely, high) = (f64::from(three.low), f64::from(three.likely), f64::from(three.high));
    if three.low == three.high {
        return vec![(i64::from(three.low), 1.0)];
    }
    let mean = ((low + 4.0 * likely + high) / 6.0 - low) / (high - low);
    let sum = mean * (1.0 - mean) * 36.0 - 1.0;
    let (alpha, beta) = (mean * sum, (1.0 - mean) * sum);
    let density = |t: f64| if t <= 0.0 || t >= 1.0 { 0.0 } else { t.powf(alpha - 1.0) * (1.0 - t).powf(beta - 1.0) };
    let area = |from: f64, to: f64| {
        let n = 200_u32;
        let h = (to - from) / f64::from(n);
        let weight = |k: u32| if k == 0 || k == n { 1.0 } else { f64::from(2 + 2 * (k % 2)) };
        (0..=n).map(|k| weight(k) * density(from + f64::from(k) * h)).sum::<f64>() * h / 3.0
    };
    let place = |x: f64| ((x - low) / (high - low)).clamp(0.0, 1.0);
    let each =
        (three.low..=three.high).map(|m| (i64::from(m), area(place(f64::from(m) - 0.5), place(f64::from(m) + 0.5))));
    let each: Vec<(i64, f64)> = each.collect();
    let all: f64 = each.iter().map(|(_, p)| p).sum();
    each.into_iter().map(|(m, p)| (m, p / all)).collect()
}

/// One job of five stages that wait for each other here and there, for two hands who are always there. No bay: what
/// binds is what comes before, and whoever does it.
fn network(seed: u64) -> PlanInput {
    let mut rng = Rng::new(seed);
    let mut input = empty(40, 1_440, 0);
    for n in 1..=2 {
        input.technicians.push(technician(n, &[], vec![window(0, 40 * 1_440)]));
    }
    let mut stages: Vec<PlanStage> = Vec::new();
    for k in 0..5 {
        let mut made = stage(&format!("s{k}"), 1);
        made.in_bay = false;
        let low = i32::try_from(rng.between(5, 30)).expect("small");
        let likely = low + i32::try_from(rng.between(0, 6)).expect("small");
        let high = likely + i32::try_from(rng.between(1, 8)).expect("small");
        made.minutes = Minutes { low, likely, high };
        for before in 0..k {
            if rng.percent(if before + 2 > k { 50 } else { 20 }) {
                let wait = if rng.percent(30) { 4 } else { 0 };
                made.after.push(after(&format!("s{before}"), wait));
            }
        }
        stages.push(made);
    }
    input.jobs.push(job(1, stages));
    input
}

/// What each stage of a plan's order waits for: what comes before it, and what its people do before it.
fn before(input: &PlanInput, plan: &Plan) -> Vec<Vec<(usize, i64)>> {
    let stages = &input.jobs[0].stages;
    let place = |key: &leadhand_facts::StageKey| stages.iter().position(|s| s.stage == *key).expect("a stage");
    let mut all = vec![Vec::new(); stages.len()];
    for (row, planned) in plan.stages.iter().enumerate() {
        let i = place(&planned.stage);
        all[i].extend(stages[i].after.iter().map(|a| (place(&a.stage), i64::from(a.wait_minutes))));
        let earlier = plan.stages[..row].iter().filter(|p| p.people.iter().any(|who| planned.people.contains(who)));
        all[i].extend(earlier.map(|p| (place(&p.stage), 0)));
    }
    all
}

/// The chance of each finish, over all combinations of minutes.
fn finishes(input: &PlanInput, plan: &Plan) -> BTreeMap<i64, f64> {
    let stages = &input.jobs[0].stages;
    let order: Vec<usize> =
        plan.stages.iter().map(|p| stages.iter().position(|s| s.stage == p.stage).expect("a stage")).collect();
    let (waits, chances) = (before(input, plan), stages.iter().map(|s| chances(s.minutes)).collect::<Vec<_>>());
    let mut all = BTreeMap::new();
    let mut until = vec![0; stages.len()];
    each(&order, &waits, &chances, 1.0, &mut until, &mut all);
    all
}

fn each(
    order: &[usize],
    waits: &[Vec<(usize, i64)>],
    chances: &[Vec<(i64, f64)>],
    chance: f64,
    until: &mut [i64],
    all: &mut BTreeMap<i64, f64>,
) {
    let Some((&i, rest)) = order.split_first() else {
        *all.entry(until.iter().copied().max().unwrap_or(0)).or_insert(0.0) += chance;
        return;
    };
    let from = waits[i].iter().map(|&(b, wait)| until[b] + wait).max().unwrap_or(0);
    for &(minutes, p) in &chances[i] {
        until[i] = from + minutes;
        each(rest, waits, chances, chance * p, until, all);
    }
}

/// A forecast draws 400 times, so the share below a told quantile is off by 0.025 at most in one standard error; four
/// are let pass.
#[test]
fn forecasts_are_what_all_cases_together_say() {
    let (mut told, mut off) = (0, 0.0);
    for seed in 0..24 {
        let input = network(seed);
        let mut stop = || false;
        let (plan, report) = propose(&input, seed, &mut Budget { schedules: 20, stop: &mut stop });
        let all = finishes(&input, &plan);
        assert!((all.values().sum::<f64>() - 1.0).abs() < 1e-9, "network {seed}");
        for (at, share) in [(report.jobs[0].likely, 0.5), (report.jobs[0].safe, 0.8)] {
            let at = minute(at.expect("told"));
            let up_to: f64 = all.range(..=at).map(|(_, p)| p).sum();
            let below: f64 = all.range(..at).map(|(_, p)| p).sum();
            let gap = (below - share).max(share - up_to).max(0.0);
            assert!(gap < 0.1, "network {seed}: {share} was meant, and {below} to {up_to} lie at {at} min");
            told += 1;
            off += gap;
        }
    }
    println!("{told} quantiles, off by {:.4} of all cases on average", off / f64::from(told));
}

/// With minutes that are certain every draw is the plan itself: moving, closed bays, overtime and all, likely and safe are
/// when the plan has the job ready.
#[test]
fn certain_minutes_give_the_plans_own_times() {
    let (mut looked_at, mut moved, mut closed) = (0, 0, 0);
    for seed in 700..760 {
        let size = kit::Size { jobs: 6, stages: 5, bays: 3, people: 3, days: 40, grain: 30 };
        let input = kit::random(size, seed);
        let mut stop = || false;
        let (made, report) = propose(&input, 1, &mut Budget { schedules: 60, stop: &mut stop });
        for job in &report.jobs {
            assert_eq!((job.likely, job.safe), (job.ready, job.ready), "shop {seed}, job {}", job.job);
            looked_at += i64::from(job.ready.is_some());
        }
        let often = |job: &leadhand_facts::plan::PlanJob| made.visits.iter().filter(|v| v.job == job.job).count() > 1;
        moved += input.jobs.iter().filter(|job| job.moving_minutes > 0 && often(job)).count();
        closed += input.bays.iter().filter(|bay| !bay.closed.is_empty()).count();
    }
    assert!(
        looked_at > 200 && moved > 10 && closed > 10,
        "{looked_at} jobs, {moved} of them moved, {closed} bays closed"
    );
}
