//! Labels of a stage's time, against counts made by hand.
//!
//! The precedence is that of promise 5: worked, outside hours, the earliest open blocker,
//! planned wait, idle.

use crate::kit::minute;
use leadhand_auditor::labels::{Held, LabelSeconds, Life, Mark, label_at, labels_by_second};
use leadhand_facts::BlockerNo;
use leadhand_facts::instant::Window;
use leadhand_facts::words::Cause;
use std::collections::BTreeMap;

fn held(blocker: i32, cause: Cause, since: i64, until: Option<i64>) -> Held {
    Held { blocker: BlockerNo(blocker), cause, since: minute(since), until: until.map(minute) }
}

/// A stage of 100 minutes, of kind wait with at most 30 minutes from minute 40 on; the shop is
/// closed from 80 to 90.
fn life() -> Life {
    let open = |from, until| Window { from: minute(from), until: minute(until) };
    Life {
        from: minute(0),
        until: minute(100),
        started_at: Some(minute(40)),
        wait_high_minutes: Some(30),
        open: vec![open(-60, 80), open(90, 600)],
        worked: vec![(minute(10), Some(minute(20))), (minute(15), Some(minute(25))), (minute(85), Some(minute(86)))],
        blockers: vec![
            held(1, Cause::Tool, 20, Some(50)),
            held(2, Cause::Customer, 30, Some(55)),
            held(3, Cause::Part, 95, None),
        ],
    }
}

#[test]
fn every_second_has_the_label_that_takes_precedence() {
    let seconds = LabelSeconds {
        worked: 60 * (15 + 1),
        outside: 60 * 9,
        blocked: BTreeMap::from([(Cause::Tool, 60 * 25), (Cause::Customer, 60 * 5), (Cause::Part, 60 * 5)]),
        wait: 60 * 15,
        idle: 60 * (10 + 10 + 5),
        labour: 60 * (10 + 10 + 1),
    };
    assert_eq!(labels_by_second(&life()), seconds);
    assert_eq!(seconds.total(), 60 * 100);
}

#[test]
fn a_wait_begins_with_its_start_and_not_before() {
    let quiet = Life { worked: Vec::new(), blockers: Vec::new(), ..life() };
    assert_eq!(labels_by_second(&quiet).wait, 60 * 30);
    assert_eq!(label_at(&quiet, minute(39)), Mark::Idle);
    assert_eq!(label_at(&quiet, minute(40)), Mark::Wait);
    assert_eq!(label_at(&quiet, minute(70)), Mark::Idle);
    assert_eq!(labels_by_second(&Life { started_at: None, ..quiet.clone() }).wait, 0);
    assert_eq!(labels_by_second(&Life { wait_high_minutes: None, ..quiet }).wait, 0);
}

#[test]
fn the_earliest_open_blocker_gives_the_cause() {
    let both = |first, second| Life {
        worked: Vec::new(),
        blockers: vec![held(2, Cause::Customer, second, None), held(1, Cause::Tool, first, Some(30))],
        ..life()
    };
    assert_eq!(label_at(&both(10, 20), minute(25)), Mark::Blocked(Cause::Tool));
    assert_eq!(label_at(&both(10, 20), minute(30)), Mark::Blocked(Cause::Customer));
    assert_eq!(label_at(&both(20, 10), minute(25)), Mark::Blocked(Cause::Customer));
    assert_eq!(label_at(&both(20, 20), minute(25)), Mark::Blocked(Cause::Tool), "of two at once, the lower number");
}

#[test]
fn what_goes_on_has_no_end_and_an_empty_life_no_label() {
    let working = Life { worked: vec![(minute(98), None)], ..life() };
    assert_eq!(labels_by_second(&working).worked, 120);
    assert_eq!(labels_by_second(&Life { until: minute(0), ..life() }), LabelSeconds::default());
}
