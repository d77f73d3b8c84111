//! What was entered by mistake is taken back by a later fact with a reason, and the books follow.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, finish, on, skip, start, tick, why, work};
use leadhand_domain::answer::{Answer, Notice};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::audit::{AuditLine, By, Subject, audit};
use leadhand_facts::words::{Role, StageState, StepState};
use leadhand_facts::*;

/// A correction of an entry that changes nothing yet.
fn correct(entry: i64) -> CorrectClocking {
    let (reason, override_reason) = ("it was otherwise".to_owned(), None);
    CorrectClocking { entry, from_at: None, until_at: None, job: None, stage: None, reason, override_reason }
}

fn withdraw(entry: i64) -> WithdrawClocking {
    WithdrawClocking { entry, reason: "I was not there".into() }
}

fn reopen(stage: &str) -> ReopenStage {
    ReopenStage { job: JOB, stage: stage.into(), reason: "it was not finished".into() }
}

fn untick(step: i32) -> ReopenStep {
    ReopenStep { job: JOB, stage: "strip".into(), step: StepNo(step), reason: "it was not done".into() }
}

/// The only entry on a stage.
fn entry(floor: &Floor, stage: &str) -> i64 {
    let work = floor.work(stage);
    assert_eq!(work.len(), 1, "{work:?}");
    work[0].on_n
}

fn span(floor: &Floor, stage: &str) -> (Instant, Option<Instant>) {
    let work = floor.work(stage);
    assert_eq!(work.len(), 1, "{work:?}");
    (work[0].from_at, work[0].until_at)
}

/// Worked and whole minutes of a stage as the time book has them; labels add up.
fn minutes(floor: &Floor, stage: &str) -> (i64, i64) {
    let report = audit(&floor.shop.state, floor.shop.now, By::Stage);
    let is = |line: &&AuditLine| matches!(&line.subject, Subject::Stage { stage: key, .. } if key.as_str() == stage);
    let line = report.lines.iter().find(is).unwrap();
    let (totals, life) = (&line.totals, line.life.unwrap());
    let elapsed = life.until.since_us(life.from);
    let labelled = totals.worked_us + totals.outside_us + totals.wait_us + totals.idle_us;
    assert_eq!(labelled + totals.blocked_us.values().sum::<i64>(), elapsed, "{stage}: labels add up");
    (totals.worked_us / 60_000_000, elapsed / 60_000_000)
}

/// Flint strips from 09:00 to 10:00.
fn stripped() -> Floor {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("10:00", finish("strip")).unwrap();
    floor.shop.now = at("11:00");
    floor
}

#[test]
fn a_corrected_end_replaces_the_first_and_the_time_book_follows() {
    let mut floor = stripped();
    assert_eq!(minutes(&floor, "strip").0, 60);
    let first = entry(&floor, "strip");
    floor.now(CorrectClocking { until_at: Some(at("09:40")), ..correct(first) }).unwrap();
    assert_eq!(span(&floor, "strip"), (at("09:00"), Some(at("09:40"))));
    assert_eq!(minutes(&floor, "strip").0, 40);
    // The first entry is in the journal, with what took it back and what replaced it; it can't be taken back twice.
    let kinds: Vec<String> = floor.shop.journal.iter().rev().take(2).map(|entry| kind(&entry.fact)).collect();
    assert_eq!(kinds, ["work_recorded", "clocking_withdrawn"]);
    assert_eq!(code(floor.now(withdraw(first))), "NOT_FOUND");
    floor.now(withdraw(entry(&floor, "strip"))).unwrap();
    assert_eq!((floor.work("strip").len(), minutes(&floor, "strip").0), (0, 0));
}

fn kind(fact: &Fact) -> String {
    upcast::store(fact).unwrap().kind
}

#[test]
fn a_correction_obeys_the_rules_of_work_entered_late() {
    let mut floor = stripped();
    floor.now(work("book-in", "08:05", "08:10")).unwrap();
    let first = entry(&floor, "strip");
    let said = |from: &str, until: &str| CorrectClocking {
        from_at: Some(at(from)),
        until_at: Some(at(until)),
        ..correct(first)
    };
    let head = floor.shop.state.head;
    assert_eq!(code(floor.now(said("08:30", "09:30"))), "TOO_EARLY", "before the stage began");
    assert_eq!(code(floor.now(said("09:00", "10:01"))), "TOO_LATE", "after the stage ended");
    assert_eq!(code(floor.now(said("09:00", "11:01"))), "INVALID_FIELD", "not come yet");
    assert_eq!(code(floor.now(said("09:30", "09:30"))), "INVALID_FIELD", "empty");
    assert_eq!(code(floor.now(correct(first))), "NOTHING_TO_DO");
    let elsewhere = |stage: &str| CorrectClocking { stage: Some(stage.into()), ..correct(first) };
    assert_eq!(code(floor.now(elsewhere("wash"))), "STAGE_STATE", "nobody began that");
    let moved = CorrectClocking { from_at: Some(at("08:06")), until_at: Some(at("08:09")), ..elsewhere("book-in") };
    assert_eq!(code(floor.now(moved)), "PERSON_ELSEWHERE");
    let beyond = CorrectClocking { job: Some(JobNo(7)), stage: Some("strip".into()), ..correct(first) };
    assert_eq!(code(floor.now(beyond)), "NOT_FOUND");
    assert_eq!(floor.shop.state.head, head, "what was refused made no fact");
    assert_eq!(span(&floor, "strip"), (at("09:00"), Some(at("10:00"))));
}

/// The vehicle goes somewhere, on a lead's word; Flint acts again afterwards.
fn goes(floor: &mut Floor, time: &str, command: impl Into<Command>) {
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    floor.late(time, command).unwrap();
    floor.acts(Some(flint), Role::Technician);
}

#[test]
fn a_correction_asks_for_the_place_and_the_skill() {
    let mut floor = stripped();
    let away = || Some("the lift is needed".to_owned());
    goes(&mut floor, "10:00", AssignJob { job: JOB, bay: "floor-1".into(), override_reason: away() });
    floor.now(start("wash")).unwrap();
    floor.shop.now = at("12:00");
    floor.late("11:15", ClockOff {}).unwrap();
    goes(&mut floor, "11:20", RollOut { job: JOB, override_reason: away() });
    let washed = entry(&floor, "wash");
    let longer = |until: &str| CorrectClocking { until_at: Some(at(until)), ..correct(washed) };
    assert_eq!(code(floor.now(longer("11:21"))), "NOT_IN_BAY_THEN");
    floor.now(longer("11:20")).unwrap();
    let (moss, flint) = (floor.moss, floor.flint);
    floor.acts(Some(moss), Role::Technician);
    floor.now(work("wash", "11:10", "11:20")).unwrap();
    let theirs = floor.work("wash").into_iter().find(|row| row.person == moss).unwrap().on_n;
    let unskilled = |override_reason| CorrectClocking {
        from_at: Some(at("09:10")),
        until_at: Some(at("09:20")),
        stage: Some("strip".into()),
        override_reason,
        ..correct(theirs)
    };
    assert_eq!(code(floor.now(unskilled(None))), "SKILL_MISSING");
    assert_eq!(code(floor.now(unskilled(why()))), "LEAD_ONLY");
    floor.acts(Some(flint), Role::Lead);
    floor.now(unskilled(why())).unwrap();
    let row = floor.work("strip").into_iter().find(|row| row.person == moss).unwrap().clone();
    assert!(row.overridden.is_some() && row.from_at == at("09:10"), "{row:?}");
}

#[test]
fn persons_correct_their_own_time_until_the_job_is_closed_and_a_lead_anybody_s() {
    let mut floor = stripped();
    let first = entry(&floor, "strip");
    let (moss, flint) = (floor.moss, floor.flint);
    let shorter = |entry, until: &str| CorrectClocking { until_at: Some(at(until)), ..correct(entry) };
    for actor in [Some(moss), None] {
        floor.acts(actor, Role::Technician);
        assert_eq!(code(floor.now(shorter(first, "09:50"))), "LEAD_ONLY");
        assert_eq!(code(floor.now(withdraw(first))), "LEAD_ONLY");
    }
    floor.acts(Some(moss), Role::Lead);
    floor.now(shorter(first, "09:50")).unwrap();
    assert_eq!(floor.work("strip")[0].person, flint, "it stays the time of whose it was");
    floor.now(CancelJob { job: JOB, reason: "sold".into(), as_it_is: false }).unwrap();
    floor.acts(Some(flint), Role::Technician);
    let first = entry(&floor, "strip");
    assert_eq!(code(floor.now(shorter(first, "09:45"))), "LEAD_ONLY", "the job is closed");
    floor.acts(Some(moss), Role::Lead);
    floor.now(shorter(first, "09:45")).unwrap();
    assert_eq!(minutes(&floor, "strip").0, 45);
}

#[test]
fn work_that_goes_on_gets_another_beginning_and_goes_on() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:10", ClockOff {}).unwrap();
    floor.at("09:30", on("strip")).unwrap();
    floor.shop.now = at("09:40");
    let second = floor.work("strip").into_iter().find(|row| row.until_at.is_none()).unwrap().on_n;
    let since = |time: &str| CorrectClocking { from_at: Some(at(time)), ..correct(second) };
    assert_eq!(code(floor.now(since("09:05"))), "PERSON_ELSEWHERE");
    assert_eq!(code(floor.now(since("09:41"))), "INVALID_FIELD");
    floor.now(since("09:20")).unwrap();
    let open: Vec<_> = floor.work("strip").into_iter().filter(|row| row.until_at.is_none()).collect();
    assert_eq!(open.iter().map(|row| row.from_at).collect::<Vec<_>>(), [at("09:20")]);
    floor.at("10:00", ClockOff {}).unwrap();
    assert_eq!(minutes(&floor, "strip").0, 50);
}

#[test]
fn a_stage_finished_by_mistake_goes_on_and_what_comes_after_it_waits_again() {
    let mut floor = stripped();
    assert_eq!(floor.stage("refit").ready_at, Some(at("10:30")));
    let told = floor.now(reopen("strip")).unwrap();
    assert!(told.notices.contains(&Notice::ClockOnAgain { stage: "strip".into() }), "{:?}", told.notices);
    assert_eq!((floor.stage("strip").state, floor.stage("strip").ended_at), (StageState::Active, None));
    assert_eq!((floor.stage("refit").ready_at, floor.stage("refit").waiting), (None, false));
    // The hour between has a label like any other: nobody worked, so it was idle. It adds up.
    assert_eq!(minutes(&floor, "strip"), (60, 170));
    assert_eq!(code(floor.now(start("refit"))), "NOT_READY");
    floor.now(on("strip")).unwrap();
    floor.at("11:30", finish("strip")).unwrap();
    assert_eq!(floor.stage("refit").ready_at, Some(at("12:00")));
    assert_eq!(minutes(&floor, "strip"), (90, 200));
}

fn refused(answer: Result<Answer, Refusal>, names: &str) -> &'static str {
    let refusal = answer.unwrap_err();
    assert!(refusal.to_string().contains(names), "{refusal}");
    refusal.reason()
}

#[test]
fn a_stage_stays_ended_once_something_behind_it_has_begun() {
    let mut floor = stripped();
    floor.now(start("refit")).unwrap();
    assert_eq!(refused(floor.now(reopen("strip")), "'refit'"), "BEGUN_BEHIND");
    floor.shop.now = at("11:10");
    floor.now(skip("refit")).unwrap();
    assert_eq!(refused(floor.now(reopen("strip")), "'refit'"), "BEGUN_BEHIND");
    assert_eq!(code(floor.late("10:05", reopen("refit"))), "TOO_EARLY");
    floor.now(reopen("refit")).unwrap();
    assert_eq!(floor.stage("refit").state, StageState::Active, "it had been started");
    assert_eq!(refused(floor.now(reopen("refit")), "has not ended"), "STAGE_STATE");
}

#[test]
fn a_stage_left_out_by_mistake_comes_back_with_the_steps_left_out_with_it() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor
        .at("09:05", SkipStep { job: JOB, stage: "strip".into(), step: StepNo(1), reason: "it is off".into() })
        .unwrap();
    floor.at("09:10", skip("strip")).unwrap();
    floor.at("09:20", reopen("strip")).unwrap();
    let states = |floor: &Floor| {
        floor
            .shop
            .state
            .steps
            .iter()
            .filter(|row| row.stage.as_str() == "strip")
            .map(|row| row.state)
            .collect::<Vec<_>>()
    };
    assert_eq!(states(&floor), [StepState::Skipped, StepState::Pending]);
    // Not started: it is ready again, with its wait when the end had cut that short.
    floor.at("09:30", finish("strip")).unwrap();
    floor.at("09:35", skip("refit")).unwrap();
    assert_eq!(floor.stage("refit").ready_at, Some(at("09:35")), "the wait was cut short");
    floor.at("09:40", reopen("refit")).unwrap();
    let refit = floor.stage("refit");
    assert_eq!((refit.state, refit.ready_at, refit.waiting), (StageState::Pending, Some(at("10:00")), true));
    floor.at("10:01", Tick {}).unwrap();
    assert!(!floor.stage("refit").waiting);
}

#[test]
fn a_step_is_taken_back_while_its_stage_goes_on() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    assert_eq!(code(floor.now(untick(1))), "NOTHING_TO_DO");
    floor.at("09:10", tick(1)).unwrap();
    assert_eq!(code(floor.late("09:09", untick(1))), "TOO_EARLY");
    floor.at("09:20", untick(1)).unwrap();
    let row = floor.shop.state.steps.get(&(JOB, "strip".into(), StepNo(1))).unwrap();
    assert_eq!((row.state, row.done_at, row.done_by), (StepState::Pending, None, None));
    floor.at("09:30", finish("strip")).unwrap();
    assert_eq!(refused(floor.now(untick(1)), "stage reopen"), "STAGE_STATE");
    floor.now(reopen("strip")).unwrap();
    floor.now(untick(2)).unwrap();
}
