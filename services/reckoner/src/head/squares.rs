//! The plane of least squares, and how far the readings lie from it.

use super::zone::{Site, double};

/// Peak to valley about the plane of least squares, in nanometres; none when all readings are in one line.
pub(super) fn peak_to_valley_nm(sites: &[Site]) -> Option<f64> {
    let count = f64::from(u32::try_from(sites.len()).ok()?);
    let mean = |of: fn(&Site) -> i128| double(sites.iter().map(of).sum()) / count;
    let (mx, my, mz) = (mean(|site| site.x), mean(|site| site.y), mean(|site| site.z));
    let about: Vec<[f64; 3]> =
        sites.iter().map(|site| [double(site.x) - mx, double(site.y) - my, double(site.z) - mz]).collect();
    let sum = |a: usize, b: usize| about.iter().map(|row| row[a] * row[b]).sum::<f64>();
    let (xx, xy, yy, xz, yz) = (sum(0, 0), sum(0, 1), sum(1, 1), sum(0, 2), sum(1, 2));
    let area = xx * yy - xy * xy;
    // Relative to the product, so that it is a question of shape and not of size.
    if area <= 1e-12 * xx * yy {
        return None;
    }
    let (along, across) = ((xz * yy - yz * xy) / area, (yz * xx - xz * xy) / area);
    let rest = about.iter().map(|row| row[2] - along * row[0] - across * row[1]);
    let (low, high) =
        rest.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    Some(high - low)
}
