//! Where a vehicle was said to stand is corrected, and work that leans on it is not left homeless.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, assign, at, code, finish, open_job, start, why};
use leadhand_domain::command::*;
use leadhand_facts::words::{BayKind, Role};
use leadhand_facts::*;

fn correct() -> CorrectStay {
    CorrectStay { job: JOB, stay: None, bay: None, from_at: None, until_at: None, reason: "the other bay".into() }
}

fn to(bay: &str) -> CorrectStay {
    CorrectStay { bay: Some(bay.into()), ..correct() }
}

/// The stays of the job, oldest first.
fn stays(floor: &Floor) -> Vec<(String, Instant, Option<Instant>)> {
    let mut rows: Vec<_> = floor.shop.state.stays.iter().filter(|row| row.job == JOB).collect();
    rows.sort_by_key(|row| row.from_at);
    rows.iter().map(|row| (row.bay.to_string(), row.from_at, row.until_at)).collect()
}

/// The lead acts; the vehicle is in lift-1 since 08:00, and it is 11:00.
fn lead() -> Floor {
    let mut floor = Floor::open();
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    floor.shop.now = at("11:00");
    floor
}

#[test]
fn a_wrong_bay_is_corrected_from_the_beginning_of_the_stay() {
    let mut floor = lead();
    assert_eq!(code(floor.now(correct())), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(to("lift-1"))), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(to("nowhere"))), "NOT_FOUND");
    assert_eq!(code(floor.now(CorrectStay { stay: Some(1), ..to("lift-2") })), "NOT_FOUND");
    floor.now(to("lift-2")).unwrap();
    assert_eq!(stays(&floor), [("lift-2".to_owned(), at("08:00"), None)]);
    // lift-1 was free all along, so another vehicle may have been there.
    let other = OpenJob {
        vehicle: WhichVehicle::New { label: "lorry".into(), weight_kg: None, plate: None, customer: None },
        ..open_job()
    };
    floor.late("08:00", other).unwrap();
    let there = |bay: &str| AssignJob { job: JobNo(2), bay: bay.into(), override_reason: None };
    floor.late("08:30", there("lift-1")).unwrap();
    assert_eq!(code(floor.now(to("lift-1"))), "BAY_TAKEN");
    floor.late("09:00", RollOut { job: JobNo(2), override_reason: None }).unwrap();
    assert_eq!(code(floor.now(to("lift-1"))), "BAY_TAKEN_THEN");
}

#[test]
fn a_wrong_time_is_corrected_within_what_else_is_known() {
    let mut floor = lead();
    floor.late("09:00", RollOut { job: JOB, override_reason: why() }).unwrap();
    floor.late("10:00", AssignJob { job: JOB, bay: "lift-2".into(), override_reason: None }).unwrap();
    let first = floor.shop.state.stays.iter().map(|row| row.from_n).min().unwrap();
    let one = |from: Option<&str>, until: Option<&str>| CorrectStay {
        stay: Some(first),
        from_at: from.map(at),
        until_at: until.map(at),
        ..correct()
    };
    let last = |from: Option<&str>, until: Option<&str>| CorrectStay { stay: None, ..one(from, until) };
    assert_eq!(code(floor.now(one(None, Some("10:01")))), "VEHICLE_ELSEWHERE_THEN");
    assert_eq!(code(floor.now(one(Some("07:40"), None))), "TOO_EARLY", "before the job was opened");
    assert_eq!(code(floor.now(one(None, Some("08:00")))), "INVALID_FIELD", "empty");
    assert_eq!(code(floor.now(last(None, Some("10:30")))), "INVALID_FIELD", "it is still there");
    assert_eq!(code(floor.now(last(Some("11:01"), None))), "INVALID_FIELD", "not come yet");
    assert_eq!(code(floor.now(one(None, Some("11:01")))), "TOO_LATE");
    floor.now(one(Some("07:55"), Some("09:30"))).unwrap();
    floor.now(last(Some("09:30"), None)).unwrap();
    let whole = [("lift-1".to_owned(), at("07:55"), Some(at("09:30"))), ("lift-2".to_owned(), at("09:30"), None)];
    assert_eq!(stays(&floor), whole);
}

#[test]
fn work_keeps_a_bay_in_which_it_can_be_done() {
    let mut floor = lead();
    floor.late("09:00", start("strip")).unwrap();
    assert_eq!(code(floor.now(to("floor-1"))), "WRONG_BAY", "Flint is on it");
    floor.late("10:00", finish("strip")).unwrap();
    let refused = floor.now(to("floor-1")).unwrap_err();
    assert_eq!(refused.reason(), "NOT_IN_BAY_THEN");
    assert!(refused.to_string().contains("'strip'"), "{refused}");
    assert_eq!(code(floor.now(CorrectStay { from_at: Some(at("09:01")), ..correct() })), "NOT_IN_BAY_THEN");
    floor.now(CorrectStay { from_at: Some(at("09:00")), ..to("lift-2") }).unwrap();
}

#[test]
fn a_vehicle_was_not_in_a_bay_that_does_not_bear_it() {
    let mut floor = lead();
    let weak = AddBay { bay: "weak".into(), name: "Weak".into(), kind: BayKind::TwoPostLift, rated_kg: 1000 };
    floor.now(weak).unwrap();
    assert_eq!(code(floor.now(to("weak"))), "TOO_HEAVY");
}

/// Who stands on the ground is borne by it; a lift says what it bears.
#[test]
fn a_floor_without_a_rating_bears_any_vehicle_and_a_lift_needs_one() {
    let mut floor = lead();
    let add = |bay: &str, kind| AddBay { bay: bay.into(), name: bay.into(), kind, rated_kg: 0 };
    for kind in [BayKind::TwoPostLift, BayKind::FourPostLift] {
        let refused = floor.now(add("lift-9", kind)).unwrap_err();
        assert_eq!(refused.field(), Some("bay.rated_kg"), "{refused}");
    }
    floor.now(add("floor-9", BayKind::Floor)).unwrap();
    floor.now(add("pit-9", BayKind::Pit)).unwrap();
    let heavy = WhichVehicle::New { label: "lorry".into(), weight_kg: Some(20_000), plate: None, customer: None };
    floor.now(OpenJob { vehicle: heavy, template: None, title: Some("Look".into()), ..open_job() }).unwrap();
    let assign = |bay: &str| AssignJob { job: JobNo(2), ..assign(bay) };
    assert_eq!(code(floor.now(assign("lift-2"))), "TOO_HEAVY");
    floor.now(assign("floor-9")).unwrap();
    let set = |kind, rated_kg| SetBay { bay: "floor-9".into(), kind, rated_kg, reason: "read off the plate".into() };
    let lift = floor.now(set(Some(BayKind::TwoPostLift), None)).unwrap_err();
    assert_eq!(lift.field(), Some("rated_kg"), "{lift}");
    assert_eq!(code(floor.now(set(None, Some(19_999)))), "TOO_HEAVY", "it stands there");
    floor.now(set(None, Some(20_000))).unwrap();
    floor.now(set(None, Some(0))).unwrap();
}
