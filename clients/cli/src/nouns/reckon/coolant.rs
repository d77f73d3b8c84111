//! Coolant.

use super::{answered, fasteners::Manufacturer, fill, or_none};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use clap::{Args, Subcommand};
use leadhand_sdk::v1::{
    PackSize, ReckonDrainAndRefillRequest, ReckonExpansionRequest, ReckonFreezingPointRequest, ReckonPacksRequest,
    ReckonSwapRequest, StrengthBasis,
};

/// Coolant.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// The freezing point of ethylene glycol and water
    #[command(after_help = "Examples:\n  leadhand reckon freezing 50%\n  leadhand reckon freezing 50% --by-mass")]
    Freezing {
        /// How much of it is glycol, by volume
        strength: String,
        /// The strength is a share of the mass, as tables of chemistry have it
        #[arg(long)]
        by_mass: bool,
        #[command(flatten)]
        maker: Manufacturer,
    },
    /// What to pour in after a drain, so that the whole comes to a strength
    #[command(after_help = "Examples:\n  leadhand reckon fill --capacity 7L --left 2.5L --target 50%\n  \
                            leadhand reckon fill --job 12 --target -30C --margin 3\n  \
                            leadhand reckon fill --job 12 --fluid oil\n  \
                            leadhand reckon fill --job 12 --target 50% --reserve coolant-concentrate --stage refill \
                            --pack 1L --pack 5L")]
    Fill(fill::Fill),
    /// How often to drain and refill until it is strong enough
    #[command(
        after_help = "Example: leadhand reckon refill --capacity 7L --drained 4.5L --now 30% --filled 50% --target 48%"
    )]
    Refill(Refill),
    /// How much to take out and put in for a strength
    #[command(after_help = "Example: leadhand reckon swap --capacity 7L --now 35% --target 50%")]
    Swap {
        /// What the system holds
        #[arg(long, value_name = "VOLUME")]
        capacity: String,
        /// How strong it is now, by volume
        #[arg(long, value_name = "SHARE")]
        now: String,
        /// How strong it is to be
        #[arg(long, value_name = "SHARE")]
        target: String,
        /// How strong it is what is put in; pure concentrate when left out, water is 0%
        #[arg(long, value_name = "SHARE")]
        filled: Option<String>,
    },
    /// How much coolant grows from cold to hot
    #[command(after_help = "Example: leadhand reckon expansion 7L 50% --cold 20C --hot 90C")]
    Expansion {
        /// What was filled in cold
        volume: String,
        /// How strong it is, by volume
        strength: String,
        /// When it was filled
        #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
        cold: String,
        /// When it runs
        #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
        hot: String,
    },
    /// Which packs to draw from stock for a volume
    #[command(after_help = "Example: leadhand reckon packs 3.5L 1L 5L=2      as many 1 L as it takes, and two of 5 L")]
    Packs {
        /// How much is needed
        needed: String,
        /// The sizes there are, each perhaps with how many: 5L=2
        #[arg(required = true, value_parser = parse_pack)]
        packs: Vec<PackSize>,
    },
}

/// Draining and refilling.
#[derive(Debug, Args)]
pub struct Refill {
    /// What the system holds
    #[arg(long, value_name = "VOLUME")]
    capacity: String,
    /// What comes out each time
    #[arg(long, value_name = "VOLUME")]
    drained: String,
    /// How strong it is now, by volume
    #[arg(long, value_name = "SHARE")]
    now: String,
    /// How strong it is what is filled in
    #[arg(long, value_name = "SHARE")]
    filled: String,
    /// How strong it is to be
    #[arg(long, value_name = "SHARE")]
    target: String,
    /// How near is near enough; 1 % when left out
    #[arg(long, value_name = "SHARE")]
    tolerance: Option<String>,
}

/// A size of pack, perhaps with how many of it are there.
pub fn parse_pack(text: &str) -> Result<PackSize, String> {
    let Some((size, count)) = text.split_once('=') else {
        return Ok(PackSize { size: text.to_owned(), on_hand: None });
    };
    let on_hand = count.trim().parse().map_err(|_| "write the size and how many are there, such as 5L=2".to_owned())?;
    Ok(PackSize { size: size.trim().to_owned(), on_hand: Some(on_hand) })
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Freezing { strength, by_mass, maker } => {
            let basis = if by_mass { StrengthBasis::Mass } else { StrengthBasis::Volume }.into();
            let manufacturer = maker.figures();
            answered!(app, reckon_freezing_point(ReckonFreezingPointRequest { strength, basis, manufacturer }))
        }
        Command::Fill(asked) => fill::fill(app, asked).await,
        Command::Refill(asked) => {
            let request = ReckonDrainAndRefillRequest {
                capacity: asked.capacity,
                drained: asked.drained,
                now: asked.now,
                filled: asked.filled,
                target: asked.target,
                tolerance: or_none(asked.tolerance),
            };
            answered!(app, reckon_drain_and_refill(request))
        }
        Command::Swap { capacity, now, target, filled } => {
            let filled = or_none(filled);
            answered!(app, reckon_swap(ReckonSwapRequest { capacity, now, target, filled }))
        }
        Command::Expansion { volume, strength, cold, hot } => {
            answered!(app, reckon_expansion(ReckonExpansionRequest { volume, strength, cold, hot }))
        }
        Command::Packs { needed, packs } => {
            if packs.iter().any(|pack| pack.on_hand.is_some_and(|count| count < 0)) {
                return Err(Failure::Usage("fewer than none of a pack are there; count them, or leave it out".into()));
            }
            answered!(app, reckon_packs(ReckonPacksRequest { needed, packs }))
        }
    }
}
