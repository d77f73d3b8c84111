//! `leadhand blocker`.

use crate::app::App;
use crate::failure::Outcome;
use crate::words::{Word, parse};
use clap::Subcommand;
use leadhand_sdk::v1::{Cause, ClearBlockerRequest, OwnBlockerRequest, RaiseBlockerRequest};

/// What holds a stage up.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say what holds a stage up; prints the blocker's number
    Raise {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// Why: part, tool, person, customer, sent-out, seized-or-damaged, safety, bay or information
        #[arg(value_parser = parse::<Cause>)]
        cause: Cause,
        /// Who sees to it, by name or id
        #[arg(long)]
        owner: Option<String>,
        /// Until when it is expected to last
        #[arg(long, value_name = "TIME")]
        until: Option<String>,
        /// A note
        #[arg(long, default_value = "", hide_default_value = true)]
        note: String,
    },
    /// Say who sees to it, and until when it is expected to last; what is left out is not known
    Own {
        /// The job's number
        job: i64,
        /// The blocker's number
        blocker: i32,
        /// Who sees to it, by name or id; left out: nobody
        #[arg(long, default_value = "", hide_default_value = true)]
        owner: String,
        /// Until when it is expected to last
        #[arg(long, value_name = "TIME")]
        until: Option<String>,
    },
    /// Say that it holds up no longer
    Clear {
        /// The job's number
        job: i64,
        /// The blocker's number
        blocker: i32,
        /// A note; where somebody called the lead, the lead's reason: what was found, and why it is safe now
        #[arg(long, visible_alias = "reason", default_value = "", hide_default_value = true)]
        note: String,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Raise { job, stage, cause, owner, until, note } => {
            let where_ = format!("stage {stage} of job {job}, {}", cause.word());
            let request = RaiseBlockerRequest {
                expected_at: app.moment_if(until.as_deref()).await?,
                write: app.write().await?,
                job,
                stage,
                cause: cause.into(),
                owner: owner.unwrap_or_default(),
                note,
            };
            let answer = app.client.raise_blocker(request).await?;
            let said = format!("blocker {} holds up {where_}", answer.blocker);
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.blocker.to_string()), &said)
        }
        Command::Own { job, blocker, owner, until } => {
            let expected_at = app.moment_if(until.as_deref()).await?;
            let said = if owner.is_empty() { "nobody".to_owned() } else { owner.clone() };
            let request = OwnBlockerRequest { write: app.write().await?, job, blocker, owner, expected_at };
            let answer = app.client.own_blocker(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("{said} sees to blocker {blocker} of job {job}"))
        }
        Command::Clear { job, blocker, note } => {
            let request = ClearBlockerRequest { write: app.write().await?, job, blocker, note };
            let answer = app.client.clear_blocker(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("blocker {blocker} of job {job} is cleared"))
        }
    }
}
