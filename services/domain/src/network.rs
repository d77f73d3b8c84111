//! The critical path method over stages with three-point minutes and planned waits.
//!
//! A stage's expected time is (low + 4 likely + high) / 6 and its variance ((high − low) / 6)²,
//! as in PERT. Reckoning is in whole sixths and thirty-sixths of a minute, so that a slack of
//! nothing is exactly nothing. The variance of the whole takes stages for independent and looks
//! at one path only, so chances err on the hopeful side.

use leadhand_facts::StageKey;
use leadhand_facts::fact::{JobAfter, JobStage};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::StageKind;
use std::collections::BTreeMap;
use thiserror::Error;

/// What the method needs to know of a stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Activity {
    /// The stage.
    pub key: StageKey,
    /// Its three-point minutes.
    pub minutes: Minutes,
    /// Persons at work on it; 0 for a wait.
    pub hands: i32,
    /// What comes before it, with the waits in between.
    pub after: Vec<JobAfter>,
}

impl From<&JobStage> for Activity {
    fn from(stage: &JobStage) -> Self {
        let hands = if stage.kind == StageKind::Work { stage.hands } else { 0 };
        Self { key: stage.stage.clone(), minutes: stage.minutes, hands, after: stage.after.clone() }
    }
}

/// Why there is no path to reckon.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NetworkError {
    /// A predecessor is missing.
    #[error("stage '{stage}' comes after '{before}', which is no stage of this network")]
    Unknown {
        /// The stage.
        stage: StageKey,
        /// What it names.
        before: StageKey,
    },
    /// Two stages have one key.
    #[error("stage '{0}' is in the network twice")]
    Twice(StageKey),
    /// Some stages wait for each other.
    #[error("stage '{0}' is on a ring, or behind one, so it could never start")]
    Ring(StageKey),
}

/// A time in whole sixths of a minute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct Sixths(pub i64);

impl Sixths {
    /// As minutes.
    #[allow(clippy::cast_precision_loss, reason = "a year of a million stages still fits a double's 53 bits")]
    pub fn minutes(self) -> f64 {
        self.0 as f64 / 6.0
    }

    /// As whole minutes, rounded up: a promise should not be short.
    pub fn whole_minutes(self) -> i64 {
        self.0.div_euclid(6) + i64::from(self.0.rem_euclid(6) > 0)
    }
}

/// A variance in whole thirty-sixths of a square minute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct ThirtySixths(pub i64);

impl ThirtySixths {
    /// As square minutes.
    #[allow(clippy::cast_precision_loss, reason = "shown and put into a chance, never added up")]
    pub fn square_minutes(self) -> f64 {
        self.0 as f64 / 36.0
    }

    /// The standard deviation in minutes.
    pub fn deviation_minutes(self) -> f64 {
        self.square_minutes().sqrt()
    }
}

/// A stage on the network. Times count from the start of the first stage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timed {
    /// The stage.
    pub key: StageKey,
    /// Expected time.
    pub expected: Sixths,
    /// Variance.
    pub variance: ThirtySixths,
    /// Earliest start.
    pub earliest_start: Sixths,
    /// Earliest finish.
    pub earliest_finish: Sixths,
    /// Latest start that delays nothing.
    pub latest_start: Sixths,
    /// Latest finish that delays nothing.
    pub latest_finish: Sixths,
    /// How much it may slip before the whole does.
    pub slack: Sixths,
}

impl Timed {
    /// Whether any delay of it delays the whole.
    pub fn is_critical(&self) -> bool {
        self.slack == Sixths(0)
    }
}

/// A network with its times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Network {
    /// The stages, in the order given.
    pub stages: Vec<Timed>,
    /// The longest way through; of several, the one with the greatest variance.
    pub critical_path: Vec<StageKey>,
    /// Expected time of the whole, waits included.
    pub elapsed: Sixths,
    /// Variance along the critical path.
    pub variance: ThirtySixths,
    /// Expected time of hands: work by each person.
    pub labour: Sixths,
    /// Variance of the time of hands.
    pub labour_variance: ThirtySixths,
}

impl Network {
    /// Reckons the network of these stages.
    pub fn of(activities: &[Activity]) -> Result<Self, NetworkError> {
        let links = Links::of(activities)?;
        let forward = forward(activities, &links);
        let elapsed = forward.iter().map(|step| step.finish).max().unwrap_or_default();
        let latest = backward(activities, &links, elapsed);
        let timed = |(at, activity): (usize, &Activity)| {
            let expected = expected(activity.minutes);
            let (start, finish) = (forward[at].finish - expected, forward[at].finish);
            Timed {
                key: activity.key.clone(),
                expected: Sixths(expected),
                variance: ThirtySixths(variance(activity.minutes)),
                earliest_start: Sixths(start),
                earliest_finish: Sixths(finish),
                latest_start: Sixths(latest[at] - expected),
                latest_finish: Sixths(latest[at]),
                slack: Sixths(latest[at] - finish),
            }
        };
        let (path, variance_sum) = critical_path(&forward);
        let hands = |activity: &Activity| i64::from(activity.hands);
        let labour = activities.iter().map(|a| hands(a) * expected(a.minutes)).sum();
        let labour_variance = activities.iter().map(|a| hands(a).pow(2) * variance(a.minutes)).sum();
        Ok(Self {
            stages: activities.iter().enumerate().map(timed).collect(),
            critical_path: path.into_iter().map(|at| activities[at].key.clone()).collect(),
            elapsed: Sixths(elapsed),
            variance: ThirtySixths(variance_sum),
            labour: Sixths(labour),
            labour_variance: ThirtySixths(labour_variance),
        })
    }

    /// The network of a job's stages.
    pub fn of_stages(stages: &[JobStage]) -> Result<Self, NetworkError> {
        let activities: Vec<Activity> = stages.iter().map(Activity::from).collect();
        Self::of(&activities)
    }

    /// The chance that the whole takes at most so many minutes, between 0 and 1.
    pub fn chance_by(&self, due_minutes: f64) -> f64 {
        let ahead = due_minutes - self.elapsed.minutes();
        let deviation = self.variance.deviation_minutes();
        if deviation > 0.0 {
            // The normal distribution through erfc keeps its small tail exact.
            0.5 * libm::erfc(-ahead / deviation / std::f64::consts::SQRT_2)
        } else {
            f64::from(u8::from(ahead >= 0.0))
        }
    }
}

fn expected(minutes: Minutes) -> i64 {
    i64::from(minutes.low) + 4 * i64::from(minutes.likely) + i64::from(minutes.high)
}

fn variance(minutes: Minutes) -> i64 {
    (i64::from(minutes.high) - i64::from(minutes.low)).pow(2)
}

/// A predecessor with the wait after it in minutes.
type Arrow = (usize, i64);

struct Links {
    before: Vec<Vec<Arrow>>,
    after: Vec<Vec<Arrow>>,
    /// Every stage behind all that come before it.
    order: Vec<usize>,
}

impl Links {
    fn of(activities: &[Activity]) -> Result<Self, NetworkError> {
        let mut index: BTreeMap<&StageKey, usize> = BTreeMap::new();
        for (at, activity) in activities.iter().enumerate() {
            if index.insert(&activity.key, at).is_some() {
                return Err(NetworkError::Twice(activity.key.clone()));
            }
        }
        let mut before = vec![Vec::new(); activities.len()];
        let mut after = vec![Vec::new(); activities.len()];
        for (at, activity) in activities.iter().enumerate() {
            for link in &activity.after {
                let Some(first) = index.get(&link.stage).copied() else {
                    return Err(NetworkError::Unknown { stage: activity.key.clone(), before: link.stage.clone() });
                };
                before[at].push((first, i64::from(link.wait_minutes)));
                after[first].push((at, i64::from(link.wait_minutes)));
            }
        }
        let order = in_order(&before, &after);
        match (0..activities.len()).find(|at| !order.contains(at)) {
            Some(stuck) => Err(NetworkError::Ring(activities[stuck].key.clone())),
            None => Ok(Self { before, after, order }),
        }
    }
}

/// The stages in an order in which each is behind all that come before it; those on a ring, or
/// behind one, are left out.
fn in_order(before: &[Vec<Arrow>], after: &[Vec<Arrow>]) -> Vec<usize> {
    let mut missing: Vec<usize> = before.iter().map(Vec::len).collect();
    let mut order: Vec<usize> = (0..missing.len()).filter(|at| missing[*at] == 0).collect();
    let mut next = 0;
    while let Some(at) = order.get(next).copied() {
        next += 1;
        for (behind, _) in &after[at] {
            missing[*behind] -= 1;
            if missing[*behind] == 0 {
                order.push(*behind);
            }
        }
    }
    order
}

/// The earliest finish of a stage, and the way that leads to it.
#[derive(Clone, Copy, Default)]
struct Reached {
    finish: i64,
    variance: i64,
    from: Option<usize>,
}

fn forward(activities: &[Activity], links: &Links) -> Vec<Reached> {
    let mut reached = vec![Reached::default(); activities.len()];
    for at in links.order.iter().copied() {
        let ways = links.before[at].iter().map(|(first, wait)| {
            let earlier = &reached[*first];
            (earlier.finish + 6 * wait, earlier.variance, Some(*first))
        });
        // The later one counts; of equals the less certain one, and of those the first written.
        let latest = ways.reduce(|best, way| if (way.0, way.1) > (best.0, best.1) { way } else { best });
        let (start, so_far, from) = latest.unwrap_or_default();
        let minutes = activities[at].minutes;
        reached[at] = Reached { finish: start + expected(minutes), variance: so_far + variance(minutes), from };
    }
    reached
}

/// The latest finish of each stage that delays nothing.
fn backward(activities: &[Activity], links: &Links, elapsed: i64) -> Vec<i64> {
    let mut latest = vec![elapsed; activities.len()];
    for at in links.order.iter().rev().copied() {
        for (behind, wait) in &links.after[at] {
            let start = latest[*behind] - expected(activities[*behind].minutes);
            latest[at] = latest[at].min(start - 6 * wait);
        }
    }
    latest
}

fn critical_path(reached: &[Reached]) -> (Vec<usize>, i64) {
    let mut last: Option<usize> = None;
    for (at, step) in reached.iter().enumerate() {
        let better =
            last.is_none_or(|best| (step.finish, step.variance) > (reached[best].finish, reached[best].variance));
        if better {
            last = Some(at);
        }
    }
    let variance = last.map_or(0, |at| reached[at].variance);
    let mut path: Vec<usize> = std::iter::successors(last, |at| reached[*at].from).collect();
    path.reverse();
    (path, variance)
}

/// A stage that is not finished.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfinished {
    /// The stage.
    pub key: StageKey,
    /// What comes before it, with the waits in between. What is not in the list is finished.
    pub after: Vec<JobAfter>,
    /// Minutes until a wait behind finished stages is over; 0 when there is none.
    pub wait_left_minutes: i64,
    /// Likely minutes that are left of the stage itself.
    pub left_minutes: i64,
}

/// Likely minutes until all of these are finished, along the longest way. Stages on a ring could
/// never start; rules refuse rings, and here they count nothing.
pub fn critical_remaining(stages: &[Unfinished]) -> i64 {
    let index: BTreeMap<&StageKey, usize> = stages.iter().enumerate().map(|(at, stage)| (&stage.key, at)).collect();
    let mut before: Vec<Vec<Arrow>> = vec![Vec::new(); stages.len()];
    let mut after: Vec<Vec<Arrow>> = vec![Vec::new(); stages.len()];
    for (at, stage) in stages.iter().enumerate() {
        for link in &stage.after {
            if let Some(first) = index.get(&link.stage).copied() {
                before[at].push((first, i64::from(link.wait_minutes)));
                after[first].push((at, i64::from(link.wait_minutes)));
            }
        }
    }
    let mut finish = vec![0; stages.len()];
    for at in in_order(&before, &after) {
        let ready = before[at].iter().map(|(first, wait)| finish[*first] + wait).max().unwrap_or(0);
        finish[at] = ready.max(stages[at].wait_left_minutes) + stages[at].left_minutes.max(0);
    }
    finish.into_iter().max().unwrap_or(0)
}
