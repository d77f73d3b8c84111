//! A project: activities in an order of precedence, sharing resources of fixed capacity.

use super::arcs::{Arcs, Groups};
use thiserror::Error;

/// An activity, in whole units of time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Activity {
    /// How long it takes.
    pub duration: u32,
    /// How much of each resource it holds from its start to its finish.
    pub demand: Vec<u32>,
    /// Activities that come after it, each with the least time between its finish and their start.
    pub before: Vec<(usize, u32)>,
}

/// Why there is no such project.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum Misfit {
    /// An activity asks for more of a resource than there is.
    #[error("activity {activity} asks for {demand} of resource {resource}, and there are {capacity}")]
    TooMuch {
        /// Which, from 0.
        activity: usize,
        /// Of what, from 0.
        resource: usize,
        /// How much it asks for.
        demand: u32,
        /// How much there is.
        capacity: u32,
    },
    /// A capacity that the profile can't count.
    #[error("resource {0} has a capacity over {MOST}; use a larger unit")]
    TooLarge(usize),
    /// An arc to an activity that does not exist, or demands for resources that do not.
    #[error("activity {0} names an activity or a resource that does not exist")]
    Unknown(usize),
    /// Activities that wait for each other.
    #[error("activity {0} waits for itself by way of others")]
    Circle(usize),
    /// So long that times can't be counted.
    #[error("the activities and waits together take longer than {LONGEST} units")]
    TooLong,
}

/// Most of a resource.
pub const MOST: u32 = 0x7fff;
/// Longest sum of durations and waits.
pub const LONGEST: u64 = 4_000_000;
/// Lanes of 16 bits in a word of a profile.
pub(super) const LANES: usize = 4;
/// The uppermost bit of each lane.
pub(super) const GUARD: u64 = 0x8000_8000_8000_8000;

/// A project that was checked, as the search reads it.
#[derive(Debug, Clone)]
pub struct Project {
    pub(super) duration: Vec<u32>,
    /// Demands, four to a word, by word and activity.
    pub(super) demand: Vec<Vec<u64>>,
    /// Capacities with the guard bits, by word.
    pub(super) capacity: Vec<u64>,
    pub(super) preds: Arcs,
    pub(super) succs: Arcs,
    /// The same for generation forwards and backwards.
    pub(super) before: [Groups; 2],
    /// Longest way before an activity's start.
    pub(super) head: Vec<u32>,
    /// Longest way from an activity's start to the end.
    pub(super) tail: Vec<u32>,
    /// Longest way before an activity's finish.
    pub(super) until: Vec<u32>,
    /// An order that keeps precedence.
    pub(super) order: Vec<u32>,
    /// No schedule without idle time is longer.
    pub(super) horizon: usize,
    /// How much of all resources an activity takes, in thousandths of a resource and unit of time.
    pub(super) work: Vec<u64>,
    bound: u32,
    /// The machine of each activity, when each holds one resource alone.
    pub(super) machine: Option<Vec<u32>>,
}

pub(super) fn small(i: usize) -> u32 {
    u32::try_from(i).unwrap_or(u32::MAX)
}

impl Project {
    /// Checks what is asked for.
    pub fn new(activities: &[Activity], capacity: &[u32]) -> Result<Self, Misfit> {
        let n = activities.len();
        check(activities, capacity)?;
        let forth = activities.iter().enumerate().flat_map(|(i, a)| a.before.iter().map(move |&(j, lag)| (i, j, lag)));
        let succs = Arcs::new(n, forth.clone());
        let preds = Arcs::new(n, forth.map(|(i, j, lag)| (j, i, lag)));
        let order = topological(n, &preds, &succs)?;
        let duration: Vec<u32> = activities.iter().map(|a| a.duration).collect();
        let waits = activities.iter().flat_map(|a| a.before.iter().map(|&(_, lag)| u64::from(lag)));
        let horizon = duration.iter().map(|&d| u64::from(d)).sum::<u64>() + waits.sum::<u64>();
        if horizon > LONGEST {
            return Err(Misfit::TooLong);
        }
        let words = capacity.len().div_ceil(LANES).max(1);
        let pack = |demand: &[u32], word: usize| {
            demand.iter().skip(word * LANES).take(LANES).rev().fold(0_u64, |all, &k| all << 16 | u64::from(k))
        };
        let mut project = Self {
            demand: (0..words).map(|w| activities.iter().map(|a| pack(&a.demand, w)).collect()).collect(),
            capacity: (0..words).map(|w| pack(capacity, w) | GUARD).collect(),
            head: vec![0; n],
            tail: vec![0; n],
            machine: machines(activities, capacity),
            horizon: usize::try_from(horizon).unwrap_or(0) + 1,
            bound: 0,
            work: activities.iter().map(|a| work(a, capacity)).collect(),
            until: vec![0; n],
            before: [Groups::new(n, &preds), Groups::new(n, &succs)],
            duration,
            preds,
            succs,
            order,
        };
        project.longest_ways();
        project.bound = project.lower_bound(activities, capacity);
        Ok(project)
    }

    fn longest_ways(&mut self) {
        for &i in &self.order {
            let i = i as usize;
            let ways = self.preds.of(i).iter().map(|&(p, lag)| self.head[p as usize] + self.duration[p as usize] + lag);
            self.head[i] = ways.max().unwrap_or(0);
            self.until[i] = self.head[i] + self.duration[i];
        }
        for &i in self.order.iter().rev() {
            let i = i as usize;
            let ways = self.succs.of(i).iter().map(|&(s, lag)| self.tail[s as usize] + lag);
            self.tail[i] = self.duration[i] + ways.max().unwrap_or(0);
        }
    }

    /// The longest way, and for each resource the least head, all its work and the least tail of whoever uses it.
    fn lower_bound(&self, activities: &[Activity], capacity: &[u32]) -> u32 {
        let way = (0..self.len()).map(|i| self.head[i] + self.tail[i]).max().unwrap_or(0);
        let work = capacity.iter().enumerate().map(|(r, &cap)| {
            let users = || (0..self.len()).filter(|&i| activities[i].demand.get(r).is_some_and(|&k| k > 0));
            let users = || users().filter(|&i| self.duration[i] > 0);
            let all: u64 = users().map(|i| u64::from(activities[i].demand[r]) * u64::from(self.duration[i])).sum();
            let head = users().map(|i| self.head[i]).min().unwrap_or(0);
            let tail = users().map(|i| self.tail[i] - self.duration[i]).min().unwrap_or(0);
            head + tail + u32::try_from(all.div_ceil(u64::from(cap.max(1)))).unwrap_or(0)
        });
        work.fold(way, u32::max)
    }

    /// No schedule is shorter.
    pub fn bound(&self) -> u32 {
        self.bound
    }

    /// How many activities there are.
    pub fn len(&self) -> usize {
        self.duration.len()
    }

    /// Whether there is nothing to do.
    pub fn is_empty(&self) -> bool {
        self.duration.is_empty()
    }
}

fn check(activities: &[Activity], capacity: &[u32]) -> Result<(), Misfit> {
    if let Some(r) = capacity.iter().position(|&c| c > MOST) {
        return Err(Misfit::TooLarge(r));
    }
    for (i, a) in activities.iter().enumerate() {
        if a.demand.len() > capacity.len() || a.before.iter().any(|&(j, _)| j >= activities.len()) {
            return Err(Misfit::Unknown(i));
        }
        for (r, (&demand, &capacity)) in a.demand.iter().zip(capacity).enumerate() {
            if demand > capacity {
                return Err(Misfit::TooMuch { activity: i, resource: r, demand, capacity });
            }
        }
    }
    Ok(())
}

fn topological(n: usize, preds: &Arcs, succs: &Arcs) -> Result<Vec<u32>, Misfit> {
    let mut open: Vec<usize> = (0..n).map(|i| preds.of(i).len()).collect();
    let mut order: Vec<u32> = (0..n).filter(|&i| open[i] == 0).map(small).collect();
    let mut next = 0;
    while let Some(&i) = order.get(next) {
        next += 1;
        for &(s, _) in succs.of(i as usize) {
            open[s as usize] -= 1;
            if open[s as usize] == 0 {
                order.push(s);
            }
        }
    }
    if order.len() == n { Ok(order) } else { Err(Misfit::Circle(open.iter().position(|&k| k > 0).unwrap_or(0))) }
}

/// The machine of each activity that takes time, when all of them hold the whole of exactly one resource.
fn machines(activities: &[Activity], capacity: &[u32]) -> Option<Vec<u32>> {
    let one = |a: &Activity| {
        let mut held = a.demand.iter().zip(capacity).enumerate().filter(|(_, (k, _))| **k > 0);
        let (r, (&k, &cap)) = held.next()?;
        (held.next().is_none() && 2 * k > cap).then(|| small(r))
    };
    activities.iter().map(|a| if a.duration == 0 { Some(u32::MAX) } else { one(a) }).collect()
}

fn work(a: &Activity, capacity: &[u32]) -> u64 {
    let shares = a.demand.iter().zip(capacity).map(|(&k, &cap)| 1000 * u64::from(k) / u64::from(cap.max(1)));
    shares.sum::<u64>() * u64::from(a.duration)
}
