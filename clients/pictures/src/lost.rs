//! Hours that were lost, by cause and over weeks.

use crate::canvas::{Area, Drawn, INK, LINE, Letters, NAME, Picture, SMALL, SOFT, WIDTH, fill, fitting, line, write};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use leadhand_sdk::WireTimestamp;
use leadhand_sdk::moment::{self, show_length};
use leadhand_sdk::v1::AuditLine;

/// Height of the bars, and of all that belongs to one cause.
const TALL: i32 = 64;
const ROW: i32 = NAME + 16 + TALL + 18;
/// Narrowest that a week's day is written.
const DAY_WIDE: i32 = 80;

/// What a cause cost, week by week.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lost {
    /// The cause as the contract numbers it.
    pub cause: i32,
    /// Seconds in each week, the first one first.
    pub weeks: Vec<i64>,
}

impl Lost {
    /// From lines of an audit by cause in which time was cut at these instants; the dearest cause first.
    pub fn of(lines: &[AuditLine], cuts: &[WireTimestamp]) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        for line in lines {
            let Some(week) = cuts.iter().position(|cut| Some(cut) == line.from_at.as_ref()) else { continue };
            for held in &line.blocked_by {
                let found = all.iter().position(|lost| lost.cause == held.cause).unwrap_or_else(|| {
                    all.push(Self { cause: held.cause, weeks: vec![0; cuts.len().saturating_sub(1)] });
                    all.len() - 1
                });
                let seconds = held.time.as_ref().map_or(0, |time| time.seconds);
                if let Some(sum) = all.get_mut(found).and_then(|lost| lost.weeks.get_mut(week)) {
                    *sum += seconds;
                }
            }
        }
        all.retain(|lost| lost.whole() > 0);
        all.sort_by_key(|lost| (std::cmp::Reverse(lost.whole()), lost.cause));
        all
    }

    /// All weeks together, in seconds.
    pub fn whole(&self) -> i64 {
        self.weeks.iter().sum()
    }
}

/// Where so many weeks up to and with the present one begin in the shop's zone, and where the last one ends. Weeks begin
/// on Mondays (ISO 8601).
pub fn weeks(count: usize, zone: &TimeZone, now: Timestamp) -> Vec<WireTimestamp> {
    let today = now.to_zoned_datetime(zone.clone()).date();
    let monday = today.checked_sub(Span::new().days(i64::from(today.weekday().to_monday_zero_offset())));
    let monday = monday.unwrap_or(today);
    let count = i64::try_from(count).unwrap_or(MOST_WEEKS).clamp(1, MOST_WEEKS);
    let starts = (1 - count..=1).filter_map(|week| monday.checked_add(Span::new().weeks(week)).ok());
    let starts = starts.filter_map(|day| day.to_zoned_datetime(zone.clone()).ok());
    starts.map(|start| moment::to_wire(start.timestamp())).collect()
}

/// Weeks that are looked at at most: two years.
pub const MOST_WEEKS: i64 = 104;

/// The words of the picture.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LostWords {
    /// What it shows.
    pub title: String,
    /// The first day of each week.
    pub weeks: Vec<String>,
}

/// Draws a row of bars a cause, all on one scale, weeks below each other; `name` is a cause's name.
pub fn lost(all: &[Lost], words: &LostWords, name: impl Fn(i32) -> String) -> Picture {
    let most = all.iter().flat_map(|lost| &lost.weeks).copied().max().unwrap_or_default();
    let told = all.iter().map(|lost| format!("{} {}", name(lost.cause), show_length(lost.whole())));
    let told = format!("{}. {}", words.title, told.collect::<Vec<_>>().join("; "));
    let rows = i32::try_from(all.len()).unwrap_or_default().min(100);
    Picture::draw(rows * ROW + SMALL + 14, &told, |area| {
        for (row, lost) in (0_i32..rows).zip(all) {
            let caption = format!("{} · {}", name(lost.cause), show_length(lost.whole()));
            cause(area, lost, &fitting(&caption, WIDTH - 4, Letters::NAME), most, row * ROW)?;
        }
        days(area, &words.weeks, rows * ROW)
    })
}

fn cause(area: &Area<'_>, lost: &Lost, caption: &str, most: i64, top: i32) -> Drawn {
    write(area, caption, (2, top + 14), Letters::NAME)?;
    let bottom = top + NAME + 16 + TALL;
    let wide = week(lost.weeks.len());
    for (at, seconds) in (0_i32..).zip(&lost.weeks) {
        let tall = i32::try_from(seconds.saturating_mul(i64::from(TALL - SMALL)) / most.max(1)).unwrap_or_default();
        let (from, until) = (at * wide + 4, (at + 1) * wide - 4);
        if *seconds > 0 {
            // What is there is seen, were it a minute in a week of a hundred hours.
            fill(area, (from, bottom - tall.max(2)), (until, bottom), INK, false)?;
            let length = Letters::CAPTION.centred();
            let length = Letters { size: SMALL - 3, ..length };
            if wide >= 44 {
                write(area, &short(*seconds), (i32::midpoint(from, until), bottom - tall.max(2) - 10), length)?;
            }
        }
    }
    line(area, (0, bottom), (WIDTH, bottom), SOFT, 2)
}

/// A length in a few letters: whole hours, or minutes where it is less than one; the exact one stands in the figures.
fn short(seconds: i64) -> String {
    match (seconds / 3600, seconds % 3600 / 60) {
        (0, minutes) => format!("{} min", minutes.max(1)),
        (hours, minutes) => format!("{} h", hours + minutes / 30),
    }
}

fn week(weeks: usize) -> i32 {
    WIDTH / i32::try_from(weeks).unwrap_or(1).max(1)
}

/// The first days of as many weeks as have room.
fn days(area: &Area<'_>, weeks: &[String], top: i32) -> Drawn {
    let wide = week(weeks.len());
    let every = usize::try_from((DAY_WIDE + wide - 1) / wide.max(1)).unwrap_or(1).max(1);
    // Counted from the last week, which is the present one.
    let first = weeks.len().saturating_sub(1) % every;
    for (at, day) in (0_i32..).zip(weeks).skip(first).step_by(every) {
        let x = at * wide;
        line(area, (x + 1, top - 8), (x + 1, top + 6), LINE, 2)?;
        write(area, day, (x + 6, top + SMALL / 2 + 2), Letters::CAPTION)?;
    }
    Ok(())
}

#[cfg(test)]
#[path = "lost_tests.rs"]
mod tests;
