//! What is measured: as a template lists it, and as it stands on a job. A figure is a whole number of millionths of its
//! unit, so that what is written with up to six decimals is kept exactly.

use crate::fact::Wording;
use crate::ids::{PersonId, ReadingKey, StepNo, TextId};
use crate::text::TextRef;
use crate::words::{ReadingKind, ReadingUnit};
use serde::{Deserialize, Serialize};

/// A figure in millionths of its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Measure(pub i64);

impl Measure {
    /// One whole unit.
    pub const ONE: i64 = 1_000_000;
    /// The largest figure either way: a thousand million units, which a double still holds exactly.
    pub const MAX: i64 = 1_000_000_000 * Self::ONE;

    /// So many whole units.
    pub fn whole(units: i32) -> Self {
        Self(i64::from(units) * Self::ONE)
    }
}

/// As a decimal, without zeros that say nothing.
impl std::fmt::Display for Measure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (size, one) = (self.0.unsigned_abs(), Self::ONE.unsigned_abs());
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, rest) = (size / one, size % one);
        if rest == 0 {
            return write!(f, "{sign}{whole}");
        }
        write!(f, "{sign}{whole}.{}", format!("{rest:06}").trim_end_matches('0'))
    }
}

impl ReadingUnit {
    /// By its UCUM code, or as people write it.
    pub fn from_written(text: &str) -> Option<Self> {
        Self::from_word(text).or_else(|| Self::ALL.iter().copied().find(|unit| unit.shown() == text))
    }

    /// As people write it, where nobody writes its UCUM code on paper.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Psi => "psi",
            Self::Micrometre => "µm",
            Self::Celsius => "°C",
            _ => self.word(),
        }
    }
}

/// What is known of a reading beyond its name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadingDetail {
    /// What it is a measure of, which says how it is judged.
    pub kind: ReadingKind,
    /// The unit of its figures.
    pub unit: ReadingUnit,
    /// What each figure is of: cylinders, bolts, points. Empty for one figure alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub labels: Vec<String>,
    /// The least that a figure may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<Measure>,
    /// The most that a figure may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<Measure>,
    /// How far the lowest may lie below the highest, in per cent of the highest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread: Option<Measure>,
    /// How far a pressure may fall while it is held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drop: Option<Measure>,
    /// For how many minutes it is held at least.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<i32>,
    /// How it is measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub method: Option<String>,
    /// What it is measured with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<String>,
}

impl ReadingDetail {
    /// One figure without limits.
    pub fn plain(kind: ReadingKind, unit: ReadingUnit) -> Self {
        Self {
            kind,
            unit,
            labels: Vec::new(),
            low: None,
            high: None,
            spread: None,
            drop: None,
            minutes: None,
            method: None,
            instrument: None,
        }
    }
}

/// A reading as a template lists it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadingSpec {
    /// Its key, unique in the template.
    pub key: ReadingKey,
    /// What it is called.
    pub what: String,
    /// What is known of it.
    #[serde(flatten)]
    pub detail: ReadingDetail,
}

/// A reading as it stands on a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobReading {
    /// Its key, unique in the job.
    pub reading: ReadingKey,
    /// The step at which it is taken; none for one that was added to the stage.
    pub step: Option<StepNo>,
    /// What it is called.
    pub what: Wording,
    /// What is known of it.
    pub detail: ReadingDetail,
    /// Whether it was added as the work went.
    pub unplanned: bool,
}

/// A limit that a reading did not keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OffLimit {
    /// The figure at this place, from 0, is too low.
    Low(i32),
    /// The figure at this place, from 0, is too high.
    High(i32),
    /// The heights of the points lie too far apart.
    Range,
    /// The lowest lies too far below the highest.
    Spread,
    /// The pressure fell too far.
    Drop,
    /// It was not held for long enough.
    Short,
}

/// A line of the hand-over list that a lead overruled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Overruled {
    /// The line, by its key in the list.
    pub line: String,
    /// Why.
    pub reason: TextRef,
}

/// The same as a row has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OverruledLine {
    /// The line, by its key in the list.
    pub line: String,
    /// Why.
    pub reason: TextId,
    /// On whose word.
    pub by: Option<PersonId>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_written_without_idle_zeros() {
        let shown = |millionths| Measure(millionths).to_string();
        assert_eq!(shown(12_400_000), "12.4");
        assert_eq!(shown(-50_000), "-0.05");
        assert_eq!(shown(0), "0");
        assert_eq!(shown(1), "0.000001");
        assert_eq!(shown(Measure::MAX), "1000000000");
    }
}
