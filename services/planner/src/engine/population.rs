//! A population of orders: each is crossed with another in turn, and the child takes its place unless it is worse.

use crate::budget::{Ended, Meter};
use crate::rng::Rng;

/// An order by which a schedule is made, and the one by which it is made from its end.
#[derive(Debug, Clone, Default)]
pub(crate) struct Orders {
    /// By rising start.
    pub forth: Vec<u32>,
    /// By falling finish; left alone by decoders that read one way.
    pub back: Vec<u32>,
    /// When each of `forth` starts.
    pub forth_at: Vec<u32>,
    /// How long before the end each of `back` is finished.
    pub back_at: Vec<u32>,
    /// The same for orders that give the same schedule.
    pub mark: u64,
}

impl Orders {
    fn blank(n: usize) -> Self {
        let list = vec![0; n];
        Self { forth: list.clone(), back: list.clone(), forth_at: list.clone(), back_at: list, mark: 0 }
    }

    /// Takes the forward order from a schedule; alike ones in the order of `alike`, which keeps precedence.
    pub fn by_start(&mut self, start: &[u32], alike: &[u32]) {
        self.forth.clear();
        self.forth.extend_from_slice(alike);
        self.forth.sort_by_key(|&i| start[i as usize]);
        self.forth_at.clear();
        self.forth_at.extend(self.forth.iter().map(|&i| start[i as usize]));
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

/// An order and what is chosen beside it for each activity, before it becomes a schedule.
#[derive(Debug, Clone, Default)]
pub(crate) struct Draft {
    pub list: Vec<u32>,
    /// By activity; what a gene means is the decoder's.
    pub genes: Vec<u16>,
}

/// How an order is read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Way<S> {
    /// From the end.
    pub back: bool,
    /// Nothing worse than this is of use.
    pub aim: Option<S>,
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
    fn develop(
        &mut self,
        draft: &Draft,
        way: Way<Self::Score>,
        out: &mut Orders,
        meter: &mut Meter<'_, '_>,
    ) -> Self::Score;
    /// Draws an order that keeps precedence, the `k`-th of a population.
    fn draw(&mut self, k: usize, rng: &mut Rng, draft: &mut Draft);
    /// Whether the first has to come before the second, read forwards.
    fn linked(&self, first: u32, second: u32) -> bool;
    /// How much of the shared resources an activity takes, in any unit.
    fn work(&self, activity: u32) -> u64;
    /// Changes genes here and there.
    fn vary(&mut self, _rng: &mut Rng, _draft: &mut Draft) {}
}

/// How a population lives.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ways {
    /// How many orders there are at a time.
    pub size: usize,
    /// Children in a row that bettered nobody, by member, after which all but the best begin anew.
    pub patience: usize,
    /// Most activities of a child that are moved.
    pub moves: usize,
}

/// How many stretches are looked at before the one that uses the resources most is crossed.
const LOOKS: usize = 4;

struct Member<S> {
    orders: Orders,
    genes: Vec<u16>,
    score: S,
}

impl<S> Member<S> {
    fn order(&self, back: bool) -> (&[u32], &[u32]) {
        if back { (&self.orders.back, &self.orders.back_at) } else { (&self.orders.forth, &self.orders.forth_at) }
    }
}

struct Population<'d, D: Decoder> {
    decoder: &'d mut D,
    rng: Rng,
    ways: Ways,
    members: Vec<Member<D::Score>>,
    turn: usize,
    child: Draft,
    spare: Orders,
    /// Which of the three parts of the father's order an activity lies in.
    part: Vec<u8>,
    work: Vec<u64>,
}

/// Looks for the best order until the meter says no.
pub(crate) fn evolve<D: Decoder>(decoder: &mut D, rng: Rng, ways: Ways, meter: &mut Meter<'_, '_>) -> Ended {
    let n = decoder.len();
    let mut population = Population {
        decoder,
        rng,
        ways,
        members: Vec::with_capacity(ways.size),
        turn: 0,
        child: Draft { list: Vec::with_capacity(n), genes: vec![0; n] },
        spare: Orders::blank(n),
        part: vec![0; n],
        work: Vec::with_capacity(n + 1),
    };
    loop {
        if population.settle(n, meter) || population.breed(meter) {
            return Ended::Proved;
        }
        if !meter.more() {
            return meter.ended();
        }
    }
}

impl<D: Decoder> Population<'_, D> {
    /// Fills up with drawn orders; true when one can't be bettered.
    fn settle(&mut self, n: usize, meter: &mut Meter<'_, '_>) -> bool {
        while self.members.is_empty() || self.members.len() < self.ways.size && meter.more() {
            self.decoder.draw(self.members.len(), &mut self.rng, &mut self.child);
            let mut orders = Orders::blank(n);
            let score = self.decoder.develop(&self.child, Way { back: false, aim: None }, &mut orders, meter);
            self.members.push(Member { orders, genes: self.child.genes.clone(), score });
            if self.decoder.good_enough(score) {
                return true;
            }
        }
        false
    }

    /// Crosses members until nothing new comes of it; true when a child can't be bettered.
    fn breed(&mut self, meter: &mut Meter<'_, '_>) -> bool {
        let mut barren = 0;
        while self.members.len() > 1 && barren < self.ways.patience * self.members.len() && meter.more() {
            let back = self.decoder.both_ways() && self.rng.percent(50);
            self.turn = (self.turn + 1) % self.members.len();
            let mother = self.mother();
            self.cross(self.turn, mother, back);
            self.shift(back);
            self.decoder.vary(&mut self.rng, &mut self.child);
            let aim = Some(self.members[self.turn].score);
            let score = self.decoder.develop(&self.child, Way { back, aim }, &mut self.spare, meter);
            if self.decoder.good_enough(score) {
                return true;
            }
            barren = if self.admit(score) { 0 } else { barren + 1 };
        }
        let best = self.members.iter().enumerate().min_by_key(|(i, m)| (m.score, *i)).map_or(0, |(i, _)| i);
        self.members.swap(0, best);
        self.members.truncate(1);
        false
    }

    /// The better of two others.
    fn mother(&mut self) -> usize {
        let n = self.members.len();
        let (a, b) = (self.rng.below(n), self.rng.below(n));
        let mother = if self.members[a].score <= self.members[b].score { a } else { b };
        if mother == self.turn { (mother + 1) % n } else { mother }
    }

    /// The father's order with a stretch, or all but a stretch, in the order of the mother (after Hartmann 1998, and
    /// the peaks of Valls, Ballestín and Quintanilla 2008).
    fn cross(&mut self, father: usize, mother: usize, back: bool) {
        let (father, mother) = (&self.members[father], &self.members[mother]);
        let (list, at) = father.order(back);
        let n = list.len();
        let length = self.rng.between(n / 4, n * 3 / 4).max(1);
        self.work.clear();
        self.work.push(0);
        for &a in list {
            self.work.push(self.work.last().copied().unwrap_or(0) + self.decoder.work(a));
        }
        let (mut from, mut most) = (0, None);
        for _ in 0..LOOKS {
            let first = self.rng.below(n - length + 1);
            let work = u128::from(self.work[first + length] - self.work[first]);
            let span = u128::from(at[first + length - 1] - at[first] + 1);
            if most.is_none_or(|(w, s)| work * s > w * span) {
                from = first;
                most = Some((work, span));
            }
        }
        let until = from + length;
        for (i, &a) in list.iter().enumerate() {
            self.part[a as usize] = u8::from(i >= from) + u8::from(i >= until);
        }
        let part = &self.part;
        let of_mother = |p: u8| mother.order(back).0.iter().copied().filter(move |&a| part[a as usize] == p);
        let middle_of_mother = self.rng.percent(50);
        self.child.list.clear();
        if middle_of_mother {
            self.child.list.extend_from_slice(&list[..from]);
            self.child.list.extend(of_mother(1));
            self.child.list.extend_from_slice(&list[until..]);
        } else {
            self.child.list.extend(of_mother(0));
            self.child.list.extend_from_slice(&list[from..until]);
            self.child.list.extend(of_mother(2));
        }
        for (i, gene) in self.child.genes.iter_mut().enumerate() {
            let of_mother = (self.part[i] == 1) == middle_of_mother;
            *gene = if of_mother { mother.genes[i] } else { father.genes[i] };
        }
    }

    /// Moves some activities as far as precedence lets them, or part of the way.
    fn shift(&mut self, back: bool) {
        let n = self.child.list.len();
        for _ in 0..self.rng.below(self.ways.moves + 1) {
            let from = self.rng.below(n);
            let what = self.child.list[from];
            let reach = self.rng.below(n / 3 + 2);
            let mut to = from;
            if self.rng.percent(50) {
                while to > 0 && from - to < reach && !self.bound(self.child.list[to - 1], what, back) {
                    to -= 1;
                }
                self.child.list[to..=from].rotate_right(1);
            } else {
                while to + 1 < n && to - from < reach && !self.bound(what, self.child.list[to + 1], back) {
                    to += 1;
                }
                self.child.list[from..=to].rotate_left(1);
            }
        }
    }

    fn bound(&self, first: u32, second: u32, back: bool) -> bool {
        if back { self.decoder.linked(second, first) } else { self.decoder.linked(first, second) }
    }

    /// Takes the child for its father, unless it is worse or there already; says whether it is better.
    fn admit(&mut self, score: D::Score) -> bool {
        let father = self.members[self.turn].score;
        let mut others = self.members.iter().enumerate().filter(|(i, _)| *i != self.turn);
        if score > father || others.any(|(_, m)| m.orders.mark == self.spare.mark && m.score == score) {
            return false;
        }
        let member = &mut self.members[self.turn];
        member.score = score;
        std::mem::swap(&mut member.orders, &mut self.spare);
        member.genes.copy_from_slice(&self.child.genes);
        score < father
    }
}
