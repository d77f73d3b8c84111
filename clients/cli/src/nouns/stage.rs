//! `leadhand stage`.

use crate::app::App;
use crate::failure::{Failure, Outcome};
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
        /// The job's number and the stage's key, left out for the stage that you are clocked on to; and in your words what
        /// you don't like: stop "I don't like this", or stop 6 strip "the lift sags"
        #[arg(value_name = "JOB STAGE | WORDS", num_args = 0..=3)]
        said: Vec<String>,
        /// The same words, when that is easier to type
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
#[allow(clippy::struct_excessive_bools, reason = "each is a word of the command line")]
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
    /// It is done in one go: what was begun is left neither over a break nor overnight
    #[arg(long, conflicts_with = "wait")]
    in_one_go: bool,
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
        Command::Stop { said, note } => stop(app, said, note).await,
        Command::Skip { job, stage, reason } => {
            let said = format!("stage {stage} of job {job} is left out");
            let request = SkipStageRequest { write: app.write().await?, job, stage, reason };
            let answer = app.client.skip_stage(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn stop(app: &App, said: Vec<String>, note: String) -> Outcome {
    let Stopped { job, stage, words } = stopped(said, note).map_err(Failure::Usage)?;
    let request = CallLeadRequest { write: app.write().await?, job, stage, note: words.clone() };
    let answer = app.client.call_lead(request).await?;
    let heard = if words.is_empty() { String::new() } else { format!(", who reads: {words}") };
    let (blocker, job) = (answer.blocker, answer.job);
    let said = format!(
        "the lead is called{heard}; the stage waits on blocker {blocker} of job {job} until a lead clears it with a reason"
    );
    app.done(&answer, answer.receipt.as_ref(), Some(&blocker.to_string()), &said)
}

/// What is stopped, and what somebody does not like about it.
#[derive(Debug, PartialEq, Eq)]
struct Stopped {
    job: i64,
    stage: String,
    words: String,
}

fn stopped(said: Vec<String>, note: String) -> Result<Stopped, String> {
    let mut said = said.into_iter();
    let (first, second, third) = (said.next(), said.next(), said.next());
    let (job, stage, words) = match (first, second, third) {
        (None, ..) => (0, String::new(), None),
        (Some(words), None, _) if words.parse::<i64>().is_err() => (0, String::new(), Some(words)),
        (Some(job), Some(stage), words) if job.parse::<i64>().is_ok() => {
            (job.parse().unwrap_or_default(), stage, words)
        }
        (Some(_), None, _) => return Err("name the stage behind the job, such as: stop 6 strip".to_owned()),
        _ => return Err("put what you want to say in quotes: stop \"I don't like this\"".to_owned()),
    };
    let words = words.unwrap_or(note);
    Ok(Stopped { job, stage, words })
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
        in_one_go: what.in_one_go,
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
    fn whoever_stops_says_so_in_own_words() {
        let said =
            |said: &[&str], note: &str| stopped(said.iter().map(|&one| one.to_owned()).collect(), note.to_owned());
        let stopped = |job, stage: &str, words: &str| Ok(Stopped { job, stage: stage.into(), words: words.into() });
        assert_eq!(said(&[], ""), stopped(0, "", ""));
        assert_eq!(said(&[], "it sags"), stopped(0, "", "it sags"));
        assert_eq!(said(&["I don't like this"], ""), stopped(0, "", "I don't like this"));
        assert_eq!(said(&["6", "strip"], "it sags"), stopped(6, "strip", "it sags"));
        assert_eq!(said(&["6", "strip", "it sags"], ""), stopped(6, "strip", "it sags"));
        assert!(said(&["6"], "").unwrap_err().contains("name the stage"));
        assert!(said(&["I", "don't", "like"], "").unwrap_err().contains("in quotes"));
    }

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
