//! `leadhand bay`.

use crate::app::App;
use crate::failure::Outcome;
use crate::out::Table;
use crate::words::{Word, parse, word};
use clap::{ArgGroup, Args, Subcommand};
use leadhand_sdk::v1::{
    AddBayRequest, Bay, BayKind, CorrectStayRequest, GetBoardRequest, GetBoardResponse, GetReadyListRequest,
    SetBayRequest,
};

/// What is said of a shop without bays.
pub const NONE: &str =
    "there is no bay yet; add one, such as 'leadhand bay add lift-1 --kind two-post-lift --rated-kg 3500'";

/// Bays.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Add a bay
    Add {
        /// Its key, such as lift-1
        bay: String,
        /// What it is: two-post-lift, four-post-lift, floor or pit
        #[arg(long, value_parser = parse::<BayKind>)]
        kind: BayKind,
        /// What it may bear, in kilograms; a floor or a pit may have no rating of its own
        #[arg(long, value_name = "KG", value_parser = clap::value_parser!(i32).range(1..),
            required_if_eq_any = [("kind", "two-post-lift"), ("kind", "four-post-lift")])]
        rated_kg: Option<i32>,
        /// Its name; the key when left out
        #[arg(long)]
        name: Option<String>,
    },
    /// Say where a vehicle was, or when, when that was entered wrongly
    Correct(Correct),
    /// Say what a bay is and bears, when that was entered wrongly
    Set(Set),
    /// What a bay needs in hand for what it comes to today, and what is missing
    Ready {
        /// Its key
        bay: String,
    },
    /// Bays, and which job's vehicle is in each
    List,
}

/// What a bay is after all.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what_it_is").args(["kind", "rated_kg", "no_rating"]).required(true).multiple(true))]
pub struct Set {
    /// Its key
    bay: String,
    /// What it is: two-post-lift, four-post-lift, floor or pit
    #[arg(long, value_parser = parse::<BayKind>)]
    kind: Option<BayKind>,
    /// What it may bear, in kilograms
    #[arg(long, value_name = "KG", value_parser = clap::value_parser!(i32).range(1..))]
    rated_kg: Option<i32>,
    /// It has no rating of its own, as a floor or a pit
    #[arg(long, conflicts_with = "rated_kg")]
    no_rating: bool,
    /// Why
    #[arg(long)]
    reason: String,
}

async fn set(app: &App, what: Set) -> Outcome {
    let kind = what.kind.map(|kind| format!("a {}", kind.word()));
    let rating = what.rated_kg.map(|kg| format!("for {kg} kg"));
    let none = what.no_rating.then(|| "without a rating of its own".to_owned());
    let now: Vec<String> = [kind, rating, none].into_iter().flatten().collect();
    let said = format!("bay {} is {}; what was entered first stays in the journal", what.bay, now.join(" "));
    let request = SetBayRequest {
        write: app.write().await?,
        bay: what.bay,
        kind: what.kind.unwrap_or_default().into(),
        rated_kg: what.rated_kg.unwrap_or(0),
        reason: what.reason,
        clear_rated_kg: what.no_rating,
    };
    let answer = app.client.set_bay(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

/// What a bay bears, as a table tells it; nothing where it has no rating of its own.
pub fn rated(kg: i32) -> String {
    if kg == 0 { String::new() } else { kg.to_string() }
}

/// What to correct.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what_was_wrong").args(["bay", "from", "until"]).required(true).multiple(true))]
pub struct Correct {
    /// The job's number
    job: i64,
    /// The stay, by the number of the fact that began it; the job's last one when left out
    #[arg(long, value_name = "FACT")]
    stay: Option<i64>,
    /// The bay in which it was
    #[arg(long)]
    bay: Option<String>,
    /// When it came in
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// When it left
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    /// Why
    #[arg(long)]
    reason: String,
}

async fn correct(app: &App, what: Correct) -> Outcome {
    let said = format!("the stay of job {} is corrected; what was entered first stays in the journal", what.job);
    let request = CorrectStayRequest {
        from_at: app.moment_if(what.from.as_deref()).await?,
        until_at: app.moment_if(what.until.as_deref()).await?,
        write: app.write().await?,
        job: what.job,
        stay: what.stay.unwrap_or(0),
        bay: what.bay.unwrap_or_default(),
        reason: what.reason,
    };
    let answer = app.client.correct_stay(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Add { bay, kind, rated_kg, name } => {
            let bears = rated_kg.map_or_else(String::new, |kg| format!(" for {kg} kg"));
            let said = format!("bay {bay} is there, a {}{bears}", kind.word());
            let name = name.unwrap_or_else(|| bay.clone());
            let added = Bay { bay, name, kind: kind.into(), rated_kg: rated_kg.unwrap_or(0) };
            let answer = app.client.add_bay(AddBayRequest { write: app.write().await?, bay: Some(added) }).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
        Command::Set(what) => set(app, what).await,
        Command::Ready { bay } => super::ready::show(app, GetReadyListRequest { bay, ..Default::default() }).await,
        Command::Correct(what) => correct(app, what).await,
        Command::List => {
            let board = app.client.get_board(GetBoardRequest {}).await?;
            // As JSON the bays of the board, without what stands outside.
            let bays = GetBoardResponse { outside: Vec::new(), ..board };
            let mut table = Table::new("bays", &["bay", "name", "kind", "kg#", "job#", "vehicle"]).when_empty(NONE);
            for line in &bays.bays {
                let bay = line.bay.clone().unwrap_or_default();
                let (job, vehicle) = match &line.job {
                    Some(job) => (job.job.to_string(), job.vehicle_label.clone()),
                    None => (String::new(), "free".to_owned()),
                };
                table.row([bay.bay, bay.name, word::<BayKind>(bay.kind), rated(bay.rated_kg), job, vehicle]);
            }
            if app.out.is_json() {
                let mut value = crate::json::of(&bays)?;
                value.as_object_mut().and_then(|fields| fields.remove("outside"));
                return crate::out::value(&value);
            }
            app.out.table(&table)
        }
    }
}
