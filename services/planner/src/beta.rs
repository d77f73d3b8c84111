//! The distribution of a three-point estimate.

use crate::rng::Rng;

/// A beta distribution between two ends, with the mean (a + 4 m + b) / 6 and the standard deviation (b - a) / 6 of a
/// three-point estimate (the formulas of PERT).
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(clippy::struct_field_names, reason = "alpha and beta are its shapes")]
pub struct Beta {
    low: f64,
    width: f64,
    alpha: f64,
    beta: f64,
}

impl Beta {
    /// From the three points, in any unit; nothing when they are not in order or all the same.
    pub fn pert(low: f64, likely: f64, high: f64) -> Option<Self> {
        let ordered = low <= likely && likely <= high && low < high;
        if !ordered {
            return None;
        }
        let width = high - low;
        let mean = (4.0 * (likely - low) / width + 1.0) / 6.0;
        // The sum of both shapes is mean (1 - mean) / variance - 1, and the variance of the unit is 1/36.
        let sum = mean * (1.0 - mean) * 36.0 - 1.0;
        Some(Self { low, width, alpha: mean * sum, beta: (1.0 - mean) * sum })
    }

    /// The mean, in the unit of the points.
    pub fn mean(&self) -> f64 {
        self.low + self.width * self.alpha / (self.alpha + self.beta)
    }

    /// The standard deviation, in the unit of the points.
    pub fn deviation(&self) -> f64 {
        let sum = self.alpha + self.beta;
        self.width * libm::sqrt(self.alpha * self.beta / (sum * sum * (sum + 1.0)))
    }

    /// A value drawn from it.
    pub fn draw(&self, rng: &mut Rng) -> f64 {
        let (x, y) = (gamma(self.alpha, rng), gamma(self.beta, rng));
        self.low + self.width * x / (x + y)
    }

    /// A drawn value in whole units, rounded to the nearest.
    #[allow(clippy::cast_possible_truncation)]
    pub(crate) fn minutes(&self, rng: &mut Rng) -> i32 {
        libm::round(self.draw(rng)) as i32
    }
}

/// A gamma variate of scale 1 (Marsaglia and Tsang, "A simple method for generating gamma variables", 2000).
#[allow(clippy::many_single_char_names, reason = "the letters of the paper")]
fn gamma(shape: f64, rng: &mut Rng) -> f64 {
    if shape < 1.0 {
        let u = 1.0 - rng.unit();
        return gamma(shape + 1.0, rng) * libm::pow(u, 1.0 / shape);
    }
    let d = shape - 1.0 / 3.0;
    let c = 1.0 / libm::sqrt(9.0 * d);
    loop {
        let x = normal(rng);
        let v = 1.0 + c * x;
        if v <= 0.0 {
            continue;
        }
        let v = v * v * v;
        let u = 1.0 - rng.unit();
        if libm::log(u) < 0.5 * x * x + d - d * v + d * libm::log(v) {
            return d * v;
        }
    }
}

/// A standard normal variate (the polar method of Marsaglia and Bray, 1964).
fn normal(rng: &mut Rng) -> f64 {
    loop {
        let (x, y) = (2.0 * rng.unit() - 1.0, 2.0 * rng.unit() - 1.0);
        let s = x * x + y * y;
        if s > 0.0 && s < 1.0 {
            return x * libm::sqrt(-2.0 * libm::log(s) / s);
        }
    }
}
