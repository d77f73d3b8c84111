//! A plan as a chart: a row a bay or a person, a letter a job; and the same as a drawing.

use super::plan_text::Shown;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{Plan, PlannedStage};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// What a row of a plan is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum By {
    /// A row a bay.
    Bay,
    /// A row a person.
    Person,
    /// A row a job.
    Job,
}

/// A stretch of a row, in seconds.
struct Bar {
    job: i64,
    from: i64,
    until: i64,
    title: String,
    /// Whether somebody works, or the vehicle only stands there.
    work: bool,
}

/// A chart of a plan.
pub struct Chart {
    rows: BTreeMap<String, Vec<Bar>>,
    letters: BTreeMap<i64, char>,
    from: i64,
    until: i64,
}

const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789";

fn seconds(at: Option<&prost_types::Timestamp>) -> i64 {
    at.map_or(0, |at| at.seconds)
}

impl Chart {
    /// Of a plan.
    pub fn new(shown: &Shown, plan: &Plan, by: By) -> Self {
        let jobs: BTreeSet<i64> = plan.stages.iter().map(|row| row.job).collect();
        let letters = jobs.into_iter().zip(LETTERS.chars().chain(std::iter::repeat('#'))).collect();
        let mut rows: BTreeMap<String, Vec<Bar>> = BTreeMap::new();
        if by == By::Bay {
            for stay in &plan.stays {
                let (from, until) = (seconds(stay.from_at.as_ref()), seconds(stay.until_at.as_ref()));
                let bar = Bar { job: stay.job, from, until, title: String::new(), work: false };
                rows.entry(stay.bay.clone()).or_default().push(bar);
            }
        }
        for row in &plan.stages {
            for key in keys(shown, row, by) {
                let (from, until) = (seconds(row.from_at.as_ref()), seconds(row.until_at.as_ref()));
                rows.entry(key).or_default().push(Bar {
                    job: row.job,
                    from,
                    until,
                    title: shown.title(row),
                    work: true,
                });
            }
        }
        let all = || rows.values().flatten().filter(|bar| bar.work);
        let from = all().map(|bar| bar.from).min().unwrap_or(0);
        let until = all().map(|bar| bar.until).max().unwrap_or(from + 1).max(from + 1);
        Self { rows, letters, from, until }
    }

    /// For a terminal of that width. Letters are jobs, dots a vehicle that waits in its bay.
    pub fn text(&self, width: usize, zone: &TimeZone) -> String {
        if self.rows.is_empty() {
            return String::new();
        }
        let label = self.rows.keys().map(|key| key.chars().count()).max().unwrap_or(0).clamp(4, 16);
        let columns = width.saturating_sub(label + 4).max(10);
        let mut text = format!("\n {} |{}\n", " ".repeat(label), self.days(columns, zone));
        for (key, bars) in &self.rows {
            let key: String = key.chars().take(label).collect();
            let line: String = (0..columns).map(|column| self.cell(bars, column, columns)).collect();
            let _ = writeln!(text, " {key:<label$} |{}", line.trim_end());
        }
        let legend: Vec<String> = self.letters.iter().map(|(job, letter)| format!("{letter} job {job}")).collect();
        let each = crate::moment::show_length((self.until - self.from) / i64::try_from(columns).unwrap_or(1));
        let _ = writeln!(text, " {}; . stands in its bay; a column is {each}", legend.join(", "));
        text
    }

    /// The letter of what takes most of a column.
    fn cell(&self, bars: &[Bar], column: usize, columns: usize) -> char {
        let edge = |column: usize| {
            let share = i64::try_from(column).unwrap_or(0) * (self.until - self.from);
            self.from + share / i64::try_from(columns).unwrap_or(1).max(1)
        };
        let (from, until) = (edge(column), edge(column + 1));
        let shared = |bar: &&Bar| (bar.until.min(until) - bar.from.max(from)).max(0);
        let most = |work: bool| bars.iter().filter(|bar| bar.work == work && shared(bar) > 0).max_by_key(shared);
        match (most(true), most(false)) {
            (Some(bar), _) => self.letters.get(&bar.job).copied().unwrap_or('#'),
            (None, Some(_)) => '.',
            (None, None) => ' ',
        }
    }

    /// Where days begin.
    fn days(&self, columns: usize, zone: &TimeZone) -> String {
        let mut line = vec![' '; columns];
        let mut free = 0;
        for (at, name) in self.midnights(zone) {
            let share = (at - self.from) * i64::try_from(columns).unwrap_or(1) / (self.until - self.from);
            let column = usize::try_from(share).unwrap_or(0);
            let word: Vec<char> = name.chars().collect();
            if column >= free && column + word.len() <= columns {
                line[column..column + word.len()].copy_from_slice(&word);
                free = column + word.len() + 1;
            }
        }
        line.into_iter().collect::<String>().trim_end().to_owned()
    }

    /// The first moment, and every midnight behind it, each with its day.
    fn midnights(&self, zone: &TimeZone) -> Vec<(i64, String)> {
        let Ok(first) = Timestamp::from_second(self.from) else { return Vec::new() };
        let first = first.to_zoned_datetime(zone.clone());
        let mut found = vec![(self.from, first.strftime("%a %-d").to_string())];
        let mut day = first.date();
        while let Ok(next) = day.tomorrow() {
            day = next;
            let Ok(midnight) = zone.to_timestamp(day.at(0, 0, 0, 0)) else { break };
            if midnight.as_second() >= self.until || found.len() > 400 {
                break;
            }
            found.push((midnight.as_second(), day.strftime("%a %-d").to_string()));
        }
        found
    }

    /// As a drawing that is read on a light and on a dark page: the ground is the page's, letters say whose a bar is, and
    /// patterns of lines tell neighbours apart.
    pub fn svg(&self, zone: &TimeZone) -> String {
        const LEFT: i64 = 130;
        const WIDE: i64 = 1_000;
        const ROW: i64 = 34;
        let x = |at: i64| LEFT + (at - self.from).clamp(0, self.until - self.from) * WIDE / (self.until - self.from);
        let rows = i64::try_from(self.rows.len()).unwrap_or(0);
        let (width, height) = (LEFT + WIDE + 10, 40 + rows * ROW + 34);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" \
             font-family=\"sans-serif\" font-size=\"13\"><title>Plan</title>{STYLE}"
        );
        for (at, name) in self.midnights(zone) {
            let x = x(at);
            let _ = write!(
                svg,
                "<path class=\"l\" d=\"M{x} 26V{}\"/><text x=\"{}\" y=\"20\">{name}</text>",
                height - 34,
                x + 3
            );
        }
        for (k, (key, bars)) in (0..).zip(&self.rows) {
            let y = 34 + k * ROW;
            let _ = write!(svg, "<text x=\"6\" y=\"{}\">{}</text>", y + 19, escaped(key));
            let (stands, works): (Vec<&Bar>, Vec<&Bar>) = bars.iter().partition(|bar| !bar.work);
            for bar in stands.into_iter().chain(works) {
                let (from, wide) = (x(bar.from), (x(bar.until) - x(bar.from)).max(1));
                let letter = self.letters.get(&bar.job).copied().unwrap_or('#');
                let (class, inset) = if bar.work { ("w", 4) } else { ("s", 0) };
                let tall = ROW - 6 - 2 * inset;
                let _ = write!(
                    svg,
                    "<rect class=\"{class}\" x=\"{from}\" y=\"{}\" width=\"{wide}\" height=\"{tall}\"><title>job {}{}{}</title></rect>",
                    y + inset,
                    bar.job,
                    if bar.title.is_empty() { "" } else { ": " },
                    escaped(&bar.title)
                );
                if bar.work && wide >= 12 {
                    let _ = write!(svg, "<text x=\"{}\" y=\"{}\">{letter}</text>", from + 3, y + 19);
                }
            }
        }
        let legend: Vec<String> = self.letters.iter().map(|(job, letter)| format!("{letter} job {job}")).collect();
        let _ = writeln!(
            svg,
            "<text x=\"6\" y=\"{}\">{}; dashed: stands in its bay</text></svg>",
            height - 10,
            legend.join(", ")
        );
        svg
    }
}

const STYLE: &str = "<style>text{fill:#111}.l{stroke:#777;fill:none}.w{fill:#cfe0f5;stroke:#111}\
    .s{fill:none;stroke:#555;stroke-dasharray:4 3}\
    @media (prefers-color-scheme:dark){text{fill:#eee}.l{stroke:#999}.w{fill:#24405f;stroke:#eee}.s{stroke:#bbb}}</style>";

fn keys(shown: &Shown, row: &PlannedStage, by: By) -> Vec<String> {
    match by {
        By::Bay if row.bay.is_empty() => vec!["no bay".to_owned()],
        By::Bay => vec![row.bay.clone()],
        By::Person => row.people.iter().map(|person| shown.name(person)).collect(),
        By::Job => vec![format!("job {:>3}", row.job)],
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
