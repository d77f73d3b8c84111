//! What a straight-edge and feelers would find: the widest gap under an edge that rests on the highest points of a line.

use super::zone::{Site, double};
use std::collections::BTreeMap;

/// A line of readings under the straight-edge.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    /// Where it was laid.
    pub name: String,
    /// The widest gap, in nanometres.
    pub gap_nm: f64,
    /// The reading over which it gapes.
    pub at: usize,
}

/// Along, across and over both diagonals, wherever three readings or more lie in a line.
pub(super) fn lines(sites: &[Site]) -> Vec<Line> {
    let mut found = Vec::new();
    for (y, row) in grouped(sites, |site| site.y) {
        found.extend(line(sites, format!("along, at {} mm across", millimetres(y)), &row, |site| double(site.x)));
    }
    for (x, column) in grouped(sites, |site| site.x) {
        found.extend(line(sites, format!("across, at {} mm along", millimetres(x)), &column, |site| double(site.y)));
    }
    found.extend(diagonals(sites));
    found
}

fn grouped(sites: &[Site], key: fn(&Site) -> i128) -> BTreeMap<i128, Vec<usize>> {
    let mut groups: BTreeMap<i128, Vec<usize>> = BTreeMap::new();
    for (index, site) in sites.iter().enumerate() {
        groups.entry(key(site)).or_default().push(index);
    }
    groups
}

fn millimetres(um: i128) -> f64 {
    double(um) / 1e3
}

/// The diagonals of the grid's corners, with whichever readings lie on them.
fn diagonals(sites: &[Site]) -> Vec<Line> {
    let bounds = |of: fn(&Site) -> i128| (sites.iter().map(of).min(), sites.iter().map(of).max());
    let ((Some(left), Some(right)), (Some(low), Some(high))) = (bounds(|site| site.x), bounds(|site| site.y)) else {
        return Vec::new();
    };
    let (run, rise) = (right - left, high - low);
    let on = |site: &Site, from: i128, rise: i128| (site.x - left) * rise == (site.y - from) * run;
    let named = [("over the diagonal that rises", low, rise), ("over the diagonal that falls", high, -rise)];
    named
        .into_iter()
        .filter_map(|(name, from, rise)| {
            let at: Vec<usize> = (0..sites.len()).filter(|index| on(&sites[*index], from, rise)).collect();
            line(sites, name.to_owned(), &at, |site| double(site.x))
        })
        .collect()
}

/// The gap under the upper hull; places along the line only need their proportions.
fn line(sites: &[Site], name: String, at: &[usize], place: fn(&Site) -> f64) -> Option<Line> {
    if at.len() < 3 {
        return None;
    }
    let mut points: Vec<(f64, f64, usize)> =
        at.iter().map(|index| (place(&sites[*index]), double(sites[*index].z), *index)).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let hull = upper_hull(&points);
    let mut widest = (0.0, points[0].2);
    for (s, z, index) in &points {
        for two in hull.windows(2) {
            let ((s0, z0), (s1, z1)) = (two[0], two[1]);
            let gap = z0 + (z1 - z0) * (s - s0) / (s1 - s0) - z;
            if (s0..=s1).contains(s) && gap > widest.0 {
                widest = (gap, *index);
            }
        }
    }
    Some(Line { name, gap_nm: widest.0, at: widest.1 })
}

fn upper_hull(points: &[(f64, f64, usize)]) -> Vec<(f64, f64)> {
    let mut hull: Vec<(f64, f64)> = Vec::new();
    for (s, z, _) in points {
        while let [.., (s0, z0), (s1, z1)] = hull.as_slice() {
            if (s1 - s0) * (z - z0) - (z1 - z0) * (s - s0) < 0.0 {
                break;
            }
            hull.pop();
        }
        hull.push((*s, *z));
    }
    hull
}
