//! The time audit on a shop made by hand: figures are added up beside each check.

mod by_hand;

use by_hand::{ANN, BOB, Hand, JOB, at, id};
use leadhand_domain::view::audit::{AuditLine, By, Subject, audit};
use leadhand_domain::view::lost::lost;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::words::{Cause, Label};
use leadhand_facts::*;

/// Drain: ready 08:00, started 08:10, Ann on 08:10 to 08:40, Bob on 08:20 to 08:30, held up by a
/// tool from 08:05 to 08:50, finished 09:00. Strip: ready 09:00, work of Bob entered late from
/// 08:50 to 09:10. In lift-1 from 08:00 on. Looked at from 09:30.
fn morning() -> Hand {
    let mut hand = Hand::with_job(None);
    hand.place(0, JOB, "lift-1");
    let (job, blocker, cause) = (JOB, BlockerNo(1), Cause::Tool);
    let (owner, expected_at, note, step, item) = (None, None, None, None, None);
    hand.fact(
        5,
        Fact::BlockerRaised {
            job,
            blocker,
            stage: "drain".into(),
            cause,
            owner,
            expected_at,
            note,
            step,
            item,
            reading: None,
            tool: None,
        },
    );
    hand.start(10, "drain");
    hand.on(10, 0xc1, ANN, "drain");
    hand.on(20, 0xc2, BOB, "drain");
    hand.off(30, 0xc2, BOB, "drain");
    hand.off(40, 0xc1, ANN, "drain");
    hand.fact(50, Fact::BlockerCleared { job, blocker, note: None });
    hand.finish(60, "drain");
    hand.fact(60, Fact::StageReady { job, stage: "strip".into(), ready_at: at(60), waits: false });
    let (clocking, person, stage) = (ClockingId(id(0xc3)), BOB, StageKey::from("strip"));
    let (from_at, until_at, overridden) = (at(50), at(70), None);
    hand.fact(80, Fact::WorkRecorded { clocking, person, job, stage, from_at, until_at, overridden });
    hand.agrees_with_the_auditor();
    hand
}

fn minutes(us: i64) -> i64 {
    assert_eq!(us % MINUTE_US, 0);
    us / MINUTE_US
}

fn figures(line: &AuditLine) -> [i64; 5] {
    let totals = &line.totals;
    [totals.worked_us, totals.outside_us, totals.all_blocked_us(), totals.wait_us, totals.idle_us].map(minutes)
}

#[test]
fn by_stage_with_its_segments() {
    let report = audit(&morning().state, at(90), By::Stage);
    let [drain, strip, cure, _] = report.lines.as_slice() else { panic!("a line for each of four stages") };
    assert_eq!(drain.subject, Subject::Stage { job: JOB, place: 1, stage: "drain".into() });
    // Idle 0-5 and 50-60, blocked 5-10 and 40-50, worked 10-40: 60 in all.
    assert_eq!(figures(drain), [30, 0, 15, 0, 15]);
    let labels: Vec<Label> = drain.segments.iter().map(|segment| segment.label).collect();
    assert_eq!(labels, [Label::Idle, Label::Blocked, Label::Worked, Label::Blocked, Label::Idle]);
    assert_eq!(minutes(drain.all_labour_us()), 40, "each person counts");
    let planned = drain.planned.expect("a stage has its minutes");
    assert_eq!((planned.low, planned.likely, planned.high), (10, 20, 40));
    // Ready at 60; the late entry from 50 to 70 is worked from 60 on, and labour in full.
    assert_eq!(figures(strip), [10, 0, 0, 0, 20]);
    assert_eq!(minutes(strip.all_labour_us()), 20);
    assert_eq!((cure.life, cure.segments.len()), (None, 0));
}

#[test]
fn what_was_lost_is_cut_where_a_stretch_ends() {
    let state = morning().state;
    let report = lost(&state, at(90), &[0, 8, 30, 45, 90].map(at));
    let told: Vec<(i64, i64, i64)> = report
        .lines
        .iter()
        .map(|line| {
            let Subject::Lost { window, cause: Cause::Tool } = &line.subject else { panic!("{:?}", line.subject) };
            let minute = |at: Instant| minutes(at.since_us(self::at(0)));
            (minute(window.from), minute(window.until), minutes(line.totals.all_blocked_us()))
        })
        .collect();
    // Held up 5-10 and 40-50 with nobody on it: from 8 on only two minutes of the first are left, work runs from 10 to 40,
    // and 45 halves the second.
    assert_eq!(told, [(0, 8, 3), (8, 30, 2), (30, 45, 5), (45, 90, 5)]);
    for line in &report.lines {
        assert_eq!((line.counts.stages, line.counts.jobs), (1, 1), "{:?}", line.subject);
        assert!(!line.facts.is_empty() && line.planned.is_none());
    }
    let all: i64 = report.lines.iter().map(|line| line.totals.all_blocked_us()).sum();
    let whole: i64 = audit(&state, at(90), By::Cause).lines.iter().map(|line| line.totals.all_blocked_us()).sum();
    assert_eq!(all, whole, "cutting loses nothing");
    assert_eq!(lost(&state, at(90), &[at(10), at(40)]).lines, [], "work, not loss");
}

#[test]
fn by_job_with_bay_time_and_facts() {
    let hand = morning();
    let report = audit(&hand.state, at(90), By::Job);
    let [line] = report.lines.as_slice() else { panic!("one job") };
    assert_eq!(figures(line), [40, 0, 15, 0, 35]);
    assert_eq!(line.occupied_us.map(minutes), Some(90));
    assert_eq!(minutes(line.all_labour_us()), 60);
    assert_eq!((line.counts.jobs, line.counts.stages, line.counts.finished, line.counts.blockers), (1, 4, 1, 1));
    // Every fact about the time of this job can be found from its line.
    let timed = hand.entries.iter().filter(|entry| {
        matches!(
            entry.fact,
            Fact::VehiclePlaced { .. }
                | Fact::BlockerRaised { .. }
                | Fact::BlockerCleared { .. }
                | Fact::StageReady { .. }
                | Fact::StageStarted { .. }
                | Fact::StageFinished { .. }
                | Fact::ClockedOn { .. }
                | Fact::ClockedOff { .. }
                | Fact::WorkRecorded { .. }
        )
    });
    let numbers: Vec<i64> = timed.map(|entry| entry.number).collect();
    assert!(numbers.iter().all(|n| line.facts.contains(n)), "{numbers:?} in {:?}", line.facts);
    assert_eq!(report.names.len(), 2);
}

#[test]
fn by_template_and_by_cause() {
    let hand = morning();
    let templates = audit(&hand.state, at(90), By::Template);
    assert_eq!(templates.lines[0].subject, Subject::Template { template: None, revision: None });
    assert_eq!(figures(&templates.lines[0]), [40, 0, 15, 0, 35]);
    let causes = audit(&hand.state, at(90), By::Cause);
    let [tool] = causes.lines.as_slice() else { panic!("one cause") };
    assert_eq!(tool.subject, Subject::Cause(Cause::Tool));
    assert_eq!(figures(tool), [0, 0, 15, 0, 0], "not while Ann worked on it");
    assert_eq!((tool.counts.blockers, tool.counts.stages, tool.counts.jobs), (1, 1, 1));
    assert_eq!((tool.planned, tool.occupied_us), (None, None));
}

/// Over a night nothing is lost: from Monday 09:00 to Tuesday 09:30 strip is outside for the 15
/// hours between closing and opening.
#[test]
fn nights_are_outside() {
    let report = audit(&morning().state, at(1440 + 90), By::Stage);
    assert_eq!(figures(&report.lines[1]), [10, 900, 0, 0, 560]);
}
