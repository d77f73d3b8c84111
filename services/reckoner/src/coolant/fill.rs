//! What to pour in after a drain, so that the whole comes to a strength.

use super::data::{self, VOLUME_LEAST, VOLUME_MOST};
use super::{BY_VOLUME, CAPACITIES, MIXING, SHARES, SPREAD, STRENGTHS, cautions};
use crate::answer::{Answer, Rounding, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// What the coolant is to be in the end.
#[derive(Debug, Clone, PartialEq)]
pub enum Target {
    /// So strong, by volume.
    Strength(Amount),
    /// Liquid down to here.
    FreezingPoint {
        /// The temperature.
        celsius: Amount,
        /// So many degrees more to be safe; none when it is not said.
        margin_c: Option<Amount>,
    },
}

/// A fill after a drain.
#[derive(Debug, Clone, PartialEq)]
pub struct Fill {
    /// What the system holds.
    pub capacity: Amount,
    /// What the drain left behind, in block and heater.
    pub left: Amount,
    /// How strong that is, by volume; plain water when it is not said.
    pub left_strength: Option<Amount>,
    /// What is wanted.
    pub target: Target,
    /// How strong it is what is poured in; pure concentrate when it is not said.
    pub poured_strength: Option<Amount>,
}

/// A balance, in litres and shares of one.
struct Balance {
    capacity: f64,
    left: f64,
    left_share: f64,
    target: f64,
    poured: f64,
}

/// What is lost in the last bits is no impossibility.
const NOISE_L: f64 = 1e-9;
const ROOM: Range = Range {
    least: VOLUME_LEAST,
    most: VOLUME_MOST,
    covered: "the data by volume",
    todo: "choose a strength in that range",
};

impl Fill {
    /// How much to add, and how much water with it.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "add = (ct·V − c0·r)/cc; water = V − r − add; it can be reached when 0 ≤ add ≤ V − r";
        let mut answer = Answer::new("Filling with coolant", formula, &[MIXING, BY_VOLUME, STRENGTHS]);
        let balance = self.balance(&mut answer)?;
        let add = balance.add();
        let room = balance.capacity - balance.left;
        if add > room + NOISE_L {
            return Err(balance.too_weak());
        }
        if add < -NOISE_L {
            return Err(balance.too_strong());
        }
        balance.tell(&mut answer, add.clamp(0.0, room));
        Ok(answer)
    }

    fn balance(&self, answer: &mut Answer) -> Result<Balance, Refusal> {
        answer.given("capacity", &self.capacity);
        answer.given("left", &self.left);
        let capacity = within("capacity", &self.capacity, Kind::Volume, CAPACITIES)?;
        let todo = "what is left in is less than the system holds";
        let lefts = Range { least: 0.0, most: capacity, covered: "this system", todo };
        let left = within("left", &self.left, Kind::Volume, lefts)?;
        let why = "plain water, as after flushing";
        let left_strength = answer.or_usual("left_strength", self.left_strength.as_ref(), (Kind::Share, 0.0), why);
        let left_strength = within("left_strength", &left_strength, Kind::Share, SHARES)?;
        let why = "pure concentrate";
        let poured = answer.or_usual("poured_strength", self.poured_strength.as_ref(), (Kind::Share, 100.0), why);
        let todo = "water alone is no coolant; say how strong it is what you pour";
        let strengths = Range { least: 5.0, most: 100.0, covered: "what is sold as coolant", todo };
        let poured = within("poured_strength", &poured, Kind::Share, strengths)?;
        let target = self.target.strength(answer)?;
        let share = |percent: f64| percent / 100.0;
        Ok(Balance { capacity, left, left_share: share(left_strength), target: share(target), poured: share(poured) })
    }
}

impl Target {
    /// In per cent by volume.
    fn strength(&self, answer: &mut Answer) -> Result<f64, Refusal> {
        match self {
            Self::Strength(strength) => {
                answer.given("target", strength);
                within("target", strength, Kind::Share, ROOM)
            }
            Self::FreezingPoint { celsius, margin_c } => {
                answer.given("target", celsius);
                let asked = celsius.of_kind("target", Kind::Temperature)?;
                let margin = match margin_c {
                    Some(margin) => {
                        answer.given("margin", margin);
                        within("margin", margin, Kind::Number, plausible(0.0, 20.0))?
                    }
                    None => 0.0,
                };
                data::volume_strength_for(asked - margin).ok_or_else(|| out_of_data(asked, margin))
            }
        }
    }
}

fn out_of_data(asked: f64, margin: f64) -> Refusal {
    let end = |percent| data::freezes_by_volume(percent).unwrap_or_default();
    let with_margin = if margin == 0.0 { String::new() } else { format!(" with {margin} degrees of margin") };
    Refusal::OutOfRange {
        field: "target".to_owned(),
        given: format!("{asked} °C{with_margin}"),
        least: format!("{:.0} °C", end(VOLUME_MOST)).into(),
        most: format!("{:.0} °C", end(VOLUME_LEAST)).into(),
        covered: "the data by volume (10 to 60 %)",
        todo: "choose a freezing point in that range: stronger coolant freezes sooner again",
    }
}

impl Balance {
    fn add(&self) -> f64 {
        (self.target * self.capacity - self.left_share * self.left) / self.poured
    }

    fn strongest(&self) -> f64 {
        (self.left_share * self.left + self.poured * (self.capacity - self.left)) / self.capacity
    }

    fn weakest(&self) -> f64 {
        self.left_share * self.left / self.capacity
    }

    /// Filled with nothing else it stays too weak.
    fn too_weak(&self) -> Refusal {
        let reason = format!(
            "with {:.2} L left in at {:.0} %, filling up with {:.0} % comes to {:.1} % and not to {:.1} %",
            self.left,
            self.left_share * 100.0,
            self.poured * 100.0,
            self.strongest() * 100.0,
            self.target * 100.0
        );
        let todo = if self.poured > self.target {
            let most = self.capacity * (self.poured - self.target) / (self.poured - self.left_share);
            format!("drain on until {} L or less is left, or fill and drain again", Rounding::Down(2).of(most))
        } else {
            "pour something that is stronger than the target".to_owned()
        };
        Refusal::impossible("the strength", reason, todo)
    }

    /// Filled with plain water it stays too strong.
    fn too_strong(&self) -> Refusal {
        let reason = format!(
            "what is left in is so strong that even filled up with water it comes to {:.1} % and not to {:.1} %",
            self.weakest() * 100.0,
            self.target * 100.0
        );
        let most = self.capacity * self.target / self.left_share;
        let todo = format!("drain on until {} L or less is left", Rounding::Down(2).of(most));
        Refusal::impossible("the strength", reason, todo)
    }

    fn tell(&self, answer: &mut Answer, add: f64) {
        let two = Rounding::Places(2);
        let target = self.target * 100.0;
        answer.add("add", format!("Pour in, at {:.0} %", self.poured * 100.0), add, "L", two);
        answer.add("water", "Water with it", self.capacity - self.left - add, "L", two);
        answer.add("strength", "Strength by volume", target, "%", Rounding::Places(1));
        if let Some(celsius) = data::freezes_by_volume(target) {
            answer.add("freezes", "Freezing point", celsius, "Cel", Rounding::Up(0));
        }
        answer.add(
            "strongest",
            "The strongest that it could come to",
            self.strongest() * 100.0,
            "%",
            Rounding::Places(1),
        );
        if self.left > 0.0 {
            answer.conclude_and_ask(
                Sureness::Certain,
                "What a radiator drain leaves in the block is still to come out, or it is reckoned with as here.",
                "Measure what came out: capacity less that is what is left.",
            );
        }
        answer.conclude_and_ask(Sureness::Likely, "Run it warm so that it mixes, and measure.", SPREAD);
        cautions(answer, Some(target));
    }
}
