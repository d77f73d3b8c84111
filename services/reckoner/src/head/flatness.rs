//! Flatness from a grid of readings, by three methods that are never mixed up, and where to look.

use super::edge::{self, Line};
use super::squares;
use super::zone::{self, HIGHEST_NM, Site, WIDEST_UM, Zone, double};
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use crate::words::ordinal;
use leadhand_facts::words::SignalWord;

/// A reading of height at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Along the head.
    pub x: Amount,
    /// Across it.
    pub y: Amount,
    /// Height, from whatever the gauge was set to.
    pub z: Amount,
}

/// A face with its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Flatness {
    /// At least three, not all in one line.
    pub points: Vec<Point>,
    /// What the maker allows; the range of common limits when it is not said.
    pub limit: Option<Amount>,
}

const ZONE: Source = Source {
    name: "minimum zone, as flatness is meant in ISO 12781-1 (its text not at hand)",
    kind: SourceKind::StandardFromCopies,
};
const EDGE: Source = Source {
    name: "straight-edge and feelers along, across and over both diagonals; limits of 0.05 to 0.10 mm",
    kind: SourceKind::CommonPractice,
};
const MOST_POINTS: usize = 2000;
const USUAL_MM: [f64; 2] = [0.05, 0.10];
const NM_PER_MM: f64 = 1e6;
const UM_PER_MM: f64 = 1e3;

impl Flatness {
    /// Minimum zone, least squares and straight-edge, each by its name.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "minimum zone: the least t with |z − (ax + by + c)| ≤ t/2 at all readings, exactly; beside it peak to \
                       valley about the plane of least squares, and the widest gap under a straight-edge";
        let mut answer = Answer::new("Flatness", formula, &[ZONE, EDGE]);
        let sites = sites(&self.points)?;
        answer.word("readings", self.points.len().to_string());
        let zone = zone::minimum_zone(&sites).ok_or_else(in_one_line)?;
        let lines = edge::lines(&sites);
        figures(&mut answer, &sites, &zone, &lines);
        self.judge(&mut answer, zone.width_nm() / NM_PER_MM)?;
        self.where_to_look(&mut answer, &zone, &lines);
        answer.caution(
            SignalWord::Notice,
            "Measure the clean, cold face, and mark nothing into it: a scratch across a fire ring leaks.",
        );
        Ok(answer)
    }

    fn judge(&self, answer: &mut Answer, width_mm: f64) -> Result<(), Refusal> {
        let shown = Rounding::Places(3).of(width_mm);
        let Some(limit) = &self.limit else {
            let [strict, wide] = USUAL_MM;
            let text = if width_mm <= strict {
                format!("{shown} mm is within every usual limit.")
            } else if width_mm <= wide {
                format!("{shown} mm is between the usual limits of 0.05 and 0.10 mm: the maker's figure decides.")
            } else {
                format!("{shown} mm is beyond every usual limit.")
            };
            answer.conclude_and_ask(Sureness::Likely, text, "The maker's limit, along and across, for this head.");
            return Ok(());
        };
        answer.given("limit", limit);
        let limit = within("limit", limit, Kind::Length, plausible(0.001, 2.0))?;
        // A nanometre is far below what any gauge reads.
        let text = if width_mm <= limit + 1e-6 {
            format!("{shown} mm is within the limit of {limit} mm.")
        } else {
            format!("{shown} mm is beyond the limit of {limit} mm: stop, and decide on the head.")
        };
        answer.conclude(Sureness::Certain, text);
        Ok(())
    }

    fn where_to_look(&self, answer: &mut Answer, zone: &Zone, lines: &[Line]) {
        let place = |index: &usize| format!("{} along, {} across", self.points[*index].x, self.points[*index].y);
        answer.list_of("high_contacts", zone.high.iter().map(place).collect());
        answer.list_of("low_contacts", zone.low.iter().map(place).collect());
        if zone.over == 0 {
            answer.conclude(Sureness::Certain, "The readings lie in one plane: there is no low place to look for.");
            return;
        }
        let lows: Vec<String> = zone.low.iter().map(place).collect();
        answer.conclude_and_ask(
            Sureness::Certain,
            format!("It is lowest at {}.", lows.join("; ")),
            "Look there for traces of a leak, and feel with a straight-edge between the high places.",
        );
        if let Some(worst) = lines.iter().max_by(|a, b| a.gap_nm.total_cmp(&b.gap_nm)).filter(|line| line.gap_nm > 0.0)
        {
            let text = format!("A straight-edge gapes most {}, at {}.", worst.name, place(&worst.at));
            answer.conclude(Sureness::Certain, text);
        }
    }
}

fn figures(answer: &mut Answer, sites: &[Site], zone: &Zone, lines: &[Line]) {
    let three = Rounding::Places(3);
    answer.add("minimum_zone", "Flatness by minimum zone", zone.width_nm() / NM_PER_MM, "mm", three);
    if let Some(span) = squares::peak_to_valley_nm(sites) {
        answer.add("least_squares", "Peak to valley about least squares", span / NM_PER_MM, "mm", three);
    }
    if !lines.is_empty() {
        let gap = lines.iter().map(|line| line.gap_nm).fold(0.0, f64::max);
        answer.add("straight_edge", "Widest gap under a straight-edge", gap / NM_PER_MM, "mm", three);
        let told = lines.iter().map(|line| format!("{}: {} mm", line.name, three.of(line.gap_nm / NM_PER_MM)));
        answer.list_of("straight_edge", told.collect());
    }
    let (low, high) =
        sites.iter().fold((i128::MAX, i128::MIN), |(low, high), site| (low.min(site.z), high.max(site.z)));
    answer.add("raw_range", "Highest less lowest reading", double(high - low) / NM_PER_MM, "mm", three);
    answer.add("slope_along", "The plane rises along", zone.along, "um/mm", Rounding::Digits(3));
    answer.add("slope_across", "The plane rises across", zone.across, "um/mm", Rounding::Digits(3));
}

fn in_one_line() -> Refusal {
    let todo = "measure at places on both sides of the face";
    Refusal::contradiction("points", "all readings lie in one line, which says nothing of a face", todo)
}

/// The readings in whole micrometres and nanometres, from the least of each.
pub(super) fn sites(points: &[Point]) -> Result<Vec<Site>, Refusal> {
    if !(3..=MOST_POINTS).contains(&points.len()) {
        let problem = format!("there are {} readings", points.len());
        return Err(Refusal::contradiction("points", problem, format!("give 3 to {MOST_POINTS}")));
    }
    let mut sites = Vec::with_capacity(points.len());
    for (index, point) in points.iter().enumerate() {
        let x = along_axis(index, "x", &point.x)?;
        let y = along_axis(index, "y", &point.y)?;
        let z = along_axis(index, "z", &point.z)?;
        sites.push(Site { x: whole(x * UM_PER_MM), y: whole(y * UM_PER_MM), z: whole(z * NM_PER_MM) });
    }
    shift(&mut sites)?;
    apart(&sites)?;
    Ok(sites)
}

/// A coordinate; its field is named only when it is wrong, since there may be thousands.
fn along_axis(index: usize, axis: &str, amount: &Amount) -> Result<f64, Refusal> {
    let range = plausible(-10_000.0, 10_000.0);
    let fine = amount.kind() == Kind::Length && (range.least..=range.most).contains(&amount.value());
    if fine { Ok(amount.value()) } else { within(&format!("points[{index}].{axis}"), amount, Kind::Length, range) }
}

/// To the nearest whole number; the range was checked before.
#[allow(clippy::cast_possible_truncation, reason = "checked to be far inside of the range")]
fn whole(value: f64) -> i128 {
    libm::round(value) as i128
}

/// An axis of a reading, the most that it may span, its name, and that span in words.
type Axis = (fn(&mut Site) -> &mut i128, i128, &'static str, &'static str);

fn shift(sites: &mut [Site]) -> Result<(), Refusal> {
    let spans: [Axis; 3] = [
        (|site| &mut site.x, WIDEST_UM, "x", "2 m"),
        (|site| &mut site.y, WIDEST_UM, "y", "2 m"),
        (|site| &mut site.z, HIGHEST_NM, "z", "10 mm"),
    ];
    for (axis, most, name, told) in spans {
        let least = sites.iter_mut().map(|site| *axis(site)).min().unwrap_or(0);
        for site in sites.iter_mut() {
            *axis(site) -= least;
        }
        if sites.iter_mut().any(|site| *axis(site) > most) {
            return Err(Refusal::OutOfRange {
                field: format!("points[].{name}"),
                given: "the span of the readings".to_owned(),
                least: "0".into(),
                most: told.into(),
                covered: "the exact method",
                todo: "check the units; a span beyond that is no warp of a head",
            });
        }
    }
    Ok(())
}

fn apart(sites: &[Site]) -> Result<(), Refusal> {
    let mut seen = std::collections::BTreeMap::new();
    for (index, site) in sites.iter().enumerate() {
        if let Some(before) = seen.insert((site.x, site.y), index) {
            return Err(Refusal::contradiction(
                &format!("points[{index}]"),
                format!("it is at the place of the {} point", ordinal(before + 1)),
                "give one reading a place",
            ));
        }
    }
    Ok(())
}

/// A limit of the face that a skim is to reach.
pub(super) const FLATNESSES: Range =
    Range { least: 0.0, most: 5.0, covered: "what may be skimmed", todo: "check the number and its unit" };
