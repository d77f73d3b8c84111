//! When people can work, in whole minutes from the moment of planning.

use leadhand_facts::{Instant, Window, instant::MINUTE_US};

/// Minutes from the moment of planning, from included, until excluded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Span {
    pub from: i32,
    pub until: i32,
}

impl Span {
    pub fn meets(self, other: Self) -> bool {
        self.from < other.until && other.from < self.until
    }
}

/// The clock of a plan: minute 0 is the first whole minute not before the moment of planning.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Clock {
    zero: i64,
    /// The last minute that can be planned.
    pub end: i32,
}

/// Longest plan, in minutes: ten years.
const LONGEST: i64 = 5_256_000;

impl Clock {
    pub fn new(at: Instant, until: Instant) -> Self {
        let zero = at.0.div_euclid(MINUTE_US) + i64::from(at.0.rem_euclid(MINUTE_US) > 0);
        let end = (until.0.div_euclid(MINUTE_US) - zero).clamp(0, LONGEST);
        Self { zero, end: i32::try_from(end).unwrap_or(0) }
    }

    fn held(self, minutes: i64) -> i32 {
        i32::try_from(minutes.clamp(0, i64::from(self.end))).unwrap_or(0)
    }

    /// The first minute not before an instant.
    pub fn from(self, at: Instant) -> i32 {
        self.held(at.0.div_euclid(MINUTE_US) + i64::from(at.0.rem_euclid(MINUTE_US) > 0) - self.zero)
    }

    /// The minute in which an instant lies; before minute 0 it may be negative, beyond the end it is not held.
    pub fn promise(self, at: Instant) -> i64 {
        at.0.div_euclid(MINUTE_US) - self.zero
    }

    pub fn instant(self, minute: i32) -> Instant {
        Instant((self.zero + i64::from(minute)).saturating_mul(MINUTE_US))
    }

    /// Windows in whole minutes that lie wholly inside them, in order, touching ones joined.
    pub fn spans(self, windows: &[Window]) -> Vec<Span> {
        let whole = |w: &Window| Span { from: self.from(w.from), until: self.held(self.promise(w.until)) };
        join(windows.iter().map(whole).collect())
    }

    /// Windows in whole minutes that cover all of them.
    pub fn covering(self, windows: &[Window]) -> Vec<Span> {
        let cover = |w: &Window| Span { from: self.held(self.promise(w.from)), until: self.from(w.until) };
        join(windows.iter().map(cover).collect())
    }
}

/// Puts spans in order and joins those that touch.
pub(crate) fn join(mut spans: Vec<Span>) -> Vec<Span> {
    spans.retain(|s| s.from < s.until);
    spans.sort_unstable();
    let mut joined: Vec<Span> = Vec::with_capacity(spans.len());
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.from <= last.until => last.until = last.until.max(span.until),
            _ => joined.push(span),
        }
    }
    joined
}

/// What two lists of spans share.
pub(crate) fn common(a: &[Span], b: &[Span]) -> Vec<Span> {
    let (mut i, mut j, mut shared) = (0, 0, Vec::new());
    while let (Some(x), Some(y)) = (a.get(i), b.get(j)) {
        let both = Span { from: x.from.max(y.from), until: x.until.min(y.until) };
        if both.from < both.until {
            shared.push(both);
        }
        if x.until < y.until { i += 1 } else { j += 1 }
    }
    shared
}

/// Minutes of `span` that lie in `spans`.
pub(crate) fn inside(spans: &[Span], span: Span) -> i64 {
    let first = spans.partition_point(|s| s.until <= span.from);
    let met = spans[first..].iter().take_while(|s| s.from < span.until);
    met.map(|s| i64::from(s.until.min(span.until) - s.from.max(span.from))).sum()
}

/// The first span not before `t` in which everybody is there.
pub(crate) fn next_common(calendars: &[&[Span]], mut t: i32) -> Option<Span> {
    loop {
        let (mut from, mut until) = (t, i32::MAX);
        for spans in calendars {
            let span = spans.get(spans.partition_point(|s| s.until <= t))?;
            from = from.max(span.from);
            until = until.min(span.until);
        }
        if from < until {
            return Some(Span { from, until });
        }
        t = from;
    }
}

/// The earliest span not before `t` with so many minutes in which everybody is there, in one piece or with pauses.
pub(crate) fn work_from(calendars: &[&[Span]], mut t: i32, minutes: i32, may_pause: bool) -> Option<Span> {
    if let [spans] = calendars {
        return work_alone(spans, t, minutes, may_pause);
    }
    let (mut begun, mut left) = (None, minutes);
    loop {
        let span = next_common(calendars, t)?;
        let length = span.until - span.from;
        if length >= left {
            return Some(Span { from: begun.unwrap_or(span.from), until: span.from + left });
        }
        if may_pause {
            begun = begun.or(Some(span.from));
            left -= length;
        }
        t = span.until;
    }
}

/// The same for one calendar, which is most of what is asked.
fn work_alone(spans: &[Span], t: i32, minutes: i32, may_pause: bool) -> Option<Span> {
    let (mut begun, mut left) = (None, minutes);
    for span in &spans[spans.partition_point(|s| s.until <= t)..] {
        let from = span.from.max(t);
        if span.until - from >= left {
            return Some(Span { from: begun.unwrap_or(from), until: from + left });
        }
        if may_pause {
            begun = begun.or(Some(from));
            left -= span.until - from;
        }
    }
    None
}
