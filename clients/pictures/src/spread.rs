//! The spread of a stage over jobs, against the minutes that the template gives it.

use crate::canvas::{
    Area, BAND, Drawn, INK, LINE, Letters, NAME, PAPER, Picture, SMALL, SOFT, WIDTH, fill, fitting, line, step, write,
};
use leadhand_sdk::moment::show_length;
use leadhand_sdk::v1::{AuditLine, Minutes};
use plotters::prelude::{Circle, Color};

/// Most stretches of an axis.
const STRETCHES: i64 = 8;
/// Between the edge and the ends of the axis.
const SIDE: i32 = 24;
/// Height of the band, and of all that belongs to one stage.
const TALL: i32 = 30;
const ROW: i32 = NAME + SMALL + 22 + TALL + 24;
const RING: i32 = 8;

/// How long a stage took in each job in which it is finished.
#[derive(Debug, Clone, PartialEq)]
pub struct Took {
    /// The stage's key.
    pub stage: String,
    /// Its title, as in the latest of the jobs.
    pub title: String,
    /// The minutes in the latest of the jobs that had any.
    pub minutes: Option<Minutes>,
    /// Seconds in which somebody worked on it, of a wait those that it waited by plan; shortest first.
    pub worked: Vec<i64>,
}

impl Took {
    /// The stages of these lines of an audit by stage, in their order; those that no job has finished are left out. A stage in
    /// which nobody worked took what it waited by plan; one without either was finished with nobody on the clock, and says nothing
    /// of how long it takes.
    pub fn of(lines: &[AuditLine]) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        let seconds = |length: Option<i64>| length.filter(|seconds| *seconds > 0);
        for line in lines.iter().filter(|line| line.finished > 0) {
            let worked = seconds(line.worked.as_ref().map(|length| length.seconds));
            let waited = seconds(line.wait.as_ref().map(|length| length.seconds));
            let Some(worked) = worked.or(waited) else { continue };
            let (stage, minutes) = (line.about.clone(), line.minutes.filter(|minutes| minutes.high > 0));
            match all.iter_mut().find(|took| took.stage == stage) {
                Some(took) => {
                    took.title.clone_from(&line.title);
                    took.minutes = minutes.or(took.minutes);
                    took.worked.push(worked);
                }
                None => all.push(Self { stage, title: line.title.clone(), minutes, worked: vec![worked] }),
            }
        }
        for took in &mut all {
            took.worked.sort_unstable();
        }
        all
    }

    /// Half of the jobs took this or less: the middle one, of two middle ones the shorter.
    pub fn middle(&self) -> i64 {
        self.worked.get((self.worked.len().saturating_sub(1)) / 2).copied().unwrap_or_default()
    }

    /// How many of them took longer than the template's longest.
    pub fn beyond(&self) -> usize {
        let high = self.minutes.as_ref().map_or(i64::MAX, |minutes| i64::from(minutes.high) * 60);
        self.worked.iter().filter(|worked| **worked > high).count()
    }

    fn last(&self) -> i64 {
        let high = self.minutes.as_ref().map_or(0, |minutes| i64::from(minutes.high) * 60);
        self.worked.last().copied().unwrap_or_default().max(high)
    }
}

/// The words of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpreadWords {
    /// What it shows.
    pub title: String,
    /// What the band is: the template's minutes.
    pub band: String,
    /// What the bar across it is: the template's most likely.
    pub likely: String,
    /// What a ring is: a job.
    pub ring: String,
    /// What the triangle is: half of the jobs took no longer.
    pub middle: String,
}

/// Draws them below each other, on one axis; `caption` says a stage's figures in words.
pub fn spread(all: &[Took], words: &SpreadWords, caption: impl Fn(&Took) -> String) -> Picture {
    let last = all.iter().map(Took::last).max().unwrap_or_default().max(60);
    let step = step(last, STRETCHES);
    let whole = (last + step - 1) / step * step;
    let told: Vec<String> = all.iter().map(|took| format!("{}: {}", took.title, caption(took))).collect();
    let told = format!("{}. {}", words.title, told.join("; "));
    let rows = i32::try_from(all.len()).unwrap_or_default().min(2_000);
    let top = 2 * (SMALL + 14) + 6;
    let bottom = top + rows * ROW;
    Picture::draw(bottom + SMALL + 16, &told, |area| {
        key(area, words)?;
        for mark in 0..=whole / step {
            let x = along(mark * step, whole);
            line(area, (x, top), (x, bottom), LINE, 1)?;
            write(area, &hours(mark * step), (x, bottom + SMALL / 2 + 4), Letters::CAPTION.centred())?;
        }
        for (row, took) in (0_i32..rows).zip(all) {
            stage(area, took, &caption(took), whole, top + row * ROW)?;
        }
        Ok(())
    })
}

/// An axis in hours; minutes where it is shorter than that.
fn hours(seconds: i64) -> String {
    match (seconds / 3600, seconds % 3600 / 60) {
        (0, 0) => "0".to_owned(),
        (0, _) => show_length(seconds),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours}:{minutes:02} h"),
    }
}

fn key(area: &Area<'_>, words: &SpreadWords) -> Drawn {
    let (half, below) = (WIDTH / 2, SMALL + 14);
    let room = half - 52;
    fill(area, (2, 4), (32, 26), BAND, true)?;
    write(area, &fitting(&words.band, room, Letters::CAPTION), (42, 15), Letters::CAPTION)?;
    fill(area, (half + 14, 3), (half + 19, 27), INK, false)?;
    write(area, &fitting(&words.likely, room, Letters::CAPTION), (half + 42, 15), Letters::CAPTION)?;
    ring(area, (17, below + 15))?;
    write(area, &fitting(&words.ring, room, Letters::CAPTION), (42, below + 15), Letters::CAPTION)?;
    pointer(area, half + 16, below + 22)?;
    write(area, &fitting(&words.middle, room, Letters::CAPTION), (half + 42, below + 15), Letters::CAPTION)
}

fn stage(area: &Area<'_>, took: &Took, caption: &str, whole: i64, top: i32) -> Drawn {
    let wide = WIDTH - 4;
    // The words stand on the ground, so that no line of the axis runs through them.
    fill(area, (0, top), (WIDTH, top + NAME + SMALL + 14), PAPER, false)?;
    write(area, &fitting(&took.title, wide, Letters::NAME), (2, top + 14), Letters::NAME)?;
    write(area, &fitting(caption, wide, Letters::CAPTION), (2, top + NAME + 14), Letters::CAPTION)?;
    let upper = top + NAME + SMALL + 22;
    if let Some(minutes) = &took.minutes {
        let at = |minutes: i32| along(i64::from(minutes) * 60, whole);
        fill(area, (at(minutes.low), upper), (at(minutes.high), upper + TALL), BAND, true)?;
        fill(area, (at(minutes.likely) - 2, upper), (at(minutes.likely) + 3, upper + TALL), INK, false)?;
    } else {
        line(area, (SIDE, upper + TALL / 2), (WIDTH - SIDE, upper + TALL / 2), SOFT, 1)?;
    }
    for (at, worked) in (0_i32..).zip(&took.worked) {
        // Rings of jobs that took the same do not hide each other: every second one lies lower.
        let lower = match took.worked.len() {
            1 => 0,
            _ if at % 2 == 0 => -5,
            _ => 5,
        };
        ring(area, (along(*worked, whole), upper + TALL / 2 + lower))?;
    }
    pointer(area, along(took.middle(), whole), upper + TALL + 12)
}

fn ring(area: &Area<'_>, at: (i32, i32)) -> Drawn {
    area.draw(&Circle::new(at, RING, PAPER.filled()))?;
    area.draw(&Circle::new(at, RING, INK.stroke_width(3)))?;
    Ok(())
}

/// A triangle that points up, from below.
fn pointer(area: &Area<'_>, x: i32, bottom: i32) -> Drawn {
    let corners = vec![(x, bottom - 13), (x + 9, bottom), (x - 9, bottom)];
    Ok(area.draw(&plotters::element::Polygon::new(corners, INK.filled()))?)
}

fn along(seconds: i64, whole: i64) -> i32 {
    let wide = i64::from(WIDTH - 2 * SIDE);
    SIDE + i32::try_from(seconds.clamp(0, whole).saturating_mul(wide) / whole.max(1)).unwrap_or_default()
}

#[cfg(test)]
#[path = "spread_tests.rs"]
mod tests;
