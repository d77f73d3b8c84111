//! Which spanner for which thread, and which thread a head may belong to.

use super::Thread;
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// The make of a head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeadKind {
    /// Hexagon of ISO 272.
    Hexagon,
    /// Hexagon of the older widths.
    OldHexagon,
    /// Hexagon with a small flange.
    SmallFlange,
    /// Wheel nut or bolt.
    Wheel,
}

impl HeadKind {
    fn words(self) -> (&'static str, Source) {
        let standard = |name| Source { name, kind: SourceKind::StandardFromCopies };
        let practice = |name| Source { name, kind: SourceKind::CommonPractice };
        match self {
            Self::Hexagon => ("hexagon", standard("ISO 272 (widths across flats)")),
            Self::OldHexagon => ("hexagon of the older widths", standard("widths before ISO 272")),
            Self::SmallFlange => ("hexagon with a small flange", practice("small-flange heads as they are met")),
            Self::Wheel => ("wheel nut", practice("wheel nuts as they are met")),
        }
    }
}

use HeadKind::{Hexagon, OldHexagon, SmallFlange, Wheel};

/// Nominal diameter, make, width across flats, all in millimetres. Hexagons of M6 to M14 from copies of ISO 272, the others
/// from memory; small flanges and wheel nuts are common practice.
const WIDTHS: &[(f64, HeadKind, f64)] = &[
    (3.0, Hexagon, 5.5),
    (4.0, Hexagon, 7.0),
    (5.0, Hexagon, 8.0),
    (6.0, Hexagon, 10.0),
    (6.0, SmallFlange, 8.0),
    (8.0, Hexagon, 13.0),
    (8.0, SmallFlange, 12.0),
    (10.0, Hexagon, 16.0),
    (10.0, OldHexagon, 17.0),
    (10.0, SmallFlange, 14.0),
    (12.0, Hexagon, 18.0),
    (12.0, OldHexagon, 19.0),
    (12.0, SmallFlange, 17.0),
    (12.0, Wheel, 19.0),
    (14.0, Hexagon, 21.0),
    (14.0, OldHexagon, 22.0),
    (16.0, Hexagon, 24.0),
    (18.0, Hexagon, 27.0),
    (20.0, Hexagon, 30.0),
    (22.0, Hexagon, 34.0),
    (24.0, Hexagon, 36.0),
];

const MEASURE: &str = "Measure the head and try the spanner: makers use other widths too, and a part of its own kind is best \
                       kept with its own width.";

fn finished(mut answer: Answer, rows: &[(f64, HeadKind, f64)], told: Vec<String>, name: &'static str) -> Answer {
    for (_, kind, _) in rows {
        let source = kind.words().1;
        if !answer.sources.contains(&source) {
            answer.sources.push(source);
        }
    }
    answer.list_of(name, told);
    answer.conclude_and_ask(Sureness::Likely, "These are the usual widths, not the only ones.", MEASURE);
    answer.caution(
        SignalWord::Caution,
        "A spanner that is a size too large slips and rounds the head; six points hold better than twelve.",
    );
    answer
}

/// The spanner for a thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AcrossFlats {
    /// The thread.
    pub thread: Thread,
}

impl AcrossFlats {
    /// The usual widths, the standard hexagon first.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let rows: Vec<_> =
            WIDTHS.iter().filter(|row| (row.0 - self.thread.diameter_mm()).abs() < 1e-9).copied().collect();
        if rows.is_empty() {
            let mut sizes: Vec<String> = WIDTHS.iter().map(|row| format!("M{}", row.0)).collect();
            sizes.dedup();
            return Err(Refusal::Unknown {
                field: "thread".to_owned(),
                given: self.thread.to_string(),
                list: "the widths that are kept here; measure the head",
                known: sizes.join(", "),
            });
        }
        let mut answer = Answer::new("Width across flats", "a table by nominal diameter", &[]);
        answer.word("thread", self.thread.to_string());
        for (_, kind, width) in &rows {
            let name = match kind {
                Hexagon => "hexagon",
                OldHexagon => "old_hexagon",
                SmallFlange => "small_flange",
                Wheel => "wheel",
            };
            answer.add(name, format!("Across flats, {}", kind.words().0), *width, "mm", Rounding::Digits(2));
        }
        let told = rows.iter().map(|(_, kind, width)| format!("{width} mm: {}", kind.words().0)).collect();
        Ok(finished(answer, &rows, told, "heads"))
    }
}

/// The threads that a head of a width may belong to.
#[derive(Debug, Clone, PartialEq)]
pub struct ThreadsOfHead {
    /// Width across flats.
    pub width: Amount,
}

impl ThreadsOfHead {
    /// Which threads usually have it.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let width = within("width", &self.width, Kind::Length, plausible(3.0, 60.0))?;
        // Heads are made a little under their width, and never a quarter of a millimetre.
        let rows: Vec<_> = WIDTHS.iter().filter(|row| (row.2 - width).abs() <= 0.25).copied().collect();
        if rows.is_empty() {
            let mut widths: Vec<f64> = WIDTHS.iter().map(|row| row.2).collect();
            widths.sort_by(f64::total_cmp);
            widths.dedup();
            return Err(Refusal::Unknown {
                field: "width".to_owned(),
                given: format!("head of {}", self.width),
                list: "the widths that are kept here; measure the thread",
                known: widths.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "),
            });
        }
        let mut answer = Answer::new("Threads of a head", "a table by width across flats", &[]);
        answer.given("width", &self.width);
        let told = rows.iter().map(|(size, kind, _)| format!("M{size}: {}", kind.words().0)).collect();
        Ok(finished(answer, &rows, told, "threads"))
    }
}
