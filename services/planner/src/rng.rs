//! Chance from a seed: the same seed gives the same numbers on any machine.

/// SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014).
#[derive(Debug, Clone)]
pub struct Rng(u64);

impl Rng {
    /// A sequence of its own for every seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number below `n`; 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        usize::try_from((u128::from(self.bits()) * n as u128) >> 64).unwrap_or(0)
    }

    /// A whole number from `low` to `high`, both included; `low` when they are reversed.
    pub fn between(&mut self, low: usize, high: usize) -> usize {
        low + self.below((high + 1).saturating_sub(low))
    }

    /// True in `percent` of a hundred cases.
    pub fn percent(&mut self, percent: u32) -> bool {
        self.below(100) < percent as usize
    }

    /// A real number from 0 up to but not including 1, in steps of 2^-53.
    #[allow(clippy::cast_precision_loss)]
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// Puts a list into any order, each as likely.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for i in (1..list.len()).rev() {
            list.swap(i, self.below(i + 1));
        }
    }
}
