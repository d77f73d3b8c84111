//! `leadhand plan what-if`.

use super::plan::Search;
use super::plan_text;
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use clap::Args;
use leadhand_sdk::v1::{PlanChange, PlanChangeKind as Kind, ProposePlanResponse};

/// What is taken for otherwise; each may be said several times, such as `--parts 4/fit='2026-05-05 08:00'`.
#[derive(Debug, Args)]
pub struct WhatIf {
    /// The parts of a stage are there from a time on; without a time, now
    #[arg(long, value_name = "JOB/STAGE[=TIME]")]
    parts: Vec<String>,
    /// What holds a stage up ends at a time; without a time, now
    #[arg(long, value_name = "JOB/STAGE[=TIME]")]
    blocker_ends: Vec<String>,
    /// One more hand that can do what somebody can
    #[arg(long, value_name = "PERSON=FROM..UNTIL")]
    hand: Vec<String>,
    /// Somebody does not work then
    #[arg(long, value_name = "PERSON=FROM..UNTIL")]
    away: Vec<String>,
    /// A bay can't be used then
    #[arg(long, value_name = "BAY=FROM..UNTIL")]
    bay_closed: Vec<String>,
    /// A job's vehicle may be rolled out between any two stages, where there is room outside
    #[arg(long, value_name = "JOB")]
    roll_out: Vec<i64>,
    /// A job is promised for a time; without a time, not at all
    #[arg(long, value_name = "JOB[=TIME]")]
    promise: Vec<String>,
    /// A job has that priority, from 1 (first) to 5
    #[arg(long, value_name = "JOB=PRIORITY")]
    priority: Vec<String>,
    /// Overtime of somebody
    #[arg(long, value_name = "PERSON=FROM..UNTIL")]
    overtime: Vec<String>,
    /// A job is not there
    #[arg(long, value_name = "JOB")]
    without: Vec<i64>,
    #[command(flatten)]
    search: Search,
}

/// Proposes a plan of the shop as it is and one as it would be, and says what differs.
pub async fn run(app: &App, asked: WhatIf) -> Outcome {
    let changes = changes(app, &asked).await?;
    if changes.is_empty() {
        return Err(Failure::Usage("nothing is taken for otherwise; say what, such as --without 7".to_owned()));
    }
    let mut request = asked.search.request();
    let now = app.client.propose_plan(request.clone()).await?;
    request.changes = changes;
    let then = app.client.propose_plan(request).await?;
    if app.out.is_json() {
        return out::json(&then);
    }
    // What was asked comes first; the table has the rest.
    for sentence in differences(&now, &then) {
        out::line(&sentence)?;
    }
    if !(then.outlooks.is_empty() && then.unplaced.is_empty()) {
        plan_text::outlooks(app, &then, app.zone().await?)?;
    }
    out::note("nothing was touched; this plan can't be accepted");
    Ok(())
}

/// What becomes of jobs in another way.
fn differences(now: &ProposePlanResponse, then: &ProposePlanResponse) -> Vec<String> {
    let seconds = |at: &Option<prost_types::Timestamp>| at.as_ref().map(|at| at.seconds);
    let mut found = Vec::new();
    for job in &then.outlooks {
        let Some(before) = now.outlooks.iter().find(|before| before.job == job.job) else { continue };
        match (seconds(&before.ready_at), seconds(&job.ready_at)) {
            (Some(one), Some(other)) if one != other => {
                let length = crate::moment::show_length((one - other).abs());
                let which = if other < one { "sooner" } else { "later" };
                found.push(format!("job {} is ready {length} {which}", job.job));
            }
            (None, Some(_)) => found.push(format!("job {} has a place for all its stages", job.job)),
            (Some(_), None) => found.push(format!("job {} has stages without a place", job.job)),
            _ => {}
        }
    }
    if found.is_empty() {
        found.push("no job would be ready at another time".to_owned());
    }
    found
}

async fn changes(app: &App, asked: &WhatIf) -> Outcome<Vec<PlanChange>> {
    let mut changes = Vec::new();
    for (kind, texts) in [(Kind::PartsFrom, &asked.parts), (Kind::BlockerEnds, &asked.blocker_ends)] {
        for text in texts {
            let (which, time) = split(text);
            let (job, stage) = stage_of(which)?;
            let at = app.moment_if(time).await?;
            let (from_at, until_at) = if kind == Kind::PartsFrom { (at, None) } else { (None, at) };
            changes.push(PlanChange { kind: kind.into(), job, stage, from_at, until_at, ..Default::default() });
        }
    }
    let stretches = [
        (Kind::OneMoreHand, &asked.hand),
        (Kind::Away, &asked.away),
        (Kind::BayClosed, &asked.bay_closed),
        (Kind::Overtime, &asked.overtime),
    ];
    for (kind, texts) in stretches {
        for text in texts {
            changes.push(stretch(app, kind, text).await?);
        }
    }
    changes.extend(asked.roll_out.iter().map(|job| of_job(Kind::RollOut, *job)));
    for text in &asked.promise {
        let (job, time) = split(text);
        let until_at = app.moment_if(time).await?;
        changes.push(PlanChange { until_at, ..of_job(Kind::Promise, number(job)?) });
    }
    for text in &asked.priority {
        let (job, priority) = split(text);
        let wrong = || Failure::Usage(format!("'{text}' is no job with a priority; write JOB=PRIORITY, such as 4=1"));
        let priority = priority.and_then(|digits| digits.trim().parse().ok()).ok_or_else(wrong)?;
        changes.push(PlanChange { priority, ..of_job(Kind::Priority, number(job)?) });
    }
    changes.extend(asked.without.iter().map(|job| of_job(Kind::Without, *job)));
    Ok(changes)
}

fn of_job(kind: Kind, job: i64) -> PlanChange {
    PlanChange { kind: kind.into(), job, ..Default::default() }
}

async fn stretch(app: &App, kind: Kind, text: &str) -> Outcome<PlanChange> {
    let (whose, times) = split(text);
    let wrong = || Failure::Usage(format!("'{text}' has no stretch of time; write WHOSE=FROM..UNTIL"));
    let (from, until) = times.and_then(|times| times.split_once("..")).ok_or_else(wrong)?;
    let (from_at, until_at) = (Some(app.moment(from).await?), Some(app.moment(until).await?));
    let (person, bay) = if kind == Kind::BayClosed { ("", whose) } else { (whose, "") };
    let (person, bay) = (person.to_owned(), bay.to_owned());
    Ok(PlanChange { kind: kind.into(), person, bay, from_at, until_at, ..Default::default() })
}

fn split(text: &str) -> (&str, Option<&str>) {
    text.split_once('=').map_or((text, None), |(which, rest)| (which, Some(rest)))
}

fn stage_of(text: &str) -> Outcome<(i64, String)> {
    let wrong = || Failure::Usage(format!("'{text}' is no stage of a job; write JOB/STAGE, such as 4/fit"));
    let (job, stage) = text.split_once('/').ok_or_else(wrong)?;
    Ok((number(job)?, stage.to_owned()))
}

fn number(text: &str) -> Outcome<i64> {
    text.trim().parse().map_err(|_| Failure::Usage(format!("'{text}' is not a job's number")))
}
