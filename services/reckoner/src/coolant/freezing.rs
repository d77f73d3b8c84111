//! The freezing point of a mixture.

use super::data::{self, MASS_MOST, VOLUME_LEAST, VOLUME_MOST};
use super::{BY_MASS, BY_VOLUME, SPREAD, cautions};
use crate::answer::{Answer, Rounding, Sureness};
use crate::check::{Range, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// What a strength is a share of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Of the volume, as coolant is mixed and most refractometers read.
    Volume,
    /// Of the mass, as tables of chemistry have it.
    Mass,
}

/// The freezing point of ethylene glycol and water.
#[derive(Debug, Clone, PartialEq)]
pub struct FreezingPoint {
    /// How much of it is glycol.
    pub strength: Amount,
    /// Of volume or of mass.
    pub basis: Basis,
}

const TODO: &str = "mix it within that range, or ask the coolant's maker";

impl FreezingPoint {
    /// By the data set of its basis, with the other one beside it.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        match self.basis {
            Basis::Volume => self.by_volume(),
            Basis::Mass => self.by_mass(),
        }
    }

    fn by_volume(&self) -> Result<Answer, Refusal> {
        let covered = "the data by volume";
        let range = Range { least: VOLUME_LEAST, most: VOLUME_MOST, covered, todo: TODO };
        let percent = within("strength", &self.strength, Kind::Share, range)?;
        let mut answer = self.begun("by volume", [BY_VOLUME, BY_MASS]);
        if let Some(celsius) = data::freezes_by_volume(percent) {
            answer.add("freezes", "Freezing point", celsius, "Cel", Rounding::Up(0));
        }
        let mass = data::mass_of_volume(percent);
        answer.add("other_basis", "The same mixture by mass", mass, "%", Rounding::Places(1));
        if let Some(celsius) = data::freezes_by_mass(mass) {
            answer.add("other_data", "By the data by mass", celsius, "Cel", Rounding::Up(0));
        }
        finished(&mut answer, percent);
        Ok(answer)
    }

    fn by_mass(&self) -> Result<Answer, Refusal> {
        let range = Range { least: 0.0, most: MASS_MOST, covered: "the data by mass", todo: TODO };
        let percent = within("strength", &self.strength, Kind::Share, range)?;
        let mut answer = self.begun("by mass", [BY_MASS, BY_VOLUME]);
        if let Some(celsius) = data::freezes_by_mass(percent) {
            answer.add("freezes", "Freezing point", celsius, "Cel", Rounding::Up(0));
        }
        let volume = data::volume_of_mass(percent);
        answer.add("other_basis", "The same mixture by volume", volume, "%", Rounding::Places(1));
        if let Some(celsius) = data::freezes_by_volume(volume) {
            answer.add("other_data", "By the data by volume", celsius, "Cel", Rounding::Up(0));
        }
        finished(&mut answer, volume);
        Ok(answer)
    }

    fn begun(&self, basis: &str, sources: [crate::answer::Source; 2]) -> Answer {
        let formula = "freezing point from the fit of the data set of its basis; rounded to the warmer side";
        let mut answer = Answer::new("Freezing point of coolant", formula, &sources);
        answer.given("strength", &self.strength);
        answer.word("basis", basis);
        answer
    }
}

fn finished(answer: &mut Answer, volume_percent: f64) {
    answer.conclude_and_ask(Sureness::Likely, "It freezes near there, if it is ethylene glycol.", SPREAD);
    cautions(answer, Some(volume_percent));
}
