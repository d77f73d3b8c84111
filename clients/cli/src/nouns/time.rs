//! `leadhand time`.

use super::reckon::save;
use super::{job_text, time_csv, time_lost, time_spread};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment::{self, show_duration};
use crate::out::{Format, Table};
use crate::words::{parse, word};
use clap::{Args, Subcommand};
use jiff::tz::TimeZone;
use leadhand_pictures::{Bar, HoursWords, Picture};
use leadhand_sdk::v1::{AuditBy, AuditLine, AuditTimeRequest, AuditTimeResponse, Cause, Label, Segment};
use std::path::PathBuf;

/// Where the time went.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Every instant of a stage's life under one label; the labels add up to the elapsed time
    Audit(Audit),
    /// How long each stage of a template took, over its jobs, beside the template's minutes
    Spread(time_spread::Spread),
    /// What held the shop up, cause by cause and week by week
    Lost(time_lost::Lost),
}

/// What to audit.
#[derive(Debug, Args)]
pub struct Audit {
    /// A line for each: job, stage, template, template-stage (for a year and more) or cause
    #[arg(long, value_parser = parse::<AuditBy>, default_value = "stage")]
    by: AuditBy,
    /// Only this job
    #[arg(long)]
    job: Option<i64>,
    /// Only jobs of this template
    #[arg(long, value_name = "KEY")]
    template: Option<String>,
    /// Only jobs opened at or after this
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Only jobs opened before this
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// The stretches behind each line too, with the numbers of the facts that explain them
    #[arg(long)]
    segments: bool,
    /// Stages that have not begun too
    #[arg(long)]
    all: bool,
    /// The bars as a drawing (SVG), into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Audit(what) => run_audit(app, what).await,
        Command::Spread(what) => time_spread::run(app, what).await,
        Command::Lost(what) => time_lost::run(app, what).await,
    }
}

async fn run_audit(app: &App, what: Audit) -> Outcome {
    if what.segments && what.by == AuditBy::Cause {
        let why = "--segments go with --by stage, job or template: there each stretch names its cause and its facts";
        return Err(Failure::Usage(why.to_owned()));
    }
    let request = AuditTimeRequest {
        by: what.by.into(),
        job: what.job.unwrap_or(0),
        template: what.template.unwrap_or_default(),
        from_at: app.moment_if(what.from.as_deref()).await?,
        until_at: app.moment_if(what.until.as_deref()).await?,
        with_segments: what.segments,
        cut_at: Vec::new(),
    };
    let answer = app.client.audit_time(request).await?;
    if let Some(path) = &what.svg {
        save(path, &bars(&answer).file())?;
    }
    match app.out.format {
        Format::Json => crate::out::json(&answer),
        Format::Csv if what.segments => crate::out::put(&time_csv::segments(&answer)?),
        Format::Csv => crate::out::put(&time_csv::lines(&answer)?),
        Format::Table => show(app, &answer, what.segments, what.all).await,
    }
}

/// One bar a line, one pattern a label.
fn bars(answer: &AuditTimeResponse) -> Picture {
    let bar = |line: &AuditLine| {
        let minutes = line.minutes.as_ref().filter(|minutes| minutes.likely > 0);
        let beside = minutes.map(|minutes| format!("estimate {}", job_text::minutes(Some(minutes))));
        Bar { beside: beside.unwrap_or_default(), ..Bar::of(line) }
    };
    let labels = ["worked", "blocked", "waiting by plan", "idle", "outside hours"].map(str::to_owned);
    let words = HoursWords { title: "Where the hours went".to_owned(), labels };
    leadhand_pictures::hours(&answer.lines.iter().map(bar).collect::<Vec<_>>(), &words)
}

async fn show(app: &App, answer: &AuditTimeResponse, segments: bool, all: bool) -> Outcome {
    let zone = app.zone().await?;
    let (shown, unbegun): (Vec<&AuditLine>, Vec<&AuditLine>) =
        answer.lines.iter().partition(|line| all || has_begun(line));
    app.out.table(&lines(&shown, answer.total.as_ref()))?;
    if segments {
        for line in shown.iter().filter(|line| !line.segments.is_empty()) {
            crate::out::line("")?;
            crate::out::line(&crate::out::clean(&name(line)))?;
            app.out.table(&stretches(&line.segments, zone))?;
        }
    }
    let as_of = moment::show(answer.as_of.as_ref(), zone);
    crate::out::note(&format!("as of {as_of}, fact {}; what is under way counts up to then", answer.number));
    if !unbegun.is_empty() {
        crate::out::note(&format!("{} with no time yet are left out; --all shows them", unbegun.len()));
    }
    Ok(())
}

/// Whether there is any time to be shown.
fn has_begun(line: &AuditLine) -> bool {
    [&line.elapsed, &line.labour, &line.in_bay, &line.blocked]
        .into_iter()
        .flatten()
        .any(|time| time.seconds > 0 || time.nanos > 0)
}

fn name(line: &AuditLine) -> String {
    if line.title.is_empty() { line.about.clone() } else { format!("{}: {}", line.about, line.title) }
}

fn lines(shown: &[&AuditLine], total: Option<&AuditLine>) -> Table {
    let header = [
        "about", "job#", "elapsed#", "worked#", "blocked#", "by cause", "wait#", "outside#", "idle#", "labour#",
        "in bay#", "estimate",
    ];
    let mut table = Table::new("time", &header)
        .when_empty("no time was spent yet; it begins when a stage is ready, and work with 'leadhand stage start'");
    let mut add = |name: String, line: &AuditLine| {
        let job = if line.job > 0 { line.job.to_string() } else { String::new() };
        table.row([
            name,
            job,
            some(line.elapsed.as_ref()),
            some(line.worked.as_ref()),
            some(line.blocked.as_ref()),
            by_cause(line),
            some(line.wait.as_ref()),
            some(line.outside.as_ref()),
            some(line.idle.as_ref()),
            some(line.labour.as_ref()),
            some(line.in_bay.as_ref()),
            job_text::minutes(line.minutes.as_ref()),
        ]);
    };
    for line in shown {
        add(name(line), line);
    }
    if let (Some(total), false) = (total, shown.is_empty()) {
        add("TOTAL".to_owned(), total);
    }
    table
}

/// A length of time; an empty cell where there was none, so that the eye finds what there was.
fn some(time: Option<&prost_types::Duration>) -> String {
    time.filter(|time| time.seconds > 0).map_or_else(String::new, |time| show_duration(Some(time)))
}

fn by_cause(line: &AuditLine) -> String {
    let parts: Vec<String> = line
        .blocked_by
        .iter()
        .map(|blocked| format!("{} {}", word::<Cause>(blocked.cause), show_duration(blocked.time.as_ref())))
        .collect();
    parts.join(", ")
}

fn stretches(segments: &[Segment], zone: &TimeZone) -> Table {
    let mut table = Table::new("stretches", &["job#", "stage", "from", "until", "length#", "label", "facts"]);
    for segment in segments {
        let length = match (&segment.from_at, &segment.until_at) {
            (Some(from), Some(until)) => moment::show_length(until.seconds - from.seconds),
            _ => String::new(),
        };
        let numbers: Vec<String> = segment.numbers.iter().map(i64::to_string).collect();
        table.row([
            segment.job.to_string(),
            segment.stage.clone(),
            moment::show(segment.from_at.as_ref(), zone),
            moment::show(segment.until_at.as_ref(), zone),
            length,
            label(segment),
            numbers.join(" "),
        ]);
    }
    table
}

/// A stretch's label, with the cause when it was held up.
pub fn label(segment: &Segment) -> String {
    match word::<Cause>(segment.cause) {
        cause if cause.is_empty() => word::<Label>(segment.label),
        cause => format!("{} ({cause})", word::<Label>(segment.label)),
    }
}
