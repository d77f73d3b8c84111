//! Places outside: who takes one, what a full yard makes late, and that one more would help. Worked by hand from the shop that
//! each test sets up; the rules are the project's own.

mod kit;

use kit::{after, at, bay, empty, job, minute, stage, technician};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{Cause, Plan, PlanInput, PlanReport, PlanStage, VehicleNow};
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_planner::{Budget, propose};

fn plan(input: &PlanInput) -> (Plan, PlanReport) {
    let mut stop = || false;
    let made = propose(input, 1, &mut Budget { schedules: 400, stop: &mut stop });
    assert_eq!(check_plan(input, &made.0), Vec::new());
    made
}

/// Eight hours a day, one lift, two hands, and nothing to be waited for but places.
fn shop(places: i32) -> PlanInput {
    let mut input = empty(20, 480, 960);
    input.places_outside = places;
    input.bays.push(bay(1, BayKind::TwoPostLift));
    for n in 1..=2 {
        let shifts = input.shop.clone();
        input.technicians.push(technician(n, &[], shifts));
    }
    input
}

fn wait(key: &str, minutes: i64, before: &str) -> PlanStage {
    let mut made = stage(key, minutes);
    (made.kind, made.hands, made.in_bay, made.after) = (StageKind::Wait, 0, false, vec![after(before, 0)]);
    made
}

/// Done in the bay in an hour, and away from it for four.
fn sent_out(n: usize) -> leadhand_facts::plan::PlanJob {
    let mut strip = stage("strip", 60);
    strip.may_leave = true;
    job(n, vec![strip, wait("machine-shop", 240, "strip")])
}

fn from(plan: &Plan, n: usize, key: &str) -> i64 {
    let found = plan.stages.iter().find(|row| row.job == job(n, Vec::new()).job && row.stage.as_str() == key);
    minute(found.expect("planned").from)
}

/// The first vehicle waits for outside work once its bay work is done. It may leave the lift, and takes the only place until
/// that is over; the second finds none and keeps the lift until then, so the third has to wait for it.
#[test]
fn a_vehicle_behind_its_last_stage_in_a_bay_has_a_place_outside_until_all_is_over() {
    let mut input = shop(1);
    for n in 1..=3 {
        input.jobs.push(sent_out(n));
        (input.jobs[n - 1].weight, input.jobs[n - 1].promised) = ([9, 3, 1][n - 1], Some(at([300, 360, 420][n - 1])));
    }
    let (made, _) = plan(&input);
    assert_eq!([1, 2, 3].map(|n| from(&made, n, "strip")), [0, 60, 300], "the first is over at 300, and makes room");
    input.places_outside = 2;
    let (free, _) = plan(&input);
    assert_eq!([1, 2, 3].map(|n| from(&free, n, "strip")), [0, 60, 120]);
    // The auditor says of that plan that there is no room for it.
    input.places_outside = 1;
    let rules: Vec<&str> = check_plan(&input, &free).iter().map(|fault| fault.rule).collect();
    assert_eq!(rules, ["outside", "outside"], "two stand there from 120 on, and from 180 on");
}

/// One that stands outside already and needs no bay any more takes its place until all is over; and one whose vehicle is in a
/// bay and may leave goes there only where one is free.
#[test]
fn who_needs_no_bay_any_more_takes_a_place_as_well() {
    let mut input = shop(1);
    let mut stands = job(1, vec![stage("strip", 60), wait("machine-shop", 240, "strip")]);
    stands.stages[0].now = leadhand_facts::plan::StageNow::Ended { at: at(-60) };
    stands.stages[0].may_leave = true;
    let mut inside = stands.clone();
    (inside.job, inside.name) = (job(2, Vec::new()).job, "job 2".to_owned());
    (stands.vehicle, inside.vehicle) = (VehicleNow::Outside, VehicleNow::Bay(input.bays[0].bay.clone()));
    inside.stages[1].minutes = kit::three(300);
    input.jobs = vec![stands, inside, job(3, vec![stage("brakes", 60)])];
    input.jobs[2].promised = Some(at(60));
    assert_eq!(from(&plan(&input).0, 3, "brakes"), 240, "the first is over then");
    input.places_outside = 2;
    assert_eq!(from(&plan(&input).0, 3, "brakes"), 0);
    input.jobs.remove(0);
    input.places_outside = 0;
    let (made, _) = plan(&input);
    assert_eq!(from(&made, 3, "brakes"), 300, "once all is over it leaves without a place");
    let mut gone = made;
    gone.visits.retain(|visit| visit.job != input.jobs[0].job);
    let rules: Vec<&str> = check_plan(&input, &gone).iter().map(|fault| fault.rule).collect();
    assert_eq!(rules, ["outside"]);
}

/// A cure between two stages in the bay, and no place outside: that is why the other is late, and one place would help.
#[test]
fn a_full_yard_is_a_cause_and_a_place_outside_a_help() {
    let mut input = shop(0);
    let mut strip = stage("strip", 60);
    strip.may_leave = true;
    let mut refit = stage("refit", 60);
    refit.after = vec![after("cure", 0)];
    input.jobs.push(job(1, vec![strip, wait("cure", 240, "strip"), refit]));
    input.jobs.push(job(2, vec![stage("brakes", 120)]));
    (input.jobs[0].promised, input.jobs[0].weight) = (Some(at(360)), 9);
    input.jobs[1].promised = Some(at(190));
    input.jobs[0].moving_minutes = 10;
    let (_, full) = plan(&input);
    let (bay, first) = (input.bays[0].bay.clone(), input.jobs[0].job);
    assert_eq!(full.jobs[1].because[0].cause, Cause::Yard { bay: bay.clone(), job: first });
    let told = "for bay bay-1, which job 1 keeps, since no place outside is free";
    assert!(full.jobs[1].sentence.contains(told), "{}", full.jobs[1].sentence);
    let helps: Vec<&str> = full.helps.iter().map(|help| help.sentence.as_str()).collect();
    assert!(helps.contains(&"One more place outside (4 h 50 min less late)"), "{helps:?}");
    input.places_outside = 1;
    assert_eq!(plan(&input).1.objective.tardiness, 0);
    // Where it may not leave, a place outside is neither cause nor help.
    input.places_outside = 0;
    input.jobs[0].stages[0].may_leave = false;
    let (_, held) = plan(&input);
    assert_eq!(held.jobs[1].because[0].cause, Cause::Bay { bay: bay.clone(), job: first });
    assert!(held.helps.iter().all(|help| !help.sentence.contains("place outside")), "{:?}", held.helps);
    // Nor where there is room, and moving there and back takes longer than it is away.
    input.places_outside = 1;
    (input.jobs[0].stages[0].may_leave, input.jobs[0].moving_minutes) = (true, 130);
    let (_, long) = plan(&input);
    assert_eq!(long.jobs[1].because[0].cause, Cause::Bay { bay, job: first });
}

/// Two stand outside and come in one after the other, and there is one place: they may stay until then, and of those that come
/// later only one at a time goes out, as before with nobody outside. Where there is no place at all, nobody does.
#[test]
fn who_stands_outside_already_gives_nobody_else_a_place() {
    let outside = |places: i32| {
        let mut input = shop(places);
        input.bays.push(bay(2, BayKind::TwoPostLift));
        for n in 1..=2 {
            let mut back = job(n, vec![stage("refit", 30)]);
            (back.vehicle, back.promised, back.weight) = (VehicleNow::Outside, Some(at(30)), 20);
            input.jobs.push(back);
        }
        for n in 3..=6 {
            input.jobs.push(sent_out(n));
            input.jobs[n - 1].promised = Some(at(360));
        }
        input
    };
    let most = |input: &PlanInput, made: &Plan| {
        let ready = |n: usize| {
            let of_job = made.stages.iter().filter(|row| row.job == input.jobs[n].job);
            of_job.map(|row| minute(row.until)).max().expect("planned")
        };
        let left = |n: usize| made.visits.iter().find(|visit| visit.job == input.jobs[n].job).expect("a stay").until;
        let stays: Vec<(i64, i64)> = (2..6).map(|n| (minute(left(n)), ready(n))).collect();
        let there = |at: i64| stays.iter().filter(|(from, until)| *from <= at && at < *until).count();
        stays.iter().map(|(from, _)| there(*from)).max().expect("four")
    };
    let two = outside(2);
    let (wide, _) = plan(&two);
    assert_eq!(most(&two, &wide), 2);
    for places in [1, 0] {
        let input = outside(places);
        let (made, _) = plan(&input);
        assert_eq!(i32::try_from(most(&input, &made)), Ok(places));
        // The auditor refuses the plan of a larger yard, by a count of its own.
        let rules: Vec<&str> = check_plan(&input, &wide).iter().map(|fault| fault.rule).collect();
        assert!(!rules.is_empty() && rules.iter().all(|rule| *rule == "outside"), "{rules:?}");
    }
}
