//! `leadhand stage`.

use crate::app::App;
use crate::failure::Outcome;
use crate::words::parse;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AddStageRequest, After, BayKind, CallLeadRequest, FinishStageRequest, GetReadyListRequest, Minutes,
    ReopenStageRequest, SkipStageRequest, StageKind, StartStageRequest,
};

/// Stages of a job.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a stage as the work goes; prints its key
    Add(Add),
    /// What a stage needs in hand: tools by size, parts, people, and what is missing
    Ready {
        /// The job's number
        job: i64,
        /// The stage's key; all that is left of the job when left out
        #[arg(default_value = "", hide_default_value = true)]
        stage: String,
    },
    /// Start a stage, and clock on to it
    Start {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The lead's reason for starting what is not ready, or without the skill
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
    },
    /// Finish a stage, and clock off who is on it
    Finish {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// Tick the steps that are left, as listed
        #[arg(long)]
        as_listed: bool,
    },
    /// Take up again a stage that was finished or left out by mistake
    Reopen {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Call the lead, because something is not safe: the stage waits until a lead clears the blocker that this prints
    Stop {
        /// The job's number; the stage that you are clocked on to when left out
        #[arg(requires = "stage")]
        job: Option<i64>,
        /// The stage's key
        stage: Option<String>,
        /// What is wrong, when there is time to say so
        #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
        note: String,
    },
    /// Leave a stage out
    Skip {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// What to add.
#[derive(Debug, Args)]
pub struct Add {
    /// The job's number
    job: i64,
    /// The stage's title
    title: String,
    /// Its key; one is made when left out
    #[arg(long, default_value = "", hide_default_value = true)]
    key: String,
    /// It asks for time only, not for hands
    #[arg(long)]
    wait: bool,
    /// Minutes: LIKELY, or LOW/LIKELY/HIGH
    #[arg(long, value_parser = parse_minutes)]
    minutes: Option<Minutes>,
    /// A kind of bay in which it can be done; once for each
    #[arg(long = "bay-kind", value_parser = parse::<BayKind>, value_name = "KIND")]
    bays: Vec<BayKind>,
    /// A skill it asks for; once for each
    #[arg(long = "skill", value_name = "SKILL")]
    skills: Vec<String>,
    /// Persons needed at a time
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    hands: i32,
    /// A tool; once for each
    #[arg(long = "tool", value_name = "TOOL")]
    tools: Vec<String>,
    /// A stage that comes before it, with minutes to wait perhaps: STAGE or STAGE+30
    #[arg(long = "after", value_parser = parse_after, value_name = "STAGE")]
    after: Vec<After>,
    /// It comes after every stage that nothing comes after yet
    #[arg(long, conflicts_with = "after")]
    after_last: bool,
    /// A stage not started yet that is to come after it; once for each
    #[arg(long = "before", value_name = "STAGE")]
    before: Vec<String>,
    /// The vehicle may be rolled out after it
    #[arg(long)]
    may_leave: bool,
    /// A step; once for each, in order
    #[arg(long = "step", value_name = "INSTRUCTION")]
    steps: Vec<String>,
}

fn parse_minutes(text: &str) -> Result<Minutes, String> {
    let wrong = || "write LIKELY or LOW/LIKELY/HIGH in whole minutes, such as 30 or 20/30/45".to_owned();
    let points: Vec<i32> =
        text.split('/').map(|point| point.trim().parse().map_err(|_| wrong())).collect::<Result<_, _>>()?;
    let (low, likely, high) = match points.as_slice() {
        [likely] => (*likely, *likely, *likely),
        [low, likely, high] => (*low, *likely, *high),
        _ => return Err(wrong()),
    };
    if low < 0 || low > likely || likely > high {
        return Err("minutes must not fall from LOW to LIKELY to HIGH".to_owned());
    }
    Ok(Minutes { low, likely, high })
}

fn parse_after(text: &str) -> Result<After, String> {
    let (stage, wait) = text.split_once('+').unwrap_or((text, "0"));
    let wait_minutes = wait.trim().parse().ok().filter(|wait| *wait >= 0);
    match wait_minutes {
        Some(wait_minutes) if !stage.trim().is_empty() => Ok(After { stage: stage.trim().to_owned(), wait_minutes }),
        _ => Err("write STAGE, or STAGE+MINUTES when a wait comes between".to_owned()),
    }
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add(what) => add(app, what).await,
        Command::Ready { job, stage } => {
            super::ready::show(app, GetReadyListRequest { job, stage, ..Default::default() }).await
        }
        Command::Start { job, stage, r#override } => {
            let said = format!("stage {stage} of job {job} is started");
            let request = StartStageRequest { write: app.write().await?, job, stage, override_reason: r#override };
            let answer = app.client.start_stage(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Finish { job, stage, as_listed } => {
            let said = format!("stage {stage} of job {job} is finished");
            let request = FinishStageRequest { write: app.write().await?, job, stage, as_listed };
            let answer = app.client.finish_stage(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Reopen { job, stage, reason } => {
            let said = format!("stage {stage} of job {job} goes on");
            let request = ReopenStageRequest { write: app.write().await?, job, stage, reason };
            let answer = app.client.reopen_stage(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Stop { job, stage, note } => {
            let (job, stage) = (job.unwrap_or_default(), stage.unwrap_or_default());
            let request = CallLeadRequest { write: app.write().await?, job, stage, note };
            let answer = app.client.call_lead(request).await?;
            let said =
                format!("the lead is called; the stage waits on blocker {} of job {}", answer.blocker, answer.job);
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.blocker.to_string()), &said)
        }
        Command::Skip { job, stage, reason } => {
            let said = format!("stage {stage} of job {job} is left out");
            let request = SkipStageRequest { write: app.write().await?, job, stage, reason };
            let answer = app.client.skip_stage(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn add(app: &App, what: Add) -> Outcome {
    let kind = if what.wait { StageKind::Wait } else { StageKind::Work };
    let request = AddStageRequest {
        write: app.write().await?,
        job: what.job,
        stage: what.key,
        title: what.title,
        kind: kind.into(),
        minutes: what.minutes,
        bays: what.bays.into_iter().map(i32::from).collect(),
        skills: what.skills,
        hands: what.hands,
        tools: what.tools,
        after: what.after,
        after_last: what.after_last,
        before: what.before,
        may_leave: what.may_leave,
        steps: what.steps,
    };
    let answer = app.client.add_stage(request).await?;
    let said = format!("stage {} is added to job {}", answer.stage, what.job);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.stage), &said)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_and_predecessors_are_read() {
        assert_eq!(parse_minutes("20/30/45"), Ok(Minutes { low: 20, likely: 30, high: 45 }));
        assert_eq!(parse_minutes("30"), Ok(Minutes { low: 30, likely: 30, high: 30 }));
        assert!(parse_minutes("45/30/20").is_err() && parse_minutes("1/2").is_err() && parse_minutes("-5").is_err());
        assert_eq!(parse_after("glue+90"), Ok(After { stage: "glue".into(), wait_minutes: 90 }));
        assert_eq!(parse_after("glue"), Ok(After { stage: "glue".into(), wait_minutes: 0 }));
        assert!(parse_after("+90").is_err() && parse_after("glue+soon").is_err() && parse_after("glue+-1").is_err());
    }
}
