//! Three-point estimates and forecasts. Outside source: the published networks in
//! `services/domain/tests/vectors/pert_activities.csv`, with expected time and variance of each activity.

mod kit;

use kit::{at, bay, empty, job, minute, stage, technician, window};
use leadhand_facts::plan::PlanInput;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::BayKind;
use leadhand_planner::beta::Beta;
use leadhand_planner::rng::Rng;
use leadhand_planner::{Budget, propose};

const ACTIVITIES: &str = include_str!("../../domain/tests/vectors/pert_activities.csv");
const TOTALS: &str = include_str!("../../domain/tests/vectors/pert_totals.csv");

/// The distribution has the published mean and variance, and lies between its ends. Drawn values agree within five
/// standard errors: common practice.
#[test]
fn what_is_drawn_has_the_mean_and_the_variance_that_were_published() {
    let mut rng = Rng::new(5);
    let mut seen = 0;
    for line in ACTIVITIES.lines().skip(1) {
        let row: Vec<&str> = line.split(',').collect();
        let number = |k: usize| row[k].parse::<f64>().expect("a number");
        let (low, high, expected, variance) = (number(3), number(5), number(6), number(7));
        let Some(beta) = Beta::pert(low, number(4), high) else { continue };
        assert!((beta.mean() - expected).abs() < 1e-5, "{line}");
        assert!((beta.deviation() * beta.deviation() - variance).abs() < 1e-5, "{line}");
        let n = 5_000_u32;
        let drawn: Vec<f64> = (0..n).map(|_| beta.draw(&mut rng)).collect();
        assert!(drawn.iter().all(|x| low <= *x && *x <= high), "{line}");
        let mean = drawn.iter().sum::<f64>() / f64::from(n);
        assert!((mean - expected).abs() < 5.0 * beta.deviation() / f64::from(n).sqrt(), "{line}: {mean}");
        seen += 1;
    }
    assert!(seen > 15, "only {seen} activities were looked at");
}

#[test]
fn points_out_of_order_are_no_estimate() {
    assert_eq!(Beta::pert(3.0, 2.0, 4.0), None);
    assert_eq!(Beta::pert(2.0, 2.0, 2.0), None);
}

/// One hand who is always there.
fn round_the_clock(three: &[Minutes]) -> PlanInput {
    let mut input = empty(40, 1_440, 0);
    input.bays.push(bay(1, BayKind::TwoPostLift));
    input.technicians.push(technician(1, &[], vec![window(0, 40 * 1_440)]));
    let stages = three.iter().enumerate().map(|(k, minutes)| {
        let mut made = stage(&format!("s{k}"), 1);
        made.minutes = *minutes;
        made
    });
    input.jobs.push(job(1, stages.collect()));
    input
}

/// The share of a beta density below x, by Simpson's rule; the density is worked out here from the two moments.
fn share_below(x: f64, alpha: f64, beta: f64) -> f64 {
    let density = |t: f64| t.powf(alpha - 1.0) * (1.0 - t).powf(beta - 1.0);
    let area = |to: f64| {
        let n = 4_000;
        let h = to / f64::from(n);
        let weight = |k: i32| {
            if k == 0 || k == n {
                1.0
            } else if k % 2 == 1 {
                4.0
            } else {
                2.0
            }
        };
        (0..=n).map(|k| weight(k) * density(f64::from(k) * h)).sum::<f64>() * h / 3.0
    };
    area(x) / area(1.0)
}

/// One stage of 60, 150 and 240 minutes: symmetrical, so mean 150, deviation 30, shapes 4 and 4. With 400 runs the
/// share below a quantile is off by 0.025 at most in one standard error; four are let pass.
#[test]
fn a_single_stage_is_forecast_by_its_own_distribution() {
    let input = round_the_clock(&[Minutes { low: 60, likely: 150, high: 240 }]);
    let mut stop = || false;
    let (_, report) = propose(&input, 1, &mut Budget { schedules: 5, stop: &mut stop });
    for (told, share) in [(report.jobs[0].likely, 0.5), (report.jobs[0].safe, 0.8)] {
        let minutes = u32::try_from(minute(told.expect("told"))).expect("small");
        let below = share_below((f64::from(minutes) - 60.0) / 180.0, 4.0, 4.0);
        assert!((below - share).abs() < 0.1, "{minutes} min has {below} below it, and {share} was meant");
    }
}

/// What is certain is forecast as it is planned.
#[test]
fn certain_stages_are_forecast_to_the_minute() {
    let certain = |m| Minutes { low: m, likely: m, high: m };
    let input = round_the_clock(&[certain(30), certain(45)]);
    let mut stop = || false;
    let (_, report) = propose(&input, 1, &mut Budget { schedules: 5, stop: &mut stop });
    assert_eq!(report.jobs[0].ready, Some(at(75)));
    assert_eq!(report.jobs[0].likely, Some(at(75)));
    assert_eq!(report.jobs[0].safe, Some(at(75)));
}

/// The plain formula: the mean and the variance along the critical path, and the normal distribution. Outside source:
/// the totals and the chances to be on time in `services/domain/tests/vectors/pert_totals.csv`.
#[test]
fn the_plain_formula_gives_the_published_chances() {
    let mut seen = 0;
    for line in TOTALS.lines().skip(1) {
        let row: Vec<&str> = line.split(',').collect();
        let number = |k: usize| row[k].parse::<f64>().expect("a number");
        let Some(due) = row[5].parse::<f64>().ok().filter(|_| !row[7].is_empty()) else { continue };
        let (mut mean, mut variance) = (0.0, 0.0);
        for key in row[1].split('-') {
            let activity = |a: &&str| a.starts_with(&format!("{},{key},", row[0]));
            let cells: Vec<&str> = ACTIVITIES.lines().find(activity).expect("an activity").split(',').collect();
            let point = |k: usize| cells[k].parse::<f64>().expect("a number");
            let beta = Beta::pert(point(3), point(4), point(5));
            mean += beta.map_or(point(4), |b| b.mean());
            variance += beta.map_or(0.0, |b| b.deviation() * b.deviation());
        }
        assert!((mean - number(2)).abs() < 1e-5, "{line}: {mean}");
        assert!((variance - number(3)).abs() < 1e-5, "{line}: {variance}");
        let chance = 0.5 * (1.0 + libm::erf((due - mean) / (2.0 * variance).sqrt()));
        assert!((chance - number(7)).abs() < 1e-5, "{line}: {chance}");
        seen += 1;
    }
    assert!(seen >= 2, "only {seen} networks were looked at");
}
