//! Serial generation forwards and backwards over a packed profile.

use super::population::{Decoder, Draft, Orders, Way, mark};
use super::project::{Arcs, GUARD, Project, small};
use crate::budget::Meter;
use crate::rng::Rng;

/// What is free of each resource at each unit of time: four lanes of 16 bits a word, the uppermost bit of each set,
/// so that one subtraction compares all four.
#[derive(Debug, Clone)]
pub(super) struct Serial<'p> {
    project: &'p Project,
    /// By word, then by time.
    free: Vec<Vec<u64>>,
    /// Times up to which the profile was touched.
    touched: usize,
    start: Vec<u32>,
    other: Vec<u32>,
    counts: Vec<u32>,
    list: Vec<u32>,
    /// The best schedule so far, and its length.
    best: Vec<u32>,
    best_end: u32,
    drawn: Drawn,
}

impl<'p> Serial<'p> {
    pub fn new(project: &'p Project) -> Self {
        let n = project.len();
        Self {
            project,
            free: project.capacity.iter().map(|&c| vec![c; project.horizon]).collect(),
            touched: 0,
            start: vec![0; n],
            other: vec![0; n],
            counts: Vec::with_capacity(project.horizon + 1),
            list: Vec::with_capacity(n),
            best: Vec::new(),
            best_end: u32::MAX,
            drawn: Drawn::default(),
        }
    }

    /// The best schedule that was made.
    pub fn best(self) -> (Vec<u32>, u32) {
        (self.best, self.best_end)
    }

    fn clear(&mut self) {
        for (free, &capacity) in self.free.iter_mut().zip(&self.project.capacity) {
            free[..self.touched].fill(capacity);
        }
        self.touched = 0;
    }

    /// Places the activities of `list` one after the other, each as early as possible, time running the one way or
    /// the other. Leaves the starts (of that way) in `self.start` and gives the latest finish.
    fn place_all(&mut self, list: &[u32], back: bool) -> u32 {
        self.clear();
        let before = if back { &self.project.succs } else { &self.project.preds };
        let end = if let [free] = self.free.as_mut_slice() {
            place_one_word(self.project, before, list, free, &self.project.demand[0], &mut self.start)
        } else {
            place_many_words(self.project, before, list, &mut self.free, &mut self.start)
        };
        self.touched = end as usize;
        end
    }

    /// Fills `list` with the activities of `from` by rising start, alike ones as in `from`.
    fn by_rising_start(&mut self, from: &[u32], end: u32, list: &mut [u32]) {
        let start = &self.start;
        sort_by_count(&mut self.counts, end, from.iter().copied(), |i| start[i as usize], list);
    }

    /// Fills `list` with the activities of `from` by falling finish, which is an order for the other way.
    fn by_falling_finish(&mut self, from: &[u32], end: u32, list: &mut [u32]) {
        let (start, duration) = (&self.start, &self.project.duration);
        let key = |i: u32| end - start[i as usize] - duration[i as usize];
        sort_by_count(&mut self.counts, end, from.iter().rev().copied(), key, list);
    }

    /// Remembers the schedule that was just made, in time that runs forwards.
    fn keep(&mut self, back: bool, end: u32) {
        self.best_end = end;
        self.best.clear();
        let times = self.start.iter().zip(&self.project.duration);
        self.best.extend(times.map(|(&s, &d)| if back { end - s - d } else { s }));
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

fn place_one_word(
    project: &Project,
    before: &Arcs,
    list: &[u32],
    free: &mut [u64],
    demand: &[u64],
    start: &mut [u32],
) -> u32 {
    let mut end = 0;
    for &i in list {
        let i = i as usize;
        let mut s = 0;
        for &(p, lag) in before.of(i) {
            s = s.max(start[p as usize] + project.duration[p as usize] + lag);
        }
        let d = project.duration[i];
        let k = demand[i];
        if d > 0 && k > 0 {
            let mut at = s as usize;
            let width = d as usize;
            while let Some(clash) = free[at..at + width].iter().rposition(|&f| f.wrapping_sub(k) & GUARD != GUARD) {
                at += clash + 1;
            }
            for f in &mut free[at..at + width] {
                *f -= k;
            }
            s = small(at);
        }
        start[i] = s;
        end = end.max(s + d);
    }
    end
}

fn place_many_words(project: &Project, before: &Arcs, list: &[u32], free: &mut [Vec<u64>], start: &mut [u32]) -> u32 {
    let mut end = 0;
    for &i in list {
        let i = i as usize;
        let ready = before.of(i).iter().map(|&(p, lag)| start[p as usize] + project.duration[p as usize] + lag);
        let mut at = ready.max().unwrap_or(0) as usize;
        let width = project.duration[i] as usize;
        loop {
            let clash =
                free.iter().zip(&project.demand).filter(|(_, demand)| demand[i] > 0).find_map(|(free, demand)| {
                    free[at..at + width].iter().rposition(|&f| f.wrapping_sub(demand[i]) & GUARD != GUARD)
                });
            let Some(clash) = clash else { break };
            at += clash + 1;
        }
        for (free, demand) in free.iter_mut().zip(&project.demand).filter(|(_, demand)| demand[i] > 0) {
            for f in &mut free[at..at + width] {
                *f -= demand[i];
            }
        }
        start[i] = small(at);
        end = end.max(small(at + width));
    }
    end
}

/// A first schedule that is longer than what it should replace by more than one part in so many is not justified.
const HOPE: u32 = 16;

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
        let mut now = std::mem::take(&mut self.list);
        let mut next = std::mem::take(&mut self.other);
        now.clear();
        now.extend_from_slice(&draft.list);
        next.resize(now.len(), 0);
        let (mut back, mut shortest, mut stale) = (way.back, u32::MAX, false);
        let hopeless = way.aim.map_or(u32::MAX, |aim| aim + aim / HOPE + 1);
        while !stale {
            let end = self.place_all(&now, back);
            meter.count(1);
            self.by_falling_finish(&now, end, &mut next);
            stale = end >= shortest || end > hopeless;
            if end <= shortest {
                shortest = end;
                let (same, same_at, other, other_at) = if back {
                    (&mut out.back, &mut out.back_at, &mut out.forth, &mut out.forth_at)
                } else {
                    (&mut out.forth, &mut out.forth_at, &mut out.back, &mut out.back_at)
                };
                self.by_rising_start(&now, end, same);
                other.copy_from_slice(&next);
                let flip = |(&s, &d): (&u32, &u32)| if back { end - s - d } else { s };
                out.mark = mark(self.start.iter().zip(&self.project.duration).map(flip));
                for (at, &i) in same_at.iter_mut().zip(&*same) {
                    *at = self.start[i as usize];
                }
                for (at, &i) in other_at.iter_mut().zip(&*other) {
                    *at = end - self.start[i as usize] - self.project.duration[i as usize];
                }
                if end < self.best_end {
                    self.keep(back, end);
                }
            }
            std::mem::swap(&mut now, &mut next);
            back = !back;
        }
        self.list = now;
        self.other = next;
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
