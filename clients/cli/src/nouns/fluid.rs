//! `leadhand fluid`: what came out of a vehicle, and what went in.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::quantity::{self, Typed};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{RecordFluidRequest, ReopenFluidRequest};

/// Fluids of a vehicle: what came out, and what went in.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Say how much came out
    Out(Amount),
    /// Say how much went in
    In(Amount),
    /// Take back what was said: what went in, else what came out
    Reopen {
        /// The job's number
        job: i64,
        /// The fluid's key
        fluid: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
}

/// How much of which.
#[derive(Debug, Args)]
pub struct Amount {
    /// The job's number
    job: i64,
    /// The fluid's key, as 'leadhand job show' lists it
    fluid: String,
    /// How much, such as 5.2L or 800mL
    #[arg(value_name = "AMOUNT", value_parser = quantity::parse)]
    litres: Typed,
    /// What else is to be said; needed when more came out than should be in it
    #[arg(long, default_value = "", hide_default_value = true, value_name = "WORDS")]
    note: String,
    /// It is another fluid than those that the job lists
    #[arg(long)]
    unlisted: bool,
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Out(what) => record(app, what, true).await,
        Command::In(what) => record(app, what, false).await,
        Command::Reopen { job, fluid, reason } => {
            let said = format!("what was said last of {fluid} of job {job} is taken back");
            let request = ReopenFluidRequest { write: app.write().await?, job, fluid, reason };
            let answer = app.client.reopen_fluid(request).await?;
            app.done(&answer, answer.receipt.as_ref(), None, &said)
        }
    }
}

async fn record(app: &App, what: Amount, out: bool) -> Outcome {
    // Nothing is nothing in every unit.
    if what.litres.is_plain() && !what.litres.is_zero() {
        return Err(Failure::Usage("say the amount with its unit, such as 5.2L or 800mL".to_owned()));
    }
    let millilitres = what.litres.in_unit("mL").map_err(Failure::Usage)?;
    let way = if out { "came out of" } else { "went into" };
    let said = format!("{} of {} {way} the vehicle of job {}", quantity::show(millilitres, "mL"), what.fluid, what.job);
    let request = RecordFluidRequest {
        write: app.write().await?,
        job: what.job,
        fluid: what.fluid,
        drained_ml: if out { millilitres } else { 0 },
        filled_ml: if out { 0 } else { millilitres },
        note: what.note,
        unlisted: what.unlisted,
    };
    let answer = app.client.record_fluid(request).await?;
    app.done(&answer, answer.receipt.as_ref(), None, &said)
}
