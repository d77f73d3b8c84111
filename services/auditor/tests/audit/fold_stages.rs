//! Facts about stages, steps and blockers.

use crate::kit::{JOB, Journal, PERSON, all, minute, one, refused, stage, step, strip, text};
use leadhand_facts::fact::{JobStep, Wording};
use leadhand_facts::rows::{AfterRow, BlockerRow, JobRow, StageRow, StepRow};
use leadhand_facts::words::{Cause, StageState, StepState};
use leadhand_facts::{BlockerNo, Fact, StageKey, StepNo};

fn ready(key: &str, at: i64, waits: bool) -> Fact {
    Fact::StageReady { job: JOB, stage: key.into(), ready_at: minute(at), waits }
}

fn held(key: &str) -> Fact {
    Fact::StageHeld { job: JOB, stage: key.into() }
}

fn passed(key: &str) -> Fact {
    Fact::WaitPassed { job: JOB, stage: key.into() }
}

fn started(key: &str) -> Fact {
    Fact::StageStarted { job: JOB, stage: key.into(), person: Some(PERSON), overridden: None }
}

fn finished(key: &str) -> Fact {
    Fact::StageFinished { job: JOB, stage: key.into(), person: Some(PERSON) }
}

fn skipped(key: &str) -> Fact {
    Fact::StageSkipped { job: JOB, stage: key.into(), reason: text(8) }
}

/// `working` with facts that happened at minutes 1, 2, 3, …
fn after(facts: Vec<Fact>) -> Journal {
    let mut journal = Journal::working();
    for (minutes, fact) in (1..).zip(facts) {
        journal.at(minutes, fact);
    }
    journal
}

/// The stage `strip` after facts at minutes 1, 2, 3, … (numbers 9, 10, 11, …).
fn strip_after(facts: Vec<Fact>) -> StageRow {
    one(&after(facts).books(), &(JOB, strip()))
}

#[test]
fn a_stage_goes_from_pending_to_finished() {
    let pending = strip_after(Vec::new());
    let is_ready = StageRow { ready_at: Some(minute(5)), ready_n: Some(9), waiting: true, ..pending };
    assert_eq!(strip_after(vec![ready("strip", 5, true)]), is_ready);
    let may_start = StageRow { waiting: false, ..is_ready.clone() };
    assert_eq!(strip_after(vec![ready("strip", 5, true), passed("strip")]), may_start);
    let state = StageState::Active;
    let active = StageRow { state, started_at: Some(minute(2)), started_n: Some(10), waiting: false, ..is_ready };
    assert_eq!(strip_after(vec![ready("strip", 5, true), started("strip")]), active);
    let state = StageState::Finished;
    // Its end cuts the wait short.
    let ready_at = Some(minute(3));
    let done = StageRow { state, ready_at, ended_at: Some(minute(3)), ended_n: Some(11), ..active };
    assert_eq!(strip_after(vec![ready("strip", 5, true), started("strip"), finished("strip")]), done);
}

#[test]
fn a_stage_is_held_and_ready_again_or_skipped() {
    let pending = strip_after(Vec::new());
    assert_eq!(strip_after(vec![ready("strip", 5, true), held("strip")]), pending);
    let again = StageRow { ready_at: Some(minute(3)), ready_n: Some(11), ..pending.clone() };
    assert_eq!(strip_after(vec![ready("strip", 5, true), held("strip"), ready("strip", 3, false)]), again);
    let left_out = StageRow {
        state: StageState::Skipped,
        ended_at: Some(minute(1)),
        ended_n: Some(9),
        reason: Some(text(8).id),
        ..pending
    };
    assert_eq!(strip_after(vec![skipped("strip")]), left_out);
}

#[test]
fn overrides_are_kept_as_evidence() {
    let overridden = Some(text(8));
    let fact = Fact::StageStarted { job: JOB, stage: strip(), person: None, overridden };
    let books = after(vec![fact]).books();
    assert!(books.overrides().contains(&(JOB, strip())));
    assert_eq!(one::<StageRow>(&books, &(JOB, strip())).ready_at, None);
    assert!(after(vec![started("strip")]).books().overrides().is_empty());
}

#[test]
fn stages_refuse_what_their_state_does_not_allow() {
    let at_ready = || after(vec![ready("strip", 1, false)]);
    let at_start = || after(vec![ready("strip", 1, false), started("strip")]);
    let at_end = || after(vec![started("strip"), finished("strip")]);
    refused(at_ready, 9, ready("strip", 9, false), "stage", "was ready before");
    refused(at_ready, 9, passed("strip"), "stage", "no wait that could pass");
    refused(Journal::working, 9, ready("strip", 9, true), "stage", "no wait left");
    refused(Journal::working, 9, held("strip"), "stage", "was not ready");
    refused(Journal::working, 9, finished("strip"), "stage", "is pending and can't become finished");
    refused(at_start, 9, held("strip"), "stage", "is active");
    refused(at_start, 9, started("strip"), "stage", "is active and can't become active");
    refused(at_end, 9, finished("strip"), "stage", "is finished and can't become finished");
    refused(at_end, 9, skipped("strip"), "stage", "is finished and can't become skipped");
    refused(Journal::working, 9, started("wash"), "stage", "unknown");
    let mut journal = at_start();
    journal.late(1, 9, finished("strip"));
    assert!(journal.fault().sentence.contains("ends before it started"));
}

fn added(before: &[&str]) -> Fact {
    let before = before.iter().map(|key| StageKey::from(*key)).collect();
    Fact::StageAdded { job: JOB, stage: stage("drill", 5, 1, &[("strip", 7)]), before }
}

#[test]
fn a_stage_added_in_front_of_others_becomes_their_predecessor() {
    let books = after(vec![added(&["refit"])]).books();
    let row = |stage: &str, after: &str, wait_minutes| AfterRow {
        job: JOB,
        stage: stage.into(),
        after: after.into(),
        wait_minutes,
    };
    let rows = [row("drill", "strip", 7), row("refit", "drill", 0), row("refit", "strip", 10)];
    assert_eq!(all::<AfterRow>(&books), rows);
    let job = one::<JobRow>(&books, &(JOB,));
    assert_eq!((job.last_stage, job.version), (5, 9));
    assert_eq!(one::<StageRow>(&books, &(JOB, "drill".into())).last_step, 1);
    refused(|| after(vec![started("refit")]), 9, added(&["refit"]), "stage_after", "is active and can't wait");
    refused(|| after(vec![added(&[])]), 9, added(&[]), "stage", "there already");
    refused(Journal::working, 9, added(&["wash"]), "stage", "unknown");
}

#[test]
fn steps_are_done_skipped_and_added() {
    let done = Fact::StepDone { job: JOB, stage: strip(), step: StepNo(1), person: Some(PERSON), overridden: None };
    let skip = Fact::StepSkipped { job: JOB, stage: strip(), step: StepNo(2), reason: text(8) };
    let typed = JobStep { instruction: Wording::Typed(text(9)), unplanned: true, ..step(3) };
    let add = Fact::StepAdded { job: JOB, stage: strip(), step: typed };
    let facts = vec![done.clone(), skip.clone(), add.clone()];
    let before = Journal::working().books();
    let books = after(facts.clone()).books();
    let first: StepRow = one(&before, &(JOB, strip(), StepNo(1)));
    let (done_at, done_by, done_n) = (Some(minute(1)), Some(PERSON), Some(9));
    let first = StepRow { state: StepState::Done, done_at, done_by, done_n, ..first };
    assert_eq!(one::<StepRow>(&books, &(JOB, strip(), StepNo(1))), first);
    let second: StepRow = one(&before, &(JOB, strip(), StepNo(2)));
    let (done_at, done_n, reason) = (Some(minute(2)), Some(10), Some(text(8).id));
    let second = StepRow { state: StepState::Skipped, done_at, done_n, reason, ..second };
    assert_eq!(one::<StepRow>(&books, &(JOB, strip(), StepNo(2))), second);
    let third: StepRow = one(&books, &(JOB, strip(), StepNo(3)));
    assert_eq!((third.instruction, third.instruction_text, third.unplanned), (None, Some(text(9).id), true));
    assert_eq!(one::<StageRow>(&books, &(JOB, strip())).last_step, 3);
    assert_eq!(one::<JobRow>(&books, &(JOB,)).version, 11);

    refused(|| after(facts.clone()), 9, done, "step", "is done already");
    refused(|| after(facts.clone()), 9, skip, "step", "is skipped already");
    refused(|| after(facts.clone()), 9, add, "step", "there already");
    let unknown = Fact::StepDone { job: JOB, stage: strip(), step: StepNo(9), person: None, overridden: None };
    refused(Journal::working, 9, unknown, "step", "unknown");
}

fn raised(blocker: i32, step: Option<i32>) -> Fact {
    Fact::BlockerRaised {
        job: JOB,
        blocker: BlockerNo(blocker),
        stage: strip(),
        cause: Cause::Part,
        owner: Some(PERSON),
        expected_at: Some(minute(99)),
        note: Some(text(8)),
        step: step.map(StepNo),
        item: Some("gasket".into()),
        reading: None,
        tool: None,
    }
}

fn cleared(blocker: i32) -> Fact {
    Fact::BlockerCleared { job: JOB, blocker: BlockerNo(blocker), note: Some(text(9)) }
}

#[test]
fn blockers_are_raised_and_cleared() {
    let open = BlockerRow {
        job: JOB,
        blocker: BlockerNo(1),
        stage: strip(),
        cause: Cause::Part,
        owner: Some(PERSON),
        expected_at: Some(minute(99)),
        note: Some(text(8).id),
        step: Some(StepNo(1)),
        item: Some("gasket".into()),
        reading: None,
        tool: None,
        since: minute(1),
        raised_n: 9,
        cleared_at: None,
        cleared_n: None,
        cleared_note: None,
    };
    let books = after(vec![raised(1, Some(1))]).books();
    assert_eq!(all::<BlockerRow>(&books), std::slice::from_ref(&open));
    assert_eq!(one::<JobRow>(&books, &(JOB,)).last_blocker, 1);
    let (cleared_at, cleared_n, cleared_note) = (Some(minute(2)), Some(10), Some(text(9).id));
    let gone = BlockerRow { cleared_at, cleared_n, cleared_note, ..open };
    let both = || after(vec![raised(1, Some(1)), cleared(1)]);
    assert_eq!(all::<BlockerRow>(&both().books()), [gone]);

    refused(both, 9, cleared(1), "blocker", "was cleared before");
    refused(both, 9, cleared(2), "blocker", "unknown");
    refused(both, 9, raised(3, None), "blocker", "should be 2");
    refused(both, 9, raised(2, Some(7)), "step", "unknown");
    // What ended it was entered with a time before it began: it held nothing up.
    let mut journal = after(vec![raised(1, None)]);
    journal.late(0, 9, cleared(1));
    let gone = all::<BlockerRow>(&journal.books());
    assert_eq!(gone[0].cleared_at, Some(gone[0].since));
}
