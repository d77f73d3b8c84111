//! `leadhand reckon`: the numbers that a job needs, each with what it was reckoned from.

mod coolant;
mod engine;
mod fasteners;
mod fill;
mod grid;
mod job;
mod set_aside;
mod shop;
mod text;

pub use engine::save;
pub use job::{of_stage, stages};

use crate::app::App;
use crate::failure::Outcome;
use clap::{Args, Subcommand};

const EXAMPLES: &str = "\
Quantities are typed with their unit, with a point or a comma: 95Nm, '70 lbf.ft', 6.8L, -30C, 0,05mm, 50%, 45min;
an angle may be a number alone, and a compression ratio 10:1.
What follows is shown rounded as far as it can be trusted; --output json has it in full.

Examples:
  leadhand reckon torque M10 10.9 --preload 75% --friction 0.12
  leadhand reckon adapter 80Nm --wrench 400mm --adapter 50mm
  leadhand reckon fill --capacity 7L --left 2.5L --target -30C
  leadhand reckon fill --job 12 --target 50%
  leadhand reckon flatness readings.csv --height um --svg face.svg
  leadhand reckon --brief torque M10 10.9 --friction 0.12";

/// The ready reckoner.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Reckon {
    /// Only figures, what follows, what was taken for granted, and cautions: no formula and no sources
    #[arg(long, global = true)]
    pub brief: bool,
    /// What is asked
    #[command(subcommand)]
    pub command: Command,
}

/// What is asked.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Threads, bolts, torque and spanners.
    #[command(flatten)]
    Fasteners(fasteners::Command),
    /// Coolant.
    #[command(flatten)]
    Coolant(coolant::Command),
    /// Engine condition and the cylinder head.
    #[command(flatten)]
    Engine(engine::Command),
    /// Lifting, wheels, formulas, what the trade does.
    #[command(flatten)]
    Shop(shop::Command),
    /// What the books of a job ask.
    #[command(flatten)]
    Job(job::Command),
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Fasteners(command) => fasteners::run(app, command).await,
        Command::Coolant(command) => coolant::run(app, command).await,
        Command::Engine(command) => engine::run(app, command).await,
        Command::Shop(command) => shop::run(app, command).await,
        Command::Job(command) => job::run(app, command).await,
    }
}

/// Asks, and shows the answer.
macro_rules! answered {
    ($app:expr, $method:ident($request:expr)) => {{
        let answer = $app.client.$method($request).await?;
        if $app.out.is_json() {
            crate::out::json(&answer)
        } else {
            crate::nouns::reckon::text::show($app, &answer.answer.unwrap_or_default())
        }
    }};
}
use answered;

/// A text that was left out.
fn or_none(text: Option<String>) -> String {
    text.unwrap_or_default()
}
