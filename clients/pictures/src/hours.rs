//! Where the hours of stages went: one bar a stage, one pattern a label.

use crate::canvas::{
    DOTTED, Drawn, HATCHED, INK, LINED, Letters, NAME, PAPER, Picture, SMALL, WIDTH, fill, fitting, write,
};
use leadhand_sdk::moment::show_length;
use leadhand_sdk::v1::AuditLine;
use plotters::style::RGBColor;

/// The labels in the order of a bar.
pub const LABELS: [&str; 5] = ["worked", "blocked", "wait", "idle", "outside"];
const FILLS: [RGBColor; 5] = [INK, HATCHED, DOTTED, PAPER, LINED];

/// Height of a bar, and of all that belongs to one stage.
const TALL: i32 = 34;
const ROW: i32 = NAME + SMALL + 14 + TALL + 24;
const KEY_ROW: i32 = SMALL + 14;

/// The life of a stage (or whatever a line of an audit is about), in seconds under each of [`LABELS`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// Its name.
    pub title: String,
    /// What is said of it beside its length.
    pub beside: String,
    /// Seconds under each label.
    pub seconds: [i64; 5],
}

impl Bar {
    /// A line of an audit.
    pub fn of(line: &AuditLine) -> Self {
        let lengths = [&line.worked, &line.blocked, &line.wait, &line.idle, &line.outside];
        Self {
            title: if line.title.is_empty() { line.about.clone() } else { line.title.clone() },
            beside: String::new(),
            seconds: lengths.map(|length| length.as_ref().map_or(0, |length| length.seconds.max(0))),
        }
    }

    /// All labels together, in seconds.
    pub fn whole(&self) -> i64 {
        self.seconds.iter().sum()
    }

    /// Its parts in words: "worked 1 h 10 min, held up 5 min".
    pub fn told(&self, labels: &[String; 5]) -> String {
        let some = labels.iter().zip(self.seconds).filter(|(_, seconds)| *seconds > 0);
        let told: Vec<String> = some.map(|(label, seconds)| format!("{label} {}", show_length(seconds))).collect();
        told.join(", ")
    }
}

/// The words of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoursWords {
    /// What it shows.
    pub title: String,
    /// The labels' names.
    pub labels: [String; 5],
}

/// Draws the bars, all on one scale; those without any time are left out.
pub fn hours(bars: &[Bar], words: &HoursWords) -> Picture {
    let bars: Vec<&Bar> = bars.iter().filter(|bar| bar.whole() > 0).collect();
    let longest = bars.iter().map(|bar| bar.whole()).max().unwrap_or_default();
    let told: Vec<String> = bars.iter().map(|bar| format!("{}: {}", bar.title, bar.told(&words.labels))).collect();
    let told = format!("{}. {}", words.title, told.join("; "));
    let key = key(&words.labels);
    let top = key.last().map_or(0, |(at, ..)| at.1 + KEY_ROW);
    let rows = i32::try_from(bars.len()).unwrap_or(i32::MAX / ROW - 10).min(i32::MAX / ROW - 10);
    Picture::draw(top + rows * ROW + 8, &told, |area| {
        for (at, fills, words) in &key {
            fill(area, (at.0, at.1 + 4), (at.0 + 30, at.1 + 4 + 22), *fills, true)?;
            write(area, words, (at.0 + 38, at.1 + 15), Letters::CAPTION)?;
        }
        for (row, bar) in (0_i32..).zip(&bars) {
            draw(area, bar, longest, top + row * ROW)?;
        }
        Ok(())
    })
}

type Key<'a> = ((i32, i32), RGBColor, &'a str);

/// Where the labels' patterns are explained, in as many rows as it takes.
fn key(labels: &[String; 5]) -> Vec<Key<'_>> {
    let (mut at, mut all) = ((2, 0), Vec::new());
    for (label, fill) in labels.iter().zip(FILLS) {
        let letters = i32::try_from(label.chars().count()).unwrap_or(WIDTH);
        let wide = 60 + letters * SMALL * 55 / 100;
        if at.0 > 2 && at.0 + wide > WIDTH {
            at = (2, at.1 + KEY_ROW);
        }
        all.push((at, fill, label.as_str()));
        at.0 += wide;
    }
    all
}

fn draw(area: &crate::canvas::Area<'_>, bar: &Bar, longest: i64, top: i32) -> Drawn {
    let length = show_length(bar.whole());
    let beside = if bar.beside.is_empty() { length } else { format!("{length} · {}", bar.beside) };
    let wide = WIDTH - 4;
    write(area, &fitting(&bar.title, wide, Letters::NAME), (2, top + 14), Letters::NAME)?;
    write(area, &fitting(&beside, wide, Letters::CAPTION), (2, top + NAME + 14), Letters::CAPTION)?;
    let (upper, mut passed) = (top + NAME + SMALL + 14, 0);
    for (seconds, color) in bar.seconds.into_iter().zip(FILLS) {
        // Both ends are rounded, so that the parts lie beside each other without a gap.
        let (from, until) = (along(passed, longest), along(passed + seconds, longest));
        passed += seconds;
        if seconds > 0 {
            fill(area, (from, upper), (until, upper + TALL), color, true)?;
        }
    }
    Ok(())
}

/// Where so many seconds end.
fn along(seconds: i64, longest: i64) -> i32 {
    let wide = i64::from(WIDTH - 4);
    let end = if longest <= 0 { 0 } else { seconds.saturating_mul(wide) / longest };
    2 + i32::try_from(end).unwrap_or(WIDTH)
}

#[cfg(test)]
#[path = "hours_tests.rs"]
mod tests;
