//! Metric threads: sizes and pitches of ISO 261, diameters of ISO 724, stress area of ISO 898-1.

use super::ISO_THREADS;
use crate::answer::{Answer, Rounding, Source, SourceKind};
use crate::refusal::Refusal;

/// A metric thread of ISO 261.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thread {
    diameter_mm: f64,
    pitch_mm: f64,
}

/// Diameter, coarse pitch and fine pitches in millimetres. ISO 261, from memory; the coarse ones agree with copies.
const SIZES: &[(f64, f64, &[f64])] = &[
    (3.0, 0.5, &[0.35]),
    (3.5, 0.6, &[0.35]),
    (4.0, 0.7, &[0.5]),
    (5.0, 0.8, &[0.5]),
    (6.0, 1.0, &[0.75]),
    (7.0, 1.0, &[0.75]),
    (8.0, 1.25, &[1.0, 0.75]),
    (9.0, 1.25, &[1.0, 0.75]),
    (10.0, 1.5, &[1.25, 1.0, 0.75]),
    (11.0, 1.5, &[1.0, 0.75]),
    (12.0, 1.75, &[1.5, 1.25, 1.0]),
    (14.0, 2.0, &[1.5, 1.25, 1.0]),
    (16.0, 2.0, &[1.5, 1.0]),
    (18.0, 2.5, &[2.0, 1.5, 1.0]),
    (20.0, 2.5, &[2.0, 1.5, 1.0]),
    (22.0, 2.5, &[2.0, 1.5, 1.0]),
    (24.0, 3.0, &[2.0, 1.5, 1.0]),
    (27.0, 3.0, &[2.0, 1.5, 1.0]),
    (30.0, 3.5, &[3.0, 2.0, 1.5, 1.0]),
    (33.0, 3.5, &[3.0, 2.0, 1.5]),
    (36.0, 4.0, &[3.0, 2.0, 1.5]),
    (39.0, 4.0, &[3.0, 2.0, 1.5]),
];

const EXAMPLE: &str = "M10 or M10x1.25";
const SAME: f64 = 1e-9;

impl Thread {
    /// Reads a designation: `M10`, `M10x1.25`, `m10 × 1,25`.
    pub fn read(field: &str, text: &str) -> Result<Self, Refusal> {
        let tidy: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
        let rest = tidy.strip_prefix(['M', 'm']).ok_or_else(|| unreadable(field, text, "it does not begin with M"))?;
        let (diameter, pitch) = match rest.split_once(['x', 'X', '×', '*']) {
            Some((diameter, pitch)) => (diameter, Some(pitch)),
            None => (rest, None),
        };
        let diameter_mm = plain_number(diameter).ok_or_else(|| unreadable(field, text, "its diameter is no number"))?;
        let Some((_, coarse, fine)) = SIZES.iter().find(|size| (size.0 - diameter_mm).abs() < SAME) else {
            let known = SIZES.iter().map(|size| format!("M{}", size.0)).collect::<Vec<_>>().join(", ");
            return Err(unknown(field, text, "the sizes of ISO 261 that are kept here", known));
        };
        let Some(pitch) = pitch else { return Ok(Self { diameter_mm, pitch_mm: *coarse }) };
        let pitch_mm = plain_number(pitch).ok_or_else(|| unreadable(field, text, "its pitch is no number"))?;
        if [*coarse].iter().chain(*fine).any(|known| (known - pitch_mm).abs() < SAME) {
            return Ok(Self { diameter_mm, pitch_mm });
        }
        let known = [*coarse].iter().chain(*fine).map(ToString::to_string).collect::<Vec<_>>().join(", ");
        Err(unknown(field, text, "the pitches of ISO 261 for this size", known))
    }

    /// Nominal diameter d.
    pub fn diameter_mm(self) -> f64 {
        self.diameter_mm
    }

    /// Pitch P.
    pub fn pitch_mm(self) -> f64 {
        self.pitch_mm
    }

    /// Whether the pitch is the coarse one.
    pub fn is_coarse(self) -> bool {
        SIZES.iter().any(|size| (size.0 - self.diameter_mm).abs() < SAME && (size.1 - self.pitch_mm).abs() < SAME)
    }

    /// Height of the fundamental triangle, √3/2·P.
    fn triangle_mm(self) -> f64 {
        libm::sqrt(3.0) / 2.0 * self.pitch_mm
    }

    /// Pitch diameter d2 = d − 0.649 519·P.
    pub fn pitch_diameter_mm(self) -> f64 {
        self.diameter_mm - 0.75 * self.triangle_mm()
    }

    /// Minor diameter of the nut d1 = d − 1.082 532·P.
    pub fn nut_minor_diameter_mm(self) -> f64 {
        self.diameter_mm - 1.25 * self.triangle_mm()
    }

    /// Minor diameter of the bolt d3 = d − 1.226 869·P.
    pub fn bolt_minor_diameter_mm(self) -> f64 {
        self.nut_minor_diameter_mm() - self.triangle_mm() / 6.0
    }

    /// Stress area π/4·((d2 + d3)/2)².
    pub fn stress_area_mm2(self) -> f64 {
        let mean = f64::midpoint(self.pitch_diameter_mm(), self.bolt_minor_diameter_mm());
        std::f64::consts::FRAC_PI_4 * mean * mean
    }

    /// Stress area to three figures, as ISO 898-1 tabulates it and its proof loads are made from.
    pub fn tabulated_stress_area_mm2(self) -> f64 {
        let area = self.stress_area_mm2();
        Rounding::Digits(3).of(area).parse().unwrap_or(area)
    }

    /// The geometry.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let formula = "H = √3/2·P; d2 = d − 3/4·H; d1 = d − 5/4·H; d3 = d1 − H/6; As = π/4·((d2 + d3)/2)²";
        let area = Source { name: "ISO 898-1 (stress area)", kind: SourceKind::StandardFromCopies };
        let mut answer = Answer::new("Thread geometry", formula, &[ISO_THREADS, area]);
        answer.word("thread", self.to_string());
        let three = Rounding::Places(3);
        answer.add("stress_area", "Stress area As", self.stress_area_mm2(), "mm2", Rounding::Digits(3));
        answer.add("diameter", "Nominal diameter d", self.diameter_mm, "mm", Rounding::Places(1));
        answer.add("pitch", "Pitch P", self.pitch_mm, "mm", Rounding::Places(2));
        answer.add("pitch_diameter", "Pitch diameter d2", self.pitch_diameter_mm(), "mm", three);
        answer.add("nut_minor_diameter", "Minor diameter of the nut d1", self.nut_minor_diameter_mm(), "mm", three);
        answer.add("bolt_minor_diameter", "Minor diameter of the bolt d3", self.bolt_minor_diameter_mm(), "mm", three);
        Ok(answer)
    }
}

/// As ISO 261 writes it: the coarse pitch is not said.
impl std::fmt::Display for Thread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "M{}", self.diameter_mm)?;
        if self.is_coarse() { Ok(()) } else { write!(f, "x{}", self.pitch_mm) }
    }
}

fn plain_number(text: &str) -> Option<f64> {
    let digits = text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b',');
    (digits && text.len() < 8).then(|| text.replace(',', ".").parse().ok()).flatten()
}

fn unreadable(field: &str, text: &str, why: &str) -> Refusal {
    let typed = short(text);
    Refusal::Unreadable { field: field.to_owned(), typed, why: why.to_owned(), example: EXAMPLE }
}

fn unknown(field: &str, text: &str, list: &'static str, known: String) -> Refusal {
    Refusal::Unknown { field: field.to_owned(), given: short(text), list, known }
}

pub(super) fn short(text: &str) -> String {
    text.trim().chars().filter(|letter| !letter.is_control()).take(20).collect()
}
