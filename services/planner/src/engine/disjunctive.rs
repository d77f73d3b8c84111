//! Tabu search over the orders of machines that serve one activity at a time: an activity of a critical block moves to
//! or over the block's ends (Balas and Vazacopoulos 1998; Zhang and others 2007).

use super::graph::{Graph, NONE};
use super::population::{Decoder, Draft, Orders, Way};
use super::project::{Project, small};
use super::serial::Serial;
use crate::budget::Meter;
use crate::rng::Rng;

/// `what` goes right behind or right before `where_to`.
#[derive(Debug, Clone, Copy)]
struct Move {
    what: u32,
    where_to: u32,
    behind: bool,
}

/// Rounds without a better schedule after which a search ends.
const PATIENCE: u32 = 2_000;

/// Turns orders into schedules of a job shop, and those into better ones.
pub(super) struct Disjunctive<'p> {
    serial: Serial<'p>,
    graph: Graph<'p>,
    rng: Rng,
    /// The round until which the first must not come before the second again, by activity and rank on its machine.
    tabu: Vec<u32>,
    rank: Vec<u32>,
    width: usize,
    tenure: (usize, usize),
    /// Rounds without a better schedule after which a search ends.
    patience: u32,
    path: Vec<u32>,
    moves: Vec<Move>,
    chain: Vec<u32>,
    heads: Vec<u32>,
    best: (Vec<u32>, u32),
    local: Vec<u32>,
}

impl<'p> Disjunctive<'p> {
    pub fn new(project: &'p Project, machine: &'p [u32], rng: Rng) -> Self {
        let n = project.len();
        let machines = machine.iter().filter(|&&m| m != NONE).max().map_or(0, |&m| m as usize + 1);
        let mut count = vec![0_u32; machines];
        let rank = machine.iter().map(|&m| {
            count.get_mut(m as usize).map_or(0, |count| {
                *count += 1;
                *count - 1
            })
        });
        let rank: Vec<u32> = rank.collect();
        let width = count.iter().max().map_or(1, |&c| c as usize);
        let least = 10 + width / machines.max(1);
        let most = if width <= 2 * machines { least * 7 / 5 } else { least * 3 / 2 };
        Self {
            serial: Serial::new(project),
            graph: Graph::new(project, machine),
            rng,
            tabu: vec![0; n * width],
            rank,
            width,
            tenure: (least, most),
            patience: PATIENCE,
            path: Vec::new(),
            moves: Vec::new(),
            chain: Vec::new(),
            heads: Vec::new(),
            best: (Vec::new(), u32::MAX),
            local: vec![0; n],
        }
    }

    /// The best schedule that was made.
    pub fn best(self) -> (Vec<u32>, u32) {
        self.best
    }

    /// One critical path, drawn where there are several.
    fn trace(&mut self) {
        let g = &self.graph;
        self.path.clear();
        let firsts = || g.order.iter().copied().filter(|&i| g.head[i as usize] == 0 && g.tail[i as usize] == g.length);
        let Some(mut i) = firsts().nth(self.rng.below(firsts().count())) else { return };
        loop {
            self.path.push(i);
            let finish = g.head[i as usize] + g.project.duration[i as usize];
            let rest = g.length - finish;
            let (mut found, mut choice) = (0, NONE);
            let next = g.next[i as usize];
            if next != NONE && g.tail[next as usize] == rest {
                found = 1;
                choice = next;
            }
            for &(s, lag) in g.project.succs.of(i as usize) {
                if s != next && g.tail[s as usize] + lag == rest && (rest > 0 || g.project.duration[s as usize] > 0) {
                    found += 1;
                    if self.rng.below(found) == 0 {
                        choice = s;
                    }
                }
            }
            if choice == NONE {
                break;
            }
            i = choice;
        }
    }

    /// The moves over the blocks of the path.
    fn collect(&mut self) {
        self.moves.clear();
        let mut from = 0;
        while from < self.path.len() {
            let mut until = from + 1;
            while until < self.path.len() && self.graph.next[self.path[until - 1] as usize] == self.path[until] {
                until += 1;
            }
            if until - from > 1 {
                self.block(from, until);
            }
            from = until;
        }
    }

    fn block(&mut self, from: usize, until: usize) {
        let last = until - 1;
        let (front, rear, pair) = (from > 0, until < self.path.len(), from + 1 == last);
        if front && !(rear && pair) {
            for k in from + 1..=last {
                self.offer(self.path[k], self.path[from], false);
            }
            let end = if rear || pair { last } else { until };
            for k in from + 1..end {
                self.offer(self.path[from], self.path[k], true);
            }
        }
        if rear {
            for k in from..last {
                self.offer(self.path[k], self.path[last], true);
            }
            let begin = if front || pair { from + 1 } else { from };
            for k in begin..last {
                self.offer(self.path[last], self.path[k], false);
            }
        }
    }

    /// Adds a move if it closes no circle for certain.
    fn offer(&mut self, what: u32, where_to: u32, behind: bool) {
        let g = &self.graph;
        let (u, v) = (what as usize, where_to as usize);
        let duration = &g.project.duration;
        let fits = if behind {
            let over = |s: u32| g.tail[v] + u32::from(duration[s as usize] > 0) > g.tail[s as usize];
            g.project.succs.of(u).iter().all(|&(s, _)| over(s))
        } else {
            let end = |i: usize| g.head[i] + duration[i];
            let over = |p: u32| end(v) + u32::from(duration[p as usize] > 0) > end(p as usize);
            g.project.preds.of(u).iter().all(|&(p, _)| over(p))
        };
        if fits {
            self.moves.push(Move { what, where_to, behind });
        }
    }

    /// How long the way through what a move touches would be, and whether the move is tabu.
    #[allow(clippy::many_single_char_names, reason = "the letters of the field")]
    fn judge(&mut self, m: Move, round: u32) -> (u32, bool) {
        let g = &self.graph;
        self.chain.clear();
        let mut tabu = false;
        let (first, last) = if m.behind { (m.what, m.where_to) } else { (m.where_to, m.what) };
        let mut i = first;
        loop {
            if i != m.what {
                let (a, b) = if m.behind { (i, m.what) } else { (m.what, i) };
                tabu |= self.tabu[a as usize * self.width + self.rank[b as usize] as usize] > round;
                self.chain.push(i);
            }
            if i == last {
                break;
            }
            i = g.next[i as usize];
        }
        if m.behind {
            self.chain.push(m.what);
        } else {
            self.chain.insert(0, m.what);
        }
        let duration = &g.project.duration;
        let before = g.prev[first as usize];
        let mut free = if before == NONE { 0 } else { g.head[before as usize] + duration[before as usize] };
        self.heads.clear();
        for &i in &self.chain {
            let head = free.max(g.ready[i as usize]);
            self.heads.push(head);
            free = head + duration[i as usize];
        }
        let behind = g.next[last as usize];
        let mut rest = if behind == NONE { 0 } else { g.tail[behind as usize] };
        let mut longest = 0;
        for (&i, &head) in self.chain.iter().zip(&self.heads).rev() {
            rest = rest.max(g.after[i as usize]) + duration[i as usize];
            longest = longest.max(head + rest);
        }
        (longest, tabu)
    }

    fn choose(&mut self, round: u32, aspire: u32) -> Option<Move> {
        let (mut best, mut chosen, mut alike) = (u32::MAX, None, 0);
        for k in 0..self.moves.len() {
            let m = self.moves[k];
            let (length, tabu) = self.judge(m, round);
            if tabu && length >= aspire {
                continue;
            }
            if length < best {
                (best, chosen, alike) = (length, Some(m), 1);
            } else if length == best {
                alike += 1;
                if self.rng.below(alike) == 0 {
                    chosen = Some(m);
                }
            }
        }
        if chosen.is_none() && !self.moves.is_empty() {
            chosen = Some(self.moves[self.rng.below(self.moves.len())]);
        }
        chosen
    }

    fn make(&mut self, m: Move, round: u32) {
        let until = round + small(self.rng.between(self.tenure.0, self.tenure.1));
        let mut i = m.where_to;
        while i != m.what {
            let (a, b) = if m.behind { (m.what, i) } else { (i, m.what) };
            self.tabu[a as usize * self.width + self.rank[b as usize] as usize] = until;
            i = if m.behind { self.graph.prev[i as usize] } else { self.graph.next[i as usize] };
        }
        if m.behind { self.graph.put_behind(m.what, m.where_to) } else { self.graph.put_before(m.what, m.where_to) }
    }

    /// Tabu search from the order that is loaded; leaves the best one in `self.local`.
    fn search(&mut self, meter: &mut Meter<'_, '_>) -> u32 {
        self.tabu.fill(0);
        let mut best = self.graph.length;
        self.note(best);
        let (mut round, mut stale) = (1, 0);
        while stale < self.patience && best > self.graph.project.bound() && meter.more() {
            meter.count(1);
            self.trace();
            self.collect();
            let Some(m) = self.choose(round, best) else { break };
            self.make(m, round);
            stale += 1;
            if self.graph.length < best {
                best = self.graph.length;
                stale = 0;
                self.note(best);
            }
            round += 1;
        }
        best
    }

    fn note(&mut self, length: u32) {
        self.local.copy_from_slice(&self.graph.order);
        if length < self.best.1 {
            self.best.1 = length;
            self.best.0.clone_from(&self.graph.head);
        }
    }
}

impl Decoder for Disjunctive<'_> {
    type Score = u32;

    fn len(&self) -> usize {
        self.graph.project.len()
    }

    fn both_ways(&self) -> bool {
        false
    }

    fn good_enough(&self, score: u32) -> bool {
        score <= self.graph.project.bound()
    }

    fn develop(&mut self, draft: &Draft, way: Way<u32>, out: &mut Orders, meter: &mut Meter<'_, '_>) -> u32 {
        self.serial.develop(draft, Way { aim: None, ..way }, out, meter);
        self.graph.load(&out.forth);
        let best = self.search(meter);
        self.graph.load(&self.local);
        out.by_start(&self.graph.head, &self.graph.project.order);
        best
    }

    fn draw(&mut self, k: usize, rng: &mut Rng, draft: &mut Draft) {
        self.serial.draw(k, rng, draft);
    }

    fn work(&self, activity: u32) -> u64 {
        self.serial.work(activity)
    }

    fn linked(&self, first: u32, second: u32) -> bool {
        self.serial.linked(first, second)
    }
}
