//! `leadhand plan`.

use super::plan_change::{self, WhatIf};
use super::plan_chart::{self, By};
use super::plan_hours::Hours;
use super::plan_text::{self, Shown};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out;
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    AcceptPlanRequest, CloseOvertimeRequest, ExplainJobRequest, ForecastJobRequest, GetCalendarRequest, GetPlanRequest,
    OpenOvertimeRequest, PinStageRequest, Plan, ProposePlanRequest, UnpinStageRequest,
};
use prost::Message;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// The plan: which stage, in which bay, by whom, when.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Propose a plan; 'plan accept' takes the last one that was proposed
    Propose(Propose),
    /// The accepted plan, and what has moved since it was made
    Show(Show),
    /// Accept the plan that was proposed last
    Accept(Accept),
    /// What would become of the plan if something were otherwise; touches nothing
    WhatIf(WhatIf),
    /// What a job is late because of, and what would help
    Why {
        /// The job
        job: i64,
    },
    /// When a job is likely ready, and by when it is safe to say so
    Promise {
        /// The job
        job: i64,
    },
    /// Decide where, by whom, and from when on a stage is done; every plan keeps to it
    Pin(Pin),
    /// Leave all of a stage to the plan again
    Unpin {
        /// The job
        job: i64,
        /// The stage
        stage: String,
    },
    /// Overtime: the plan uses it only where it is open
    #[command(subcommand)]
    Overtime(Overtime),
}

/// How to search, and how to show what was found.
#[derive(Debug, Args)]
pub struct Propose {
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    look: Look,
    /// Keep the plan in this file, for 'plan accept --file'
    #[arg(long, value_name = "FILE")]
    file: Option<PathBuf>,
}

/// How long to search.
#[derive(Debug, Args)]
pub struct Search {
    /// Most schedules that are tried; the same shop, seed and schedules give the same plan
    #[arg(long, default_value_t = 3000, value_parser = clap::value_parser!(i64).range(1..=100_000))]
    schedules: i64,
    /// Seconds that the search may take
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(i32).range(1..=10))]
    seconds: i32,
    /// Where the chance of the search begins
    #[arg(long, default_value_t = 0, value_parser = clap::value_parser!(i64).range(0..))]
    seed: i64,
}

impl Search {
    /// The request, with nothing taken for otherwise.
    pub fn request(&self) -> ProposePlanRequest {
        let (schedules, limit_ms, seed) = (self.schedules, self.seconds * 1_000, self.seed);
        ProposePlanRequest { schedules, limit_ms, seed, changes: Vec::new() }
    }
}

/// How to show a plan.
#[derive(Debug, Args)]
pub struct Look {
    /// By bay, by person or by job
    #[arg(long, value_enum, default_value = "bay")]
    by: By,
    /// A chart as well: letters are jobs, dots a vehicle that waits in its bay
    #[arg(long)]
    chart: bool,
    /// Draw the chart into this file, as SVG
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// How to show the accepted plan.
#[derive(Debug, Args)]
pub struct Show {
    #[command(flatten)]
    look: Look,
}

/// Which plan to accept.
#[derive(Debug, Args)]
pub struct Accept {
    /// The plan that was kept in this file
    #[arg(long, value_name = "FILE")]
    file: Option<PathBuf>,
    /// Though something has moved since, as far as it can still be done
    #[arg(long)]
    even_if_outdated: bool,
}

/// What to decide about a stage.
#[derive(Debug, Args)]
pub struct Pin {
    /// The job
    job: i64,
    /// The stage
    stage: String,
    /// In this bay
    #[arg(long, default_value = "", hide_default_value = true)]
    bay: String,
    /// By this person; may be said several times
    #[arg(long)]
    person: Vec<String>,
    /// Not before this
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
}

/// Overtime.
#[derive(Debug, Subcommand)]
pub enum Overtime {
    /// Let a person be planned for in a time, whether the shop is open or not
    Open {
        /// The person
        person: String,
        /// From when on
        from: String,
        /// Until when
        until: String,
    },
    /// End a person's overtime, or take it back where it has not begun
    Close {
        /// The person
        person: String,
        /// A time for which it is open
        when: String,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Propose(asked) => propose(app, asked).await,
        Command::Show(asked) => show(app, asked).await,
        Command::Accept(asked) => accept(app, asked).await,
        Command::WhatIf(asked) => plan_change::run(app, asked).await,
        Command::Why { job } => why(app, job).await,
        Command::Promise { job } => promise(app, job).await,
        Command::Pin(asked) => pin(app, asked).await,
        Command::Unpin { job, stage } => {
            let said = format!("stage {stage} of job {job} is left to the plan again");
            let answer = app.client.unpin_stage(UnpinStageRequest { write: app.write().await?, job, stage }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Overtime(asked) => overtime(app, asked).await,
    }
}

async fn propose(app: &App, asked: Propose) -> Outcome {
    let answer = app.client.propose_plan(asked.search.request()).await?;
    let plan = answer.plan.clone().unwrap_or_default();
    let path = match &asked.file {
        Some(path) => path.clone(),
        None => last_proposed()?,
    };
    keep(&path, &plan)?;
    if app.out.is_json() {
        draw(app, &asked.look, &Shown::proposed(&answer), &plan).await?;
        return out::json(&answer);
    }
    let zone = app.zone().await?;
    let shown = Shown::proposed(&answer);
    plan_text::stages(app, &shown, &plan, asked.look.by, zone)?;
    draw(app, &asked.look, &shown, &plan).await?;
    plan_text::outlooks(app, &answer, zone)?;
    let accept = asked.file.as_deref().map_or_else(String::new, |path| format!(" --file {}", path.display()));
    out::note(&format!(
        "made at fact {}, of {} schedules{}; 'leadhand plan accept{accept}' takes it",
        plan.number,
        answer.schedules,
        plan_text::ended(answer.ended())
    ));
    Ok(())
}

async fn draw(app: &App, look: &Look, shown: &Shown, plan: &Plan) -> Outcome {
    if !look.chart && look.svg.is_none() {
        return Ok(());
    }
    let zone = app.zone().await?;
    let hours = hours(app, plan).await?;
    let chart = plan_chart::Chart::new(shown, plan, look.by, &hours);
    if look.chart && !app.out.is_json() {
        out::put(&chart.text(app.out.width.unwrap_or(80).min(120), zone))?;
    }
    if let Some(path) = &look.svg {
        std::fs::write(path, chart.svg(&hours.shop, zone))
            .map_err(|error| Failure::Usage(format!("{} can't be written: {error}", path.display())))?;
    }
    Ok(())
}

/// When the shop is open while the plan goes on, when its people work, and their overtime. Who may not see somebody's hours
/// takes the shop's for theirs.
async fn hours(app: &App, plan: &Plan) -> Outcome<Hours> {
    let span = plan_chart::span(plan);
    let mut hours = Hours { shop: open(app, span, String::new()).await?, ..Hours::default() };
    let people: BTreeSet<&String> = plan.stages.iter().flat_map(|row| &row.people).collect();
    for person in people {
        if let Ok(own) = open(app, span, person.clone()).await {
            hours.own.insert(person.clone(), own);
        }
    }
    for one in app.client.get_plan(GetPlanRequest {}).await?.overtime {
        let stretch = (seconds(one.from_at.as_ref()), seconds(one.until_at.as_ref()));
        hours.overtime.entry(one.person).or_default().push(stretch);
    }
    Ok(hours)
}

async fn open(app: &App, (from, until): (i64, i64), person: String) -> Outcome<Vec<(i64, i64)>> {
    let at = |seconds| Some(prost_types::Timestamp { seconds, nanos: 0 });
    let request = GetCalendarRequest { person, from_at: at(from), until_at: at(until) };
    let windows = app.client.get_calendar(request).await?.windows;
    let stretch = |at: &Option<_>, until: &Option<_>| (seconds(at.as_ref()), seconds(until.as_ref()));
    Ok(windows.iter().map(|window| stretch(&window.from_at, &window.until_at)).collect())
}

fn seconds(at: Option<&prost_types::Timestamp>) -> i64 {
    at.map_or(0, |at| at.seconds)
}

async fn show(app: &App, asked: Show) -> Outcome {
    let answer = app.client.get_plan(GetPlanRequest {}).await?;
    let shown = Shown::accepted(&answer);
    let plan = answer.plan.clone().unwrap_or_default();
    if app.out.is_json() {
        draw(app, &asked.look, &shown, &plan).await?;
        return out::json(&answer);
    }
    let zone = app.zone().await?;
    if answer.plan.is_none() {
        out::note("no plan was accepted yet; 'leadhand plan propose' makes one");
    } else {
        plan_text::stages(app, &shown, &plan, asked.look.by, zone)?;
        draw(app, &asked.look, &shown, &plan).await?;
        plan_text::jobs(app, &plan, &answer, zone)?;
        out::line(&plan_text::standing(&answer, zone))?;
    }
    plan_text::decided(app, &answer, &shown, zone)
}

async fn accept(app: &App, asked: Accept) -> Outcome {
    let plan = match &asked.file {
        Some(path) => {
            kept(path, &format!("there is no file {}; 'leadhand plan propose --file' makes one", path.display()))?
        }
        None => kept(&last_proposed()?, "no plan was proposed here yet; 'leadhand plan propose' makes one")?,
    };
    let said = format!("the plan of fact {} is accepted", plan.number);
    let (plan, even_if_outdated) = (Some(plan), asked.even_if_outdated);
    let answer =
        app.client.accept_plan(AcceptPlanRequest { write: app.write().await?, plan, even_if_outdated }).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

async fn why(app: &App, job: i64) -> Outcome {
    let answer = app.client.explain_job(ExplainJobRequest { job }).await?;
    if app.out.is_json() {
        return out::json(&answer);
    }
    plan_text::why(&answer, app.zone().await?)
}

async fn promise(app: &App, job: i64) -> Outcome {
    let answer = app.client.forecast_job(ForecastJobRequest { job }).await?;
    if app.out.is_json() {
        return out::json(&answer);
    }
    let zone = app.zone().await?;
    let outlook = answer.outlook.unwrap_or_default();
    plan_text::promise(&outlook, zone)?;
    let other = answer.planned.as_ref().and_then(|planned| plan_text::planned_otherwise(&outlook, planned, zone));
    other.map_or(Ok(()), |line| out::line(&line))
}

async fn pin(app: &App, asked: Pin) -> Outcome {
    let parts = [
        (!asked.bay.is_empty()).then(|| format!("in {}", asked.bay)),
        (!asked.person.is_empty()).then(|| format!("by {}", asked.person.join(" and "))),
        asked.from.as_ref().map(|from| format!("not before {from}")),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let said = format!("stage {} of job {} is pinned {}", asked.stage, asked.job, parts.join(", "));
    let from_at = app.moment_if(asked.from.as_deref()).await?;
    let (job, stage, bay, people) = (asked.job, asked.stage, asked.bay, asked.person);
    let request = PinStageRequest { write: app.write().await?, job, stage, bay, people, from_at };
    let answer = app.client.pin_stage(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, said.trim_end())
}

async fn overtime(app: &App, asked: Overtime) -> Outcome {
    match asked {
        Overtime::Open { person, from, until } => {
            let said = format!("overtime of {person} is open from {from} until {until}");
            let (from_at, until_at) = (Some(app.moment(&from).await?), Some(app.moment(&until).await?));
            let request = OpenOvertimeRequest { write: app.write().await?, person, from_at, until_at };
            let answer = app.client.open_overtime(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Overtime::Close { person, when } => {
            let said = format!("overtime of {person} is closed");
            let at = Some(app.moment(&when).await?);
            let answer =
                app.client.close_overtime(CloseOvertimeRequest { write: app.write().await?, person, at }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

/// Where the plan that was proposed last is kept: `$XDG_STATE_HOME`, or `~/.local/state`.
fn last_proposed() -> Outcome<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let dir = set("XDG_STATE_HOME").or_else(|| set("HOME").map(|home| home.join(".local/state")));
    let nowhere = || Failure::Usage("there is no home directory to keep a plan in; name a file with --file".to_owned());
    Ok(dir.ok_or_else(nowhere)?.join("leadhand/proposed.plan"))
}

fn keep(path: &Path, plan: &Plan) -> Outcome {
    let failed = |error: std::io::Error| Failure::Usage(format!("{} can't be written: {error}", path.display()));
    if let Some(dir) = path.parent() {
        std::fs::create_dir_all(dir).map_err(failed)?;
    }
    std::fs::write(path, plan.encode_to_vec()).map_err(failed)
}

/// The plan of a file; else what is said where there is none.
fn kept(path: &Path, missing: &str) -> Outcome<Plan> {
    let bytes = std::fs::read(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => Failure::Missing(missing.to_owned()),
        _ => Failure::Usage(format!("{} can't be read: {error}", path.display())),
    })?;
    Plan::decode(bytes.as_slice())
        .map_err(|_| Failure::Usage(format!("{} holds no plan; propose one again", path.display())))
}
