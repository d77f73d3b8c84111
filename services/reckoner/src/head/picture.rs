//! A picture of the face: every reading as a mark with its figure. Shape, sign and number carry the meaning, and colour only
//! repeats it.

use super::flatness::{Point, sites};
use super::zone::{Site, double, minimum_zone};
use crate::refusal::Refusal;
use std::fmt::Write as _;

const WIDTH: f64 = 720.0;
const MARGIN: f64 = 60.0;
const HEAD: f64 = 70.0;
/// The fewest units between rows, so that figures do not lie over each other.
const LEAST_HEIGHT: f64 = 240.0;

/// The readings above and below the middle plane of the minimum zone, as SVG.
pub fn surface_svg(points: &[Point]) -> Result<String, Refusal> {
    let sites = sites(points)?;
    let Some(zone) = minimum_zone(&sites) else {
        let todo = "measure at places on both sides of the face";
        return Err(Refusal::contradiction("points", "all readings lie in one line", todo));
    };
    let heights = heights_um(&sites, zone.along, zone.across);
    let half = zone.width_nm() / 2e3;
    let frame = Frame::around(&sites);
    let mut svg = opening(&frame, points.len(), zone.width_nm() / 1e3);
    for (site, height) in sites.iter().zip(&heights) {
        mark(&mut svg, &frame, site, *height, half);
    }
    svg.push_str("</svg>\n");
    Ok(svg)
}

/// In micrometres from the plane in the middle of the zone.
fn heights_um(sites: &[Site], along: f64, across: f64) -> Vec<f64> {
    let above: Vec<f64> =
        sites.iter().map(|site| double(site.z) - along * double(site.x) - across * double(site.y)).collect();
    let low = above.iter().copied().fold(f64::INFINITY, f64::min);
    let high = above.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    above.iter().map(|height| (height - f64::midpoint(low, high)) / 1e3).collect()
}

struct Frame {
    scale: f64,
    height: f64,
    depth: f64,
}

impl Frame {
    fn around(sites: &[Site]) -> Self {
        let span = |of: fn(&Site) -> i128| double(sites.iter().map(of).max().unwrap_or(1)).max(1.0);
        let (wide, deep) = (span(|site| site.x), span(|site| site.y));
        let scale = (WIDTH - 2.0 * MARGIN) / wide.max(deep);
        let depth = deep * scale;
        Self { scale, depth, height: (depth + HEAD + 2.0 * MARGIN).max(LEAST_HEIGHT) }
    }

    fn place(&self, site: &Site) -> (f64, f64) {
        // Across counts upwards on paper and downwards on a screen.
        (MARGIN + double(site.x) * self.scale, HEAD + MARGIN + self.depth - double(site.y) * self.scale)
    }
}

fn opening(frame: &Frame, count: usize, width_um: f64) -> String {
    let mut svg = String::new();
    let height = frame.height;
    // Writing into a string does not fail.
    let _ = write!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"img\" \
         font-family=\"sans-serif\">\n<title>Flatness of the face: {width_um:.1} micrometres by minimum zone, {count} \
         readings</title>\n<rect width=\"{WIDTH}\" height=\"{height:.0}\" fill=\"#ffffff\"/>\n<text x=\"20\" y=\"28\" \
         font-size=\"18\">Flatness {width_um:.1} µm, minimum zone</text>\n<text x=\"20\" y=\"52\" font-size=\"13\">Triangle \
         up and +: above the middle plane. Triangle down and −: below. Figures in µm.</text>\n"
    );
    svg
}

/// A triangle that points up or down, larger the further it lies from the middle, with its figure.
fn mark(svg: &mut String, frame: &Frame, site: &Site, height: f64, half: f64) {
    let (x, y) = frame.place(site);
    let share = if half > 0.0 { (height.abs() / half).min(1.0) } else { 0.0 };
    let size = 5.0 + 9.0 * share;
    let flat = Figure::of(height) == Figure::Flat;
    if flat {
        let _ = writeln!(svg, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\" fill=\"none\" stroke=\"#222222\"/>");
    } else {
        let (point, base) = if height > 0.0 { (y - size, y + size) } else { (y + size, y - size) };
        let fill = if height > 0.0 { "#b3541e" } else { "#1e5fb3" };
        let _ = writeln!(
            svg,
            "<path d=\"M{x:.1} {point:.1}L{:.1} {base:.1}L{:.1} {base:.1}Z\" fill=\"{fill}\" stroke=\"#222222\"/>",
            x - size,
            x + size
        );
    }
    let label = Figure::of(height).text();
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"13\" text-anchor=\"middle\">{label}</text>",
        y + size + 15.0
    );
}

/// A height as it is written, to a tenth of a micrometre.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Figure {
    Flat,
    Off(f64),
}

impl Figure {
    fn of(height: f64) -> Self {
        if height.abs() < 0.05 { Self::Flat } else { Self::Off(height) }
    }

    fn text(self) -> String {
        match self {
            Self::Flat => "0".to_owned(),
            Self::Off(height) if height > 0.0 => format!("+{height:.1}"),
            Self::Off(height) => format!("−{:.1}", -height),
        }
    }
}
