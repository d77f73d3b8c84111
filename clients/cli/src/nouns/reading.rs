//! `leadhand reading`: what is measured on a job.

use super::reading_text;
use crate::app::App;
use crate::failure::Outcome;
use crate::out;
use crate::words::{Word, parse};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AddReadingRequest, DecideReadingRequest, Decision, GetReadingsRequest, ReadingDetail, ReadingKind,
    RecordReadingRequest,
};

/// What is measured on a job, and how it came out.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// The readings of a job, with their limits and how they came out
    List {
        /// The job's number
        job: i64,
    },
    /// Record a reading, in place of an earlier one; says how it came out
    Record {
        /// The job's number
        job: i64,
        /// The reading's key
        reading: String,
        /// The figures in the order that `reading list` shows, such as 12.4 12.1 12.6 12.2
        #[arg(required = true, allow_negative_numbers = true)]
        figures: Vec<String>,
        /// What it was measured with
        #[arg(long = "with", default_value = "", hide_default_value = true, value_name = "INSTRUMENT")]
        instrument: String,
        /// What else is to be said
        #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
        note: String,
        /// The gauge really shows a figure that lies far from the limits
        #[arg(long)]
        sure: bool,
    },
    /// Add a reading that nobody had listed; prints its key
    Add(Box<Add>),
    /// For a lead: decide about a reading that is out of its limits
    Decide {
        /// The job's number
        job: i64,
        /// The reading's key
        reading: String,
        /// What is to be done: accept, again (measure again) or repair
        #[arg(value_parser = parse::<Decision>)]
        decision: Decision,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// What is measured.
#[derive(Debug, Args)]
pub struct Add {
    /// The job's number
    job: i64,
    /// The stage at which it is taken
    stage: String,
    /// What it is called
    what: String,
    /// What it is a measure of: compression, leak-down, flatness, torque, angle, run-out, pressure-held, level or other
    #[arg(long, value_parser = parse::<ReadingKind>)]
    kind: Option<ReadingKind>,
    /// The unit of its figures: bar, kPa, psi, mm, µm, N.m, deg, °C, % and others
    #[arg(long, default_value = "1")]
    unit: String,
    /// Its key; reading-1, reading-2, … when left out. A compression that was taken wet has the key of the dry one with -wet
    /// behind it, and is judged with it
    #[arg(long, default_value = "", hide_default_value = true)]
    key: String,
    /// The step that waits for it
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    step: i32,
    /// What each figure is of, such as 1,2,3,4; points of a face by their place in millimetres, along and across, such as
    /// 0_0,90_0,0_70
    #[arg(long = "of", value_delimiter = ',', value_name = "LABEL")]
    labels: Vec<String>,
    /// The least that a figure may be
    #[arg(long, default_value = "", hide_default_value = true, allow_negative_numbers = true)]
    low: String,
    /// The most that a figure may be
    #[arg(long, default_value = "", hide_default_value = true, allow_negative_numbers = true)]
    high: String,
    /// How far the lowest may lie below the highest, in per cent
    #[arg(long, default_value = "", hide_default_value = true)]
    spread: String,
    /// How far a pressure may fall while it is held
    #[arg(long, default_value = "", hide_default_value = true)]
    drop: String,
    /// For how many minutes it is held at least
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    minutes: i32,
    /// A figure, when it is taken at once; once for each
    #[arg(long = "figure", allow_negative_numbers = true, value_name = "FIGURE")]
    figures: Vec<String>,
    /// What it was measured with
    #[arg(long = "with", default_value = "", hide_default_value = true, value_name = "INSTRUMENT")]
    instrument: String,
    /// What else is to be said
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    note: String,
    /// The gauge really shows a figure that lies far from the limits
    #[arg(long, requires = "figures")]
    sure: bool,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::List { job } => {
            let found = app.client.get_readings(GetReadingsRequest { job }).await?;
            if app.out.is_json() { out::json(&found) } else { reading_text::list(app, &found) }
        }
        Command::Record { job, reading, figures, instrument, note, sure } => {
            let said = format!("reading {reading} of job {job} is recorded");
            let write = app.write().await?;
            let request = RecordReadingRequest { write, job, reading, figures, instrument, note, sure };
            let answer = app.client.record_reading(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Add(asked) => add(app, *asked).await,
        Command::Decide { job, reading, decision, reason } => {
            let said = format!("about reading {reading} of job {job} it is decided: {}", decision.word());
            let write = app.write().await?;
            let request = DecideReadingRequest { write, job, reading, decision: decision.into(), reason };
            let answer = app.client.decide_reading(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn add(app: &App, asked: Add) -> Outcome {
    let detail = ReadingDetail {
        kind: asked.kind.map_or(0, i32::from),
        unit: asked.unit,
        labels: asked.labels,
        low: asked.low,
        high: asked.high,
        spread: asked.spread,
        drop: asked.drop,
        minutes: asked.minutes,
        ..ReadingDetail::default()
    };
    let request = AddReadingRequest {
        write: app.write().await?,
        job: asked.job,
        stage: asked.stage,
        step: asked.step,
        reading: asked.key,
        what: asked.what,
        detail: Some(detail),
        figures: asked.figures,
        instrument: asked.instrument,
        note: asked.note,
        sure: asked.sure,
    };
    let answer = app.client.add_reading(request).await?;
    let said = format!("{} is a reading of job {}", answer.reading, asked.job);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.reading), &said)
}
