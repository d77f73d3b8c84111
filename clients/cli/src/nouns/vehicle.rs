//! `leadhand vehicle`.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::words::{Word, parse};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{EditVehicleRequest, GetJobRequest, SetVehicleStatesRequest, VehicleState};
use std::collections::BTreeMap;

/// Vehicles.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say anew what is known of a vehicle, or whose it is; the words that were there before are erased
    Edit(Edit),
    /// Say in which states the vehicle of a job is; steps that are ticked do so by themselves
    State {
        /// The job's number
        job: i64,
        /// The states, such as battery-isolated or 'support lift'
        #[arg(required = true, value_parser = parse_state)]
        states: Vec<VehicleState>,
        /// Why, where that is to be said
        #[arg(long, default_value = "", hide_default_value = true)]
        reason: String,
    },
}

/// As the contract has it, or with blanks, as templates have it.
fn parse_state(text: &str) -> Result<VehicleState, String> {
    let word = text.trim().replace(' ', "-");
    parse::<VehicleState>(&word).map_err(|_| wanted(&word))
}

/// The states of the feature that was begun with, else the features with theirs, a line each.
fn wanted(word: &str) -> String {
    let mut features: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for state in VehicleState::all() {
        let state = state.word();
        // The features of two words are these, by the states of the contract.
        let cut = ["fuel-pressure", "high-voltage"].into_iter().find(|two| state.starts_with(two));
        let feature = cut.or_else(|| state.split('-').next()).unwrap_or_default().to_owned();
        features.entry(feature).or_default().push(state);
    }
    let asked = word.to_lowercase();
    let begun =
        |(feature, _): &(&String, &Vec<String>)| asked.starts_with(feature.as_str()) || feature.starts_with(&asked);
    if let Some((_, states)) = features.iter().find(begun).filter(|_| !asked.is_empty()) {
        return format!("no state is called that; it is one of {}", states.join(", "));
    }
    let names: Vec<&str> = features.keys().map(String::as_str).collect();
    format!("no state is called that; begin with what it is of ({}), such as battery-isolated", names.join(", "))
}

/// What is said.
#[derive(Debug, Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a switch of the command line")]
pub struct Edit {
    /// The vehicle, by id
    #[arg(required_unless_present = "job")]
    vehicle: Option<String>,
    /// The vehicle of this job
    #[arg(long, conflicts_with = "vehicle")]
    job: Option<i64>,
    /// What people call it
    #[arg(long, default_value = "", hide_default_value = true)]
    label: String,
    /// Its plate
    #[arg(long, default_value = "", hide_default_value = true)]
    plate: String,
    /// Its weight in kilograms
    #[arg(long, default_value_t = 0, hide_default_value = true, value_name = "KG")]
    weight_kg: i32,
    /// Whose it is: a customer by name or id
    #[arg(long, default_value = "", hide_default_value = true)]
    customer: String,
    /// The plate is taken away
    #[arg(long, conflicts_with = "plate")]
    clear_plate: bool,
    /// The weight is unknown after all
    #[arg(long, conflicts_with = "weight_kg")]
    clear_weight: bool,
    /// It is nobody's
    #[arg(long, conflicts_with = "customer")]
    clear_customer: bool,
    /// Jobs that are closed go along, because the customer who was named was the wrong one
    #[arg(long)]
    earlier_jobs: bool,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Edit(what) => edit(app, what).await,
        Command::State { job, states, reason } => {
            let words: Vec<String> = states.iter().map(|state| state.word()).collect();
            let said = format!("the vehicle of job {job} is now: {}", words.join(", "));
            let states = states.into_iter().map(i32::from).collect();
            let request = SetVehicleStatesRequest { write: app.write().await?, job, states, reason };
            let answer = app.client.set_vehicle_states(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn edit(app: &App, what: Edit) -> Outcome {
    let whose = what.job.map_or_else(String::new, |job| format!(" of job {job}"));
    let vehicle = match (what.vehicle, what.job) {
        (Some(vehicle), _) => vehicle,
        (None, Some(job)) => app.client.get_job(GetJobRequest { job }).await?.job.unwrap_or_default().vehicle,
        (None, None) => return Err(Failure::Usage("say which vehicle: its id, or --job".to_owned())),
    };
    let request = EditVehicleRequest {
        write: app.write().await?,
        vehicle,
        label: what.label,
        plate: what.plate,
        weight_kg: what.weight_kg,
        customer: what.customer,
        clear_plate: what.clear_plate,
        clear_weight: what.clear_weight,
        clear_customer: what.clear_customer,
        earlier_jobs: what.earlier_jobs,
    };
    let answer = app.client.edit_vehicle(request).await?;
    let said = format!("the vehicle{whose} is described so; what was said before is erased");
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}
