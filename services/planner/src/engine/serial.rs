//! Serial generation forwards and backwards over a packed profile.

use super::population::{Decoder, Draft, Orders, Way, mark};
use super::profile::{Narrow, Profile, Wide};
use super::project::{Project, small};
use crate::budget::Meter;
use crate::rng::Rng;

/// Makes schedules of a project from orders, and keeps the best.
#[derive(Debug, Clone)]
pub(super) struct Serial<'p> {
    project: &'p Project,
    room: Room<'p>,
    /// Times up to which the profile was touched.
    touched: usize,
    start: Vec<u32>,
    /// By activity, and a 0 for the one that is none.
    finish: Vec<u32>,
    counts: Vec<u32>,
    now: Vec<u32>,
    next: Vec<u32>,
    /// What a draft came to.
    kept: Kept,
    /// A first schedule that is longer than what it should replace by more than one part in so many is not justified.
    hope: u32,
    /// The best schedule so far, and its length.
    best: Vec<u32>,
    best_end: u32,
    drawn: Drawn,
}

/// The profile that a project needs.
#[derive(Debug, Clone)]
enum Room<'p> {
    Narrow(Narrow),
    Wide(Wide<'p>),
}

/// A schedule, the order that it was made from and the one that it gives for the other way.
#[derive(Debug, Clone, Default)]
struct Kept {
    start: Vec<u32>,
    order: Vec<u32>,
    other: Vec<u32>,
    back: bool,
}

impl<'p> Serial<'p> {
    pub fn new(project: &'p Project) -> Self {
        let n = project.len();
        let blank = vec![0; n];
        Self {
            project,
            room: Narrow::new(project).map_or_else(|| Room::Wide(Wide::new(project)), Room::Narrow),
            touched: 0,
            start: blank.clone(),
            finish: vec![0; n + 1],
            counts: Vec::with_capacity(project.horizon + 1),
            now: blank.clone(),
            next: blank.clone(),
            kept: Kept { start: blank.clone(), order: blank.clone(), other: blank, back: false },
            hope: if n < MANY { HOPE_OF_FEW } else { HOPE_OF_MANY },
            best: Vec::new(),
            best_end: u32::MAX,
            drawn: Drawn::default(),
        }
    }

    /// The best schedule that was made.
    pub fn best(self) -> (Vec<u32>, u32) {
        (self.best, self.best_end)
    }

    /// Places the activities of `self.now` one after the other, each as early as possible, time running the one way or
    /// the other. Leaves the starts (of that way) in `self.start` and gives the latest finish; nothing, and half a
    /// schedule, when it is certain to be over `most`.
    fn place_all(&mut self, back: bool, most: u32) -> Option<u32> {
        let mut pass = Pass {
            project: self.project,
            back,
            most,
            start: &mut self.start,
            finish: &mut self.finish,
            touched: self.touched,
        };
        let end = match &mut self.room {
            Room::Narrow(profile) => pass.run(&self.now, profile),
            Room::Wide(profile) => pass.run(&self.now, profile),
        };
        self.touched = pass.touched;
        end
    }

    /// Keeps the schedule that was just made; the next one is made from it the other way.
    fn keep(&mut self, back: bool, end: u32) {
        let (start, duration) = (&self.start, &self.project.duration);
        // By falling finish, which is an order for the other way.
        let key = |i: u32| end - start[i as usize] - duration[i as usize];
        sort_by_count(&mut self.counts, end, self.now.iter().rev().copied(), key, &mut self.next);
        self.kept.other.copy_from_slice(&self.next);
        std::mem::swap(&mut self.kept.start, &mut self.start);
        std::mem::swap(&mut self.kept.order, &mut self.now);
        std::mem::swap(&mut self.now, &mut self.next);
        self.kept.back = back;
    }

    /// The orders of the schedule that was kept; and it is the best, if it is.
    fn tell(&mut self, end: u32, out: &mut Orders) {
        let Kept { start, order, other, back } = &self.kept;
        let duration = &self.project.duration;
        let (same, same_at, opposite, opposite_at) = if *back {
            (&mut out.back, &mut out.back_at, &mut out.forth, &mut out.forth_at)
        } else {
            (&mut out.forth, &mut out.forth_at, &mut out.back, &mut out.back_at)
        };
        sort_by_count(&mut self.counts, end, order.iter().copied(), |i| start[i as usize], same);
        opposite.copy_from_slice(other);
        for (at, &i) in same_at.iter_mut().zip(&*same) {
            *at = start[i as usize];
        }
        for (at, &i) in opposite_at.iter_mut().zip(&*opposite) {
            *at = end - start[i as usize] - duration[i as usize];
        }
        // In time that runs forwards.
        let forwards = start.iter().zip(duration).map(|(&s, &d)| if *back { end - s - d } else { s });
        out.mark = mark(forwards.clone());
        if end < self.best_end {
            self.best_end = end;
            self.best.clear();
            self.best.extend(forwards);
        }
    }
}

fn sort_by_count(
    counts: &mut Vec<u32>,
    end: u32,
    from: impl Iterator<Item = u32> + Clone,
    key: impl Fn(u32) -> u32,
    list: &mut [u32],
) {
    counts.clear();
    counts.resize(end as usize + 2, 0);
    for i in from.clone() {
        counts[key(i) as usize + 1] += 1;
    }
    let mut sum = 0;
    for count in counts.iter_mut() {
        sum += *count;
        *count = sum;
    }
    for i in from {
        let slot = &mut counts[key(i) as usize];
        list[*slot as usize] = i;
        *slot += 1;
    }
}

/// Serial generation of one schedule.
struct Pass<'a> {
    project: &'a Project,
    back: bool,
    most: u32,
    start: &'a mut [u32],
    finish: &'a mut [u32],
    touched: usize,
}

impl Pass<'_> {
    fn run(&mut self, list: &[u32], profile: &mut impl Profile) -> Option<u32> {
        profile.clear(self.touched);
        let before = &self.project.before[usize::from(self.back)];
        let rest = if self.back { &self.project.until } else { &self.project.tail };
        let mut end = 0;
        for &i in list {
            let i = i as usize;
            let mut start = before.ready(i, self.finish);
            let duration = self.project.duration[i];
            if duration > 0 {
                start = small(profile.earliest(i, start as usize, duration as usize));
            }
            self.touched = end as usize;
            if start.saturating_add(rest[i]) > self.most {
                return None;
            }
            if duration > 0 {
                profile.take(i, start as usize, duration as usize);
            }
            self.start[i] = start;
            self.finish[i] = start + duration;
            end = end.max(start + duration);
        }
        self.touched = end as usize;
        Some(end)
    }
}

/// From so many activities on a project is a large one.
pub(super) const MANY: usize = 90;
/// Of large projects more drafts are tried, of small ones each is made more of: measured on projects of 30, 60 and 120
/// activities.
const HOPE_OF_FEW: u32 = 40;
const HOPE_OF_MANY: u32 = 100;

impl Decoder for Serial<'_> {
    type Score = u32;

    fn len(&self) -> usize {
        self.project.len()
    }

    fn both_ways(&self) -> bool {
        true
    }

    fn good_enough(&self, score: u32) -> bool {
        score <= self.project.bound()
    }

    /// Serial generation in the order's own direction, then justified to the other side and back while that makes it
    /// shorter (Li and Willis 1992; Valls, Ballestín and Quintanilla 2005).
    fn develop(&mut self, draft: &Draft, way: Way<u32>, out: &mut Orders, meter: &mut Meter<'_, '_>) -> u32 {
        self.now.copy_from_slice(&draft.list);
        let (mut back, mut shortest) = (way.back, u32::MAX);
        let hopeless = way.aim.map_or(u32::MAX, |aim| aim + aim / self.hope + 1);
        loop {
            let end = self.place_all(back, hopeless.min(shortest));
            meter.count(1);
            let Some(end) = end else { break };
            let stale = end == shortest;
            shortest = end;
            self.keep(back, end);
            back = !back;
            if stale {
                break;
            }
        }
        if way.aim.is_none_or(|aim| shortest <= aim) && shortest < u32::MAX {
            self.tell(shortest, out);
        }
        shortest
    }

    fn work(&self, activity: u32) -> u64 {
        self.project.work[activity as usize]
    }

    fn draw(&mut self, _k: usize, rng: &mut Rng, draft: &mut Draft) {
        self.drawn.draw(self.project, rng, &mut draft.list);
    }

    fn linked(&self, first: u32, second: u32) -> bool {
        self.project.succs.of(first as usize).iter().any(|&(s, _)| s == second)
    }
}

/// Draws orders: among what may come next, rather what has the longest way ahead.
#[derive(Debug, Clone, Default)]
struct Drawn {
    open: Vec<u32>,
    waiting: Vec<u32>,
}

impl Drawn {
    fn draw(&mut self, project: &Project, rng: &mut Rng, list: &mut Vec<u32>) {
        let n = project.len();
        list.clear();
        self.waiting.clear();
        self.waiting.extend((0..n).map(|i| small(project.preds.of(i).len())));
        self.open.clear();
        self.open.extend((0..n).filter(|&i| self.waiting[i] == 0).map(small));
        while !self.open.is_empty() {
            let tail = |i: u32| project.tail[i as usize] - project.duration[i as usize];
            let picks = (0..3).map(|_| rng.below(self.open.len()));
            let next = picks.max_by_key(|&k| tail(self.open[k])).unwrap_or(0);
            let i = self.open.swap_remove(next);
            list.push(i);
            for &(s, _) in project.succs.of(i as usize) {
                self.waiting[s as usize] -= 1;
                if self.waiting[s as usize] == 0 {
                    self.open.push(s);
                }
            }
        }
    }
}
