//! Which fluid an item of the stock is, and what a fill of a job comes to. Strengths are in per cent by volume.

use crate::reading::Measure;
use crate::words::FluidKind;
use serde::{Deserialize, Serialize};

/// Which fluid an item is, as the shop says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct ItemFluid {
    /// Which.
    pub kind: FluidKind,
    /// How strong a coolant is as it stands on the shelf, above 0 and up to 100 for pure concentrate; of other fluids, and
    /// where nobody said it, nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Measure>,
}

/// What a fill with coolant is mixed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Mixture {
    /// How strong it is what is poured in, before the water.
    pub poured: Measure,
    /// Millilitres of water that go in with it, rounded up.
    pub water_ml: i64,
    /// How strong the whole comes to be.
    pub whole: Measure,
    /// Down to which whole degree Celsius that stays liquid, rounded to the warmer side, where the data say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub freezes: Option<Measure>,
}

impl ItemFluid {
    /// Whether it can be: a strength is of a coolant alone, and a share of it.
    pub fn fits(self) -> bool {
        let share = |strength: Measure| strength.0 > 0 && strength <= Measure::whole(100);
        self.strength.is_none_or(|strength| self.kind == FluidKind::Coolant && share(strength))
    }
}

impl std::fmt::Display for ItemFluid {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let kind = self.kind.told();
        match self.strength {
            Some(strength) if strength == Measure::whole(100) => write!(f, "pure {kind} concentrate"),
            Some(strength) => write!(f, "{kind} of {strength} %"),
            None => f.write_str(kind),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The strength of a coolant is a share by volume: 0 % is water and more than all of it is nothing. Arithmetic.
    #[test]
    fn only_a_coolant_has_a_strength_and_it_is_a_share() {
        let of = |kind, strength| ItemFluid { kind, strength };
        for (kind, percent, fits) in [
            (FluidKind::Coolant, 50, true),
            (FluidKind::Coolant, 100, true),
            (FluidKind::Coolant, 0, false),
            (FluidKind::Coolant, 101, false),
            (FluidKind::Oil, 50, false),
        ] {
            assert_eq!(of(kind, Some(Measure::whole(percent))).fits(), fits, "{kind} {percent}");
        }
        assert!(of(FluidKind::Oil, None).fits() && of(FluidKind::Coolant, None).fits());
        assert_eq!(of(FluidKind::Coolant, Some(Measure::whole(100))).to_string(), "pure coolant concentrate");
        assert_eq!(of(FluidKind::Coolant, Some(Measure(49_500_000))).to_string(), "coolant of 49.5 %");
        assert_eq!(of(FluidKind::BrakeFluid, None).to_string(), "brake fluid");
    }
}
