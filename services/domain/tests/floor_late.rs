//! What is entered late never lies before what it must come after.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, extra, finish, on, skip, start, tick, why, work};
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::audit::{By, Subject, audit};
use leadhand_facts::words::{Cause, Role, StageState};
use leadhand_facts::*;

fn raise(stage: &str) -> RaiseBlocker {
    let (job, stage, cause) = (JOB, stage.into(), Cause::Tool);
    RaiseBlocker { job, stage, cause, owner: None, expected_at: None, note: None }
}

/// What an end of `strip` at that time is told that it must come after.
fn earliest(floor: &mut Floor, time: &str) -> Vec<Option<Instant>> {
    let cancel = CancelJob { job: JOB, reason: "sold".into(), as_it_is: false };
    let ends: [Command; 3] = [finish("strip").into(), skip("strip").into(), cancel.into()];
    let told = ends.map(|end| match floor.late(time, end) {
        Err(Refusal::TooEarly { earliest, .. }) => Some(earliest),
        other => panic!("{other:?}"),
    });
    told.to_vec()
}

#[test]
fn a_stage_does_not_end_before_work_steps_or_blockers_of_it() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.shop.now = at("12:00");
    floor.late("09:30", ClockOff {}).unwrap();
    assert_eq!(earliest(&mut floor, "09:29"), [Some(at("09:30")); 3], "work");
    floor.late("09:40", tick(1)).unwrap();
    assert_eq!(earliest(&mut floor, "09:39"), [Some(at("09:40")); 3], "a step");
    floor.late("09:45", raise("strip")).unwrap();
    floor.late("09:50", ClearBlocker { job: JOB, blocker: BlockerNo(1), note: None }).unwrap();
    assert_eq!(earliest(&mut floor, "09:44"), [Some(at("09:50")); 3], "what held it up");
    floor.late("10:00", on("strip")).unwrap();
    assert_eq!(earliest(&mut floor, "10:00"), [Some(at("10:00")); 3], "work that goes on");
    floor.late("10:10", finish("strip")).unwrap();
    assert_eq!(floor.stage("strip").ended_at, Some(at("10:10")));
}

#[test]
fn a_blocker_that_stands_keeps_a_late_end_behind_it() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:10", ClockOff {}).unwrap();
    floor.at("09:30", raise("strip")).unwrap();
    assert_eq!(earliest(&mut floor, "09:20"), [Some(at("09:30")); 3]);
    floor.late("09:30", skip("strip")).unwrap();
}

#[test]
fn a_job_is_not_called_off_before_a_stage_of_it_ended() {
    let mut floor = Floor::open();
    let cancel = CancelJob { job: JOB, reason: "sold".into(), as_it_is: false };
    floor.shop.now = at("09:00");
    assert_eq!(code(floor.late("08:09", cancel.clone())), "TOO_EARLY");
    for stage in ["strip", "wash", "refit"] {
        floor.late("08:40", skip(stage)).unwrap();
    }
    assert_eq!(code(floor.late("08:39", cancel.clone())), "TOO_EARLY", "with nothing left");
    floor.late("08:40", cancel).unwrap();
}

#[test]
fn a_stage_is_not_left_out_before_what_comes_before_it_had_ended() {
    let mut floor = Floor::open();
    floor.shop.now = at("09:00");
    // Book-in ended at 08:10.
    assert_eq!(code(floor.late("08:09", skip("wash"))), "TOO_EARLY");
    floor.late("08:10", skip("wash")).unwrap();
    floor.now(extra("wash")).unwrap();
    assert_eq!(code(floor.late("08:59", skip("extra"))), "TOO_EARLY", "it was not there yet");
    floor.now(skip("extra")).unwrap();
}

/// A stage that was left out passes on what came before it: refit was left out at 08:30, before
/// strip ended at 09:00; what comes after it has the half hour of refit to wait.
#[test]
fn what_was_left_out_does_not_hide_what_came_before_it() {
    let mut floor = Floor::open();
    floor.at("08:20", start("strip")).unwrap();
    floor.at("08:25", extra("refit")).unwrap();
    floor.at("08:30", skip("refit")).unwrap();
    floor.at("09:00", finish("strip")).unwrap();
    assert_eq!(floor.stage("extra").ready_at, Some(at("09:30")));
    floor.shop.now = at("10:00");
    assert_eq!(code(floor.late("08:59", skip("extra"))), "TOO_EARLY");
    floor.late("09:00", skip("extra")).unwrap();
}

/// Strip ends at 09:00 and refit waits until 09:30.
#[test]
fn a_stage_left_out_during_its_wait_stays_in_the_audit_without_a_length() {
    let mut floor = Floor::open();
    floor.at("08:30", start("strip")).unwrap();
    floor.at("09:00", finish("strip")).unwrap();
    floor.shop.now = at("09:10");
    assert_eq!(code(floor.late("08:59", skip("refit"))), "TOO_EARLY");
    floor.late("09:05", skip("refit")).unwrap();
    let row = floor.stage("refit");
    assert_eq!((row.state, row.ready_at, row.ended_at), (StageState::Skipped, Some(at("09:05")), Some(at("09:05"))));
    let report = audit(&floor.shop.state, at("12:00"), By::Stage);
    let refit = |line: &&leadhand_domain::view::audit::AuditLine| matches!(&line.subject, Subject::Stage { stage, .. } if stage.as_str() == "refit");
    let line = report.lines.iter().find(refit).unwrap();
    assert_eq!(line.life.unwrap().length_us(), 0);
    assert_eq!((line.totals.elapsed_us(), line.counts.skipped), (0, 1));
}

/// The same for one that a lead started during the wait.
#[test]
fn an_end_before_the_wait_was_over_is_when_it_became_ready() {
    let mut floor = Floor::open();
    floor.at("08:30", start("strip")).unwrap();
    floor.at("09:00", finish("strip")).unwrap();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:05", StartStage { override_reason: why(), ..start("refit") }).unwrap();
    floor.at("09:20", finish("refit")).unwrap();
    let row = floor.stage("refit");
    assert_eq!((row.ready_at, row.started_at), (Some(at("09:20")), Some(at("09:05"))));
}

/// Flint is on the second job from 11:00 on; in the evening the start of strip at 09:00 is entered.
#[test]
fn a_late_start_leaves_whoever_was_elsewhere_later_where_they_were() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("10:00", floor_kit::open_job()).unwrap();
    let other = JobNo(2);
    floor.at("11:00", StartStage { job: other, ..start("book-in") }).unwrap();
    floor.shop.now = at("16:00");
    let answer = floor.late("09:00", start("strip")).unwrap();
    let (job, stage): (JobNo, StageKey) = (JOB, "strip".into());
    let told = Notice::ElsewhereLater { job, stage, on_job: other, on_stage: "book-in".into() };
    assert_eq!(answer.notices, [told]);
    assert_eq!(floor.stage("strip").started_at, Some(at("09:00")));
    assert_eq!(floor.work("strip").len(), 0);
    assert!(floor.work("book-in").iter().any(|row| row.job == other && row.until_at.is_none()), "still there");
    floor.now(work("strip", "09:00", "10:30")).unwrap();
    assert_eq!(code(floor.now(work("strip", "10:50", "11:10"))), "PERSON_ELSEWHERE");
}
