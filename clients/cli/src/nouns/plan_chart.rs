//! A plan as a chart: a row a bay or a person, a letter a job.

use super::plan_hours::{Hours, Piece};
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
pub(super) struct Bar {
    pub job: i64,
    pub from: i64,
    pub until: i64,
    pub title: String,
    /// Whether somebody works, or the vehicle only stands there.
    pub work: bool,
    /// Whether it is overtime.
    pub over: bool,
}

/// A chart of a plan.
pub struct Chart {
    pub(super) rows: BTreeMap<String, Vec<Bar>>,
    letters: BTreeMap<i64, char>,
    pub(super) late: BTreeSet<i64>,
    pub(super) from: i64,
    pub(super) until: i64,
}

const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789";

fn seconds(at: Option<&prost_types::Timestamp>) -> i64 {
    at.map_or(0, |at| at.seconds)
}

/// From when until when the stages of a plan go on, in seconds.
pub fn span(plan: &Plan) -> (i64, i64) {
    let from = plan.stages.iter().map(|row| seconds(row.from_at.as_ref())).min().unwrap_or(0);
    let until = plan.stages.iter().map(|row| seconds(row.until_at.as_ref())).max().unwrap_or(from + 1);
    (from, until.max(from + 1))
}

impl Chart {
    /// Of a plan. Work pauses where its people do.
    pub fn new(shown: &Shown, plan: &Plan, by: By, hours: &Hours) -> Self {
        let late = shown.late().clone();
        let jobs: BTreeSet<i64> = plan.stages.iter().map(|row| row.job).collect();
        let letters = jobs.into_iter().zip(LETTERS.chars().chain(std::iter::repeat('#'))).collect();
        let mut rows: BTreeMap<String, Vec<Bar>> = BTreeMap::new();
        if by == By::Bay {
            for stay in &plan.stays {
                let (from, until) = (seconds(stay.from_at.as_ref()), seconds(stay.until_at.as_ref()));
                let bar = Bar { job: stay.job, from, until, title: String::new(), work: false, over: false };
                rows.entry(stay.bay.clone()).or_default().push(bar);
            }
        }
        for row in &plan.stages {
            let whole = (seconds(row.from_at.as_ref()), seconds(row.until_at.as_ref()));
            let pieces = hours.worked(&row.people, whole);
            for key in keys(shown, row, by) {
                let bar = |&Piece { from, until, over }: &Piece| {
                    let (job, title) = (row.job, shown.title(row));
                    Bar { job, from, until, title, work: true, over }
                };
                rows.entry(key).or_default().extend(pieces.iter().map(bar));
            }
        }
        let (from, until) = span(plan);
        Self { rows, letters, late, from, until }
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
        let end = i64::try_from(columns).unwrap_or(1);
        let days = self.midnights(zone).into_iter();
        let days = days.map(|(at, name)| ((at - self.from) * end / (self.until - self.from), name));
        let wide = |name: &str| i64::try_from(name.chars().count()).unwrap_or(0);
        for (column, name) in labelled(days.collect(), wide, 1, end) {
            let from = usize::try_from(column).unwrap_or(0);
            line.iter_mut().skip(from).zip(name.chars()).for_each(|(cell, letter)| *cell = letter);
        }
        line.into_iter().collect::<String>().trim_end().to_owned()
    }

    /// The first moment, and every midnight behind it, each with its day.
    pub(super) fn midnights(&self, zone: &TimeZone) -> Vec<(i64, String)> {
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

    /// Times so many hours apart, each with its name.
    pub(super) fn full_hours(&self, step: i64, zone: &TimeZone) -> Vec<(i64, String)> {
        let told = |at: i64| {
            let time = Timestamp::from_second(at).ok()?.to_zoned_datetime(zone.clone());
            (i64::from(time.hour()) % step == 0).then(|| (at, time.strftime("%H:%M").to_string()))
        };
        // Not every zone is whole hours from UTC.
        let first = self.from.div_euclid(QUARTER) * QUARTER + QUARTER;
        let full =
            |at: &i64| Timestamp::from_second(*at).is_ok_and(|at| at.to_zoned_datetime(zone.clone()).minute() == 0);
        let all = (0..QUARTERS_MAX).map(|k| first + k * QUARTER).take_while(|at| *at < self.until);
        all.filter(full).filter_map(told).collect()
    }
}

/// The days that have room for their names, so far apart at least: each with where it begins. The first one, of which there
/// may be only the evening, gives way to the one behind it.
pub(super) fn labelled(
    days: Vec<(i64, String)>,
    wide: impl Fn(&str) -> i64,
    apart: i64,
    end: i64,
) -> Vec<(i64, String)> {
    let fits = |(at, name): &(i64, String)| at + wide(name) <= end;
    let behind = |(at, name): &(i64, String)| at + wide(name) + apart;
    let gives_way = days.len() > 1 && days[1].0 < behind(&days[0]) && fits(&days[1]);
    let mut told: Vec<(i64, String)> = Vec::new();
    for day in days.into_iter().skip(usize::from(gives_way)).filter(fits) {
        if told.last().is_none_or(|last| behind(last) <= day.0) {
            told.push(day);
        }
    }
    told
}

/// Seconds of a quarter of an hour, and most of them that a drawing tells the time of.
const QUARTER: i64 = 900;
const QUARTERS_MAX: i64 = 4 * 24 * 100;

fn keys(shown: &Shown, row: &PlannedStage, by: By) -> Vec<String> {
    match by {
        By::Bay if row.bay.is_empty() => vec!["no bay".to_owned()],
        By::Bay => vec![row.bay.clone()],
        By::Person => row.people.iter().map(|person| shown.name(person)).collect(),
        By::Job => vec![format!("job {:>3}", row.job)],
    }
}
