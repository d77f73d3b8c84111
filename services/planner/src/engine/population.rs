//! A population of orders: two are crossed, the child is turned into a schedule and takes the place of the worst.

use crate::budget::{Ended, Meter};
use crate::rng::Rng;

/// An order by which a schedule is made, and the one by which it is made from its end.
#[derive(Debug, Clone, Default)]
pub struct Orders {
    /// By rising start.
    pub forth: Vec<u32>,
    /// By falling finish.
    pub back: Vec<u32>,
    /// When each of `forth` starts.
    pub forth_at: Vec<u32>,
    /// How long before the end each of `back` is finished.
    pub back_at: Vec<u32>,
    /// The same for two orders that give the same schedule.
    pub mark: u64,
    pub second: u64,
}

impl Orders {
    /// Takes the orders from a schedule; alike ones in the order of `alike`, which keeps precedence.
    pub fn by_start(&mut self, start: &[u32], duration: &[u32], end: u32, alike: &[u32]) {
        let before_end = |i: u32| end - start[i as usize] - duration[i as usize];
        self.forth.copy_from_slice(alike);
        self.forth.sort_by_key(|&i| start[i as usize]);
        self.forth_at.clear();
        self.forth_at.extend(self.forth.iter().map(|&i| start[i as usize]));
        self.back.clear();
        self.back.extend(alike.iter().rev());
        self.back.sort_by_key(|&i| before_end(i));
        self.back_at.clear();
        self.back_at.extend(self.back.iter().map(|&i| before_end(i)));
        self.mark = mark(start.iter().copied());
    }
}

/// A number that two different schedules hardly share.
pub(crate) fn mark(start: impl Iterator<Item = u32>) -> u64 {
    let each = |(i, s): (usize, u32)| {
        let z = ((i as u64) << 32 | u64::from(s)).wrapping_mul(0xd6e8_feb8_6659_fd93);
        (z ^ z >> 32).wrapping_mul(0x94d0_49bb_1331_11eb).rotate_left(29)
    };
    start.enumerate().map(each).fold(0, u64::wrapping_add)
}

/// Whatever turns an order into a schedule.
pub(crate) trait Decoder {
    /// What is compared; less is better.
    type Score: Copy + Ord;

    /// How many activities an order has.
    fn len(&self) -> usize;
    /// Whether orders are also read from the end.
    fn both_ways(&self) -> bool;
    /// Whether nothing better is possible.
    fn good_enough(&self, score: Self::Score) -> bool;
    /// Makes a schedule from an order, and leaves the orders of the best schedule it came to.
    fn develop(&mut self, list: &[u32], back: bool, out: &mut Orders, meter: &mut Meter<'_, '_>) -> Self::Score;
    /// How much of the shared resources an activity takes, in any unit.
    fn work(&self, activity: u32) -> u64;
    /// Draws an order that keeps precedence.
    fn draw(&mut self, rng: &mut Rng, list: &mut Vec<u32>);
    /// Whether the first has to come before the second, read forwards.
    fn linked(&self, first: u32, second: u32) -> bool;
}

/// How a population lives.
#[derive(Debug, Clone, Copy)]
pub struct Ways {
    /// How many orders there are at a time.
    pub size: usize,
    /// Children in a row that were no use, by member, after which all but the best begin anew.
    pub patience: usize,
    /// Chance in a hundred that a neighbour is exchanged, by position.
    pub mutation: u32,
    pub looks: usize,
    pub inverse: u32,
    pub uniform: bool,
    pub replace: usize,
    pub short: usize,
    pub long: usize,
}

struct Member<S> {
    orders: Orders,
    score: S,
}

struct Population<'d, D: Decoder> {
    decoder: &'d mut D,
    rng: Rng,
    ways: Ways,
    members: Vec<Member<D::Score>>,
    child: Vec<u32>,
    spare: Orders,
    rank: Vec<u32>,
    work: Vec<u64>,
    turn: usize,
}

/// Looks for the best order until the meter says no.
pub(crate) fn evolve<D: Decoder>(decoder: &mut D, rng: Rng, ways: Ways, meter: &mut Meter<'_, '_>) -> Ended {
    let n = decoder.len();
    let blank = Orders { forth: vec![0; n], back: vec![0; n], forth_at: vec![0; n], back_at: vec![0; n], mark: 0, second: 0 };
    let mut population = Population {
        decoder,
        rng,
        ways,
        members: Vec::with_capacity(ways.size),
        child: Vec::with_capacity(n),
        spare: blank,
        rank: vec![0; n],
        work: Vec::new(),
        turn: 0,
    };
    while meter.more() {
        if population.settle(meter) || population.breed(meter) {
            return Ended::Proved;
        }
    }
    meter.ended()
}

impl<D: Decoder> Population<'_, D> {
    /// Fills up with drawn orders; true when one can't be bettered.
    fn settle(&mut self, meter: &mut Meter<'_, '_>) -> bool {
        while self.members.len() < self.ways.size && (meter.more() || self.members.is_empty()) {
            let mut child = std::mem::take(&mut self.child);
            self.decoder.draw(&mut self.rng, &mut child);
            let mut orders = Orders { forth: child.clone(), back: child.clone(), forth_at: child.clone(), back_at: child.clone(), mark: 0, second: 0 };
            let score = self.decoder.develop(&child, false, &mut orders, meter);
            self.child = child;
            self.members.push(Member { orders, score });
            if self.decoder.good_enough(score) {
                return true;
            }
        }
        false
    }

    /// Crosses members until nothing new comes of it; true when a child can't be bettered.
    fn breed(&mut self, meter: &mut Meter<'_, '_>) -> bool {
        let mut barren = 0;
        while barren < self.ways.patience * self.members.len() && meter.more() {
            let back = self.decoder.both_ways() && self.rng.percent(50);
            let (father, mother) = self.parents();
            self.cross(father, mother, back);
            self.mutate(back);
            let score = self.decoder.develop(&self.child, back, &mut self.spare, meter);
            if self.decoder.good_enough(score) {
                return true;
            }
            barren = if self.admit(score, father, mother) { 0 } else { barren + 1 };
        }
        let best = self.members.iter().enumerate().min_by_key(|(i, m)| (m.score, *i)).map_or(0, |(i, _)| i);
        self.members.swap(0, best);
        self.members.truncate(super::solve::env("KEEP", 1));
        false
    }

    fn parents(&mut self) -> (usize, usize) {
        let n = self.members.len();
        let (rng, members) = (&mut self.rng, &self.members);
        let mut pick = || {
            let (a, b) = (rng.below(n), rng.below(n));
            if (members[a].score, members[a].orders.second) <= (members[b].score, members[b].orders.second) { a } else { b }
        };
        let father = if self.ways.uniform { self.turn = (self.turn + 1) % n; self.turn } else { pick() };
        let mut mother = pick();
        if mother == father {
            mother = (father + 1) % n;
        }
        (father, mother)
    }

    /// The father's order with a stretch, or all but a stretch, in the order of the mother.
    fn cross(&mut self, father: usize, mother: usize, back: bool) {
        fn order<S>(m: &Member<S>, back: bool) -> (&[u32], &[u32]) {
            if back { (&m.orders.back, &m.orders.back_at) } else { (&m.orders.forth, &m.orders.forth_at) }
        }
        let (father, at) = order(&self.members[father], back);
        let (mother, _) = order(&self.members[mother], back);
        let n = father.len();
        let length = self.rng.between(n * self.ways.short / 100, n * self.ways.long / 100).max(1);
        self.work.clear();
        self.work.push(0);
        let mut sum = 0;
        for &a in father {
            sum += self.decoder.work(a);
            self.work.push(sum);
        }
        let (mut from, mut best) = (0, (0_u64, 1_u64));
        for _ in 0..self.ways.looks {
            let f = self.rng.below(n - length + 1);
            let w = self.work[f + length] - self.work[f];
            let span = u64::from(at[f + length - 1] - at[f] + 1);
            if best.0 == 0 || w * best.1 > best.0 * span {
                from = f;
                best = (w, span);
            }
        }
        let until = from + length;
        // Which of the three stretches an activity lies in.
        for (i, &a) in father.iter().enumerate() {
            self.rank[a as usize] = u32::from(i >= from) + u32::from(i >= until);
        }
        self.child.clear();
        let rank = &self.rank;
        let of = |part: u32| mother.iter().copied().filter(move |&a| rank[a as usize] == part);
        if self.rng.percent(self.ways.inverse) {
            self.child.extend_from_slice(&father[..from]);
            self.child.extend(of(1));
            self.child.extend_from_slice(&father[until..]);
        } else {
            self.child.extend(of(0));
            self.child.extend_from_slice(&father[from..until]);
            self.child.extend(of(2));
        }
    }

    /// Exchanges neighbours that need not be in this order.
    fn mutate(&mut self, back: bool) {
        for i in 1..self.child.len() {
            if self.rng.percent(self.ways.mutation) {
                let (a, b) = (self.child[i - 1], self.child[i]);
                let linked = if back { self.decoder.linked(b, a) } else { self.decoder.linked(a, b) };
                if !linked {
                    self.child.swap(i - 1, i);
                }
            }
        }
    }

    /// Takes the child for the worst member, unless it is worse or there already; says whether it did.
    fn admit(&mut self, score: D::Score, father: usize, mother: usize) -> bool {
        if self.members.iter().any(|m| m.orders.mark == self.spare.mark) {
            return false;
        }
        let key = |i: usize, ms: &[Member<D::Score>]| (ms[i].score, ms[i].orders.second);
        let loser = match self.ways.replace {
            0 => (0..self.members.len()).max_by_key(|&i| (key(i, &self.members), i)).unwrap_or(0),
            1 => if key(father, &self.members) > key(mother, &self.members) { father } else { mother },
            2 => { // worst of a few
                let n = self.members.len();
                let mut w = self.rng.below(n);
                for _ in 0..3 { let k = self.rng.below(n); if key(k, &self.members) > key(w, &self.members) { w = k; } }
                w
            }
            _ => father,
        };
        let new = (score, self.spare.second);
        let old = key(loser, &self.members);
        if new > old {
            return false;
        }
        let better = new < old;
        self.members[loser].score = score;
        std::mem::swap(&mut self.members[loser].orders, &mut self.spare);
        better
    }
}
