//! `leadhand clock`.

mod asked;

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::Table;
use clap::{ArgGroup, Args, Subcommand};
use leadhand_sdk::v1::{
    ClockOffRequest, ClockOnRequest, CorrectClockingRequest, ListClockingsRequest, RecordWorkRequest,
    WithdrawClockingRequest,
};

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
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
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
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
    },
    /// Entries of time, with the numbers by which they are corrected: your own, or anybody's for a lead
    List(List),
    /// Correct an entry of time: what is said replaces it, and what is not said stays as entered
    Correct(Correct),
    /// Withdraw an entry of time that should not be there at all
    Withdraw {
        /// The entry's number, as `clock list` shows it
        entry: i64,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Ask a lead to correct an entry of your time on a job that is closed
    Ask(Ask),
    /// Corrections that were asked for and wait for a lead: your own, or anybody's for a lead
    Asked {
        /// Of this job alone, what is decided included
        #[arg(long, value_name = "JOB")]
        job: Option<i64>,
    },
    /// Decide about a correction that was asked for; whoever asked may decline it
    Answer(Answer),
}

/// Which entries.
#[derive(Debug, Args)]
pub struct List {
    /// Whose, by name or id; only a lead sees somebody else's
    #[arg(long, default_value = "", hide_default_value = true, value_name = "NAME")]
    person: String,
    /// Only this day, YYYY-MM-DD
    #[arg(long, value_parser = moment::parse_day)]
    day: Option<String>,
}

/// What to correct.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what_changes").args(["from", "until", "job", "stage"]).required(true).multiple(true))]
pub struct Correct {
    /// The entry's number, as `clock list` shows it
    entry: i64,
    /// When the work began
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// When it ended
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// The job's number
    #[arg(long)]
    job: Option<i64>,
    /// The stage's key
    #[arg(long)]
    stage: Option<String>,
    /// Why
    #[arg(long)]
    reason: String,
    /// The lead's reason for letting somebody work without the skill
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    r#override: String,
}

/// What to ask for.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what_is_asked").args(["from", "until", "job", "stage", "withdraw"]).required(true).multiple(true))]
pub struct Ask {
    /// The entry's number, as `clock list` shows it
    entry: i64,
    /// When the work began
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// When it ended
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// The job's number
    #[arg(long)]
    job: Option<i64>,
    /// The stage's key
    #[arg(long)]
    stage: Option<String>,
    /// The entry should not be there at all
    #[arg(long, conflicts_with_all = ["from", "until", "job", "stage"])]
    withdraw: bool,
    /// Why
    #[arg(long)]
    reason: String,
}

/// What to answer.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("answer").args(["take", "decline"]).required(true))]
pub struct Answer {
    /// The job's number
    job: i64,
    /// The question's number in the job, as `clock asked` shows it
    ask: i32,
    /// Correct it as asked
    #[arg(long)]
    take: bool,
    /// Leave the entry as it is
    #[arg(long)]
    decline: bool,
    /// What the answer says
    #[arg(long)]
    reason: String,
    /// The lead's reason for letting somebody work without the skill
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    r#override: String,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::On { job, stage, r#override } => {
            let said = format!("{} clocked on to stage {stage} of job {job}", app.whoever());
            let request = ClockOnRequest { write: app.write().await?, job, stage, override_reason: r#override };
            let answer = app.client.clock_on(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Off => {
            let answer = app.client.clock_off(ClockOffRequest { write: app.write().await? }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("{} clocked off", app.whoever()))
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
        Command::List(what) => list(app, what).await,
        Command::Correct(what) => correct(app, what).await,
        Command::Withdraw { entry, reason } => {
            let said = format!("entry {entry} is withdrawn; it stays in the journal");
            let request = WithdrawClockingRequest { write: app.write().await?, entry, reason };
            let answer = app.client.withdraw_clocking(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Ask(what) => asked::ask(app, what).await,
        Command::Asked { job } => asked::list(app, job.unwrap_or(0)).await,
        Command::Answer(what) => asked::answer(app, what).await,
    }
}

async fn correct(app: &App, what: Correct) -> Outcome {
    let said = format!("entry {} is corrected; what was entered first stays in the journal", what.entry);
    let request = CorrectClockingRequest {
        from_at: app.moment_if(what.from.as_deref()).await?,
        until_at: app.moment_if(what.until.as_deref()).await?,
        write: app.write().await?,
        entry: what.entry,
        job: what.job.unwrap_or(0),
        stage: what.stage.unwrap_or_default(),
        reason: what.reason,
        override_reason: what.r#override,
    };
    let answer = app.client.correct_clocking(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn list(app: &App, what: List) -> Outcome {
    let (mut from_at, mut until_at) = (None, None);
    if let Some(day) = what.day {
        let next = moment::day_after(&day).map_err(Failure::Usage)?;
        from_at = Some(app.moment(&format!("{day} 00:00")).await?);
        until_at = Some(app.moment(&format!("{next} 00:00")).await?);
    }
    let own = what.person.is_empty();
    let request =
        ListClockingsRequest { person: what.person, from_at, until_at, page_size: PAGE, ..Default::default() };
    let answer = all_pages!(app, list_clockings, request, clockings);
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("entries", &["entry#", "person", "job#", "stage", "from", "until"])
        .when_empty("nobody was clocked on then; 'leadhand stage start' and 'leadhand clock on' begin work");
    for row in answer.clockings {
        let until = row.until_at.as_ref().map_or_else(|| "goes on".to_owned(), |at| moment::show(Some(at), zone));
        let from = moment::show(row.from_at.as_ref(), zone);
        table.row([row.entry.to_string(), row.name, row.job.to_string(), row.stage, from, until]);
    }
    app.out.table(&table)?;
    if own { asked::tell_decided(app).await } else { Ok(()) }
}
