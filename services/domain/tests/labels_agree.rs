//! The labels of a stage's time against the auditor's count, second by second (promise 5 in the
//! design: exclusive, gapless, adding up; worked, outside hours, earliest open blocker, planned
//! wait, idle).

use leadhand_auditor::{LabelSeconds, labels_by_second};
use leadhand_domain::labels::{Held, LabelTotals, Life, Opening, Segment, StageTimes, Work, labels, labour, totals};
use leadhand_facts::words::{Cause, Label, StageKind};
use leadhand_facts::{BlockerNo, Instant, PersonId, Window};
use proptest::prelude::*;
use uuid::Uuid;

const SECOND: i64 = 1_000_000;

fn person(n: u128) -> PersonId {
    PersonId(Uuid::from_u128(n))
}

fn opening(from: Instant, until: Instant) -> Opening {
    Opening { window: Window { from, until }, set_n: 1 }
}

fn auditors(times: &StageTimes<'_>) -> LabelSeconds {
    let held = |held: &Held| leadhand_auditor::labels::Held {
        blocker: held.blocker,
        cause: held.cause,
        since: held.from,
        until: held.until,
    };
    labels_by_second(&leadhand_auditor::Life {
        from: times.life.from,
        until: times.life.until,
        started_at: times.started_at,
        wait_high_minutes: (times.kind == StageKind::Wait).then_some(times.high_minutes),
        open: times.open.iter().map(|opening| opening.window).collect(),
        worked: times.work.iter().map(|work| (work.from, work.until)).collect(),
        blockers: times.blockers.iter().map(held).collect(),
    })
}

/// In order, no gap, no overlap, no two alike side by side, from end to end of the life.
fn check_whole(segments: &[Segment], life: Life) {
    let mut reached = life.from;
    for segment in segments {
        assert_eq!(segment.from, reached, "a gap or an overlap");
        assert!(segment.from < segment.until, "an empty segment");
        assert_eq!(segment.label == Label::Blocked, segment.cause.is_some(), "a cause belongs to blocked");
        assert!(segment.facts.is_sorted(), "facts are in order");
        reached = segment.until;
    }
    assert_eq!(reached, life.until, "the end is missing");
    for pair in segments.windows(2) {
        assert_ne!((pair[0].label, pair[0].cause), (pair[1].label, pair[1].cause), "alike side by side");
    }
    assert_eq!(LabelTotals::of(segments).elapsed_us(), life.length_us());
}

fn check_seconds(times: &StageTimes<'_>) -> LabelTotals {
    let segments = labels(times);
    check_whole(&segments, times.life);
    let added = LabelTotals::of(&segments);
    assert_eq!(totals(times), added, "added up without segments it is the same");
    let totals = added;
    let seconds = auditors(times);
    assert_eq!(totals.worked_us, seconds.worked * SECOND);
    assert_eq!(totals.outside_us, seconds.outside * SECOND);
    assert_eq!(totals.wait_us, seconds.wait * SECOND);
    assert_eq!(totals.idle_us, seconds.idle * SECOND);
    let blocked = seconds.blocked.into_iter().map(|(cause, s)| (cause, s * SECOND)).collect();
    assert_eq!(totals.blocked_us, blocked);
    totals
}

/// Ends on a grid of `grid` microseconds, some before and after the life of 0 to 5,400 steps.
fn stretches(most: usize) -> impl Strategy<Value = Vec<(i64, Option<i64>)>> {
    let stretch = (-600_i64..6_000, prop_oneof![4 => (1_i64..2_400).prop_map(Some), 1 => Just(None)]);
    prop::collection::vec(stretch.prop_map(|(from, length)| (from, length.map(|length| from + length))), 0..most)
}

type Drawn =
    (Vec<(i64, Option<i64>)>, Vec<((i64, Option<i64>), usize)>, Vec<(i64, i64)>, (bool, Option<i64>, i32), i64);

fn drawn() -> impl Strategy<Value = Drawn> {
    let causes = prop::collection::vec(0..Cause::ALL.len(), 6);
    let blockers = (stretches(6), causes).prop_map(|(list, causes)| list.into_iter().zip(causes).collect());
    let gaps = prop::collection::vec((0_i64..900, 1_i64..1_500), 0..6);
    let wait = (any::<bool>(), prop::option::of(-300_i64..5_400), 0_i32..60);
    (stretches(5), blockers, gaps, wait, 0_i64..5_400)
}

fn with_times(drawn: &Drawn, grid: i64, then: impl FnOnce(&StageTimes<'_>)) {
    let (work, blockers, gaps, (waits, started, high_minutes), length) = drawn;
    let at = |step: i64| Instant(step * grid);
    let mut reached = -600;
    let open: Vec<Opening> = gaps
        .iter()
        .map(|(gap, length)| {
            let from = reached + gap;
            reached = from + length;
            opening(at(from), at(reached))
        })
        .collect();
    let work = work.iter().zip(1_i64..).map(|((from, until), n)| Work {
        from: at(*from),
        until: until.map(at),
        person: person(n.unsigned_abs().into()),
        on_n: 10 * n,
        off_n: until.map(|_| 10 * n + 1),
    });
    let blockers = blockers.iter().zip(1_i32..).map(|(((from, until), cause), n)| Held {
        from: at(*from),
        until: until.map(at),
        cause: Cause::ALL[*cause],
        blocker: BlockerNo(n),
        raised_n: 100 * i64::from(n),
        cleared_n: until.map(|_| 100 * i64::from(n) + 1),
    });
    then(&StageTimes {
        life: Life { from: at(0), until: at(*length) },
        kind: if *waits { StageKind::Wait } else { StageKind::Work },
        started_at: started.map(at),
        high_minutes: *high_minutes,
        work: work.collect(),
        blockers: blockers.collect(),
        open: &open,
        marks: vec![],
    });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// On whole seconds the sweep and the count are the same.
    #[test]
    fn agree_with_a_count_of_seconds(drawn in drawn()) {
        with_times(&drawn, SECOND, |times| { check_seconds(times); });
    }

    /// Off whole seconds nothing gets lost either.
    #[test]
    fn add_up_to_the_microsecond(drawn in drawn(), grid in 1_i64..3_000_000) {
        with_times(&drawn, grid, |times| check_whole(&labels(times), times.life));
    }
}

/// Windows of the same local hours on several days, resolved through the IANA time zone
/// database that the calendar library carries.
fn local_hours(zone: &str, first: jiff::civil::Date, days: usize, from: i8, until: i8) -> Vec<Opening> {
    let zone = jiff::tz::TimeZone::get(zone).expect("a zone of the database");
    let at = |day: jiff::civil::Date, hour: i8| {
        let local = zone.to_timestamp(day.at(hour, 0, 0, 0)).expect("a local time");
        Instant::from_timestamp(local)
    };
    let until_day = |day: jiff::civil::Date| if until <= from { day.tomorrow().expect("a day") } else { day };
    first
        .series(jiff::Span::new().days(1))
        .take(days)
        .map(|day| opening(at(day, from), at(until_day(day), until)))
        .collect()
}

fn idle_over<'a>(open: &'a [Opening], from: &str, until: &str) -> StageTimes<'a> {
    let at = |text: &str| Instant::parse(text).expect("a timestamp");
    StageTimes {
        life: Life { from: at(from), until: at(until) },
        kind: StageKind::Work,
        started_at: None,
        high_minutes: 0,
        work: vec![],
        blockers: vec![],
        open,
        marks: vec![],
    }
}

const HOUR: i64 = 3_600 * SECOND;

/// Directive 2000/84/EC: summer time begins on the last Sunday of March at 01:00 UTC, in 2026 on
/// the 29th. Day shop 08:00 to 17:00, from Saturday noon to Monday noon: 47 hours in all.
#[test]
fn a_weekend_that_loses_an_hour() {
    let open = local_hours("Europe/Berlin", jiff::civil::date(2026, 3, 28), 3, 8, 17);
    let totals = check_seconds(&idle_over(&open, "2026-03-28T12:00:00+01:00", "2026-03-30T12:00:00+02:00"));
    assert_eq!(totals.elapsed_us(), 47 * HOUR);
    assert_eq!(totals.idle_us, (5 + 9 + 4) * HOUR);
    assert_eq!(totals.outside_us, (14 + 15) * HOUR, "the night of the change has 14 hours from close to open");
}

/// Directive 2000/84/EC: summer time ends on the last Sunday of October at 01:00 UTC, in 2026 on
/// the 25th. From Saturday noon to Monday noon: 49 hours.
#[test]
fn a_weekend_that_gains_an_hour() {
    let open = local_hours("Europe/Berlin", jiff::civil::date(2026, 10, 24), 3, 8, 17);
    let totals = check_seconds(&idle_over(&open, "2026-10-24T12:00:00+02:00", "2026-10-26T12:00:00+01:00"));
    assert_eq!(totals.elapsed_us(), 49 * HOUR);
    assert_eq!(totals.idle_us, (5 + 9 + 4) * HOUR);
    assert_eq!(totals.outside_us, (16 + 15) * HOUR);
}

/// A shop that is open over the change itself: 22:00 to 06:00 is 7 hours in March and 9 in
/// October.
#[test]
fn a_night_shift_over_each_change() {
    for (day, hours) in [(jiff::civil::date(2026, 3, 28), 7), (jiff::civil::date(2026, 10, 24), 9)] {
        let open = local_hours("Europe/Berlin", day, 1, 22, 6);
        let window = open[0].window;
        let life = (window.from.plus_us(-HOUR).to_string(), window.until.plus_us(HOUR).to_string());
        let totals = check_seconds(&idle_over(&open, &life.0, &life.1));
        assert_eq!((totals.idle_us, totals.outside_us), (hours * HOUR, 2 * HOUR));
    }
}

fn minutes(n: i64) -> Instant {
    Instant(n * 60 * SECOND)
}

fn held(blocker: i32, from: i64, until: Option<i64>, cause: Cause) -> Held {
    let n = i64::from(blocker);
    let cleared_n = until.map(|_| 100 + n);
    let until = until.map(minutes);
    Held { from: minutes(from), until, cause, blocker: BlockerNo(blocker), raised_n: 50 + n, cleared_n }
}

fn stage_of(open: &[Opening], work: Vec<Work>, blockers: Vec<Held>) -> StageTimes<'_> {
    let life = Life { from: minutes(0), until: minutes(100) };
    let (kind, started_at) = (StageKind::Work, Some(minutes(0)));
    StageTimes { life, kind, started_at, high_minutes: 0, work, blockers, open, marks: vec![] }
}

/// First minute, minute after, label, cause, facts.
type Shown<'a> = (i64, i64, Label, Option<Cause>, &'a [i64]);

fn shown(segments: &[Segment]) -> Vec<Shown<'_>> {
    let minute = |at: Instant| at.0 / 60 / SECOND;
    segments.iter().map(|s| (minute(s.from), minute(s.until), s.label, s.cause, s.facts.as_slice())).collect()
}

/// The earliest holds the stage up while it is open; of two that began together the lower
/// number does. Each segment names the facts behind it.
#[test]
fn of_several_blockers_the_earliest_counts() {
    let open = [opening(minutes(-10), minutes(200))];
    let blockers = vec![
        held(3, 30, None, Cause::Tool),
        held(1, 10, Some(40), Cause::Part),
        held(2, 10, Some(60), Cause::Customer),
    ];
    let times = stage_of(&open, vec![], blockers);
    check_seconds(&times);
    let segments = labels(&times);
    let expected: Vec<Shown<'_>> = vec![
        (0, 10, Label::Idle, None, &[51, 52]),
        (10, 40, Label::Blocked, Some(Cause::Part), &[51, 52, 101]),
        (40, 60, Label::Blocked, Some(Cause::Customer), &[52, 101, 102]),
        (60, 100, Label::Blocked, Some(Cause::Tool), &[53, 102]),
    ];
    assert_eq!(shown(&segments), expected);
}

/// Work counts outside of hours and over blockers; what was entered late and lies outside of the
/// life counts towards labour only, and there in full.
#[test]
fn work_outside_of_hours_and_of_the_life() {
    let open = [opening(minutes(-10), minutes(50))];
    let work = |from: i64, until: i64, n: u128| Work {
        from: minutes(from),
        until: Some(minutes(until)),
        person: person(n),
        on_n: 7,
        off_n: Some(8),
    };
    let times =
        stage_of(&open, vec![work(40, 70, 1), work(60, 80, 2), work(95, 130, 1)], vec![held(1, 30, None, Cause::Part)]);
    let totals = check_seconds(&times);
    let minute = 60 * SECOND;
    assert_eq!(totals.worked_us, 45 * minute);
    assert_eq!(totals.outside_us, 15 * minute);
    assert_eq!(totals.blocked_us.get(&Cause::Part), Some(&(10 * minute)));
    assert_eq!(totals.idle_us, 30 * minute);
    let labour = labour(&times.work, minutes(200));
    assert_eq!(labour.get(&person(1)), Some(&(65 * minute)));
    assert_eq!(labour.get(&person(2)), Some(&(20 * minute)));
}

/// A wait passes by plan as long as it was said to take at most; after that the stage is idle.
#[test]
fn a_wait_that_takes_longer_than_planned_is_idle() {
    let open = [opening(minutes(0), minutes(100))];
    let mut times = stage_of(&open, vec![], vec![]);
    (times.kind, times.started_at, times.high_minutes) = (StageKind::Wait, Some(minutes(20)), 30);
    let totals = check_seconds(&times);
    assert_eq!((totals.wait_us, totals.idle_us), (30 * 60 * SECOND, 70 * 60 * SECOND));
}

#[test]
fn a_life_begins_when_the_stage_is_ready_or_was_started_before() {
    let now = minutes(100);
    let life = |from: i64, until: i64| Some(Life { from: minutes(from), until: minutes(until) });
    let some = |n: i64| Some(minutes(n));
    assert_eq!(Life::of(some(10), None, None, now), life(10, 100));
    assert_eq!(Life::of(some(10), some(5), some(50), now), life(5, 50));
    assert_eq!(Life::of(None, some(5), some(50), now), life(5, 50));
    assert_eq!(Life::of(None, None, some(50), now), None, "left out before it was ever ready");
    assert_eq!(Life::of(some(120), None, None, now), None, "not ready yet");
    assert_eq!(Life::of(some(120), some(90), None, now), life(90, 100), "started against a wait");
}
