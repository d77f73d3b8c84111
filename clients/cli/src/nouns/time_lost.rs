//! `leadhand time lost`.

use super::{reckon, time_csv};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment::{self, show_length};
use crate::out::{self, Format, Table};
use crate::words::word;
use clap::Args;
use jiff::tz::TimeZone;
use leadhand_pictures::{self as pictures, LostWords, lost, weeks};
use leadhand_sdk::WireTimestamp;
use leadhand_sdk::v1::{AuditBy, AuditTimeRequest, Cause};
use std::path::PathBuf;

/// Which weeks are looked at.
#[derive(Debug, Args)]
pub struct Lost {
    /// So many weeks up to and with this one, at most 104
    #[arg(long, default_value_t = 12, value_parser = clap::value_parser!(u16).range(1..=pictures::MOST_WEEKS))]
    weeks: u16,
    /// Only jobs of this template
    #[arg(long, value_name = "KEY")]
    template: Option<String>,
    /// A drawing (SVG) of it, into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs it.
pub async fn run(app: &App, what: Lost) -> Outcome {
    let zone = app.zone().await?;
    let cut_at = weeks(usize::from(what.weeks), zone, moment::now());
    let request = AuditTimeRequest {
        by: AuditBy::Cause.into(),
        template: what.template.unwrap_or_default(),
        cut_at: cut_at.clone(),
        ..AuditTimeRequest::default()
    };
    let answer = app.client.audit_time(request).await?;
    let all = pictures::Lost::of(&answer.lines, &cut_at);
    let days: Vec<String> = cut_at.iter().map(|cut| day(cut, zone)).collect();
    if let Some(path) = &what.svg {
        let (title, weeks) = ("Hours held up, by cause and week".to_owned(), days.clone());
        reckon::save(path, &lost(&all, &LostWords { title, weeks: weeks_of(weeks) }, word::<Cause>).file())?;
    }
    match app.out.format {
        Format::Json => out::json(&answer),
        Format::Csv => out::put(&time_csv::lines(&answer)?),
        Format::Table => app.out.table(&table(&all, &weeks_of(days))),
    }
}

/// The last instant ends a week and begins none.
fn weeks_of(mut days: Vec<String>) -> Vec<String> {
    days.pop();
    days
}

fn day(cut: &WireTimestamp, zone: &TimeZone) -> String {
    let at = moment::from_wire(cut).map(|at| at.to_zoned_datetime(zone.clone()));
    at.map(|at| at.strftime("%-d %b").to_string()).unwrap_or_default()
}

fn table(all: &[pictures::Lost], days: &[String]) -> Table {
    let none = "nothing held a stage up in these weeks, in the shop's hours and with nobody at work on it";
    let mut table = Table::new("lost", &["week of", "held up#", "by cause"]).when_empty(none);
    if all.is_empty() {
        return table;
    }
    let length = |seconds: i64| if seconds > 0 { show_length(seconds) } else { String::new() };
    for (week, day) in days.iter().enumerate() {
        let here = all.iter().map(|lost| (lost.cause, lost.weeks.get(week).copied().unwrap_or_default()));
        table.row([day.clone(), length(here.clone().map(|(_, seconds)| seconds).sum()), causes(here)]);
    }
    let whole = all.iter().map(|lost| (lost.cause, lost.whole()));
    table.row(["TOTAL".to_owned(), length(whole.clone().map(|(_, seconds)| seconds).sum()), causes(whole)]);
    table
}

fn causes(held: impl Iterator<Item = (i32, i64)>) -> String {
    let some = held.filter(|(_, seconds)| *seconds > 0);
    let told: Vec<String> =
        some.map(|(cause, seconds)| format!("{} {}", word::<Cause>(cause), show_length(seconds))).collect();
    told.join(", ")
}
