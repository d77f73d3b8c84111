//! Vehicles are moved while somebody is there: in the shop's hours, or in overtime that the lead opened. Worked by hand from
//! the shop that each test sets up; the rules are the project's own.

mod kit;

use kit::{after, at, bay, empty, job, minute, person, stage, technician, three, window};
use leadhand_auditor::check_plan;
use leadhand_facts::plan::{BayVisit, Plan, PlanInput, PlanReport, StageNow, VehicleNow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_planner::{Budget, propose};

fn plan(input: &PlanInput) -> (Plan, PlanReport) {
    let mut stop = || false;
    let made = propose(input, 1, &mut Budget { schedules: 400, stop: &mut stop });
    assert_eq!(check_plan(input, &made.0), Vec::new());
    made
}

/// Eight hours a day and two hands; the first vehicle is being stripped all day, then waits a day for outside work.
fn shop() -> PlanInput {
    let mut input = empty(20, 480, 960);
    input.bays.push(bay(1, BayKind::TwoPostLift));
    for n in 1..=2 {
        let shifts = input.shop.clone();
        input.technicians.push(technician(n, &[], shifts));
    }
    let mut strip = stage("strip", 480);
    (strip.may_leave, strip.now) = (true, StageNow::Started { people: vec![person(1)] });
    let mut cure = stage("cure", 1_440);
    (cure.kind, cure.hands, cure.in_bay, cure.after) = (StageKind::Wait, 0, false, vec![after("strip", 0)]);
    let mut refit = stage("refit", 60);
    refit.after = vec![after("cure", 0)];
    let mut first = job(1, vec![strip, cure, refit]);
    (first.vehicle, first.moving_minutes) = (VehicleNow::Bay(input.bays[0].bay.clone()), 10);
    input.jobs.push(first);
    input
}

fn visits(made: &Plan, n: usize) -> Vec<(i64, i64)> {
    let mine = made.visits.iter().filter(|visit| visit.job == job(n, Vec::new()).job);
    mine.map(|visit| (minute(visit.from), minute(visit.until))).collect()
}

fn from(made: &Plan, key: &str) -> i64 {
    minute(made.stages.iter().find(|row| row.stage.as_str() == key).expect("planned").from)
}

/// What the auditor says where the stays of a plan are changed.
fn refused(input: &PlanInput, made: &Plan, change: impl Fn(&mut Vec<BayVisit>)) -> Vec<(&'static str, String)> {
    let mut other = made.clone();
    change(&mut other.visits);
    check_plan(input, &other).into_iter().map(|fault| (fault.rule, fault.sentence)).collect()
}

/// Nobody has the skill of the refit, and the vehicle may not leave before it: it stays as long as the plan reaches, also where
/// that is further than the ten years in which a plan counts its minutes.
#[test]
fn a_stay_that_nobody_ends_lasts_as_long_as_the_plan() {
    let twenty_years = 2 * 5_256_000;
    for until in [20 * 1_440, twenty_years] {
        let mut input = shop();
        input.until = at(until);
        input.jobs[0].stages[0].may_leave = false;
        input.jobs[0].stages[2].skills = vec!["nobodys".into()];
        let (made, _) = plan(&input);
        assert_eq!(visits(&made, 1), [(0, until)]);
    }
}

/// The strip is over as the shop closes. Nobody is there to roll it out, so it goes out in the morning, and whoever wants the
/// lift begins then. With a quarter of an hour of overtime it goes out in the evening, and the lift is free as the shop opens.
#[test]
fn what_is_done_at_closing_is_rolled_out_in_the_morning_or_in_overtime() {
    let mut input = shop();
    input.jobs.push(job(2, vec![stage("brakes", 60)]));
    (input.jobs[1].promised, input.jobs[1].weight) = (Some(at(1_500)), 9);
    let (made, report) = plan(&input);
    assert_eq!(visits(&made, 1)[0], (0, 1_450));
    assert_eq!(from(&made, "brakes"), 1_450);
    assert_eq!((report.jobs[1].likely, report.jobs[1].safe), (Some(at(1_510)), Some(at(1_510))));
    let early = refused(&input, &made, |visits| visits[0].until = at(490));
    assert_eq!(early.len(), 1, "{early:?}");
    assert!(early[0].0 == "moving" && early[0].1.contains("when nobody is there"), "{early:?}");
    // Half of it in hours is not enough.
    let half = refused(&input, &made, |visits| visits[0].until = at(1_445));
    assert!(half.iter().any(|(rule, _)| *rule == "moving"), "{half:?}");

    input.technicians[1].overtime.push(window(480, 495));
    let (made, report) = plan(&input);
    assert_eq!(visits(&made, 1)[0], (0, 490));
    assert_eq!((from(&made, "brakes"), report.objective.tardiness), (1_440, 0));
    let late = refused(&input, &made, |visits| visits[0].until = at(500));
    assert_eq!(late.iter().map(|(rule, _)| *rule).collect::<Vec<_>>(), ["moving"], "overtime is over");
}

/// Two vehicles are outside, and the parts of both come as the shop opens in the morning. One lift is free on the evening before:
/// its vehicle is brought in then. The other is held until the shop closes, so its next one comes in ten minutes after it opens.
#[test]
fn who_comes_in_from_outside_does_so_the_evening_before_or_in_the_morning() {
    let mut input = shop();
    input.jobs.clear();
    input.bays[0].kind = BayKind::TwoPostLift;
    input.bays.push(bay(2, BayKind::FourPostLift));
    input.technicians.push(technician(3, &[], input.shop.clone()));
    input.jobs.push(job(1, vec![stage("align", 480)]));
    input.jobs[0].stages[0].bays = vec![BayKind::FourPostLift];
    (input.jobs[0].promised, input.jobs[0].weight) = (Some(at(480)), 9);
    for (n, key, kind) in [(2, "brakes", BayKind::TwoPostLift), (3, "tracking", BayKind::FourPostLift)] {
        let mut late = stage(key, 60);
        (late.bays, late.parts_from) = (vec![kind], Some(at(1_440)));
        let mut made = job(n, vec![late]);
        (made.vehicle, made.moving_minutes, made.promised) = (VehicleNow::Outside, 10, Some(at(1_500)));
        input.jobs.push(made);
    }
    let (made, report) = plan(&input);
    assert_eq!((visits(&made, 2)[0].0, from(&made, "brakes")), (470, 1_440));
    assert_eq!((visits(&made, 3)[0].0, from(&made, "tracking")), (1_440, 1_450));
    assert_eq!(report.jobs[2].safe, Some(at(1_510)));
    let night = refused(&input, &made, |visits| {
        let third = visits.iter_mut().find(|visit| visit.job == input.jobs[2].job).expect("a stay");
        third.from = at(1_435);
    });
    assert_eq!(night.iter().map(|(rule, _)| *rule).collect::<Vec<_>>(), ["moving"], "{night:?}");
}

/// From one lift to the other it goes in the morning as well, though both ends of the way are free at night.
#[test]
fn nobody_takes_a_vehicle_from_bay_to_bay_at_night() {
    let mut input = shop();
    input.bays[0].kind = BayKind::Floor;
    input.bays.push(bay(2, BayKind::TwoPostLift));
    let first = &mut input.jobs[0];
    first.stages.remove(1);
    (first.stages[0].bays, first.stages[0].minutes) = (vec![BayKind::Floor], three(475));
    (first.stages[1].bays, first.stages[1].after) = (vec![BayKind::TwoPostLift], vec![after("strip", 0)]);
    let (made, report) = plan(&input);
    assert_eq!((visits(&made, 1), from(&made, "refit")), (vec![(0, 1_440), (1_440, 1_510)], 1_450));
    assert_eq!(report.jobs[0].safe, Some(at(1_510)));
    let night = refused(&input, &made, |visits| (visits[0].until, visits[1].from) = (at(475), at(475)));
    assert_eq!(night.iter().map(|(rule, _)| *rule).collect::<Vec<_>>(), ["moving"], "{night:?}");
}

/// Planned, the strip is over in time to be rolled out before the shop closes, and something cures on the lift from then on.
/// Where it takes only minutes longer, as in more than one of five cases, nobody is there until the morning.
#[test]
fn a_forecast_moves_nobody_at_night() {
    let mut input = shop();
    input.jobs[0].stages[0].minutes = Minutes { low: 460, likely: 465, high: 500 };
    let mut cure = stage("set", 60);
    (cure.kind, cure.hands) = (StageKind::Wait, 0);
    input.jobs.push(job(2, vec![cure]));
    (input.jobs[1].promised, input.jobs[1].weight) = (Some(at(540)), 9);
    let (made, report) = plan(&input);
    assert_eq!((visits(&made, 1)[0], from(&made, "set")), ((0, 480), 480));
    assert!(report.jobs[1].likely.is_some_and(|likely| likely <= at(540)), "{:?}", report.jobs[1]);
    assert_eq!(report.jobs[1].safe, Some(at(1_510)));
}

/// Where no hours that are known are long enough to move it, what is behind has no time; nobody is blamed for keeping it.
#[test]
fn a_move_that_fits_into_no_hours_leaves_its_stage_without_a_time() {
    let mut input = shop();
    input.jobs[0].moving_minutes = 500;
    input.jobs.push(job(2, vec![stage("brakes", 60)]));
    let (made, report) = plan(&input);
    assert_eq!(visits(&made, 1).len(), 1, "it stays on the lift until all of it is done");
    assert!(report.unplaced.is_empty(), "{:?}", report.unplaced);
    input.jobs[1].vehicle = VehicleNow::Outside;
    input.jobs[1].moving_minutes = 500;
    let (_, report) = plan(&input);
    let reasons: Vec<&str> = report.unplaced.iter().map(|one| one.reason.as_str()).collect();
    assert_eq!(reasons.len(), 1, "{reasons:?}");
    assert!(reasons[0].contains("before the calendars end"), "{reasons:?}");
}

/// Ten hours a day and two hands: on the floor first, and twenty minutes of moving before the lift.
fn from_the_floor(minutes: i64) -> PlanInput {
    let mut input = empty(20, 600, 840);
    for (n, kind) in [(1, BayKind::Floor), (2, BayKind::TwoPostLift)] {
        input.bays.push(bay(n, kind));
        let shifts = input.shop.clone();
        input.technicians.push(technician(n, &[], shifts));
    }
    let mut first = stage("b1", minutes);
    (first.may_leave, first.bays) = (true, vec![BayKind::Floor]);
    let mut second = stage("b2", 30);
    (second.bays, second.after) = (vec![BayKind::TwoPostLift], vec![after("b1", 0)]);
    let mut made = job(1, vec![first, second]);
    made.moving_minutes = 20;
    input.jobs.push(made);
    input
}

/// The lead has the first stage begin at 225; it is over at 535, and the vehicle is in the other bay at 555. Nobody goes first:
/// what is told is the move, and the lead's word behind it.
#[test]
fn a_move_is_told_with_what_came_before_it() {
    let mut input = from_the_floor(310);
    input.jobs[0].promised = Some(at(480));
    input.jobs[0].stages[0].pin.from = Some(at(225));
    let (made, report) = plan(&input);
    assert_eq!((from(&made, "b1"), from(&made, "b2")), (225, 555));
    let (begins, there) = (at(225), at(555));
    assert_eq!(
        report.jobs[0].sentence,
        format!(
            "job 1 is 1 h 45 min late because b1 of job 1 starts {begins}, as the lead said; b2 of job 1 waits until {there} for \
             its vehicle to be moved from bay-1 to bay-2."
        )
    );
    // Closed until later than that, the bay itself is what is waited for.
    input.bays[1].closed.push(window(0, 560));
    let closed = &plan(&input).1.jobs[0].sentence;
    assert!(closed.contains("for bay bay-2, which is closed"), "{closed}");
    // From outside it is brought in.
    input.bays[1].closed.clear();
    input.jobs[0].stages.remove(0);
    input.jobs[0].stages[0].after.clear();
    (input.jobs[0].vehicle, input.jobs[0].promised) = (VehicleNow::Outside, Some(at(30)));
    let sentence = plan(&input).1.jobs[0].sentence.clone();
    let there = at(20);
    let told = format!("because b2 of job 1 waits until {there} for its vehicle to be brought into bay-2.");
    assert!(sentence.ends_with(&told), "{sentence}");
}

/// The first stage is over five minutes before the shop closes, and a hand has overtime an hour later. In time either way, the
/// vehicle is moved in the morning; only where that makes the job late is it moved in overtime, and that is counted.
#[test]
fn overtime_moves_a_vehicle_only_where_something_is_gained() {
    let mut input = from_the_floor(595);
    input.technicians[1].overtime.push(window(660, 700));
    input.jobs[0].promised = Some(at(1_500));
    let (made, report) = plan(&input);
    assert_eq!((visits(&made, 1)[1].0, from(&made, "b2")), (1_440, 1_460));
    assert_eq!((report.objective.tardiness, report.objective.overtime_minutes), (0, 0));
    assert_eq!(report.jobs[0].safe, Some(at(1_490)));
    input.jobs[0].promised = Some(at(1_470));
    let (made, report) = plan(&input);
    let entered = visits(&made, 1)[1].0;
    assert!((660..=680).contains(&entered), "{entered}");
    assert_eq!(from(&made, "b2"), 1_440);
    assert_eq!((report.objective.tardiness, report.objective.overtime_minutes), (0, 20));
    assert_eq!(report.jobs[0].safe, Some(at(1_470)));
}
