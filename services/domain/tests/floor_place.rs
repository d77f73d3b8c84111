//! Work runs only while the vehicle stands in a bay that fits; nobody overrides that.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, assign, at, code, finish, on, open_job, start, why, work};
use leadhand_domain::command::*;
use leadhand_facts::JobNo;
use leadhand_facts::words::Role;

fn roll_out() -> RollOut {
    RollOut { job: JOB, override_reason: why() }
}

fn move_to(bay: &str) -> AssignJob {
    AssignJob { override_reason: why(), ..assign(bay) }
}

#[test]
fn nobody_clocks_on_where_the_stage_can_t_be_done() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:20", ClockOff {}).unwrap();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:30", roll_out()).unwrap();
    floor.at("09:40", ClockOn { override_reason: why(), ..on("strip") }).unwrap_err();
    assert_eq!(code(floor.now(on("strip"))), "NOT_IN_BAY");
    floor.at("09:50", assign("floor-1")).unwrap();
    assert_eq!(code(floor.now(on("strip"))), "WRONG_BAY");
    // Steps and the end are records of what was done, wherever the vehicle is now.
    floor.at("09:55", floor_kit::tick(1)).unwrap();
    floor.at("10:00", move_to("lift-2")).unwrap();
    assert_eq!(code(floor.late("09:55", on("strip"))), "NOT_IN_BAY_THEN");
    floor.at("10:05", on("strip")).unwrap();
    floor.at("10:10", finish("strip")).unwrap();
}

#[test]
fn a_vehicle_is_not_taken_away_from_under_somebody() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.shop.now = at("09:30");
    let out = floor.now(roll_out()).unwrap_err();
    assert_eq!(out.reason(), "AT_WORK");
    let said = out.to_string();
    assert!(said.contains("'strip' of job 1") && said.contains("clock them off first"), "{said}");
    assert!(said.contains(&floor.flint.to_string()), "{said}");
    assert_eq!(code(floor.now(move_to("floor-1"))), "AT_WORK");
    // In the other lift the work can go on.
    floor.now(move_to("lift-2")).unwrap();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("09:40", ClockOff {}).unwrap();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.shop.now = at("10:00");
    assert_eq!(code(floor.late("09:35", roll_out())), "TOO_EARLY", "there was work then");
    floor.late("09:40", roll_out()).unwrap();
}

/// Somebody on a stage that can be done anywhere does not keep the vehicle.
#[test]
fn work_that_needs_no_bay_goes_on_outside() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:00", StartStage { override_reason: why(), ..start("refit") }).unwrap();
    floor.at("09:10", roll_out()).unwrap();
    floor.at("09:20", ClockOff {}).unwrap();
    floor.at("09:30", on("refit")).unwrap();
}

#[test]
fn work_entered_late_lies_within_stays_in_fitting_bays() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:10", ClockOff {}).unwrap();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:30", move_to("lift-2")).unwrap();
    floor.at("10:00", roll_out()).unwrap();
    floor.at("10:30", assign("floor-1")).unwrap();
    floor.at("11:00", move_to("lift-1")).unwrap();
    floor.shop.now = at("12:00");
    let long_gone = [("09:50", "10:01"), ("10:05", "10:10"), ("10:30", "10:40"), ("10:59", "11:10")];
    for (from, until) in long_gone {
        assert_eq!(code(floor.now(work("strip", from, until))), "NOT_IN_BAY_THEN", "{from} to {until}");
    }
    for (from, until) in [("09:20", "09:40"), ("09:50", "10:00"), ("11:00", "12:00")] {
        floor.now(work("strip", from, until)).unwrap();
    }
}

/// The sentence names the stay that is in the way, which may have begun later.
#[test]
fn a_bay_that_was_taken_later_says_from_when_to_when() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:00", open_job()).unwrap();
    let second = |bay: &str| AssignJob { job: JobNo(2), ..assign(bay) };
    floor.at("10:00", second("lift-2")).unwrap();
    floor.at("11:00", RollOut { job: JobNo(2), override_reason: None }).unwrap();
    floor.shop.now = at("12:00");
    let taken = floor.late("09:30", move_to("lift-2")).unwrap_err();
    assert_eq!(taken.reason(), "BAY_TAKEN_THEN");
    let said = taken.to_string();
    let told = |time: &str| leadhand_domain::telling::Telling::default().time(at(time));
    let (from, until) = (told("10:00"), told("11:00"));
    assert!(said.contains(&from) && said.contains(&until) && !said.contains(&told("09:30")), "{said}");
    let elsewhere = floor.late("09:30", second("floor-1")).unwrap_err();
    assert_eq!(elsewhere.reason(), "VEHICLE_ELSEWHERE_THEN");
    assert!(elsewhere.to_string().contains(&from) && elsewhere.to_string().contains(&until), "{elsewhere}");
    floor.late("11:00", second("floor-1")).unwrap();
    assert_eq!(code(floor.late("11:00", second("lift-2"))), "TOO_EARLY", "it had only just come");
}
