//! Freezing point and density of ethylene glycol and water, from two published data sets. The coefficients are those of
//! the fits that CoolProp 8.0 has for them; one is by volume, the other by mass, and they are never mixed.

/// Strengths that the data by volume covers, in per cent.
pub(super) const VOLUME_LEAST: f64 = 10.0;
pub(super) const VOLUME_MOST: f64 = 60.0;
/// Strengths that the data by mass covers, in per cent.
pub(super) const MASS_MOST: f64 = 60.0;
/// Temperatures that the densities cover.
pub(super) const DENSITY_COLDEST_C: f64 = -35.0;
pub(super) const DENSITY_HOTTEST_C: f64 = 100.0;

const ZERO_C_IN_K: f64 = 273.15;

/// ASHRAE's table, by volume: the logarithm of the kelvins, about 35 %.
const AEG_CENTRE: f64 = 0.35;
const AEG_FREEZING: [f64; 6] = [5.534_468, -0.357_429_3, -0.653_511_3, -0.903_916_6, 1.048_048, 4.622_116];
const AEG_CENTRE_K: f64 = 305.65;
/// A row for each power of the temperature, a column for each power of the strength.
const AEG_DENSITY: [[f64; 6]; 4] = [
    [1_047.337, 140.448_5, -48.705_59, 71.416_93, 52.458_5, -693.396_2],
    [-0.450_505_4, -0.300_158_2, -0.039_526_14, 0.024_962_64, -0.068_175_76, 0.0],
    [-2.432_696e-3, -2.084_384e-5, 3.108_353e-4, -8.979_712e-4, 0.0, 0.0],
    [-3.725_45e-9, 1.044_784e-6, -4.391_164e-6, 0.0, 0.0, 0.0],
];

/// Melinder's equation, by mass: kelvins, about 30.8462 %.
const MEG_CENTRE: f64 = 0.308_462;
const MEG_FREEZING: [f64; 6] = [257.9, -80.8, -133.4, -72.93, 100.6, 11.4];

/// Densities at 20 °C in kilograms a cubic metre: pure glycol from a copy of the Merck Index, water from CoolProp 8.0
/// (IAPWS-95).
const GLYCOL_DENSITY: f64 = 1_113.5;
const WATER_DENSITY: f64 = 998.206_7;

fn polynomial(coefficients: &[f64; 6], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
}

/// Freezing point in degrees Celsius of so many per cent glycol by volume; none outside the data.
pub fn freezes_by_volume(percent: f64) -> Option<f64> {
    let covered = (VOLUME_LEAST..=VOLUME_MOST).contains(&percent);
    covered.then(|| libm::exp(polynomial(&AEG_FREEZING, percent / 100.0 - AEG_CENTRE)) - ZERO_C_IN_K)
}

/// Freezing point in degrees Celsius of so many per cent glycol by mass; none outside the data.
pub fn freezes_by_mass(percent: f64) -> Option<f64> {
    let covered = (0.0..=MASS_MOST).contains(&percent);
    // For water alone the fit is 0.0003 too warm, which would be rounded up to a whole degree.
    covered.then(|| (polynomial(&MEG_FREEZING, percent / 100.0 - MEG_CENTRE) - ZERO_C_IN_K).min(0.0))
}

/// The strength by volume that freezes at this temperature; none outside the data.
pub fn volume_strength_for(celsius: f64) -> Option<f64> {
    let (mut weak, mut strong) = (VOLUME_LEAST, VOLUME_MOST);
    let covered = celsius <= freezes_by_volume(weak)? && celsius >= freezes_by_volume(strong)?;
    // Halving comes to rest at neighbouring doubles long before this many turns.
    for _ in 0..200 {
        let middle = f64::midpoint(weak, strong);
        if freezes_by_volume(middle)? > celsius { weak = middle } else { strong = middle }
    }
    covered.then_some(strong)
}

/// Density by volume strength and temperature, in kilograms a cubic metre; none outside the data.
pub(super) fn density(percent: f64, celsius: f64) -> Option<f64> {
    let strengths = (VOLUME_LEAST..=VOLUME_MOST).contains(&percent);
    let covered = strengths && (DENSITY_COLDEST_C..=DENSITY_HOTTEST_C).contains(&celsius);
    let (x, t) = (percent / 100.0 - AEG_CENTRE, celsius + ZERO_C_IN_K - AEG_CENTRE_K);
    covered.then(|| AEG_DENSITY.iter().rev().fold(0.0, |sum, row| sum * t + polynomial(row, x)))
}

/// The same mixture by mass, from the volumes of glycol and water before they were mixed at 20 °C.
pub(super) fn mass_of_volume(percent: f64) -> f64 {
    let (glycol, water) = (percent * GLYCOL_DENSITY, (100.0 - percent) * WATER_DENSITY);
    100.0 * glycol / (glycol + water)
}

/// The same mixture by volume.
pub(super) fn volume_of_mass(percent: f64) -> f64 {
    let (glycol, water) = (percent / GLYCOL_DENSITY, (100.0 - percent) / WATER_DENSITY);
    100.0 * glycol / (glycol + water)
}
