//! Work entered late with both ends: within its stage, and starting it where nobody has.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, finish, skip, start, why, work};
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_facts::Fact;
use leadhand_facts::words::{Role, StageState};

#[test]
fn both_ends_say_when_and_the_etag_counts() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:10", ClockOff {}).unwrap();
    floor.shop.now = at("10:00");
    let dated = floor.late("09:50", work("strip", "09:20", "09:30")).unwrap_err();
    assert_eq!((dated.reason(), dated.field()), ("INVALID_FIELD", Some("write.happened_at")));
    let future = floor.now(work("strip", "09:20", "10:01")).unwrap_err();
    assert_eq!(future.field(), Some("until_at"));
    let version = floor.shop.state.jobs.get(&(JOB,)).unwrap().version;
    floor.shop.etag = Some(version - 1);
    assert_eq!(code(floor.now(work("strip", "09:20", "09:30"))), "JOB_CHANGED");
    floor.shop.etag = Some(version);
    floor.now(work("strip", "09:20", "09:30")).unwrap();
}

#[test]
fn work_lies_between_the_start_and_the_end_of_its_stage() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:10", ClockOff {}).unwrap();
    floor.shop.now = at("10:00");
    assert_eq!(code(floor.now(work("strip", "08:50", "08:55"))), "TOO_EARLY");
    floor.late("09:40", finish("strip")).unwrap();
    assert_eq!(code(floor.now(work("strip", "09:30", "09:41"))), "TOO_LATE");
    assert_eq!(code(floor.now(work("strip", "08:59", "09:10"))), "TOO_EARLY");
    floor.now(work("strip", "09:30", "09:40")).unwrap();
    floor.late("09:45", skip("wash")).unwrap();
    assert_eq!(code(floor.now(work("wash", "09:41", "09:44"))), "STAGE_STATE", "nobody ever began it");
    floor.now(skip("refit")).unwrap();
    floor.now(CompleteJob { job: JOB, override_reason: None, overrides: vec![] }).unwrap();
    // What was forgotten is entered after the hand-over as well.
    floor.at("10:30", work("strip", "09:20", "09:30")).unwrap();
    assert_eq!(code(floor.now(work("strip", "09:39", "10:10"))), "TOO_LATE");
    assert_eq!(floor.work("strip").len(), 3);
}

/// A technician who forgot everything enters one line.
#[test]
fn work_on_a_ready_stage_starts_it() {
    let mut floor = Floor::open();
    floor.shop.now = at("12:00");
    let answer = floor.now(work("strip", "09:00", "09:30")).unwrap();
    assert_eq!(answer.notices, [Notice::StartedWithWork { stage: "strip".into() }]);
    let facts = &floor.shop.facts;
    let began = matches!(&facts[0], Fact::StageStarted { person: Some(who), .. } if *who == floor.flint);
    assert!(began && matches!(&facts[1], Fact::WorkRecorded { .. }) && facts.len() == 2, "{facts:?}");
    let row = floor.stage("strip");
    assert_eq!((row.state, row.started_at), (StageState::Active, Some(at("09:00"))));
    assert!(floor.work("strip").iter().all(|row| row.until_at.is_some()), "nobody is on it now");
    floor.late("09:45", finish("strip")).unwrap();
}

#[test]
fn work_starts_a_stage_only_where_a_start_would_be_accepted() {
    let mut floor = Floor::open();
    floor.shop.now = at("12:00");
    assert_eq!(code(floor.now(work("strip", "08:09", "08:30"))), "TOO_EARLY", "book-in ended at 08:10");
    assert_eq!(code(floor.now(work("refit", "09:00", "09:30"))), "NOT_READY");
    assert_eq!(code(floor.now(work("wash", "09:00", "09:30"))), "NOT_IN_BAY_THEN");
    floor.acts(Some(floor.moss), Role::Technician);
    assert_eq!(code(floor.now(work("strip", "09:00", "09:30"))), "SKILL_MISSING");
    floor.acts(Some(floor.moss), Role::Lead);
    floor.now(RecordWork { override_reason: why(), ..work("strip", "09:00", "09:30") }).unwrap();
    let told = floor.shop.facts.iter().filter(|fact| {
        matches!(fact, Fact::StageStarted { overridden: Some(_), .. } | Fact::WorkRecorded { overridden: Some(_), .. })
    });
    assert_eq!(told.count(), 2);
}
