//! How much coolant grows from cold to hot.

use super::data::{self, DENSITY_COLDEST_C, DENSITY_HOTTEST_C, VOLUME_LEAST, VOLUME_MOST};
use super::{BY_VOLUME, CAPACITIES, cautions};
use crate::answer::{Answer, Rounding, Sureness};
use crate::check::{Range, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// A fill that is warmed.
#[derive(Debug, Clone, PartialEq)]
pub struct Expansion {
    /// What was filled in cold.
    pub volume: Amount,
    /// How strong it is, by volume.
    pub strength: Amount,
    /// When it was filled.
    pub cold: Amount,
    /// When it runs.
    pub hot: Amount,
}

const GROWTH: &str = "growth = ρ(cold)/ρ(hot) − 1, and that share of the volume, rounded up: the tank has to hold it";

impl Expansion {
    /// The share and the litres.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Coolant from cold to hot", GROWTH, &[BY_VOLUME]);
        answer.given("volume", &self.volume);
        answer.given("strength", &self.strength);
        answer.given("cold", &self.cold);
        answer.given("hot", &self.hot);
        let volume = within("volume", &self.volume, Kind::Volume, CAPACITIES)?;
        let todo = "mix it within that range";
        let strengths = Range { least: VOLUME_LEAST, most: VOLUME_MOST, covered: "the data by volume", todo };
        let strength = within("strength", &self.strength, Kind::Share, strengths)?;
        let liquid = data::freezes_by_volume(strength).unwrap_or(DENSITY_COLDEST_C).max(DENSITY_COLDEST_C);
        let covered = "the data for liquid of this strength";
        let todo = "give temperatures at which it is liquid and the data holds";
        let degrees = Range { least: liquid, most: DENSITY_HOTTEST_C, covered, todo };
        let cold = within("cold", &self.cold, Kind::Temperature, degrees)?;
        let hot = within("hot", &self.hot, Kind::Temperature, degrees)?;
        if cold > hot {
            let problem = format!("{cold} °C cold is warmer than {hot} °C hot");
            return Err(Refusal::contradiction("cold", problem, "exchange the two"));
        }
        if let (Some(dense), Some(thin)) = (data::density(strength, cold), data::density(strength, hot)) {
            let growth = dense / thin - 1.0;
            answer.add("growth", "It grows by", growth * 100.0, "%", Rounding::Places(1));
            answer.add("more", "Which the expansion tank takes", growth * volume, "L", Rounding::Up(2));
        }
        let text = "Fill to the cold mark: the tank's room above it is for this.";
        answer.conclude(Sureness::Certain, text);
        cautions(&mut answer, Some(strength));
        Ok(answer)
    }
}
