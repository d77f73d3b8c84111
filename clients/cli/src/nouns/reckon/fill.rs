//! What to fill in again, and perhaps setting it aside for the job.

use super::set_aside::set_aside;
use super::{or_none, text};
use crate::app::App;
use crate::failure::Outcome;
use crate::out;
use clap::Args;
use leadhand_sdk::v1::{PackSize, ReckonFillRequest, ReserveFillRequest};

/// A fill after a drain.
#[derive(Debug, Args)]
pub struct Fill {
    /// What the system holds; what should come out of it by the job's book when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    capacity: Option<String>,
    /// What the drain left behind, in block and heater; by the job what did not come out when left out
    #[arg(long, required_unless_present = "job", value_name = "VOLUME")]
    left: Option<String>,
    /// How strong that is, by volume; plain water when left out, and asked for where a job is named
    #[arg(long, value_name = "SHARE")]
    left_strength: Option<String>,
    /// A strength by volume such as 50%, or a freezing point such as -30C; not for a fluid that is no coolant
    #[arg(long, required_unless_present = "fluid", value_name = "SHARE|TEMPERATURE", allow_hyphen_values = true)]
    target: Option<String>,
    /// So many degrees more to be safe, for a freezing point: 5K, or 5 for degrees Celsius
    #[arg(long, value_name = "DEGREES")]
    margin: Option<String>,
    /// How strong it is what is poured in; when left out as the item of --reserve says, and pure concentrate where no item is named
    #[arg(long, value_name = "SHARE")]
    poured: Option<String>,
    /// Take capacity and what is left from the drain that was recorded on this job
    #[arg(long)]
    job: Option<i64>,
    /// Which fluid of the job; coolant when left out. Oil and the like are never mixed with water: without a target is told
    /// how much of it goes in
    #[arg(long, requires = "job", value_name = "KEY")]
    fluid: Option<String>,
    /// Set so much of this item aside for the job: the step that fills the fluid says what goes in, in the place of what it
    /// said before, and no litre is set aside twice
    #[arg(long, requires = "job", value_name = "ITEM")]
    reserve: Option<String>,
    /// The stage that gets a step of its own where none of the job fills the fluid; where the fluid goes back when left out
    #[arg(long, requires = "reserve")]
    stage: Option<String>,
    /// A size of whole packs to which the amount is rounded up, perhaps with how many are there, such as 5L=2; once for each
    #[arg(long = "pack", requires = "reserve", value_parser = super::coolant::parse_pack, value_name = "VOLUME[=COUNT]")]
    packs: Vec<PackSize>,
}

/// What to fill in, and perhaps set aside at once.
pub async fn fill(app: &App, asked: Fill) -> Outcome {
    if let Some(item) = asked.reserve {
        let request = ReserveFillRequest {
            write: app.write().await?,
            job: asked.job.unwrap_or_default(),
            fluid: or_none(asked.fluid),
            item,
            capacity: or_none(asked.capacity),
            left: or_none(asked.left),
            left_strength: or_none(asked.left_strength),
            target: or_none(asked.target),
            margin: or_none(asked.margin),
            poured_strength: or_none(asked.poured),
            stage: or_none(asked.stage),
            packs: asked.packs,
        };
        return set_aside(app, request).await;
    }
    let request = ReckonFillRequest {
        capacity: or_none(asked.capacity),
        left: or_none(asked.left),
        left_strength: or_none(asked.left_strength),
        target: or_none(asked.target),
        margin: or_none(asked.margin),
        poured_strength: or_none(asked.poured),
        job: asked.job.unwrap_or_default(),
        fluid: or_none(asked.fluid),
        item: String::new(),
    };
    let answer = app.client.reckon_fill(request).await?;
    if app.out.is_json() { out::json(&answer) } else { text::show(app, &answer.answer.unwrap_or_default()) }
}
