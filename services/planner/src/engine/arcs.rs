//! What comes after what, in rows.

use super::project::small;

/// Arcs in one direction: to which activity, and the least time between.
#[derive(Debug, Clone, Default)]
pub(super) struct Arcs {
    row: Vec<u32>,
    arc: Vec<(u32, u32)>,
}

impl Arcs {
    pub fn new(n: usize, arcs: impl Iterator<Item = (usize, usize, u32)> + Clone) -> Self {
        let mut row = vec![0_u32; n + 1];
        for (from, _, _) in arcs.clone() {
            row[from + 1] += 1;
        }
        for i in 0..n {
            row[i + 1] += row[i];
        }
        let mut next = row.clone();
        let mut arc = vec![(0, 0); row[n] as usize];
        for (from, to, lag) in arcs {
            arc[next[from] as usize] = (small(to), lag);
            next[from] += 1;
        }
        Self { row, arc }
    }

    /// The arcs of one activity.
    pub fn of(&self, i: usize) -> &[(u32, u32)] {
        &self.arc[self.row[i] as usize..self.row[i + 1] as usize]
    }
}

/// So many arcs are looked at together.
const FEW: usize = 4;

/// The same in groups of a few, filled up with arcs to an activity that is none and begins everything: how many there
/// are is then hardly ever a surprise to the processor.
#[derive(Debug, Clone)]
pub(super) struct Groups {
    row: Vec<(u32, u32)>,
    group: Vec<[(u32, u32); FEW]>,
}

impl Groups {
    pub fn new(n: usize, arcs: &Arcs) -> Self {
        let mut made = Self { row: Vec::with_capacity(n), group: Vec::with_capacity(n) };
        for i in 0..n {
            let from = small(made.group.len());
            for few in arcs.of(i).chunks(FEW) {
                let mut group = [(small(n), 0); FEW];
                group[..few.len()].copy_from_slice(few);
                made.group.push(group);
            }
            made.row.push((from, small(made.group.len())));
        }
        made
    }

    /// When everything before an activity is over; `finish` has a 0 behind the activities, for the one that is none.
    pub fn ready(&self, i: usize, finish: &[u32]) -> u32 {
        let (from, until) = self.row[i];
        let mut ready = 0;
        for few in &self.group[from as usize..until as usize] {
            let over = few.map(|(p, lag)| finish[p as usize] + lag);
            ready = ready.max(over[0].max(over[1]).max(over[2].max(over[3])));
        }
        ready
    }
}
