//! A picture of the face: every reading as a mark with its figure. Shape, sign and number carry the meaning, and colour only
//! repeats it.

use super::flatness::{Point, sites};
use super::zone::{Site, double, minimum_zone};
use crate::refusal::Refusal;
use std::fmt::Write as _;

const WIDTH: f64 = 720.0;
const MARGIN: f64 = 60.0;
const HEAD: f64 = 60.0;
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
    edges(&mut svg, &frame, points);
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
    wide: f64,
    depth: f64,
    /// How large a mark may be where there are many.
    shrink: f64,
    crowded: bool,
}

/// With more readings than this only the highest and the lowest have their figures, which would lie over each other.
const LABELLED: usize = 60;

impl Frame {
    fn around(sites: &[Site]) -> Self {
        let span = |of: fn(&Site) -> i128| double(sites.iter().map(of).max().unwrap_or(1)).max(1.0);
        let (wide, deep) = (span(|site| site.x), span(|site| site.y));
        let scale = (WIDTH - 2.0 * MARGIN) / wide.max(deep);
        let depth = deep * scale;
        let crowded = sites.len() > LABELLED;
        let shrink = if crowded { 0.4 } else { 1.0 };
        let height = (depth + HEAD + 2.0 * MARGIN).max(LEAST_HEIGHT);
        Self { scale, height, wide: wide * scale, depth, shrink, crowded }
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

/// The outline, and where its edges lie.
fn edges(svg: &mut String, frame: &Frame, points: &[Point]) {
    let ends = |of: fn(&Point) -> f64| {
        let low = points.iter().map(of).fold(f64::INFINITY, f64::min);
        (low, points.iter().map(of).fold(f64::NEG_INFINITY, f64::max))
    };
    let ((left, right), (near, far)) = (ends(|point| point.x.value()), ends(|point| point.y.value()));
    let (top, edge) = (HEAD + MARGIN, MARGIN + frame.wide);
    let bottom = top + frame.depth;
    let _ = writeln!(
        svg,
        "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"none\" stroke=\"#888888\"/>",
        MARGIN - 40.0,
        top - 36.0,
        frame.wide + 80.0,
        frame.depth + 72.0
    );
    let texts = [
        (MARGIN - 40.0, "start", bottom + 52.0, format!("{left} mm along, {near} mm across")),
        (edge + 40.0, "end", bottom + 52.0, format!("{right} mm along")),
        (MARGIN - 40.0, "start", top - 42.0, format!("{far} mm across")),
    ];
    for (x, anchor, y, text) in texts {
        let _ =
            writeln!(svg, "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"12\" text-anchor=\"{anchor}\">{text}</text>");
    }
}

/// A triangle that points up or down, larger the further it lies from the middle, with its figure.
fn mark(svg: &mut String, frame: &Frame, site: &Site, height: f64, half: f64) {
    let (x, y) = frame.place(site);
    let share = if half > 0.0 { (height.abs() / half).min(1.0) } else { 0.0 };
    let size = (5.0 + 9.0 * share) * frame.shrink;
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
    if frame.crowded && (height.abs() - half).abs() >= 0.05 {
        return;
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
