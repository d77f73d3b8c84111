//! `leadhand clock`.

use crate::app::App;
use crate::failure::Outcome;
use clap::Subcommand;
use leadhand_sdk::v1::{ClockOffRequest, ClockOnRequest, RecordWorkRequest};

/// Who works on what.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Clock on to a stage, off whatever else you are on
    On {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// The lead's reason for letting somebody work without the skill
        #[arg(long, default_value = "", value_name = "REASON")]
        r#override: String,
    },
    /// Clock off
    Off,
    /// Enter work late, with both ends; starts the stage if nobody has
    Work {
        /// The job's number
        job: i64,
        /// The stage's key
        stage: String,
        /// When it began
        from: String,
        /// When it ended
        until: String,
        /// The lead's reason for letting somebody work without the skill, or before it was ready
        #[arg(long, default_value = "", value_name = "REASON")]
        r#override: String,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::On { job, stage, r#override } => {
            let said = format!("clocked on to stage {stage} of job {job}");
            let request = ClockOnRequest { write: app.write().await?, job, stage, override_reason: r#override };
            let answer = app.client.clock_on(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Off => {
            let answer = app.client.clock_off(ClockOffRequest { write: app.write().await? }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, "clocked off")
        }
        Command::Work { job, stage, from, until, r#override } => {
            let said = format!("work on stage {stage} of job {job} from {from} until {until} is entered");
            let request = RecordWorkRequest {
                from_at: Some(app.moment(&from).await?),
                until_at: Some(app.moment(&until).await?),
                write: app.write().await?,
                job,
                stage,
                override_reason: r#override,
            };
            let answer = app.client.record_work(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}
