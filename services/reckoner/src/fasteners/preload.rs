//! Preload from a torque, with its scatter.

use super::strength::Bears;
use super::torque::{Arms, FRICTIONS, MM_PER_M, mean_diameter_mm};
use super::{Bearing, ISO_STRENGTH, ISO_THREADS, ISO_TORQUE, PropertyClass, Thread, tightening_cautions};
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// What a torque gives, between the least and the most friction.
#[derive(Debug, Clone, PartialEq)]
pub struct PreloadFromTorque {
    /// The thread.
    pub thread: Thread,
    /// The bolt's class.
    pub class: PropertyClass,
    /// The torque at the wrench.
    pub torque: Amount,
    /// The least friction in the thread that is to be reckoned with.
    pub friction_least: Amount,
    /// The most.
    pub friction_most: Amount,
    /// The least under the head; as in the thread when it is not said.
    pub head_least: Option<Amount>,
    /// The most.
    pub head_most: Option<Amount>,
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
        let formula = "F = T/(0.159·P + 0.578·d2·μth + 0.5·Db·μb), at most Rp0.2·As; least at most friction and a wrench that is low, most \
                       at least friction and a wrench that is high";
        let sources = [ISO_TORQUE, ISO_STRENGTH, ISO_THREADS, WRENCHES];
        let mut answer = Answer::new("Preload from a torque", formula, &sources);
        answer.word("thread", self.thread.to_string());
        answer.word("class", self.class.to_string());
        answer.given("torque", &self.torque);
        let torque = within("torque", &self.torque, Kind::Torque, plausible(0.1, 5000.0))?;
        let threads =
            frictions(&mut answer, ["friction_least", "friction_most"], [&self.friction_least, &self.friction_most])?;
        let heads = [
            self.head_least.as_ref().unwrap_or(&self.friction_least),
            self.head_most.as_ref().unwrap_or(&self.friction_most),
        ];
        let heads = if self.head_least.is_none() && self.head_most.is_none() {
            threads
        } else {
            frictions(&mut answer, ["head_least", "head_most"], heads)?
        };
        let usual = "a torque wrench in calibration";
        let off = answer.or_usual("wrench", self.wrench.as_ref(), (Kind::Share, USUAL_WRENCH), usual);
        let todo = "have the wrench calibrated";
        let wrenches = Range { least: 0.0, most: 30.0, covered: "what a wrench may be off by", todo };
        let off = within("wrench", &off, Kind::Share, wrenches)? / 100.0;
        let mean = mean_diameter_mm(&mut answer, self.thread, self.bearing.as_ref())?;
        let force_n = |at: fn([f64; 2]) -> f64, share: f64| {
            torque * share * MM_PER_M / Arms::of(self.thread, at(threads), at(heads), mean).sum()
        };
        let middle = |[least, most]: [f64; 2]| f64::midpoint(least, most);
        let forces = [force_n(|range| range[1], 1.0 - off), force_n(middle, 1.0), force_n(|range| range[0], 1.0 + off)];
        self.tell(&mut answer, forces)?;
        Ok(answer)
    }

    fn tell(&self, answer: &mut Answer, [low, middle, high]: [f64; 3]) -> Result<(), Refusal> {
        let bears = Bears::of(self.thread, self.class)?;
        if low > bears.yields {
            return Err(self.too_much(bears, low));
        }
        let two = Rounding::Digits(2);
        let mut put = |name, label, elastic_n| {
            answer.add(name, bears.label(label, elastic_n), bears.reached(elastic_n), "N", two);
        };
        put("preload", "Preload at the middle of the friction", middle);
        put("preload_least", "Least preload", low);
        put("preload_most", "Most preload", high);
        let of_proof = |elastic_n| bears.reached(elastic_n) / bears.proof * 100.0;
        answer.add("scatter", "Most over least", bears.reached(high) / low, "1", two);
        answer.add("share_of_proof", "Middle, of the proof load", of_proof(middle), "%", Rounding::Places(0));
        answer.add("most_of_proof", "Most, of the proof load", of_proof(high), "%", Rounding::Places(0));
        bears.caution(answer, "At the least friction", high);
        tightening_cautions(answer);
        answer.conclude_and_ask(
            Sureness::Certain,
            "One torque gives a range of preload, because most of it goes into friction.",
            "A bolt's stretch, or torque and then angle, tells its preload more closely.",
        );
        Ok(())
    }

    /// Even the least that the torque would give is more than the bolt bears.
    fn too_much(&self, bears: Bears, low: f64) -> Refusal {
        let newtons = |value: f64| Amount::of(Kind::Force, libm::round(value / 100.0) * 100.0).to_string();
        let reason = format!(
            "even at the most friction {} would ask {} of {} {}, which yields at {} and breaks at {}",
            self.torque.typed(),
            newtons(low),
            self.thread,
            self.class,
            newtons(bears.yields),
            newtons(bears.breaks)
        );
        Refusal::impossible(
            "a preload by this torque",
            reason,
            "take less torque, and look whether it is for this bolt",
        )
    }
}

/// The least and the most friction of one place.
fn frictions(answer: &mut Answer, fields: [&str; 2], said: [&Amount; 2]) -> Result<[f64; 2], Refusal> {
    for (field, amount) in fields.into_iter().zip(said) {
        answer.given(field, amount);
    }
    let least = within(fields[0], said[0], Kind::Number, FRICTIONS)?;
    let most = within(fields[1], said[1], Kind::Number, FRICTIONS)?;
    if least > most {
        let problem = format!("the least friction, {least}, is above the most, {most}");
        return Err(Refusal::contradiction(fields[0], problem, "exchange the two"));
    }
    Ok([least, most])
}
