//! Jobs that were closed by mistake, bays that were described wrongly, names that were mistyped.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, assign, at, code, finish, open_job, start};
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_facts::words::{BayKind, JobState, Role, StageState};
use leadhand_facts::*;

fn lead() -> Floor {
    let mut floor = Floor::open();
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    floor.shop.now = at("09:00");
    floor
}

fn cancel() -> CancelJob {
    CancelJob { job: JOB, reason: "the wrong one".into(), as_it_is: false }
}

fn reopen() -> ReopenJob {
    ReopenJob { job: JOB, reason: "it was the other".into() }
}

fn job(floor: &Floor) -> (JobState, Option<Instant>, Option<TextId>) {
    let row = floor.shop.state.jobs.get(&(JOB,)).unwrap();
    (row.state, row.closed_at, row.reason)
}

/// The same vehicle comes again.
fn again(floor: &Floor) -> OpenJob {
    let vehicle = floor.shop.state.vehicles.iter().next().unwrap().vehicle;
    OpenJob { vehicle: WhichVehicle::Known(vehicle), ..open_job() }
}

#[test]
fn a_job_that_was_called_off_by_mistake_goes_on_with_its_stages() {
    let mut floor = lead();
    assert_eq!(code(floor.now(reopen())), "NOTHING_TO_DO");
    floor.now(start("strip")).unwrap();
    floor.shop.now = at("09:20");
    floor.now(cancel()).unwrap();
    assert_eq!(code(floor.late("09:10", reopen())), "TOO_EARLY");
    assert_eq!(code(floor.now(ReopenJob { reason: " ".into(), ..reopen() })), "INVALID_FIELD");
    floor.shop.now = at("09:30");
    floor.now(reopen()).unwrap();
    assert_eq!(job(&floor), (JobState::Open, None, None));
    assert_eq!(floor.stage("strip").state, StageState::Skipped, "each stage is taken up again by itself");
    // The vehicle is outside, and all goes on as it would have.
    assert_eq!(code(floor.now(start("refit"))), "STAGE_STATE");
    floor.now(assign("lift-2")).unwrap();
    let stage = |stage: &str| ReopenStage { job: JOB, stage: stage.into(), reason: "it goes on".into() };
    floor.now(stage("refit")).unwrap();
    floor.now(stage("strip")).unwrap();
    floor.now(ClockOn { job: JOB, stage: "strip".into(), override_reason: None }).unwrap();
    floor.shop.now = at("09:40");
    floor.now(finish("strip")).unwrap();
}

#[test]
fn a_job_does_not_go_on_when_its_vehicle_has_come_again() {
    let mut floor = lead();
    floor.now(cancel()).unwrap();
    floor.shop.now = at("09:10");
    let second = again(&floor);
    floor.now(second).unwrap();
    assert_eq!(code(floor.now(reopen())), "VEHICLE_HAS_OPEN_JOB");
    floor.now(CancelJob { job: JobNo(2), ..cancel() }).unwrap();
    let refused = floor.now(reopen()).unwrap_err();
    assert_eq!(refused.reason(), "CAME_AGAIN");
    assert!(refused.to_string().contains("job 2"), "{refused}");
    floor.now(ReopenJob { job: JobNo(2), ..reopen() }).unwrap();
}

fn set(bay: &str, kind: Option<BayKind>, rated_kg: Option<i32>) -> SetBay {
    SetBay { bay: bay.into(), kind, rated_kg, reason: "read off the plate".into() }
}

#[test]
fn a_bay_bears_what_stands_in_it() {
    let mut floor = lead();
    assert_eq!(code(floor.now(set("lift-1", None, None))), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(set("lift-1", None, Some(2000)))), "NOTHING_TO_DO");
    assert_eq!(code(floor.now(set("lift-1", None, Some(0)))), "INVALID_FIELD");
    assert_eq!(code(floor.now(set("nowhere", None, Some(1)))), "NOT_FOUND");
    assert_eq!(code(floor.now(set("lift-1", None, Some(1499)))), "TOO_HEAVY", "the van weighs 1500 kg");
    floor.now(set("lift-1", None, Some(1500))).unwrap();
    floor.now(set("lift-2", None, Some(1499))).unwrap();
    assert_eq!(code(floor.now(assign("lift-2"))), "TOO_HEAVY");
}

#[test]
fn work_that_was_done_in_a_bay_keeps_its_kind() {
    let mut floor = lead();
    // Nothing was done yet that asks for a kind of bay: the vehicle stays, and the lead is told.
    let told = floor.now(set("lift-1", Some(BayKind::Pit), None)).unwrap().notices;
    let later = |stage: &str| Notice::OtherBayLater { stage: stage.into() };
    assert_eq!(told, [later("strip"), later("wash")]);
    assert_eq!(code(floor.now(start("strip"))), "WRONG_BAY");
    floor.now(set("lift-1", Some(BayKind::TwoPostLift), None)).unwrap();
    floor.now(start("strip")).unwrap();
    assert_eq!(code(floor.now(set("lift-1", Some(BayKind::Pit), None))), "WRONG_BAY", "Flint is at work");
    floor.shop.now = at("09:20");
    floor.now(finish("strip")).unwrap();
    floor.now(RollOut { job: JOB, override_reason: floor_kit::why() }).unwrap();
    let refused = floor.now(set("lift-1", Some(BayKind::Pit), None)).unwrap_err();
    assert_eq!(refused.reason(), "NOT_IN_BAY_THEN");
    assert!(refused.to_string().contains("'strip' of job 1"), "{refused}");
    floor.now(set("lift-2", Some(BayKind::Pit), None)).unwrap();
}

#[test]
fn a_mistyped_name_is_gone_and_that_it_was_mistyped_stays() {
    let mut floor = lead();
    let moss = floor.moss;
    let name = |floor: &Floor| floor.shop.state.persons.get(&(moss,)).unwrap().name;
    let was = name(&floor);
    let rename = |name: &str| RenamePerson { person: moss, name: name.into(), reason: "a slip".into() };
    assert_eq!(code(floor.now(rename(" "))), "INVALID_FIELD");
    floor.now(rename("Moss Reed")).unwrap();
    assert_ne!(name(&floor), was);
    let erased = |text| floor.shop.state.texts.get(&(text,)).unwrap().erased_n.is_some();
    assert!(erased(was) && !erased(name(&floor)));
    assert!(matches!(floor.shop.facts[..], [Fact::PersonRenamed { .. }]));
    floor.now(ForgetPerson { person: moss, texts: vec![] }).unwrap();
    assert_eq!(code(floor.now(rename("Moss"))), "FORGOTTEN");
}
