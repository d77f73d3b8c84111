//! The graph of a project whose resources each serve one activity at a time: precedence, and an order on each machine.

use super::project::{Project, small};

/// No activity.
pub(super) const NONE: u32 = u32::MAX;

/// Heads, tails and a topological order, kept while activities change places on their machines.
#[derive(Debug, Clone)]
pub(super) struct Graph<'p> {
    pub project: &'p Project,
    /// The machine of each activity; [`NONE`] for those that need none.
    pub machine: &'p [u32],
    /// What stands before and behind on the same machine.
    pub prev: Vec<u32>,
    pub next: Vec<u32>,
    /// Earliest start.
    pub head: Vec<u32>,
    /// Longest way from its start to the end.
    pub tail: Vec<u32>,
    /// Earliest start by precedence alone, and longest way behind its finish by precedence alone.
    pub ready: Vec<u32>,
    pub after: Vec<u32>,
    pub order: Vec<u32>,
    place: Vec<u32>,
    moved: Vec<bool>,
    spare: Vec<u32>,
    pub length: u32,
}

impl<'p> Graph<'p> {
    pub fn new(project: &'p Project, machine: &'p [u32]) -> Self {
        let n = project.len();
        let blank = vec![0; n];
        Self {
            project,
            machine,
            prev: vec![NONE; n],
            next: vec![NONE; n],
            head: blank.clone(),
            tail: blank.clone(),
            ready: blank.clone(),
            after: blank.clone(),
            order: blank.clone(),
            place: blank,
            moved: vec![false; n],
            spare: Vec::new(),
            length: 0,
        }
    }

    /// Takes each machine's order from a list that keeps precedence.
    pub fn load(&mut self, list: &[u32]) {
        let machines = self.machine.iter().filter(|&&m| m != NONE).max().map_or(0, |&m| m as usize + 1);
        let mut last = vec![NONE; machines];
        self.prev.fill(NONE);
        self.next.fill(NONE);
        self.order.copy_from_slice(list);
        for (k, &i) in list.iter().enumerate() {
            self.place[i as usize] = small(k);
            if let Some(last) = last.get_mut(self.machine[i as usize] as usize) {
                self.prev[i as usize] = *last;
                if *last != NONE {
                    self.next[*last as usize] = i;
                }
                *last = i;
            }
        }
        self.reckon(0, list.len().saturating_sub(1));
    }

    /// Heads forwards and tails backwards, where the order changed between two places.
    fn reckon(&mut self, from: usize, until: usize) {
        let duration = &self.project.duration;
        for &i in &self.order[from..] {
            let i = i as usize;
            let mut ready = 0;
            for &(p, lag) in self.project.preds.of(i) {
                ready = ready.max(self.head[p as usize] + duration[p as usize] + lag);
            }
            self.ready[i] = ready;
            let prev = self.prev[i] as usize;
            if prev < duration.len() {
                ready = ready.max(self.head[prev] + duration[prev]);
            }
            self.head[i] = ready;
        }
        for &i in self.order[..=until].iter().rev() {
            let i = i as usize;
            let mut after = 0;
            for &(s, lag) in self.project.succs.of(i) {
                after = after.max(self.tail[s as usize] + lag);
            }
            self.after[i] = after;
            if let Some(&tail) = self.tail.get(self.next[i] as usize) {
                after = after.max(tail);
            }
            self.tail[i] = after + duration[i];
        }
        self.length = self.tail.iter().copied().max().unwrap_or(0);
    }

    /// Puts `u` right behind `v`, which stands later on the same machine and which nothing behind `u` leads to.
    pub fn put_behind(&mut self, u: u32, v: u32) {
        self.unlink(u);
        let next = self.next[v as usize];
        self.link(v, u);
        self.link(u, next);
        let (from, until) = (self.place[u as usize] as usize, self.place[v as usize] as usize);
        // What hangs on `u` between the two goes behind `v` with it, in the order it had.
        self.spare.clear();
        self.spare.push(u);
        self.moved[u as usize] = true;
        let mut write = from;
        for k in from + 1..=until {
            let i = self.order[k];
            let hangs = |p: u32| p != NONE && self.moved[p as usize];
            let hung = self.project.preds.of(i as usize).iter().any(|&(p, _)| hangs(p)) || hangs(self.prev[i as usize]);
            if hung {
                self.moved[i as usize] = true;
                self.spare.push(i);
            } else {
                self.order[write] = i;
                self.place[i as usize] = small(write);
                write += 1;
            }
        }
        for &i in &self.spare {
            self.moved[i as usize] = false;
            self.order[write] = i;
            self.place[i as usize] = small(write);
            write += 1;
        }
        self.reckon(from, until);
    }

    /// Puts `v` right before `u`, which stands earlier on the same machine and leads to nothing before `v`.
    pub fn put_before(&mut self, v: u32, u: u32) {
        self.unlink(v);
        let prev = self.prev[u as usize];
        self.link(v, u);
        self.link(prev, v);
        let (from, until) = (self.place[u as usize] as usize, self.place[v as usize] as usize);
        self.spare.clear();
        self.spare.push(v);
        self.moved[v as usize] = true;
        let mut write = until;
        for k in (from..until).rev() {
            let i = self.order[k];
            let leads = |s: u32| s != NONE && self.moved[s as usize];
            let led = self.project.succs.of(i as usize).iter().any(|&(s, _)| leads(s)) || leads(self.next[i as usize]);
            if led {
                self.moved[i as usize] = true;
                self.spare.push(i);
            } else {
                self.order[write] = i;
                self.place[i as usize] = small(write);
                write -= 1;
            }
        }
        for &i in &self.spare {
            self.moved[i as usize] = false;
            self.order[write] = i;
            self.place[i as usize] = small(write);
            write = write.wrapping_sub(1);
        }
        self.reckon(from, until);
    }

    fn unlink(&mut self, i: u32) {
        let (prev, next) = (self.prev[i as usize], self.next[i as usize]);
        if prev != NONE {
            self.next[prev as usize] = next;
        }
        if next != NONE {
            self.prev[next as usize] = prev;
        }
    }

    fn link(&mut self, a: u32, b: u32) {
        if a != NONE {
            self.next[a as usize] = b;
        }
        if b != NONE {
            self.prev[b as usize] = a;
        }
    }
}
