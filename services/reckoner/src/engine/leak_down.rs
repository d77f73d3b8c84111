//! Leak-down in per cent, and what it means where it is heard.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// Where the air is heard or seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    /// At the throttle or intake.
    Throttle,
    /// At the tailpipe.
    Tailpipe,
    /// At the oil filler or dipstick.
    OilFiller,
    /// As bubbles in the radiator or expansion tank.
    Radiator,
    /// At the next cylinder's plug hole.
    NextPlugHole,
}

/// A leak-down test of one cylinder at top dead centre.
#[derive(Debug, Clone, PartialEq)]
pub struct LeakDown {
    /// Pressure before the orifice.
    pub supply: Amount,
    /// Pressure in the cylinder.
    pub cylinder: Amount,
    /// The tester's orifice, where the size of the leak is wanted.
    pub orifice: Option<Amount>,
    /// Up to where it is sound, in per cent; 20 when it is not said.
    pub sound: Option<Amount>,
    /// Where it is heard, one or more places.
    pub heard: Vec<Heard>,
}

const PRACTICE: Source = Source {
    name: "leak-down as usually taught: limits from 10 to 40 % are quoted, each for its own tester",
    kind: SourceKind::CommonPractice,
};
const AIRCRAFT: Source = Source {
    name: "FAA AC 43.13-1B, 8-14 (80 psi before a known orifice; aircraft practice)",
    kind: SourceKind::StandardFromCopies,
};
const NOZZLE: Source = Source {
    name: "isentropic flow of air (κ = 1.4) through two orifices in line with the same discharge coefficient, as in texts on \
           gas dynamics (Saint-Venant and Wantzel); choked up to the critical ratio 0.528",
    kind: SourceKind::Published,
};
const USUAL_SOUND: f64 = 20.0;
const BY_SHARE: &str = "leak = (P1 − P2)/P1";
const BY_HOLE: &str = "leak = (P1 − P2)/P1; a hole that lets as much through: d·√(P1·ψ(P2/P1) ÷ (P2·ψ(Pa/P2))), pressures absolute \
                       with Pa = 101.325 kPa; ψ(r) = √(r^(2/κ) − r^((κ+1)/κ)), κ = 1.4, and no more than at r = 0.528";
/// The standard atmosphere; gauges show what is above it.
const ATMOSPHERE_KPA: f64 = 101.325;
/// The ratio of the specific heats of air.
const AIR: f64 = 1.4;

/// How much air goes through an orifice in proportion to its area and the absolute pressure before it, by the ratio of the
/// pressures behind and before: below the critical ratio (2/(κ+1))^(κ/(κ−1)) it flows at the speed of sound, and less behind
/// draws no more through.
fn flow(ratio: f64) -> f64 {
    let critical = libm::pow(2.0 / (AIR + 1.0), AIR / (AIR - 1.0));
    let ratio = ratio.clamp(critical, 1.0);
    libm::sqrt(libm::pow(ratio, 2.0 / AIR) - libm::pow(ratio, (AIR + 1.0) / AIR))
}

impl LeakDown {
    /// The share that leaks, and where.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = if self.orifice.is_some() { BY_HOLE } else { BY_SHARE };
        let sources = if self.orifice.is_some() { &[PRACTICE, AIRCRAFT, NOZZLE][..] } else { &[PRACTICE, AIRCRAFT] };
        let mut answer = Answer::new("Leak-down", formula, sources);
        answer.given("supply", &self.supply);
        answer.given("cylinder", &self.cylinder);
        let supply = within("supply", &self.supply, Kind::Pressure, plausible(50.0, 1500.0))?;
        let todo = "the cylinder has no more than the supply; exchange the two, or check the gauges";
        let cylinders = Range { least: 0.0, most: supply, covered: "this supply", todo };
        let cylinder = within("cylinder", &self.cylinder, Kind::Pressure, cylinders)?;
        let why = "common practice; comparable only on the same orifice";
        let sound = answer.or_usual("sound", self.sound.as_ref(), (Kind::Share, USUAL_SOUND), why);
        let sound = within("sound", &sound, Kind::Share, plausible(1.0, 60.0))?;
        let leak = (supply - cylinder) / supply * 100.0;
        answer.add("leak", "Leaks", leak, "%", Rounding::Digits(2));
        self.hole(&mut answer, supply, cylinder)?;
        self.conclude(&mut answer, leak, sound);
        answer.caution(
            SignalWord::Warning,
            "Air in the cylinder can spin the crank: take any bar or spanner off it before the air goes on, and keep hands \
             and belts clear.",
        );
        Ok(answer)
    }

    fn hole(&self, answer: &mut Answer, supply: f64, cylinder: f64) -> Result<(), Refusal> {
        let Some(orifice) = &self.orifice else { return Ok(()) };
        answer.given("orifice", orifice);
        let orifice = within("orifice", orifice, Kind::Length, plausible(0.2, 6.0))?;
        if cylinder > 0.0 {
            let (before, behind) = (supply + ATMOSPHERE_KPA, cylinder + ATMOSPHERE_KPA);
            let through = before * flow(behind / before);
            let out = behind * flow(ATMOSPHERE_KPA / behind);
            let hole = orifice * libm::sqrt(through / out);
            answer.add("hole", "As much as a hole of", hole, "mm", Rounding::Digits(2));
        }
        Ok(())
    }

    fn conclude(&self, answer: &mut Answer, leak: f64, sound: f64) {
        let more = "The same cylinder again warm, and the others on the same tester: the odd one out counts, and another \
                    orifice gives other figures.";
        if leak <= sound + 1e-9 {
            let text = format!("It leaks no more than the {sound} % that counts as sound.");
            answer.conclude_and_ask(Sureness::Likely, text, more);
        } else {
            let text = format!("It leaks more than the {sound} % that counts as sound.");
            answer.conclude_and_ask(Sureness::Likely, text, more);
        }
        let mut told: Vec<Heard> = Vec::new();
        for place in &self.heard {
            if !told.contains(place) {
                told.push(*place);
                let (text, sureness) = place.means();
                answer.conclude(sureness, text);
            }
        }
        if self.heard.is_empty() && leak > sound {
            let text = "Where it goes was not said.";
            let more = "Listen at the throttle, the tailpipe, the oil filler and the next plug hole, and look into the \
                        radiator.";
            answer.conclude_and_ask(Sureness::Certain, text, more);
        }
    }
}

impl Heard {
    fn means(self) -> (&'static str, Sureness) {
        match self {
            Self::Throttle => ("Heard at the throttle: an inlet valve.", Sureness::Likely),
            Self::Tailpipe => ("Heard at the tailpipe: an exhaust valve.", Sureness::Likely),
            Self::OilFiller => {
                ("Heard at the oil filler: rings or bore; a little is heard on every engine.", Sureness::Likely)
            }
            Self::Radiator => ("Bubbles in the radiator: head gasket or a crack.", Sureness::Likely),
            Self::NextPlugHole => ("Heard at the next plug hole: the gasket between the two.", Sureness::Likely),
        }
    }
}
