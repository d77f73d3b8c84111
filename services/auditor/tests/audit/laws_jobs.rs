//! Each law of jobs, stages, steps and blockers with rows that break it.

use crate::kit::{JOB, id, minute, strip, text};
use crate::laws::{any, broken, broken_by, edit};
use leadhand_auditor::Books;
use leadhand_facts::rows::{
    BlockerRow, ClockingRow, FluidRow, HoldRow, JobRow, PlaceRow, PlanJobRow, PlanStageRow, PlanVisitRow,
    ReservationRow, ShopRow, ShortageRow, StagePinRow, StageRow, StayRow, StepRow, VehicleStateRow,
};
use leadhand_facts::words::{JobState, StageState, StepState, VehicleState};
use leadhand_facts::{BlockerNo, JobNo, Quantity, StayId};

const SOUND: [&str; 0] = [];

fn is(key: &'static str) -> impl Fn(&StageRow) -> bool {
    move |row| row.stage.as_str() == key
}

#[test]
fn a_stage_s_state_agrees_with_its_times() {
    // `strip` is finished, `drill` skipped, `refit` pending.
    assert_eq!(broken_by(is("strip"), |row| row.state = StageState::Active), ["stage-state"]);
    assert_eq!(broken_by(is("refit"), |row| row.state = StageState::Active), ["stage-state"]);
    assert_eq!(broken_by(is("drill"), |row| row.reason = None), ["stage-state"]);
    assert_eq!(broken_by(is("refit"), |row| row.reason = Some(text(8).id)), ["stage-state"]);
    assert_eq!(broken_by(is("strip"), |row| row.started_n = None), ["stage-state"]);
    assert_eq!(broken_by(is("strip"), |row| row.ready_n = None), ["stage-state"]);
    assert_eq!(broken_by(is("strip"), |row| row.ended_n = None), ["stage-state"]);
    assert_eq!(broken_by(is("refit"), |row| row.waiting = true), ["stage-state"]);
    assert_eq!(broken_by(is("strip"), |row| row.waiting = true), ["stage-state"]);
    let late = broken(|books| {
        edit(books, is("strip"), |row| row.started_at = Some(minute(21)));
    });
    assert_eq!(late, ["stage-state"]);
}

#[test]
fn a_stage_is_ready_after_what_comes_before_and_started_when_ready() {
    let ready = |books: &mut Books, key, at| {
        edit(books, is(key), |row| {
            row.ready_at = Some(minute(at));
            row.ready_n = Some(1);
        });
    };
    // `refit` comes 10 minutes after `strip` (minute 20), and after `drill` (skipped at 21).
    assert_eq!(broken(|books| ready(books, "refit", 29)), ["precedence"]);
    assert_eq!(broken(|books| ready(books, "refit", 30)), SOUND);
    let unfinished = broken(|books| {
        ready(books, "refit", 30);
        edit(books, is("drill"), |row| {
            row.state = StageState::Pending;
            row.ended_at = None;
            row.ended_n = None;
            row.reason = None;
        });
    });
    assert_eq!(unfinished, ["precedence"]);
    let start = |books: &mut Books, at| {
        edit(books, is("refit"), |row| {
            row.state = StageState::Active;
            row.started_at = Some(minute(at));
            row.started_n = Some(1);
        });
    };
    assert_eq!(broken(|books| start(books, 30)), ["precedence"]);
    let before = |books: &mut Books| {
        ready(books, "refit", 30);
        start(books, 29);
    };
    assert_eq!(broken(before), ["precedence"]);
    let at_once = |books: &mut Books| {
        ready(books, "refit", 30);
        start(books, 30);
    };
    assert_eq!(broken(at_once), SOUND);
    // `strip` was started on a lead's word, so it need not have been ready.
    assert_eq!(broken(|books| ready(books, "strip", 19)), SOUND);
}

#[test]
fn a_wait_is_cut_short_only_by_the_end_of_what_was_left_out() {
    let left_out = |ready: i64, ended: i64| {
        broken_by(is("refit"), move |row: &mut StageRow| {
            row.state = StageState::Skipped;
            row.ready_at = Some(minute(ready));
            row.ready_n = Some(1);
            row.ended_at = Some(minute(ended));
            row.ended_n = Some(1);
            row.reason = Some(text(8).id);
        })
    };
    // `strip` ended at 20 with a wait of 10 behind it, `drill` at 21.
    assert_eq!(left_out(25, 25), SOUND);
    assert_eq!(left_out(25, 26), ["precedence"], "ready during the wait");
    assert_eq!(left_out(20, 20), ["precedence"], "before what comes before it had ended");
    assert_eq!(left_out(30, 30), SOUND);
}

/// `strip` ended at minute 20.
#[test]
fn nothing_about_a_stage_is_later_than_its_end() {
    assert_eq!(broken_by(is("strip"), |row| row.ready_at = Some(minute(21))), ["stage-end"]);
    let done = |row: &StepRow| row.stage == strip() && row.done_at.is_some();
    assert_eq!(broken_by(done, |row| row.done_at = Some(minute(20))), SOUND);
    assert_eq!(broken_by(done, |row| row.done_at = Some(minute(21))), ["stage-end"]);
    assert_eq!(broken_by(any::<BlockerRow>, |row| row.cleared_at = Some(minute(20))), SOUND);
    assert_eq!(broken_by(any::<BlockerRow>, |row| row.cleared_at = Some(minute(21))), ["stage-end"]);
    assert_eq!(broken_by(any::<ClockingRow>, |row| row.until_at = Some(minute(20))), SOUND);
    assert_eq!(broken_by(any::<ClockingRow>, |row| row.until_at = Some(minute(21))), ["stage-end"]);
}

#[test]
fn steps_and_blockers_agree_with_their_times() {
    let of = |step: i32| move |row: &StepRow| row.stage == strip() && row.step.0 == step;
    assert_eq!(broken_by(of(1), |row| row.state = StepState::Pending), ["step"]);
    assert_eq!(broken_by(of(1), |row| row.done_n = None), ["step"]);
    assert_eq!(broken_by(of(2), |row| row.reason = None), ["step"]);
    assert_eq!(broken_by(of(2), |row| row.done_by = Some(crate::kit::PERSON)), ["step"]);
    assert_eq!(broken_by(of(3), |row| row.state = StepState::Done), ["step"]);
    assert_eq!(broken_by(any::<BlockerRow>, |row| row.cleared_at = Some(minute(16))), ["blocker"]);
    assert_eq!(broken_by(any::<BlockerRow>, |row| row.cleared_n = None), ["blocker"]);
    assert_eq!(broken_by(any::<BlockerRow>, |row| row.blocker = BlockerNo(2)), ["blocker"]);
}

fn job(number: i64) -> impl Fn(&JobRow) -> bool {
    move |row| row.job == JobNo(number)
}

#[test]
fn a_job_s_state_agrees_with_its_times_and_counts() {
    assert_eq!(broken_by(job(3), |row| row.closed_at = None), ["job-state"]);
    assert_eq!(broken_by(job(3), |row| row.closed_at = Some(minute(29))), ["job-state"]);
    assert_eq!(broken_by(job(2), |row| row.reason = None), ["job-state"]);
    assert_eq!(broken_by(any::<ShopRow>, |row| row.last_job = 2), ["job-state"]);
    assert_eq!(broken_by(|row: &PlaceRow| row.job == Some(JOB), |row| row.job = None), ["job-state"]);
}

/// Closes job 1, whose stage `refit` is pending and which is short of one gasket set.
fn close(books: &mut Books, state: JobState) {
    edit(books, job(1), |row| {
        row.state = state;
        row.closed_at = Some(minute(40));
        row.reason = (state == JobState::Cancelled).then_some(text(8).id);
    });
    // What was planned and pinned of it went with it.
    let tables = books.tables_mut();
    let stages: Vec<_> = tables.map::<PlanStageRow>().keys().cloned().collect();
    for key in &stages {
        tables.remove::<PlanStageRow>(key);
    }
    let visits: Vec<_> = tables.map::<PlanVisitRow>().keys().copied().collect();
    for key in &visits {
        tables.remove::<PlanVisitRow>(key);
    }
    let pins: Vec<_> = tables.map::<StagePinRow>().keys().cloned().collect();
    for key in &pins {
        tables.remove::<StagePinRow>(key);
    }
    tables.remove::<PlanJobRow>(&(JOB,));
}

/// Job 1 with nothing left open, and closed.
fn closed(books: &mut Books, state: JobState) {
    close(books, state);
    edit(books, any::<ShortageRow>, |row| {
        row.quantity = Quantity(0);
        row.closed_n = Some(1);
    });
    edit(books, any::<leadhand_facts::rows::DemandRow>, |row| row.short = Quantity(0));
    edit(books, is("refit"), |row| {
        row.state = StageState::Skipped;
        row.ended_at = Some(minute(39));
        row.ended_n = Some(1);
        row.reason = Some(text(8).id);
    });
    edit(books, any::<FluidRow>, |row| row.filled_ml = row.drained_ml);
    edit(books, any::<VehicleStateRow>, |row| row.state = VehicleState::BatteryConnected);
}

#[test]
fn a_closed_job_has_nothing_open() {
    assert_eq!(broken(|books| closed(books, JobState::Completed)), SOUND);
    assert_eq!(broken(|books| close(books, JobState::Cancelled)), ["job-closed"], "a shortage");
    let with = |state: JobState, open: &dyn Fn(&mut Books)| {
        broken(|books| {
            closed(books, state);
            open(books);
        })
    };
    let pending = |books: &mut Books| {
        edit(books, is("refit"), |row| {
            row.state = StageState::Pending;
            row.ended_at = None;
            row.ended_n = None;
            row.reason = None;
        });
    };
    assert_eq!(with(JobState::Completed, &pending), ["job-closed"]);
    assert_eq!(with(JobState::Cancelled, &pending), SOUND);
    let blocked = |books: &mut Books| {
        edit(books, any::<BlockerRow>, |row| {
            row.cleared_at = None;
            row.cleared_n = None;
        });
    };
    assert_eq!(with(JobState::Completed, &blocked), ["job-closed"]);
    assert_eq!(with(JobState::Cancelled, &blocked), SOUND);
    let inside = |books: &mut Books| {
        let row = books.rows::<StayRow>().next().unwrap().clone();
        let (stay, from_at) = (StayId(id(0x99)), row.until_at.unwrap());
        books.tables_mut().put(StayRow { stay, from_at, until_at: None, why_left: None, until_n: None, ..row });
    };
    assert_eq!(with(JobState::Cancelled, &inside), ["job-closed"]);
    let clocked = |books: &mut Books| {
        edit(books, any::<ClockingRow>, |row| {
            row.until_at = None;
            row.off_n = None;
        });
    };
    assert_eq!(with(JobState::Completed, &clocked), ["clocking", "place", "job-closed"]);
    let reserved = |books: &mut Books| {
        edit(books, any::<ReservationRow>, |row| row.quantity = Quantity(1));
        edit(books, |row: &HoldRow| row.place.as_str() == "bin-a", |row| row.reserved = Quantity(1));
        edit(books, any::<leadhand_facts::rows::DemandRow>, |row| row.reserved = Quantity(1));
    };
    assert_eq!(with(JobState::Cancelled, &reserved), ["hold", "job-closed"], "and all of the stock is expired");
}
