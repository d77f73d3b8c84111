//! What is free of each resource at each unit of time, and where there is room for an activity.

use super::project::{GUARD, LANES, Project};

/// A profile that fills up.
pub(super) trait Profile {
    /// Everything is free again up to a time.
    fn clear(&mut self, until: usize);
    /// The earliest time from `ready` on at which an activity of some width fits.
    fn earliest(&self, activity: usize, ready: usize, width: usize) -> usize;
    /// Takes what an activity needs from a time on.
    fn take(&mut self, activity: usize, from: usize, width: usize);
}

/// Up to four resources of which there are few: a byte each in a word of 32 bits, the uppermost bit of each byte set, so
/// that one subtraction compares all four.
#[derive(Debug, Clone)]
pub(super) struct Narrow {
    free: Vec<u32>,
    blank: u32,
    demand: Vec<u32>,
}

/// The uppermost bit of each byte.
const EIGHTHS: u32 = 0x8080_8080;
/// Times that are looked at together, and the widest activity for which that is done.
const LOOK: usize = 32;
const WIDEST: usize = 16;

/// A bit for each of the times that are looked at together.
const BITS: [u32; LOOK] = {
    let mut bits = [0; LOOK];
    let mut j = 0;
    while j < LOOK {
        bits[j] = 1 << j;
        j += 1;
    }
    bits
};

/// All ones for the times that an activity takes, by its width.
const TAKEN: [[u32; WIDEST]; WIDEST + 1] = {
    let mut taken = [[0; WIDEST]; WIDEST + 1];
    let mut width = 0;
    while width <= WIDEST {
        let mut j = 0;
        while j < width {
            taken[width][j] = u32::MAX;
            j += 1;
        }
        width += 1;
    }
    taken
};

/// Shifts after which a bit stands only where so many in a row stood, by width: each step at most doubles the row.
const SHIFTS: [[usize; 4]; WIDEST + 1] = {
    let mut shifts = [[0; 4]; WIDEST + 1];
    let mut width = 1;
    while width <= WIDEST {
        let (mut row, mut step) = (1, 0);
        while step < 4 {
            let more = if width - row < row { width - row } else { row };
            shifts[width][step] = more;
            row += more;
            step += 1;
        }
        width += 1;
    }
    shifts
};

impl Narrow {
    /// For a project whose resources are few enough and small enough.
    pub fn new(project: &Project) -> Option<Self> {
        let [capacity] = project.capacity[..] else { return None };
        let lanes = (0..LANES).map(|lane| (capacity & !GUARD) >> (16 * lane) & 0xffff);
        if lanes.max().unwrap_or(0) > 0x7f {
            return None;
        }
        let blank = bytes(capacity & !GUARD) | EIGHTHS;
        let demand = project.demand[0].iter().map(|&k| bytes(k)).collect();
        Some(Self { free: vec![blank; project.horizon + LOOK + WIDEST], blank, demand })
    }
}

/// Four lanes of 16 bits as four bytes.
fn bytes(lanes: u64) -> u32 {
    (0..LANES).fold(0, |all, lane| all | (u32::try_from(lanes >> (16 * lane) & 0x7f).unwrap_or(0) << (8 * lane)))
}

/// A bit for each of the times at which there is enough; in a form that compilers turn into few instructions.
#[inline]
fn enough(free: &[u32; LOOK], k: u32) -> u32 {
    let each = free.iter().zip(&BITS).map(|(f, bit)| if f.wrapping_sub(k) & EIGHTHS == EIGHTHS { *bit } else { 0 });
    each.fold(0, |all, bit| all | bit)
}

impl Profile for Narrow {
    fn clear(&mut self, until: usize) {
        self.free[..until].fill(self.blank);
    }

    #[inline]
    fn earliest(&self, activity: usize, ready: usize, width: usize) -> usize {
        let k = self.demand[activity];
        let mut at = ready;
        if let Some(shifts) = SHIFTS.get(width) {
            while let Some(look) = self.free[at..].first_chunk::<LOOK>() {
                let fits = shifts.iter().fold(enough(look, k), |fits, shift| fits & fits >> shift);
                if fits != 0 {
                    return at + fits.trailing_zeros() as usize;
                }
                at += LOOK + 1 - width;
            }
        }
        let mut from = at;
        while at - from < width {
            let clash = self.free[at].wrapping_sub(k) & EIGHTHS != EIGHTHS;
            at += 1;
            from = if clash { at } else { from };
        }
        from
    }

    #[inline]
    fn take(&mut self, activity: usize, from: usize, width: usize) {
        let k = self.demand[activity];
        match (self.free[from..].first_chunk_mut::<WIDEST>(), TAKEN.get(width)) {
            (Some(free), Some(taken)) => free.iter_mut().zip(taken).for_each(|(f, mask)| *f -= k & mask),
            _ => self.free[from..from + width].iter_mut().for_each(|f| *f -= k),
        }
    }
}

/// Any number of resources: four lanes of 16 bits a word, the uppermost bit of each set.
#[derive(Debug, Clone)]
pub(super) struct Wide<'p> {
    project: &'p Project,
    /// By word, then by time.
    free: Vec<Vec<u64>>,
}

impl<'p> Wide<'p> {
    pub fn new(project: &'p Project) -> Self {
        Self { project, free: project.capacity.iter().map(|&c| vec![c; project.horizon]).collect() }
    }
}

impl Profile for Wide<'_> {
    fn clear(&mut self, until: usize) {
        for (free, &capacity) in self.free.iter_mut().zip(&self.project.capacity) {
            free[..until].fill(capacity);
        }
    }

    fn earliest(&self, activity: usize, ready: usize, width: usize) -> usize {
        let mut at = ready;
        loop {
            let words = self.free.iter().zip(&self.project.demand).map(|(free, demand)| (free, demand[activity]));
            let clash = words
                .filter(|(_, k)| *k > 0)
                .find_map(|(free, k)| free[at..at + width].iter().rposition(|&f| f.wrapping_sub(k) & GUARD != GUARD));
            match clash {
                Some(clash) => at += clash + 1,
                None => return at,
            }
        }
    }

    fn take(&mut self, activity: usize, from: usize, width: usize) {
        for (free, demand) in self.free.iter_mut().zip(&self.project.demand) {
            let k = demand[activity];
            if k > 0 {
                free[from..from + width].iter_mut().for_each(|f| *f -= k);
            }
        }
    }
}
