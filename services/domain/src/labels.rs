//! The time book: every instant of a stage's life has exactly one label, so that the labels add
//! up to the life to the microsecond.
//!
//! Precedence: worked, outside the shop's hours, the earliest open blocker (of two that began
//! together the one with the lower number), a planned wait, idle. Work outside of the life, as
//! late entries can have it, counts towards labour only.

use leadhand_facts::words::{Cause, Label, StageKind};
use leadhand_facts::{BlockerNo, Instant, PersonId, Window};
use std::collections::{BTreeMap, BTreeSet};

/// From when until when a stage lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Life {
    /// When it became ready, or was started before that.
    pub from: Instant,
    /// When it ended; now, while it lives.
    pub until: Instant,
}

impl Life {
    /// The life of a stage; none when it never became ready, or has not yet.
    pub fn of(
        ready_at: Option<Instant>,
        started_at: Option<Instant>,
        ended_at: Option<Instant>,
        now: Instant,
    ) -> Option<Self> {
        let from = match (ready_at, started_at) {
            (Some(ready), Some(started)) => ready.min(started),
            (ready, started) => ready.or(started)?,
        };
        let until = ended_at.unwrap_or(now);
        (from <= until).then_some(Self { from, until })
    }

    /// Microseconds from end to end.
    pub fn length_us(self) -> i64 {
        self.until.since_us(self.from)
    }

    fn clip(self, from: Instant, until: Option<Instant>) -> Option<Window> {
        let life = Window { from: self.from, until: self.until };
        life.common(Window { from, until: until.unwrap_or(self.until) })
    }
}

/// A person's time on the stage; without an end while it goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Work {
    /// From when.
    pub from: Instant,
    /// Until when.
    pub until: Option<Instant>,
    /// Who.
    pub person: PersonId,
    /// The fact that began it.
    pub on_n: i64,
    /// The fact that ended it.
    pub off_n: Option<i64>,
}

/// A stretch during which something held the stage up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Since when.
    pub from: Instant,
    /// Until when; without an end while it does.
    pub until: Option<Instant>,
    /// What it is.
    pub cause: Cause,
    /// Its number in the job.
    pub blocker: BlockerNo,
    /// The fact that raised it.
    pub raised_n: i64,
    /// The fact that cleared it.
    pub cleared_n: Option<i64>,
}

/// A stretch during which the shop was open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opening {
    /// From when until when.
    pub window: Window,
    /// The fact that set it.
    pub set_n: i64,
}

/// An instant with the fact that set it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// When.
    pub at: Instant,
    /// The fact's number.
    pub n: i64,
}

/// All that the labels of one stage depend on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StageTimes<'a> {
    /// Its life.
    pub life: Life,
    /// Work or wait.
    pub kind: StageKind,
    /// When it was started.
    pub started_at: Option<Instant>,
    /// Minutes that it takes if it goes badly.
    pub high_minutes: i32,
    /// The time of persons.
    pub work: Vec<Work>,
    /// What held it up.
    pub blockers: Vec<Held>,
    /// When the shop was open, in order, none meeting another.
    pub open: &'a [Opening],
    /// When it became ready, was started and ended, with the facts that say so.
    pub marks: Vec<Mark>,
}

/// A stretch of a stage's life with its one label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Segment {
    /// First microsecond.
    pub from: Instant,
    /// First microsecond after.
    pub until: Instant,
    /// The label.
    pub label: Label,
    /// What held it up, for a blocked one.
    pub cause: Option<Cause>,
    /// Numbers of the facts that explain or bound it, in order.
    pub facts: Vec<i64>,
}

impl Segment {
    /// Its microseconds.
    pub fn length_us(&self) -> i64 {
        self.until.since_us(self.from)
    }
}

/// The segments of a stage's life, in order, without gap or overlap; two that follow each other
/// differ in label or cause.
pub fn labels(times: &StageTimes<'_>) -> Vec<Segment> {
    let (sweep, marks) = (Sweep::of(times), marks(times));
    let mut segments: Vec<Segment> = Vec::new();
    let mut facts: BTreeSet<i64> = BTreeSet::new();
    for pair in sweep.cuts.windows(2) {
        let (from, until) = (pair[0], pair[1]);
        let slice = sweep.slice(from);
        match segments.last_mut() {
            Some(last) if (last.label, last.cause) == (slice.label, slice.cause) => {
                last.until = until;
                facts.extend(slice.facts);
            }
            _ => {
                close(&marks, segments.last_mut(), std::mem::take(&mut facts));
                facts.extend(slice.facts);
                segments.push(Segment { from, until, label: slice.label, cause: slice.cause, facts: Vec::new() });
            }
        }
    }
    close(&marks, segments.last_mut(), facts);
    segments
}

/// The same added up, without what explains it: for very many stages.
pub fn totals(times: &StageTimes<'_>) -> LabelTotals {
    let sweep = Sweep::of(times);
    let mut totals = LabelTotals::default();
    for pair in sweep.cuts.windows(2) {
        let (label, cause) = sweep.label(pair[0]);
        *totals.place(label, cause) += pair[1].since_us(pair[0]);
    }
    totals
}

/// A stretch between two neighbouring cuts: nothing changes inside.
struct Slice {
    label: Label,
    cause: Option<Cause>,
    facts: Vec<i64>,
}

/// Everything cut to the life.
struct Sweep<'a> {
    work: Vec<(Window, &'a Work)>,
    open: Vec<(Window, i64)>,
    /// Earliest first, by the time at which they really began.
    blockers: Vec<(Window, &'a Held)>,
    wait: Option<Window>,
    /// Every instant at which something may change, both ends of the life included.
    cuts: Vec<Instant>,
}

impl<'a> Sweep<'a> {
    fn of(times: &'a StageTimes<'_>) -> Self {
        let life = times.life;
        let work: Vec<_> =
            times.work.iter().filter_map(|work| Some((life.clip(work.from, work.until)?, work))).collect();
        let mut blockers: Vec<_> =
            times.blockers.iter().filter_map(|held| Some((life.clip(held.from, held.until)?, held))).collect();
        blockers.sort_by_key(|(_, held)| (held.from, held.blocker));
        let first = times.open.partition_point(|opening| opening.window.until <= life.from);
        let open: Vec<_> = times.open[first..]
            .iter()
            .take_while(|opening| opening.window.from < life.until)
            .filter_map(|opening| Some((life.clip(opening.window.from, Some(opening.window.until))?, opening.set_n)))
            .collect();
        let wait = times
            .started_at
            .filter(|_| times.kind == StageKind::Wait)
            .and_then(|started| life.clip(started, Some(started.plus_minutes(i64::from(times.high_minutes)))));
        let windows = work.iter().map(|(window, _)| *window);
        let windows = windows.chain(blockers.iter().map(|(window, _)| *window));
        let windows = windows.chain(open.iter().map(|(window, _)| *window)).chain(wait);
        let mut cuts: Vec<Instant> = windows.flat_map(|window| [window.from, window.until]).collect();
        cuts.extend([life.from, life.until]);
        cuts.sort_unstable();
        cuts.dedup();
        Self { work, open, blockers, wait, cuts }
    }

    /// The label at an instant, and what holds up where that is it.
    fn label(&self, at: Instant) -> (Label, Option<Cause>) {
        if self.work.iter().any(|(window, _)| window.holds(at)) {
            return (Label::Worked, None);
        }
        if !self.open.get(self.next_open(at)).is_some_and(|(window, _)| window.holds(at)) {
            return (Label::Outside, None);
        }
        if let Some(held) = self.held(at) {
            return (Label::Blocked, Some(held.cause));
        }
        let waits = self.wait.is_some_and(|window| window.holds(at));
        (if waits { Label::Wait } else { Label::Idle }, None)
    }

    /// The first window that is not over then.
    fn next_open(&self, at: Instant) -> usize {
        self.open.partition_point(|(window, _)| window.until <= at)
    }

    fn held(&self, at: Instant) -> Option<&'a Held> {
        self.blockers.iter().find(|(window, _)| window.holds(at)).map(|(_, held)| *held)
    }

    fn slice(&self, at: Instant) -> Slice {
        let (label, cause) = self.label(at);
        let facts: Vec<i64> = match label {
            Label::Worked => {
                let there = self.work.iter().filter(|(window, _)| window.holds(at));
                there.flat_map(|(_, work)| std::iter::once(work.on_n).chain(work.off_n)).collect()
            }
            Label::Outside => {
                // The windows on both sides say why nothing is open in between.
                let next = self.next_open(at);
                let before = next.checked_sub(1).and_then(|before| self.open.get(before));
                before.into_iter().chain(self.open.get(next)).map(|(_, n)| *n).collect()
            }
            Label::Blocked => self
                .held(at)
                .into_iter()
                .flat_map(|held| std::iter::once(held.raised_n).chain(held.cleared_n))
                .collect(),
            Label::Wait | Label::Idle => Vec::new(),
        };
        Slice { label, cause, facts }
    }
}

/// Ends a segment: what happened at its ends belongs to its facts.
fn close(marks: &BTreeMap<Instant, BTreeSet<i64>>, segment: Option<&mut Segment>, mut facts: BTreeSet<i64>) {
    let Some(segment) = segment else { return };
    for end in [segment.from, segment.until] {
        facts.extend(marks.get(&end).into_iter().flatten());
    }
    segment.facts = facts.into_iter().collect();
}

/// What the facts say about instants, for the ends of segments.
fn marks(times: &StageTimes<'_>) -> BTreeMap<Instant, BTreeSet<i64>> {
    let work = times.work.iter().flat_map(|work| [(Some(work.from), Some(work.on_n)), (work.until, work.off_n)]);
    let held =
        times.blockers.iter().flat_map(|held| [(Some(held.from), Some(held.raised_n)), (held.until, held.cleared_n)]);
    let own = times.marks.iter().map(|mark| (Some(mark.at), Some(mark.n)));
    let mut marks: BTreeMap<Instant, BTreeSet<i64>> = BTreeMap::new();
    for (at, n) in work.chain(held).chain(own) {
        if let (Some(at), Some(n)) = (at, n) {
            marks.entry(at).or_default().insert(n);
        }
    }
    marks
}

/// Microseconds by label.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LabelTotals {
    /// At least one person was clocked on.
    pub worked_us: i64,
    /// Outside the shop's hours.
    pub outside_us: i64,
    /// Held up, by cause.
    pub blocked_us: BTreeMap<Cause, i64>,
    /// Planned waits.
    pub wait_us: i64,
    /// None of these.
    pub idle_us: i64,
}

impl LabelTotals {
    /// Of some segments.
    pub fn of(segments: &[Segment]) -> Self {
        let mut totals = Self::default();
        for segment in segments {
            *totals.place(segment.label, segment.cause) += segment.length_us();
        }
        totals
    }

    /// Adds others.
    pub fn add(&mut self, other: &Self) {
        self.worked_us += other.worked_us;
        self.outside_us += other.outside_us;
        self.wait_us += other.wait_us;
        self.idle_us += other.idle_us;
        for (cause, us) in &other.blocked_us {
            *self.blocked_us.entry(*cause).or_default() += us;
        }
    }

    /// All causes together.
    pub fn all_blocked_us(&self) -> i64 {
        self.blocked_us.values().sum()
    }

    /// All labels together: the elapsed time.
    pub fn elapsed_us(&self) -> i64 {
        self.worked_us + self.outside_us + self.all_blocked_us() + self.wait_us + self.idle_us
    }

    fn place(&mut self, label: Label, cause: Option<Cause>) -> &mut i64 {
        match (label, cause) {
            (Label::Blocked, Some(cause)) => self.blocked_us.entry(cause).or_default(),
            (Label::Worked, _) => &mut self.worked_us,
            (Label::Outside, _) => &mut self.outside_us,
            (Label::Wait, _) => &mut self.wait_us,
            (Label::Idle | Label::Blocked, _) => &mut self.idle_us,
        }
    }
}

/// Microseconds of each person, whole stretches: work outside of the life counts as well.
pub fn labour(work: &[Work], now: Instant) -> BTreeMap<PersonId, i64> {
    let mut labour = BTreeMap::new();
    for stretch in work {
        let us = Window { from: stretch.from, until: stretch.until.unwrap_or(now) }.length_us();
        *labour.entry(stretch.person).or_default() += us;
    }
    labour
}
