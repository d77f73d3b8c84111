//! `leadhand time spread`.

use super::{job_text, reckon, time_csv};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment::show_length;
use crate::out::{self, Format, Table};
use clap::Args;
use leadhand_pictures::{SpreadWords, Took, spread};
use leadhand_sdk::v1::{AuditBy, AuditTimeRequest};
use std::path::PathBuf;

/// Which jobs are looked at.
#[derive(Debug, Args)]
pub struct Spread {
    /// The template
    template: String,
    /// Only jobs opened at or after this
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Only jobs opened before this
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// A drawing (SVG) of it, into this file
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// Runs it.
pub async fn run(app: &App, what: Spread) -> Outcome {
    let request = AuditTimeRequest {
        by: AuditBy::Stage.into(),
        template: what.template.clone(),
        from_at: app.moment_if(what.from.as_deref()).await?,
        until_at: app.moment_if(what.until.as_deref()).await?,
        ..AuditTimeRequest::default()
    };
    let answer = app.client.audit_time(request).await?;
    let all = Took::of(&answer.lines);
    if let Some(path) = &what.svg {
        let words = SpreadWords {
            title: format!("How long the stages of {} took", what.template),
            band: "the template's minutes".to_owned(),
            likely: "its most likely".to_owned(),
            ring: "a job".to_owned(),
            middle: "half took this or less".to_owned(),
        };
        reckon::save(path, &spread(&all, &words, caption).file())?;
    }
    match app.out.format {
        Format::Json => out::json(&answer),
        Format::Csv => out::put(&time_csv::lines(&answer)?),
        Format::Table => app.out.table(&table(&all)),
    }
}

fn caption(took: &Took) -> String {
    let jobs = if took.worked.len() == 1 { "1 job".to_owned() } else { format!("{} jobs", took.worked.len()) };
    let template = match &took.minutes {
        Some(minutes) => format!("template {}", job_text::minutes(Some(minutes))),
        None => "the template gives no minutes".to_owned(),
    };
    format!("{template} · {jobs}, half took {} or less", show_length(took.middle()))
}

fn table(all: &[Took]) -> Table {
    let header = ["stage", "jobs#", "shortest#", "half took#", "longest#", "template", "beyond it#"];
    let none =
        "no job of this template has finished a stage yet; 'leadhand time audit --template' has what is under way";
    let mut table = Table::new("spread", &header).when_empty(none);
    for took in all {
        let end = |seconds: Option<&i64>| seconds.map(|seconds| show_length(*seconds)).unwrap_or_default();
        table.row([
            format!("{}: {}", took.stage, took.title),
            took.worked.len().to_string(),
            end(took.worked.first()),
            show_length(took.middle()),
            end(took.worked.last()),
            job_text::minutes(took.minutes.as_ref()),
            if took.beyond() == 0 { String::new() } else { took.beyond().to_string() },
        ]);
    }
    table
}
