//! What a step asks of the vehicle and of whoever does it: states, hold points, hazards, fluids.

use crate::fluid::{ItemFluid, Mixture};
use crate::ids::{FluidKey, ItemKey, StageKey};
use crate::template::{Caution, Need};
use crate::words::{Feature, FluidKind, Hazard, VehicleState};
use serde::{Deserialize, Serialize};

/// What makes a step safe. Nothing of it for most steps.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
pub struct StepSafety {
    /// States in which the vehicle has to be before the step, one a feature.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub needs: Vec<VehicleState>,
    /// States in which it leaves the vehicle, one a feature.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sets: Vec<VehicleState>,
    /// The stop-and-check that the step is, when it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold: Option<Hold>,
    /// What can hurt, gravest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hazards: Vec<Hazard>,
    /// Fluids that it drains.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fluids: Vec<FluidSpec>,
    /// The fluid that it fills again, where it is a filling.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fill: Option<Fill>,
    /// Skills that it asks of whoever does it, beyond those of its stage.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub skills: Vec<String>,
    /// Whether it is about its job alone, and so no word of the book: neither a lesson nor part of a draft.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub only_here: bool,
}

/// A stop-and-check that a person passes by name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Hold {
    /// What is looked at.
    pub what: String,
    /// Whether somebody else than who did the work before it in the stage has to look.
    pub second: bool,
    /// Whether what goes back in its stage has to be back and tight, although work comes after it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub whole: bool,
}

/// A fluid that a step drains.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct FluidSpec {
    /// Its key, unique in the template.
    pub key: FluidKey,
    /// What it is called.
    pub what: String,
    /// Millilitres that should come out, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected_ml: Option<i64>,
    /// The stage in which it is filled again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub back: Option<StageKey>,
}

/// A fluid that a step fills again.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Fill {
    /// Its key.
    pub fluid: FluidKey,
    /// What was reckoned for the job, and holds in the place of what the step says of amounts; never in a template.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reckoned: Option<ReckonedFill>,
}

/// What goes in, as it was reckoned for a job.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ReckonedFill {
    /// What goes in, in words: `3.65 L at 100 % with 2.45 L of water, from 3.65 L of coolant-a`.
    pub recipe: String,
    /// The items that it is poured from.
    pub from: Vec<ItemKey>,
    /// What it is mixed to; nothing of what is never mixed, and of before it was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mixture: Option<Mixture>,
    /// What the step took from stock before anything was reckoned.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instead: Vec<Need>,
    /// What the step was to mind for this reckoning alone: another one takes it along.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<Caution>,
    /// What earlier reckonings asked for, went in and was never drawn from stock.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub poured: Vec<Need>,
    /// Millilitres of the fluid that were in when this was reckoned.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub filled_ml: i64,
    /// Millilitres that were to go in by it, with the water; 0 of before it was kept.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub pours_ml: i64,
    /// What the item that was asked for said to be when this was reckoned; nothing where it said nothing, and of before it was
    /// kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<ItemFluid>,
    /// Items that it is poured from and that say otherwise since.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub gainsaid: Vec<Gainsaid>,
}

/// An item that says another fluid, or another strength, than a fill was reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Gainsaid {
    /// Which.
    pub item: ItemKey,
    /// What it says, and what is to be done; it stands among the step's cautions as well.
    pub caution: Caution,
}

impl ReckonedFill {
    /// Whether what went in is what was reckoned, but for a tenth of it: else nobody knows what it is mixed to. `filled_ml` is
    /// what went in of the fluid in all, in millilitres. Of before it was kept it is taken to be.
    pub fn is_in(&self, filled_ml: i64) -> bool {
        let off = filled_ml.saturating_sub(self.filled_ml).saturating_sub(self.pours_ml).saturating_abs();
        self.pours_ml == 0 || off <= self.pours_ml / 10
    }

    /// Whether it goes by another fluid or strength than an item of it says `now`; nothing where it can't be compared: neither
    /// did the item say anything before, nor is it mixed with water, which only coolant is.
    pub fn goes_otherwise(&self, now: Option<ItemFluid>) -> Option<bool> {
        let kind = self.says.map(|says| says.kind).or(self.mixture.map(|_| FluidKind::Coolant))?;
        let Some(now) = now else { return Some(self.says.is_some()) };
        let withdrawn = now.strength.is_none() && self.says.is_some_and(|says| says.strength.is_some());
        let poured = self.mixture.map(|mixture| mixture.poured);
        let other = now.strength.is_some_and(|strength| poured.is_some_and(|poured| poured != strength));
        Some(now.kind != kind || withdrawn || other)
    }
}

/// Whether there is nothing to keep.
#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_nothing(millilitres: &i64) -> bool {
    *millilitres == 0
}

impl StepSafety {
    /// Whether nothing is asked.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl VehicleState {
    /// What it says something about.
    pub fn feature(self) -> Feature {
        let name = self.word().split_once(' ').map_or("", |(feature, _)| feature);
        // Every word begins with the word of its feature, which a test holds.
        Feature::from_word(name).unwrap_or(Feature::HighVoltage)
    }

    /// How that is: `isolated` of `battery isolated`.
    pub fn value(self) -> &'static str {
        self.word().split_once(' ').map_or("", |(_, value)| value)
    }
}

impl Feature {
    /// How a vehicle comes, as far as nobody said otherwise: the first of the feature's states.
    pub fn initial(self) -> VehicleState {
        let own = VehicleState::ALL.iter().copied().find(|state| state.feature() == self);
        own.unwrap_or(VehicleState::HighVoltageUnchecked)
    }

    /// How it has to be when the vehicle is handed over; nothing where that is of no matter.
    pub fn rest(self) -> Option<VehicleState> {
        (!matches!(self, Self::Temperature | Self::HighVoltage)).then(|| self.initial())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_is_of_a_feature_and_every_feature_has_several() {
        for state in VehicleState::ALL {
            let (feature, value) = state.word().split_once(' ').expect("a feature and a value");
            assert_eq!((state.feature().word(), state.value()), (feature, value));
        }
        for feature in Feature::ALL {
            assert_eq!(feature.initial().feature(), *feature);
            assert!(VehicleState::ALL.iter().filter(|state| state.feature() == *feature).count() > 1, "{feature}");
        }
        assert_eq!(Feature::Battery.rest(), Some(VehicleState::BatteryConnected));
    }
}
