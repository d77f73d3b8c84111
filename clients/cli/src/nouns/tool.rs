//! `leadhand tool`.

use super::{PAGE, all_pages};
use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::Table;
use clap::{Args, Subcommand};
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    AddToolRequest, DescribeToolRequest, LendToolRequest, ListToolsRequest, Loan, ReopenLoanRequest, RetireToolRequest,
    ReturnToolRequest, Tool, ToolLine,
};

/// Shared tools, and who has them.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List a shared tool
    Add {
        /// Its key, such as cam-lock-20, as templates name it
        tool: String,
        /// Its name; the key when left out
        #[arg(long)]
        name: Option<String>,
        /// What it is, such as its sizes
        #[arg(long, default_value = "", hide_default_value = true)]
        what: String,
        /// The last day on which its calibration counts
        #[arg(long, default_value = "", hide_default_value = true, value_name = "YYYY-MM-DD")]
        calibration_due: String,
    },
    /// Say anew what a shared tool is, or until when its calibration counts; a retired one is in use again
    Set(Set),
    /// Take a shared tool out of use
    Retire {
        /// Its key
        tool: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Lend a shared tool that is free
    Lend(Whom),
    /// Hand a shared tool on from whoever has it
    Hand(Whom),
    /// Say that a shared tool came back
    Return {
        /// Its key
        tool: String,
    },
    /// Take back what was said last of a shared tool: that it came back, else that it was lent
    Reopen {
        /// Its key
        tool: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Shared tools, and who has each
    List {
        /// Those out of use as well
        #[arg(long)]
        retired: bool,
    },
}

/// What a shared tool is.
#[derive(Debug, Args)]
pub struct Set {
    /// Its key
    tool: String,
    /// Its name
    #[arg(long, default_value = "", hide_default_value = true)]
    name: String,
    /// What it is, such as its sizes
    #[arg(long, default_value = "", hide_default_value = true)]
    what: String,
    /// Nothing more is to be said of what it is
    #[arg(long, conflicts_with = "what")]
    no_what: bool,
    /// The last day on which its calibration counts
    #[arg(long, default_value = "", hide_default_value = true, value_name = "YYYY-MM-DD")]
    calibration_due: String,
    /// It needs no calibration
    #[arg(long, conflicts_with = "calibration_due")]
    no_calibration: bool,
}

/// Which shared tool goes to whom.
#[derive(Debug, Args)]
pub struct Whom {
    /// Its key
    tool: String,
    /// Who gets it
    #[command(flatten)]
    to: To,
    /// The stage for which it is
    #[arg(long, default_value = "", hide_default_value = true, conflicts_with = "person")]
    stage: String,
}

/// Who gets a shared tool: one of these.
#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
pub struct To {
    /// The job
    #[arg(long)]
    job: Option<i64>,
    /// The bay with the job's vehicle
    #[arg(long)]
    bay: Option<String>,
    /// The person, by name
    #[arg(long)]
    person: Option<String>,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { tool, name, what, calibration_due } => {
            let said = format!("shared tool {tool} is listed");
            let name = name.unwrap_or_else(|| tool.clone());
            let listed = Some(Tool { tool, name, what, calibration_due });
            let answer = app.client.add_tool(AddToolRequest { write: app.write().await?, tool: listed }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Set(what) => set(app, what).await,
        Command::Retire { tool, reason } => {
            let said = format!("shared tool {tool} is out of use");
            let answer = app.client.retire_tool(RetireToolRequest { write: app.write().await?, tool, reason }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Lend(whom) => lend(app, whom, false).await,
        Command::Hand(whom) => lend(app, whom, true).await,
        Command::Return { tool } => {
            let said = format!("shared tool {tool} came back and is free");
            let answer = app.client.return_tool(ReturnToolRequest { write: app.write().await?, tool }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Reopen { tool, reason } => {
            let said = format!("what was said last of shared tool {tool} is taken back");
            let answer = app.client.reopen_loan(ReopenLoanRequest { write: app.write().await?, tool, reason }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::List { retired } => list(app, retired).await,
    }
}

/// What is said anew of a shared tool, in words.
fn said(what: &Set) -> String {
    let named = |label: &str, said: &str| (!said.is_empty()).then(|| format!("{label}{said}"));
    let parts = [
        named("called ", &what.name),
        named("", &what.what),
        what.no_what.then(|| "nothing more said of what it is".to_owned()),
        named("calibrated until ", &what.calibration_due),
        what.no_calibration.then(|| "needs no calibration".to_owned()),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { "as it was, and in use".to_owned() } else { parts.join(", ") }
}

async fn set(app: &App, what: Set) -> Outcome {
    let said = format!("shared tool {} is kept so: {}", what.tool, said(&what));
    let request = DescribeToolRequest {
        write: app.write().await?,
        tool: what.tool,
        name: what.name,
        what: what.what,
        clear_what: what.no_what,
        calibration_due: what.calibration_due,
        clear_calibration_due: what.no_calibration,
    };
    let answer = app.client.describe_tool(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn lend(app: &App, whom: Whom, hand_on: bool) -> Outcome {
    let to = match (whom.to.job, &whom.to.bay, &whom.to.person) {
        (Some(job), ..) => format!("job {job}"),
        (_, Some(bay), _) => format!("bay {bay}"),
        (.., person) => person.clone().unwrap_or_default(),
    };
    let verb = if hand_on { "handed on to" } else { "lent to" };
    let said = format!("shared tool {} is {verb} {to}", whom.tool);
    let request = LendToolRequest {
        write: app.write().await?,
        tool: whom.tool,
        job: whom.to.job.unwrap_or(0),
        stage: whom.stage,
        bay: whom.to.bay.unwrap_or_default(),
        person: whom.to.person.unwrap_or_default(),
        hand_on,
    };
    let answer = app.client.lend_tool(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn list(app: &App, with_retired: bool) -> Outcome {
    let request = ListToolsRequest { page_size: PAGE, with_retired, ..Default::default() };
    let answer = all_pages!(app, list_tools, request, tools);
    if app.out.is_json() {
        return crate::out::json(&answer);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("tools", &["tool", "name", "what", "with", "since", "calibrated until"])
        .when_empty("the shop has no shared tool yet; 'leadhand tool add KEY' lists one");
    for line in &answer.tools {
        let tool = line.tool.clone().unwrap_or_default();
        let calibrated = calibrated(&tool, line.out_of_calibration);
        let since = line.loan.as_ref().map_or_else(String::new, |loan| moment::show(loan.since.as_ref(), zone));
        table.row([tool.tool, tool.name, tool.what, with(line), since, calibrated]);
    }
    app.out.table(&table)
}

/// Who has it, and whether it should have come back.
pub fn with(line: &ToolLine) -> String {
    match &line.loan {
        _ if line.retired => format!("out of use: {}", line.reason),
        None => "free".to_owned(),
        Some(loan) if line.overdue => format!("{}, OVERDUE: that job is over", holder(loan)),
        Some(loan) => holder(loan),
    }
}

/// Who has a shared tool, in words.
pub fn holder(loan: &Loan) -> String {
    match (loan.job, loan.bay.as_str(), loan.stage.as_str()) {
        (0, ..) if loan.person.is_empty() => "somebody who was forgotten".to_owned(),
        (0, ..) => loan.person.clone(),
        (job, "", "") => format!("job {job}"),
        (job, "", stage) => format!("job {job}, {stage}"),
        (job, bay, "") => format!("job {job} in {bay}"),
        (job, bay, stage) => format!("job {job} in {bay}, {stage}"),
    }
}

/// Who has it and since when, in words.
pub fn holder_since(loan: &Loan, zone: &TimeZone) -> String {
    format!("{} since {}", holder(loan), moment::show(loan.since.as_ref(), zone))
}

/// Until when a tool's calibration counts, wherever that is told.
pub fn calibrated(tool: &Tool, over: bool) -> String {
    if over { format!("{}, over", tool.calibration_due) } else { tool.calibration_due.clone() }
}
