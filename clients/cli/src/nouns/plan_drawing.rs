//! A plan as a drawing (SVG): it is read on a light and on a dark page, printed in black and white, and by whoever sees no colours.
//! Letters say whose a bar is, and words and a pattern that it is late; colour only repeats that.

use super::plan_chart::{Bar, Chart, labelled};
use jiff::tz::TimeZone;
use std::fmt::Write;

/// Left of the bars: the names of bays or people.
const LEFT: i64 = 160;
/// Longest name, in letters, that fits there.
const NAMED: usize = 18;
/// Narrowest and widest that the time is drawn, and how wide a day is in between.
const NARROWEST: i64 = 1_200;
const WIDEST: i64 = 12_000;
const DAY_WIDE: i64 = 900;
const DAY_SECONDS: i64 = 24 * 3_600;
/// Height of a row, and of what stands above all rows.
const ROW: i64 = 36;
const TOP: i64 = 52;
/// About how wide a bold letter is at the size of the bars' words, in hundredths of a pixel.
const LETTER: i64 = 830;
/// Hours between two times, and how far apart in pixels they are at least.
const STEPS: [i64; 5] = [1, 2, 3, 6, 12];
const APART: i64 = 58;

/// A row, with as many lanes as it takes for no bar to hide another.
struct Row<'a> {
    key: &'a str,
    stands: Vec<&'a Bar>,
    lanes: Vec<Vec<&'a Bar>>,
}

impl<'a> Row<'a> {
    fn new(key: &'a str, bars: &'a [Bar]) -> Self {
        let (stands, mut works): (Vec<&Bar>, Vec<&Bar>) = bars.iter().partition(|bar| !bar.work);
        works.sort_by_key(|bar| (bar.from, bar.until));
        let mut lanes: Vec<Vec<&Bar>> = vec![Vec::new()];
        for bar in works {
            let free = |lane: &Vec<&Bar>| lane.last().is_none_or(|last| last.until <= bar.from);
            match lanes.iter().position(free) {
                Some(lane) => lanes[lane].push(bar),
                None => lanes.push(vec![bar]),
            }
        }
        Self { key, stands, lanes }
    }

    fn tall(&self) -> i64 {
        count(self.lanes.len()) * ROW
    }
}

impl Chart {
    /// As a drawing. `open` is when the shop is open; the rest is shaded, unless nothing is known of it.
    pub fn svg(&self, open: &[(i64, i64)], zone: &TimeZone) -> String {
        let mut rows: Vec<Row<'_>> = self.rows.iter().map(|(key, bars)| Row::new(key, bars)).collect();
        rows.sort_by_key(|row| natural(row.key));
        let bottom = TOP + rows.iter().map(Row::tall).sum::<i64>();
        let (width, height) = (LEFT + self.wide() + 12, bottom + 70);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"sans-serif\" font-size=\"14\">\
             <title>Plan</title>{STYLE}{PATTERNS}<rect class=\"ground\" width=\"{width}\" height=\"{height}\"/>"
        );
        self.nights(&mut svg, open, bottom);
        self.times(&mut svg, bottom, zone);
        let mut y = TOP;
        for row in &rows {
            self.row(&mut svg, row, y, width);
            y += row.tall();
        }
        self.legend(&mut svg, bottom, width);
        svg.push_str("</svg>\n");
        svg
    }

    fn wide(&self) -> i64 {
        ((self.until - self.from) * DAY_WIDE / DAY_SECONDS).clamp(NARROWEST, WIDEST)
    }

    fn x(&self, at: i64) -> i64 {
        LEFT + (at - self.from).clamp(0, self.until - self.from) * self.wide() / (self.until - self.from)
    }

    /// When the shop is closed, shaded.
    fn nights(&self, svg: &mut String, open: &[(i64, i64)], bottom: i64) {
        let mut reached = self.from;
        let hours = open.iter().copied().filter(|(from, until)| *until > self.from && *from < self.until);
        let end = (!open.is_empty()).then_some((self.until, self.until));
        for (from, until) in hours.chain(end) {
            let (left, right) = (self.x(reached), self.x(from));
            if right > left {
                let (wide, tall) = (right - left, bottom - TOP);
                let _ =
                    write!(svg, "<rect class=\"night\" x=\"{left}\" y=\"{TOP}\" width=\"{wide}\" height=\"{tall}\"/>");
            }
            reached = reached.max(until);
        }
    }

    /// Days above, and times below them.
    fn times(&self, svg: &mut String, bottom: i64, zone: &TimeZone) {
        let end = LEFT + self.wide();
        let pixels = |hours: i64| hours * 3_600 * self.wide() / (self.until - self.from);
        let step = STEPS.into_iter().find(|step| pixels(*step) >= APART);
        for (at, name) in step.map(|step| self.full_hours(step, zone)).unwrap_or_default() {
            let x = self.x(at);
            let _ = write!(svg, "<path class=\"line\" d=\"M{x} 46V{bottom}\"/>");
            if x + letters(&name) <= end {
                let _ = write!(svg, "<text class=\"small\" x=\"{}\" y=\"44\">{name}</text>", x + 2);
            }
        }
        let days: Vec<(i64, String)> = self.midnights(zone).into_iter().map(|(at, name)| (self.x(at), name)).collect();
        for (x, _) in &days {
            let _ = write!(svg, "<path class=\"day\" d=\"M{x} 6V{bottom}\"/>");
        }
        for (x, name) in labelled(days, letters, 12, end) {
            let _ = write!(svg, "<text class=\"strong\" x=\"{}\" y=\"20\">{name}</text>", x + 4);
        }
    }

    fn row(&self, svg: &mut String, row: &Row<'_>, y: i64, width: i64) {
        let _ = write!(
            svg,
            "<path class=\"line\" d=\"M0 {y}H{width}\"/><text class=\"strong\" x=\"6\" y=\"{}\">{}<title>{}</title></text>",
            y + 23,
            escaped(&shortened(row.key)),
            escaped(row.key)
        );
        for bar in &row.stands {
            self.bar(svg, bar, y);
        }
        for (lane, bars) in (0..).zip(&row.lanes) {
            for bar in bars {
                self.bar(svg, bar, y + lane * ROW);
            }
        }
    }

    fn bar(&self, svg: &mut String, bar: &Bar, y: i64) {
        let (from, wide) = (self.x(bar.from), (self.x(bar.until) - self.x(bar.from)).max(2));
        let late = self.late.contains(&bar.job);
        let class = match (bar.work, late) {
            (false, _) => "stands",
            (true, false) => "work",
            (true, true) => "work late",
        };
        let mark = match (late, bar.over) {
            (false, false) => "",
            (true, false) => ", late",
            (false, true) => ", overtime",
            (true, true) => ", late, overtime",
        };
        let title = if bar.title.is_empty() { String::new() } else { format!(": {}", bar.title) };
        let _ = write!(svg, "<g><title>job {}{mark}{}</title>", bar.job, escaped(&title));
        block(svg, class, (from, y + 5), (wide, ROW - 10));
        if bar.over {
            overtime(svg, (from, y + 5), (wide, ROW - 10));
        }
        if let Some(label) = label(bar, late, wide) {
            let _ = write!(svg, "<text class=\"in\" x=\"{}\" y=\"{}\">{label}</text>", from + wide / 2, y + 23);
        }
        svg.push_str("</g>");
    }

    fn legend(&self, svg: &mut String, bottom: i64, width: i64) {
        let y = bottom + 14;
        let _ = write!(svg, "<path class=\"line\" d=\"M0 {bottom}H{width}\"/>");
        let mut x = 6;
        let late = if self.late.is_empty() { None } else { Some(("work late", "late by its promise")) };
        let first = [("work", "worked on"), ("stands", "stands in its bay"), ("night", "the shop is closed")];
        for (class, words) in first.into_iter().chain(late) {
            block(svg, class, (x, y), (34, 22));
            let _ = write!(svg, "<text x=\"{}\" y=\"{}\">{words}</text>", x + 42, y + 16);
            x += 42 + letters(words) + 20;
        }
        if self.rows.values().flatten().any(|bar| bar.over) {
            block(svg, "work", (x, y), (34, 22));
            overtime(svg, (x, y), (34, 22));
            let _ = write!(svg, "<text x=\"{}\" y=\"{}\">overtime</text>", x + 42, y + 16);
            x += 42 + letters("overtime") + 20;
        }
        let _ = write!(svg, "<text x=\"{x}\" y=\"{}\">numbers are jobs</text>", y + 16);
        if !self.late.is_empty() {
            let jobs: Vec<String> = self.late.iter().map(|job| format!("job {job}")).collect();
            let _ = write!(svg, "<text x=\"6\" y=\"{}\">late: {}</text>", y + 46, jobs.join(", "));
        }
    }
}

/// A block of a kind, striped along its edges where it is late.
fn block(svg: &mut String, class: &str, (x, y): (i64, i64), (wide, tall): (i64, i64)) {
    let one = |svg: &mut String, how: &str, y: i64, tall: i64| {
        let _ = write!(svg, "<rect {how} x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{tall}\"/>");
    };
    one(svg, &format!("class=\"{class}\""), y, tall);
    if class == "work late" {
        one(svg, "fill=\"url(#stripes)\"", y, 5);
        one(svg, "fill=\"url(#stripes)\"", y + tall - 5, 5);
    }
}

/// A thick line along the foot of a block that is overtime: its words stay as they can be read.
fn overtime(svg: &mut String, (x, y): (i64, i64), (wide, tall): (i64, i64)) {
    let _ = write!(
        svg,
        "<path class=\"over\" d=\"M{x} {}h{wide}\" stroke-width=\"6\" stroke-dasharray=\"3 3\"/>",
        y + tall - 3
    );
}

/// Sorts `lift-2` before `lift-10`, and what has no bay last.
pub fn natural(key: &str) -> (bool, &str, u64) {
    let name = key.trim_end_matches(|c: char| c.is_ascii_digit());
    (key == "no bay", name, key[name.len()..].parse().unwrap_or(0))
}

fn count(of: usize) -> i64 {
    i64::try_from(of).unwrap_or(i64::MAX)
}

/// What stands in a bar: as much as it has room for. A late one says so as long as there is room for a word.
fn label(bar: &Bar, late: bool, wide: i64) -> Option<String> {
    let job = bar.job;
    let words = if late {
        [format!("job {job} late"), format!("{job} late"), job.to_string()]
    } else {
        [format!("job {job}"), job.to_string(), job.to_string()]
    };
    words.into_iter().find(|text| bar.work && letters(text) + 2 <= wide)
}

fn letters(text: &str) -> i64 {
    count(text.chars().count()) * LETTER / 100
}

fn shortened(key: &str) -> String {
    if key.chars().count() <= NAMED {
        return key.to_owned();
    }
    key.chars().take(NAMED - 1).chain(['…']).collect()
}

pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

const PATTERNS: &str = "<defs><pattern id=\"stripes\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\" \
    patternTransform=\"rotate(45)\"><rect class=\"stripe\" width=\"4\" height=\"8\"/></pattern></defs>";

const STYLE: &str = "<style>.ground{fill:#fff}text{fill:#111}.strong{font-weight:bold}.small{font-size:12px}\
    .in{text-anchor:middle;font-size:14px;font-weight:bold;fill:#0b1b2e}.line{stroke:#ccc;fill:none}.day{stroke:#555;fill:none}\
    .night{fill:#e4e4e4}.work{fill:#cfe0f5;stroke:#1c3a5e}.late{fill:#ffe3d0;stroke:#7a1d00;stroke-width:2}\
    .stripe{fill:#7a1d00}.over{stroke:#111;fill:none}.stands{fill:none;stroke:#555;stroke-dasharray:4 3}\
    @media (prefers-color-scheme:dark){.ground{fill:#161616}text{fill:#eee}.in{fill:#fff}.line{stroke:#444}.day{stroke:#aaa}\
    .night{fill:#2c2c2c}.work{fill:#24405f;stroke:#9cc3f0}.late{fill:#6b2400;stroke:#ffb38a}.stripe{fill:#ffb38a}.over{stroke:#fff}\
    .stands{stroke:#bbb}}</style>";
