//! From local hours to windows in UTC.
//!
//! When the clocks go forward, a time that they leave out stands for the moment at which they do.
//! When they go back, a time that comes twice is the first one where hours begin and the second
//! one where they end: the shop is open from the earliest to the latest moment that the words
//! can mean.

use super::{Said, plus_days};
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Span, Timestamp};
use leadhand_facts::calendar::DayHours;
use leadhand_facts::{Instant, Window};

/// Which end of a window a local time is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Start,
    Finish,
}

/// The moment at which a local day begins.
pub(super) fn start_of(zone: &TimeZone, day: Date) -> Instant {
    moment(zone, day.to_datetime(Time::midnight()), End::Start)
}

/// The moment of a local minute of a day, the first one where it comes twice.
pub(crate) fn earliest(zone: &TimeZone, day: Date, minute: i32) -> Instant {
    moment(zone, local(day, minute), End::Start)
}

/// The moment of a local minute of a day, the second one where it comes twice.
pub(crate) fn latest(zone: &TimeZone, day: Date, minute: i32) -> Instant {
    moment(zone, local(day, minute), End::Finish)
}

fn local(day: Date, minute: i32) -> DateTime {
    day.to_datetime(Time::midnight()).saturating_add(Span::new().minutes(minute))
}

/// Windows of the days from `first` until before `last`, in order, none touching another.
pub(super) fn windows(zone: &TimeZone, said: &Said, first: Date, last: Date) -> Vec<Window> {
    let mut windows = Vec::new();
    let mut day = first;
    while day < last {
        windows.extend(said.hours(day).iter().map(|hours| window(zone, day, *hours)));
        day = plus_days(day, 1);
    }
    merged(windows)
}

fn window(zone: &TimeZone, day: Date, hours: DayHours) -> Window {
    Window { from: earliest(zone, day, hours.from_minute), until: latest(zone, day, hours.until_minute) }
}

fn moment(zone: &TimeZone, local: DateTime, end: End) -> Instant {
    let at = match zone.to_ambiguous_timestamp(local).offset() {
        AmbiguousOffset::Unambiguous { offset } => offset.to_timestamp(local),
        AmbiguousOffset::Fold { before, after } => {
            if end == End::Start {
                before.to_timestamp(local)
            } else {
                after.to_timestamp(local)
            }
        }
        // The offset before puts a time that does not exist at or after the change.
        AmbiguousOffset::Gap { before, .. } => before.to_timestamp(local).map(|late| change_before(zone, late)),
    };
    at.map_or(Instant(i64::MAX), Instant::from_timestamp)
}

/// The last change of the clocks at or before a moment.
fn change_before(zone: &TimeZone, late: Timestamp) -> Timestamp {
    let after = late.saturating_add(Span::new().microseconds(1)).unwrap_or(late);
    zone.preceding(after).next().map_or(late, |change| change.timestamp())
}

fn merged(mut windows: Vec<Window>) -> Vec<Window> {
    windows.retain(|window| window.from < window.until);
    windows.sort();
    let mut apart: Vec<Window> = Vec::new();
    for window in windows {
        match apart.last_mut() {
            Some(last) if window.from <= last.until => last.until = last.until.max(window.until),
            _ => apart.push(window),
        }
    }
    apart
}

/// New windows with the stretch that they fill.
pub(super) struct Joined {
    pub(super) stretch: Window,
    pub(super) windows: Vec<Window>,
}

/// Widens a stretch so that no window crosses or touches its ends from outside: one that does is
/// taken into it as far as it lies outside, and joined with what touches it.
pub(super) fn joined(stretch: Window, mut windows: Vec<Window>, present: &[Window]) -> Joined {
    let latest = windows.last().map_or(stretch.until, |last| last.until);
    let inner = Window { until: stretch.until.max(latest), ..stretch };
    let mut outer = inner;
    for window in present {
        if window.from < inner.from && window.until >= inner.from {
            outer.from = outer.from.min(window.from);
            windows.push(Window { from: window.from, until: inner.from.min(window.until) });
        }
        if window.until > inner.until && window.from <= inner.until {
            outer.until = outer.until.max(window.until);
            windows.push(Window { from: inner.until.max(window.from), until: window.until });
        }
    }
    Joined { stretch: outer, windows: merged(windows) }
}
