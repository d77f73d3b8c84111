//! Draining and refilling until it is strong enough, and taking out as much as is put in.

use super::data::{self, VOLUME_MOST};
use super::{BY_VOLUME, CAPACITIES, MIXING, SHARES, STRENGTHS, cautions};
use crate::answer::{Answer, Rounding, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// A part drained and filled again, and run to mix, over and over.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainAndRefill {
    /// What the system holds.
    pub capacity: Amount,
    /// What comes out each time.
    pub drained: Amount,
    /// How strong it is now, by volume.
    pub now: Amount,
    /// How strong it is what is filled in.
    pub filled: Amount,
    /// How strong it is to be.
    pub target: Amount,
    /// How near is near enough, in per cent by volume; 1 when it is not said.
    pub tolerance: Option<Amount>,
}

/// After so many rounds nobody goes on.
/// Coolant stronger than the data goes freezes earlier again and carries less heat.
const STRONGEST: Range =
    Range { least: 0.0, most: VOLUME_MOST, covered: "the data by volume", todo: "choose a strength up to that" };
const MOST_ROUNDS: usize = 20;
const USUAL_TOLERANCE: f64 = 1.0;
const NOISE: f64 = 1e-9;

struct Series {
    capacity: f64,
    drained: f64,
    now: f64,
    filled: f64,
    target: f64,
    tolerance: f64,
}

impl DrainAndRefill {
    /// How many rounds, and the strength after each.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "cn = cf + (c0 − cf)·(1 − d/V)ⁿ";
        let mut answer = Answer::new("Draining and refilling", formula, &[MIXING, BY_VOLUME, STRENGTHS]);
        let series = self.series(&mut answer)?;
        let mut strengths = vec![series.now];
        while (strengths[strengths.len() - 1] - series.target).abs() > series.tolerance + NOISE {
            if strengths.len() > MOST_ROUNDS {
                return Err(series.never());
            }
            let last = strengths[strengths.len() - 1];
            strengths.push(series.filled + (last - series.filled) * (1.0 - series.drained / series.capacity));
        }
        series.tell(&mut answer, &strengths);
        Ok(answer)
    }

    fn series(&self, answer: &mut Answer) -> Result<Series, Refusal> {
        answer.given("capacity", &self.capacity);
        answer.given("drained", &self.drained);
        answer.given("now", &self.now);
        answer.given("filled", &self.filled);
        answer.given("target", &self.target);
        let capacity = within("capacity", &self.capacity, Kind::Volume, CAPACITIES)?;
        let todo = "no more comes out than the system holds, and less than a hundredth of it changes nothing";
        let drains = Range { least: capacity / 100.0, most: capacity, covered: "this system", todo };
        let why = "near enough for a refractometer";
        let tolerance = answer.or_usual("tolerance", self.tolerance.as_ref(), (Kind::Share, USUAL_TOLERANCE), why);
        Ok(Series {
            capacity,
            drained: within("drained", &self.drained, Kind::Volume, drains)?,
            now: within("now", &self.now, Kind::Share, SHARES)?,
            filled: within("filled", &self.filled, Kind::Share, SHARES)?,
            target: within("target", &self.target, Kind::Share, STRONGEST)?,
            tolerance: within("tolerance", &tolerance, Kind::Share, plausible(0.1, 20.0))?,
        })
    }
}

impl Series {
    /// It comes no nearer, or jumps over the target, or takes too long.
    fn never(&self) -> Refusal {
        let (rounds, target, filled) = (MOST_ROUNDS, self.target, self.filled);
        let between = (self.target - self.now) * (self.filled - self.target) >= 0.0;
        let reason = if (filled - target).abs() > self.tolerance && between {
            format!("one more round each time steps over {target} % and goes on towards {filled} %")
        } else if (filled - target).abs() > self.tolerance {
            format!("filling {filled} % ends at {filled} %, which is not {target} %")
        } else {
            format!("it is not there after {rounds} rounds of {} L", self.drained)
        };
        Refusal::impossible(
            "the strength",
            reason,
            "drain more each time, or fill something of another strength; a swap says how much in one go",
        )
    }

    fn tell(&self, answer: &mut Answer, strengths: &[f64]) {
        let rounds = strengths.len() - 1;
        // At most twenty, so a double has it.
        let count = f64::from(u32::try_from(rounds).unwrap_or(u32::MAX));
        let end = strengths[rounds];
        let old = libm::pow(1.0 - self.drained / self.capacity, count) * 100.0;
        answer.add("rounds", "Rounds", count, "1", Rounding::Places(0));
        answer.add("strength", "Strength at the end, by volume", end, "%", Rounding::Places(1));
        answer.add("fluid", "Fluid that goes in", count * self.drained, "L", Rounding::Places(1));
        answer.add("old_share", "Of the old fluid still in", old, "%", Rounding::Places(1));
        if let Some(celsius) = data::freezes_by_volume(end) {
            answer.add("freezes", "Freezing point", celsius, "Cel", Rounding::Up(0));
        }
        let each = strengths.iter().enumerate().map(|(round, strength)| format!("{round}: {strength:.1} %"));
        answer.list_of("strengths", each.collect());
        answer.conclude_and_ask(
            Sureness::Likely,
            "Each round mixes well only when the engine was run warm with the heater on.",
            "A refractometer reading after each round.",
        );
        cautions(answer, Some(end));
    }
}

/// Some taken out and as much put in, once.
#[derive(Debug, Clone, PartialEq)]
pub struct Swap {
    /// What the system holds.
    pub capacity: Amount,
    /// How strong it is now, by volume.
    pub now: Amount,
    /// How strong it is to be.
    pub target: Amount,
    /// How strong it is what is put in; pure concentrate when it is not said, water is 0 %.
    pub filled: Option<Amount>,
}

impl Swap {
    /// How much.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "swap = V·(ct − c0)/(cc − c0)";
        let mut answer = Answer::new("Swapping coolant", formula, &[MIXING, BY_VOLUME, STRENGTHS]);
        answer.given("capacity", &self.capacity);
        answer.given("now", &self.now);
        answer.given("target", &self.target);
        let filled = answer.or_usual("filled", self.filled.as_ref(), (Kind::Share, 100.0), "pure concentrate");
        let capacity = within("capacity", &self.capacity, Kind::Volume, CAPACITIES)?;
        let now = within("now", &self.now, Kind::Share, SHARES)?;
        let target = within("target", &self.target, Kind::Share, STRONGEST)?;
        let filled = within("filled", &filled, Kind::Share, SHARES)?;
        let swap = swapped(capacity, now, target, filled)?;
        answer.add("swap", "Take out, and put in", swap, "L", Rounding::Places(2));
        answer.add("strength", "Strength by volume", target, "%", Rounding::Places(1));
        if let Some(celsius) = data::freezes_by_volume(target) {
            answer.add("freezes", "Freezing point", celsius, "Cel", Rounding::Up(0));
        }
        answer.conclude_and_ask(
            Sureness::Likely,
            "It comes out as it is in the system, so take it out while it is mixed and cold.",
            "A refractometer reading once it was run warm.",
        );
        cautions(&mut answer, Some(target));
        Ok(answer)
    }
}

fn swapped(capacity: f64, now: f64, target: f64, filled: f64) -> Result<f64, Refusal> {
    if (target - now).abs() < NOISE {
        return Ok(0.0);
    }
    let share = (target - now) / (filled - now);
    if (0.0..=1.0).contains(&share) {
        return Ok(capacity * share);
    }
    let reason = format!("between {now} % now and {filled} % put in there is no {target} %");
    let todo =
        if target > now { "put in something stronger than the target" } else { "put in water, or something weaker" };
    Err(Refusal::impossible("the strength", reason, todo))
}
