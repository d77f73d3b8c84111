//! Preload from a torque, with its scatter.

use super::torque::{Arms, FRICTIONS, MM_PER_M, mean_diameter_mm};
use super::{Bearing, ISO_STRENGTH, ISO_THREADS, ISO_TORQUE, PropertyClass, Thread, tightening_cautions};
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// What a torque gives, between the least and the most friction.
#[derive(Debug, Clone, PartialEq)]
pub struct PreloadFromTorque {
    /// The thread.
    pub thread: Thread,
    /// The bolt's class.
    pub class: PropertyClass,
    /// The torque at the wrench.
    pub torque: Amount,
    /// The least friction that is to be reckoned with, in thread and under head alike.
    pub friction_least: Amount,
    /// The most.
    pub friction_most: Amount,
    /// How far the wrench may be off, either way; 4 % when it is not said.
    pub wrench: Option<Amount>,
    /// What the head rests on; a plain hexagon head over a medium hole when it is not said.
    pub bearing: Option<Bearing>,
}

const WRENCHES: Source =
    Source { name: "ISO 6789 (a torque wrench in calibration, 4 %)", kind: SourceKind::StandardFromCopies };
const USUAL_WRENCH: f64 = 4.0;

impl PreloadFromTorque {
    /// The least, the middle and the most preload.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "F = T/(0.159·P + 0.578·d2·μ + 0.5·Db·μ); least at most friction and a wrench that is low, most \
                       at least friction and a wrench that is high";
        let sources = [ISO_TORQUE, ISO_STRENGTH, ISO_THREADS, WRENCHES];
        let mut answer = Answer::new("Preload from a torque", formula, &sources);
        answer.word("thread", self.thread.to_string());
        answer.word("class", self.class.to_string());
        answer.given("torque", &self.torque);
        answer.given("friction_least", &self.friction_least);
        answer.given("friction_most", &self.friction_most);
        let torque = within("torque", &self.torque, Kind::Torque, plausible(0.1, 5000.0))?;
        let (least, most) = self.frictions()?;
        let usual = "a torque wrench in calibration";
        let off = answer.or_usual("wrench", self.wrench.as_ref(), (Kind::Share, USUAL_WRENCH), usual);
        let todo = "have the wrench calibrated";
        let wrenches = Range { least: 0.0, most: 30.0, covered: "what a wrench may be off by", todo };
        let off = within("wrench", &off, Kind::Share, wrenches)? / 100.0;
        let mean = mean_diameter_mm(&mut answer, self.thread, self.bearing.as_ref())?;
        let force_n = |mu: f64, share: f64| torque * share * MM_PER_M / Arms::of(self.thread, mu, mu, mean).sum();
        let forces = [force_n(most, 1.0 - off), force_n(f64::midpoint(least, most), 1.0), force_n(least, 1.0 + off)];
        self.tell(&mut answer, forces)?;
        Ok(answer)
    }

    fn frictions(&self) -> Result<(f64, f64), Refusal> {
        let least = within("friction_least", &self.friction_least, Kind::Number, FRICTIONS)?;
        let most = within("friction_most", &self.friction_most, Kind::Number, FRICTIONS)?;
        if least > most {
            return Err(Refusal::contradiction(
                "friction_least",
                format!("the least friction, {least}, is above the most, {most}"),
                "exchange the two",
            ));
        }
        Ok((least, most))
    }

    fn tell(&self, answer: &mut Answer, [low, middle, high]: [f64; 3]) -> Result<(), Refusal> {
        let (proof_n, yield_n) = (self.class.proof_load_n(self.thread)?, self.class.yield_load_n(self.thread)?);
        let two = Rounding::Digits(2);
        answer.add("preload", "Preload at the middle of the friction", middle, "N", two);
        answer.add("preload_least", "Least preload", low, "N", two);
        answer.add("preload_most", "Most preload", high, "N", two);
        answer.add("scatter", "Most over least", high / low, "1", two);
        answer.add("share_of_proof", "Middle, of the proof load", middle / proof_n * 100.0, "%", Rounding::Places(0));
        answer.add("most_of_proof", "Most, of the proof load", high / proof_n * 100.0, "%", Rounding::Places(0));
        tightening_cautions(answer);
        if low > yield_n {
            let text = "Even at the most friction the bolt yields, and may break: this torque is not for this bolt.";
            answer.caution(SignalWord::Danger, text);
        } else if high > yield_n {
            let text = "At the least friction the bolt yields: take less torque, or be sure of the friction.";
            answer.caution(SignalWord::Warning, text);
        } else if high > proof_n {
            let text = "At the least friction the bolt is past its proof load.";
            answer.caution(SignalWord::Warning, text);
        }
        answer.conclude_and_ask(
            Sureness::Certain,
            "One torque gives a range of preload, because most of it goes into friction.",
            "A bolt's stretch, or torque and then angle, tells its preload more closely.",
        );
        Ok(())
    }
}
