//! The normal distribution.

/// The share below z.
pub fn below(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// The z below which a share lies; no number at 0, 1 and beyond.
pub fn quantile(share: f64) -> f64 {
    if share.is_nan() || share <= 0.0 || share >= 1.0 {
        return f64::NAN;
    }
    // In the lower half, where the share keeps its digits; halving comes to rest at neighbouring doubles.
    let tail = share.min(1.0 - share);
    let (mut low, mut high) = (-40.0, 0.0);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if below(middle) < tail { low = middle } else { high = middle }
    }
    if share < 0.5 { high } else { -high }
}
