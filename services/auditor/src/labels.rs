//! The labels of a stage's time, counted second by second: slow, and too simple to be wrong in
//! the way that clever arithmetic over intervals can be.

use leadhand_facts::instant::Window;
use leadhand_facts::words::Cause;
use leadhand_facts::{BlockerNo, Instant};
use std::collections::BTreeMap;

/// Microseconds in a second.
const SECOND_US: i64 = 1_000_000;

/// All that the labels of one stage depend on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Life {
    /// When the stage's life began.
    pub from: Instant,
    /// When it ended; now, for a stage that has not.
    pub until: Instant,
    /// When the stage was started, if it was.
    pub started_at: Option<Instant>,
    /// For a stage of kind wait: the minutes that it takes if it goes badly. Nobody plans a wait
    /// in a stage of work.
    pub wait_high_minutes: Option<i32>,
    /// When the shop was open.
    pub open: Vec<Window>,
    /// The time of each person on the stage; without an end while it goes on.
    pub worked: Vec<(Instant, Option<Instant>)>,
    /// What held it up.
    pub blockers: Vec<Held>,
}

/// A stretch during which something held the stage up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// Its number in the job: of two that began together, the lower one counts as earlier.
    pub blocker: BlockerNo,
    /// What held it up.
    pub cause: Cause,
    /// Since when.
    pub since: Instant,
    /// Until when; without an end while it does.
    pub until: Option<Instant>,
}

/// Seconds by label.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LabelSeconds {
    /// At least one person was clocked on.
    pub worked: i64,
    /// Outside of the shop's hours.
    pub outside: i64,
    /// Held up, by the cause of the earliest open blocker.
    pub blocked: BTreeMap<Cause, i64>,
    /// A planned wait.
    pub wait: i64,
    /// None of these.
    pub idle: i64,
    /// Person-seconds within the life: two persons at once count twice.
    pub labour: i64,
}

impl LabelSeconds {
    /// All labels together; labour is no label.
    pub fn total(&self) -> i64 {
        self.worked + self.outside + self.blocked.values().sum::<i64>() + self.wait + self.idle
    }
}

/// Counts the labels of a stage's life, one look at the beginning of every second. Exact when
/// every instant in `life` lies on a whole second from its beginning.
pub fn labels_by_second(life: &Life) -> LabelSeconds {
    let mut seconds = LabelSeconds::default();
    let mut at = life.from;
    while at < life.until {
        match label_at(life, at) {
            Mark::Worked => seconds.worked += 1,
            Mark::Outside => seconds.outside += 1,
            Mark::Blocked(cause) => *seconds.blocked.entry(cause).or_default() += 1,
            Mark::Wait => seconds.wait += 1,
            Mark::Idle => seconds.idle += 1,
        }
        seconds.labour += workers_at(life, at);
        at = at.plus_us(SECOND_US);
    }
    seconds
}

/// What a second counts as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// At least one person was clocked on.
    Worked,
    /// Outside of the shop's hours.
    Outside,
    /// Held up by this.
    Blocked(Cause),
    /// A planned wait.
    Wait,
    /// None of these.
    Idle,
}

/// The one label of an instant. Precedence as in the promise:
/// worked, outside hours, the earliest open blocker, planned wait, idle.
pub fn label_at(life: &Life, at: Instant) -> Mark {
    if workers_at(life, at) > 0 {
        return Mark::Worked;
    }
    if !life.open.iter().any(|window| window.holds(at)) {
        return Mark::Outside;
    }
    let open = life.blockers.iter().filter(|held| lasts(held.since, held.until, at));
    if let Some(earliest) = open.min_by_key(|held| (held.since, held.blocker)) {
        return Mark::Blocked(earliest.cause);
    }
    if waits_at(life, at) { Mark::Wait } else { Mark::Idle }
}

fn workers_at(life: &Life, at: Instant) -> i64 {
    life.worked.iter().map(|(from, until)| i64::from(lasts(*from, *until, at))).sum()
}

fn lasts(from: Instant, until: Option<Instant>, at: Instant) -> bool {
    from <= at && until.is_none_or(|until| at < until)
}

/// A stage of kind wait waits by plan from its start, as long as it was said to take at most.
fn waits_at(life: &Life, at: Instant) -> bool {
    match (life.started_at, life.wait_high_minutes) {
        (Some(start), Some(minutes)) => start <= at && at < start.plus_minutes(i64::from(minutes)),
        _ => false,
    }
}
