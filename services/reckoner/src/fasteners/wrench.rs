//! A torque wrench with an adapter, and the force at the end of a spanner.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

const STATICS: Source = Source { name: "equilibrium of moments about the fastener", kind: SourceKind::Definition };

/// What to set on a torque wrench that turns through an adapter.
#[derive(Debug, Clone, PartialEq)]
pub struct Adapter {
    /// The torque that the fastener is to have.
    pub torque: Amount,
    /// From the wrench's square drive to the middle of the grip.
    pub wrench: Amount,
    /// From the square drive to the middle of the fastener.
    pub adapter: Amount,
    /// Between the adapter and the line that goes on from the wrench: 0° in line, 90° square, 180° folded back.
    pub angle: Amount,
}

impl Adapter {
    /// The setting.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "Tset = T·L/(L + E·cos θ)";
        let mut answer = Answer::new("Torque wrench with an adapter", formula, &[STATICS]);
        answer.given("torque", &self.torque);
        answer.given("wrench", &self.wrench);
        answer.given("adapter", &self.adapter);
        answer.given("angle", &self.angle);
        let torque = within("torque", &self.torque, Kind::Torque, plausible(0.1, 5000.0))?;
        let wrench = within("wrench", &self.wrench, Kind::Length, plausible(50.0, 3000.0))?;
        let adapter = within("adapter", &self.adapter, Kind::Length, plausible(0.0, 3000.0))?;
        let angle = within("angle", &self.angle, Kind::Angle, plausible(-360.0, 360.0))?;
        let reach = wrench + adapter * cosine(angle);
        // Folded back so far, the hand is over the fastener, and a millimetre changes everything.
        if reach < wrench * 0.25 {
            return Err(Refusal::contradiction(
                "adapter",
                format!("folded back by {adapter} mm it brings the hand to {reach:.0} mm from the fastener"),
                "turn the adapter square to the wrench or in line with it",
            ));
        }
        answer.add("setting", "Set the wrench to", torque * wrench / reach, "N.m", Rounding::Digits(3));
        answer.add("factor", "Of the wanted torque", wrench / reach, "1", Rounding::Digits(3));
        let text = if cosine(angle) == 0.0 {
            "Square to the wrench nothing is corrected."
        } else {
            "Only square to the wrench, at 90°, would nothing have to be corrected."
        };
        answer.conclude(Sureness::Certain, text);
        let text = "Pull at the middle of the grip, where the length was measured to; elsewhere the setting is wrong. \
                    A straight extension along the drive's own axis needs no correction.";
        answer.caution(SignalWord::Caution, text);
        Ok(answer)
    }
}

/// The cosine of degrees, exact at right angles.
fn cosine(degrees: f64) -> f64 {
    let turned = libm::fabs(libm::fmod(degrees, 360.0));
    // What is left of a right angle in the last bits is nothing.
    let cosine = libm::cos(turned.to_radians());
    if cosine.abs() < 1e-12 { 0.0 } else { cosine }
}

/// What the hand has to pull at a spanner, or how long it has to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Spanner {
    /// The torque.
    pub torque: Amount,
    /// From the fastener to the hand.
    pub length: Option<Amount>,
    /// The most that a hand is to pull.
    pub most: Option<Amount>,
}

impl Spanner {
    /// The force at its end, or the length that keeps it under a limit.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Force at the spanner's end", "F = T/L", &[STATICS]);
        answer.given("torque", &self.torque);
        let torque = within("torque", &self.torque, Kind::Torque, plausible(0.1, 5000.0))?;
        if self.length.is_none() && self.most.is_none() {
            let todo = "say the spanner's length, or the most that the hand is to pull";
            return Err(Refusal::contradiction("length", "neither a length nor a force is given", todo));
        }
        if let Some(length) = &self.length {
            answer.given("length", length);
            let length = within("length", length, Kind::Length, plausible(30.0, 3000.0))?;
            answer.add("force", "Force at its end", torque / length * 1e3, "N", Rounding::Digits(3));
        }
        if let Some(most) = &self.most {
            answer.given("most", most);
            let most = within("most", most, Kind::Force, plausible(5.0, 1000.0))?;
            answer.add("least_length", "Least length", torque / most * 1e3, "mm", Rounding::Up(0));
        }
        let text = "Pull, do not push, and stand so that you stay on your feet when it lets go. No tube over a spanner \
                    that is not made for it.";
        answer.caution(SignalWord::Caution, text);
        Ok(answer)
    }
}
