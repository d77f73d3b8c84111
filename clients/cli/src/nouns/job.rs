//! `leadhand job`.

use super::{PAGE, all_pages, hand_over, job_text, sheet, told};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::Table;
use crate::words::{parse, word};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AssignJobRequest, CancelJobRequest, CompleteJobRequest, GetJobRequest, JobState, ListJobsRequest, OpenJobRequest,
    Override, PromiseJobRequest, RemarkKind, ReopenJobRequest, RollOutJobRequest,
};

/// Jobs.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Open a job from a template, or blank; prints its number
    Open(Open),
    /// Jobs by number
    List {
        /// Only jobs in this state: open, completed or cancelled
        #[arg(long = "state", value_parser = parse::<JobState>)]
        states: Vec<JobState>,
    },
    /// One job: its stages, and what holds it up
    Show {
        /// The job's number
        job: i64,
        /// The steps of one stage too
        #[arg(long)]
        stage: Option<String>,
        /// The steps of every stage too
        #[arg(long, conflicts_with = "stage")]
        steps: bool,
    },
    /// Say anew what is promised, or how urgent it is
    Promise(Promise),
    /// Bring the vehicle into a bay
    Assign {
        /// The job's number
        job: i64,
        /// The bay
        bay: String,
        /// The lead's reason for moving a vehicle that may not leave its bay yet
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
    },
    /// Take the vehicle outside to wait
    RollOut {
        /// The job's number
        job: i64,
        /// The lead's reason for moving a vehicle that may not leave its bay yet
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
    },
    /// Hand the job over
    Complete {
        /// The job's number
        job: i64,
        /// Only say what stands against it; nothing is handed over
        #[arg(long, conflicts_with = "override")]
        dry_run: bool,
        /// The lead's reason for every line that is named without one
        #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
        r#override: String,
        /// A line that the lead overrules with the reason, such as places:airbox="the customer brings it", or the line alone
        /// beside --override; once for each
        #[arg(long = "line", value_parser = hand_over::parse_override, value_name = "LINE[=REASON]", conflicts_with = "dry_run")]
        lines: Vec<Override>,
    },
    /// What the customer takes home in writing; also before the hand-over, as a draft
    Sheet(sheet::Sheet),
    /// Say something that is to stand on the sheet; prints its number
    Remark {
        /// The job's number
        job: i64,
        /// What it is: follow-up (still to be watched) or advice-declined (safety advice that was not taken)
        #[arg(value_parser = parse::<RemarkKind>)]
        what: RemarkKind,
        /// The words, as the customer will read them
        words: String,
    },
    /// Withdraw a remark that was made by mistake
    WithdrawRemark {
        /// The job's number
        job: i64,
        /// Its number
        remark: i32,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Keep what somebody was told about the job; prints its number
    Told(told::Told),
    /// Take up again a job that was handed over or called off by mistake
    Reopen {
        /// The job's number
        job: i64,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Call the job off
    Cancel {
        /// The job's number
        job: i64,
        /// Why
        #[arg(long)]
        reason: String,
        /// The vehicle goes as it is: apart, or not in the state in which it may be driven
        #[arg(long)]
        as_it_is: bool,
    },
}

/// What to open.
#[derive(Debug, Args)]
pub struct Open {
    /// What people call the vehicle
    #[arg(required_unless_present = "vehicle")]
    label: Option<String>,
    /// The template; a blank job when left out
    #[arg(long, value_name = "KEY")]
    template: Option<String>,
    /// The template's revision; the latest when left out
    #[arg(long, default_value_t = 0, hide_default_value = true, requires = "template")]
    revision: i32,
    /// The job's title; the template's when left out
    #[arg(long, required_unless_present = "template")]
    title: Option<String>,
    /// A vehicle that the shop knows, by id
    #[arg(long, conflicts_with = "label", value_name = "ID")]
    vehicle: Option<String>,
    /// The plate of a new vehicle
    #[arg(long, default_value = "", hide_default_value = true, conflicts_with = "vehicle")]
    plate: String,
    /// Whose a new vehicle is: a customer by name or id
    #[arg(long, default_value = "", hide_default_value = true, conflicts_with = "vehicle")]
    customer: String,
    /// The vehicle's weight in kilograms
    #[arg(long, default_value_t = 0, hide_default_value = true, value_name = "KG")]
    weight_kg: i32,
    /// Urgency, from 1 (before everything else) to 5 (there is time); 3 when left out
    #[arg(long, value_parser = clap::value_parser!(i32).range(1..=5))]
    priority: Option<i32>,
    /// What is promised
    #[arg(long, value_name = "TIME")]
    promised: Option<String>,
    /// An option to have; once for each
    #[arg(long, value_name = "OPTION")]
    with: Vec<String>,
    /// An option to go without; once for each
    #[arg(long, value_name = "OPTION")]
    without: Vec<String>,
}

/// What is promised.
#[derive(Debug, Args)]
pub struct Promise {
    /// The job's number
    job: i64,
    /// What is promised
    #[arg(value_name = "TIME", required_unless_present_any = ["withdraw", "priority"])]
    promised: Option<String>,
    /// Withdraw the promise
    #[arg(long, conflicts_with = "promised")]
    withdraw: bool,
    /// Urgency, from 1 (before everything else) to 5 (there is time)
    #[arg(long, value_parser = clap::value_parser!(i32).range(1..=5))]
    priority: Option<i32>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Open(what) => open(app, what).await,
        Command::List { states } => list(app, states).await,
        Command::Show { job, stage, steps } => {
            let answer = app.client.get_job(GetJobRequest { job }).await?;
            job_text::show(app, &answer, stage.as_deref(), steps).await
        }
        Command::Promise(what) => promise(app, what).await,
        Command::Assign { job, bay, r#override } => {
            let said = format!("the vehicle of job {job} is in bay {bay}");
            let request = AssignJobRequest { write: app.write().await?, job, bay, override_reason: r#override };
            let answer = app.client.assign_job(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::RollOut { job, r#override } => {
            let request = RollOutJobRequest { write: app.write().await?, job, override_reason: r#override };
            let answer = app.client.roll_out_job(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("the vehicle of job {job} is outside"))
        }
        Command::Complete { job, dry_run: true, .. } => hand_over::dry_run(app, job).await,
        Command::Complete { job, r#override, lines, .. } => {
            let write = app.write().await?;
            let request = CompleteJobRequest { write, job, override_reason: r#override, overrides: lines };
            let answer = app.client.complete_job(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("job {job} is handed over"))
        }
        Command::Sheet(asked) => sheet::run(app, asked).await,
        Command::Remark { job, what, words } => hand_over::remark(app, job, what, words).await,
        Command::WithdrawRemark { job, remark, reason } => hand_over::withdraw(app, job, remark, reason).await,
        Command::Told(asked) => told::run(app, asked).await,
        Command::Reopen { job, reason } => {
            let answer = app.client.reopen_job(ReopenJobRequest { write: app.write().await?, job, reason }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("job {job} goes on; its vehicle is outside"))
        }
        Command::Cancel { job, reason, as_it_is } => {
            let asked = CancelJobRequest { write: app.write().await?, job, reason, as_it_is };
            let answer = app.client.cancel_job(asked).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &format!("job {job} is called off"))
        }
    }
}

async fn open(app: &App, what: Open) -> Outcome {
    let what_for = match (&what.label, &what.title, &what.template) {
        (Some(label), Some(title), _) => format!(": {label}, {title}"),
        (Some(label), None, Some(template)) => format!(": {label}, {template}"),
        (Some(label), None, None) => format!(": {label}"),
        (None, Some(what), _) | (None, None, Some(what)) => format!(": {what}"),
        (None, None, None) => String::new(),
    };
    let request = OpenJobRequest {
        promised_at: app.moment_if(what.promised.as_deref()).await?,
        write: app.write().await?,
        template: what.template.unwrap_or_default(),
        revision: what.revision,
        title: what.title.unwrap_or_default(),
        vehicle_label: what.label.unwrap_or_default(),
        vehicle_weight_kg: what.weight_kg,
        vehicle: what.vehicle.unwrap_or_default(),
        priority: what.priority.unwrap_or(0),
        with: what.with,
        without: what.without,
        vehicle_plate: what.plate,
        customer: what.customer,
    };
    let answer = app.client.open_job(request).await?;
    let said = format!("job {} is open{what_for}", answer.job);
    app.done(&answer, answer.receipt.as_ref(), Some(&answer.job.to_string()), &said)
}

async fn promise(app: &App, what: Promise) -> Outcome {
    let request = PromiseJobRequest {
        promised_at: app.moment_if(what.promised.as_deref()).await?,
        write: app.write().await?,
        job: what.job,
        priority: what.priority.unwrap_or(0),
        withdraw_promise: what.withdraw,
    };
    let answer = app.client.promise_job(request).await?;
    let promised = what.promised.map(|at| format!("promised for {at}"));
    let withdrawn = what.withdraw.then(|| "promised for no time any more".to_owned());
    let priority = what.priority.map(|priority| format!("of priority {priority}"));
    let now: Vec<String> = [promised, withdrawn, priority].into_iter().flatten().collect();
    app.done(&answer, answer.receipt.as_ref(), None, &format!("job {} is {} now", what.job, now.join(" and ")))
}

async fn list(app: &App, states: Vec<JobState>) -> Outcome {
    let none = if states.is_empty() {
        "there is no job yet; 'leadhand job open LABEL --template KEY' opens one, with --title TITLE also without a template"
    } else {
        "no job is in that state; 'leadhand job list' shows all of them"
    };
    let states = states.into_iter().map(i32::from).collect();
    let answer = all_pages!(app, list_jobs, ListJobsRequest { states, page_size: PAGE, ..Default::default() }, jobs);
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let header = ["job#", "vehicle", "title", "state", "bay", "priority#", "promised", "template"];
    let mut table = Table::new("jobs", &header).when_empty(none);
    for job in answer.jobs {
        let is_open = job.state == i32::from(JobState::Open);
        let bay = if job.bay.is_empty() && is_open { "outside".to_owned() } else { job.bay };
        table.row([
            job.job.to_string(),
            job.vehicle_label,
            job.title,
            word::<JobState>(job.state),
            bay,
            job.priority.to_string(),
            moment::show(job.promised_at.as_ref(), zone),
            job_text::template_revision(&job.template, job.revision),
        ]);
    }
    app.out.table(&table)
}
