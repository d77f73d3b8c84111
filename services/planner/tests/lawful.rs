//! Every plan of random shops can be done: the auditor says so, who shares no code with the planner. And the auditor
//! refuses plans that were tampered with.

mod kit;

use kit::{Size, random};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{Plan, PlanEnd, PlanInput, PlanReport, StageNow, VehicleNow};
use leadhand_planner::{Budget, propose};

const MIDDLE: Size = Size { jobs: 8, stages: 6, bays: 3, people: 4, days: 40, grain: 30 };

fn plan(input: &PlanInput, schedules: u64) -> (Plan, PlanReport) {
    let mut stop = || false;
    propose(input, 11, &mut Budget { schedules, stop: &mut stop })
}

#[test]
fn every_plan_passes_the_auditor() {
    let mut planned = 0;
    for seed in 0..60 {
        let input = random(MIDDLE, seed);
        let (plan, report) = plan(&input, 60);
        let faults = check_plan(&input, &plan);
        assert!(faults.is_empty(), "shop {seed}: {faults:#?}");
        let open: usize = input.jobs.iter().map(|job| job.stages.len()).sum();
        assert_eq!(plan.stages.len() + report.unplaced.len(), open, "shop {seed} loses a stage");
        planned += plan.stages.len();
    }
    assert!(planned > 60 * 8 * 5, "hardly anything was placed: {planned}");
}

/// Where the calendars end in the middle of the work, whatever would rather wait finds nobody later, and keeps the people
/// and the time that it had.
#[test]
fn whatever_can_not_wait_any_longer_keeps_who_had_it() {
    let (mut placed, mut without) = (0, 0);
    for seed in 300..420 {
        let mut input = random(MIDDLE, seed);
        let end = kit::at(8 * MIDDLE.grain);
        input.until = end;
        input.shop.retain(|window| window.from < end);
        let (plan, report) = plan(&input, 200);
        let faults = check_plan(&input, &plan);
        assert!(faults.is_empty(), "shop {seed}: {faults:#?}");
        placed += plan.stages.len();
        without += report.unplaced.len();
    }
    assert!(placed > 300 && without > 300, "{placed} were placed, {without} were not");
}

#[test]
fn the_same_input_and_seed_give_the_same_bytes() {
    let input = random(MIDDLE, 3);
    let bytes = |made: &(Plan, PlanReport)| serde_json::to_string(made).expect("json");
    let first = plan(&input, 80);
    assert_eq!(first.1.ended, PlanEnd::Spent);
    assert_eq!(bytes(&first), bytes(&plan(&input, 80)));
}

#[test]
fn a_watcher_ends_it_and_the_report_says_so() {
    let input = random(MIDDLE, 4);
    let mut stop = || true;
    let (plan, report) = propose(&input, 1, &mut Budget { schedules: 1_000, stop: &mut stop });
    assert_eq!(report.ended, PlanEnd::Stopped);
    assert!(report.schedules < 1_000);
    assert_eq!(check_plan(&input, &plan), Vec::new());
}

/// Started stages, vehicles in bays and outside, pins: half of a plan is taken as having happened.
#[test]
fn plans_go_on_from_the_middle_of_the_work() {
    let mut begun = 0;
    for seed in 100..240 {
        let mut input = random(MIDDLE, seed);
        let (before, _) = plan(&input, 40);
        begun += advance(&mut input, &before);
        let (after, report) = plan(&input, 40);
        let faults = check_plan(&input, &after);
        assert!(faults.is_empty(), "shop {seed}: {faults:#?}");
        let deadlocks = report.unplaced.iter().filter(|u| u.reason.contains("wait for each other")).count();
        assert_eq!(deadlocks, 0, "shop {seed}: {:#?}", report.unplaced);
    }
    assert!(begun > 40, "only {begun} stages were under way");
}

/// Moves an input half a day on, along a plan. Says how many stages are under way.
fn advance(input: &mut PlanInput, plan: &Plan) -> usize {
    let now = kit::at(150);
    let mut begun = 0;
    input.at = now;
    for job in &mut input.jobs {
        for stage in &mut job.stages {
            let Some(row) = plan.stages.iter().find(|p| p.job == job.job && p.stage == stage.stage) else { continue };
            if row.until <= now {
                stage.now = StageNow::Ended { at: row.until };
            } else if row.from < now {
                stage.now = StageNow::Started { people: row.people.clone() };
                // Somebody is still on most of it, and it was to begin later.
                (stage.on, stage.pin.from) = (begun % 3 > 0 && !row.people.is_empty(), Some(now.plus_minutes(120)));
                begun += 1;
            }
        }
        let visits = || plan.visits.iter().filter(|v| v.job == job.job);
        if let Some(visit) = visits().find(|v| v.from < now && now < v.until) {
            job.vehicle = VehicleNow::Bay(visit.bay.clone());
        } else if visits().any(|v| v.until <= now) && visits().any(|v| v.from >= now) {
            job.vehicle = VehicleNow::Outside;
        } else {
            job.vehicle = VehicleNow::Away;
        }
    }
    input.accepted = plan.stages.iter().filter(|p| p.until > now).cloned().collect();
    begun
}

#[test]
fn the_auditor_refuses_what_was_tampered_with() {
    let input = random(MIDDLE, 5);
    let (plan, _) = plan(&input, 40);
    assert_eq!(check_plan(&input, &plan), Vec::new());
    let broken = |rule: &str, change: &dyn Fn(&mut Plan)| {
        let mut other = plan.clone();
        change(&mut other);
        let faults = check_plan(&input, &other);
        assert!(faults.iter().any(|f| f.rule == rule), "{rule} is not among {faults:#?}");
    };
    broken("number", &|p| p.number += 1);
    broken("once", &|p| p.stages.push(p.stages[0].clone()));
    broken("time", &|p| p.stages[0].from = input.at.plus_minutes(-5));
    broken("bay-held", &|p| p.visits.clear());
    broken("hours", &|p| {
        let worked = p.stages.iter_mut().find(|s| !s.people.is_empty()).expect("work");
        worked.until = worked.until.plus_minutes(1);
    });
    broken("hands", &|p| p.stages.iter_mut().find(|s| !s.people.is_empty()).expect("work").people.clear());
    broken("one-at-a-time", &|p| {
        let worked = p.stages.iter().find(|s| !s.people.is_empty()).expect("work").clone();
        let other = p.stages.iter_mut().find(|s| !s.people.is_empty() && s.stage != worked.stage).expect("more");
        (other.from, other.until, other.people) = (worked.from, worked.until, worked.people);
    });
    broken("order", &|p| {
        for stage in &mut p.stages {
            stage.from = input.at;
        }
    });
    broken("bay-taken", &|p| {
        let bay = p.visits[0].bay.clone();
        for visit in &mut p.visits {
            (visit.bay, visit.from, visit.until) = (bay.clone(), input.at, input.until);
        }
    });
    broken("bay", &|p| p.stages.iter_mut().find(|s| s.bay.is_some()).expect("in a bay").bay = None);
}
