//! Torque, then angle: what each stage reaches while the bolt is elastic, and where it no longer is.

use super::torque;
use super::{Bearing, Friction, ISO_STRENGTH, ISO_THREADS, ISO_TORQUE, PropertyClass, Thread};
use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// How the bolt is seated before it is turned by angle.
#[derive(Debug, Clone, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "there is one of it in a question")]
pub enum Seated {
    /// To a preload.
    Preload(Amount),
    /// By a torque, at a friction.
    Torque {
        /// The torque.
        torque: Amount,
        /// Thread and head friction.
        friction: Friction,
        /// What the head rests on; a plain hexagon head over a medium hole when it is not said.
        bearing: Option<Bearing>,
    },
}

/// A tightening by a seating torque and then by angles.
#[derive(Debug, Clone, PartialEq)]
pub struct TorqueThenAngle {
    /// The thread.
    pub thread: Thread,
    /// The bolt's class.
    pub class: PropertyClass,
    /// How it is seated first.
    pub seated: Seated,
    /// The angles, one after the other.
    pub angles: Vec<Amount>,
    /// The length of bolt that stretches.
    pub length: Amount,
    /// The bolt's elastic modulus; 205 GPa when it is not said.
    pub modulus: Option<Amount>,
    /// How many times stiffer the clamped parts are than the bolt; 5 when it is not said.
    pub joint: Option<Amount>,
}

const ELASTIC: Source = Source {
    name: "two springs in line, the bolt as a bar of its stress area (textbook, from memory)",
    kind: SourceKind::Published,
};
/// What counts for every bolt that was tightened by an angle.
pub(crate) const BY_ANGLE: &str = "A bolt tightened by angle is never checked with a torque wrench afterwards, and one that \
                                   was turned again is renewed. Record bolt, stage and angle as you go.";
const USUAL_MODULUS_KPA: f64 = 205e6;
const USUAL_JOINT: f64 = 5.0;
const KPA_PER_MPA: f64 = 1e3;
const MOST_STAGES: usize = 6;
/// What a tightening past yield usually stretches a bolt for good, in per cent of its length; from memory.
const USUAL_STRETCH: f64 = 1.0;
const STRETCH: Source = Source {
    name: "ISO 898-1, Table 3: least stretch after the break (from memory); a bolt past yield stretches by what it is turned",
    kind: SourceKind::StandardFromCopies,
};

impl TorqueThenAngle {
    /// Preload by stage.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "ΔF = θ/360°·P·kb·kj/(kb + kj), kb = E·As/L, at most Rp0.2·As";
        let mut answer = Answer::new("Torque, then angle", formula, &[ELASTIC, ISO_TORQUE, ISO_STRENGTH, ISO_THREADS]);
        answer.word("thread", self.thread.to_string());
        answer.word("class", self.class.to_string());
        answer.given("length", &self.length);
        let yield_n = self.class.yield_load_n(self.thread)?;
        let seated = self.seated_n(&mut answer, yield_n)?;
        let stiffness = self.stiffness_n_per_mm(&mut answer)?;
        let angles = self.angles_deg(&mut answer)?;
        let per_degree = self.thread.pitch_mm() / 360.0 * stiffness;
        let turned: f64 = angles.iter().sum();
        let elastic = turned.min((yield_n - seated) / per_degree);
        let (pitch, length) = (self.thread.pitch_mm(), self.length.value());
        let past = Past { turned, elastic, pitch, length, breaks: self.class.breaking_stretch_percent() };
        past.refuse_broken(self.class)?;
        stages(&mut answer, seated, &angles, per_degree, yield_n);
        past.tell(&mut answer);
        Ok(answer)
    }

    /// The preload after seating, which is below yield.
    fn seated_n(&self, answer: &mut Answer, yield_n: f64) -> Result<f64, Refusal> {
        let todo = "seat it with less torque";
        let seats = Range { least: 0.0, most: yield_n, covered: "an elastic bolt", todo };
        match &self.seated {
            Seated::Preload(preload) => {
                answer.given("seated", preload);
                within("seated", preload, Kind::Force, seats)
            }
            Seated::Torque { torque, friction, bearing } => {
                answer.given("seated", torque);
                let torque = within("seated", torque, Kind::Torque, plausible(0.0, 5000.0))?;
                let (mu_thread, mu_bearing) = torque::friction(answer, Some(friction))?;
                let mean = torque::mean_diameter_mm(answer, self.thread, bearing.as_ref())?;
                let arms = torque::Arms::of(self.thread, mu_thread, mu_bearing, mean);
                let reached = Amount::of(Kind::Force, torque * torque::MM_PER_M / arms.sum());
                within("seated", &reached, Kind::Force, seats)
            }
        }
    }

    fn stiffness_n_per_mm(&self, answer: &mut Answer) -> Result<f64, Refusal> {
        let length = within("length", &self.length, Kind::Length, plausible(5.0, 1000.0))?;
        let modulus = (Kind::Pressure, USUAL_MODULUS_KPA);
        let modulus = answer.or_usual("modulus", self.modulus.as_ref(), modulus, "steel");
        let metals = plausible(40e6, 250e6);
        let modulus = within("modulus", &modulus, Kind::Pressure, metals)? / KPA_PER_MPA;
        let why = "clamped parts about five times as stiff as the bolt";
        let joint = answer.or_usual("joint", self.joint.as_ref(), (Kind::Number, USUAL_JOINT), why);
        let joint = within("joint", &joint, Kind::Number, plausible(0.2, 50.0))?;
        let bolt = modulus * self.thread.tabulated_stress_area_mm2() / length;
        Ok(bolt * joint / (1.0 + joint))
    }

    fn angles_deg(&self, answer: &mut Answer) -> Result<Vec<f64>, Refusal> {
        if self.angles.is_empty() || self.angles.len() > MOST_STAGES {
            return Err(Refusal::contradiction(
                "angles",
                format!("there are {} stages of angle", self.angles.len()),
                format!("give 1 to {MOST_STAGES}"),
            ));
        }
        let mut degrees = Vec::new();
        for (index, angle) in self.angles.iter().enumerate() {
            let field = format!("angles[{index}]");
            answer.given(&field, angle);
            degrees.push(within(&field, angle, Kind::Angle, plausible(1.0, 360.0))?);
        }
        Ok(degrees)
    }
}

/// What a tightening turns a bolt past its yield.
#[derive(Debug, Clone, Copy)]
struct Past {
    /// Degrees in all.
    turned: f64,
    /// Degrees up to yield.
    elastic: f64,
    pitch: f64,
    length: f64,
    /// Per cent of its length at which it has broken.
    breaks: f64,
}

impl Past {
    /// How far it stretches for good, in per cent of its length: what a turn past yield screws in goes into the bolt.
    fn stretch(self) -> f64 {
        (self.turned - self.elastic) / 360.0 * self.pitch / self.length * 100.0
    }

    fn refuse_broken(self, class: PropertyClass) -> Result<(), Refusal> {
        if self.stretch() < self.breaks {
            return Ok(());
        }
        let most = self.elastic + self.breaks / 100.0 * self.length / self.pitch * 360.0;
        let reason = format!(
            "{}° in all stretch the bolt by {} % of its {} mm for good, and class {class} breaks from {} % on (least stretch \
             by ISO 898-1, from memory), which is {}°",
            Rounding::Places(0).of(self.turned),
            Rounding::Digits(2).of(self.stretch()),
            Rounding::Digits(3).of(self.length),
            self.breaks,
            Rounding::Down(0).of(most)
        );
        let todo = "look at the angles and at the length that stretches, and take the manufacturer's";
        Err(Refusal::impossible("such a tightening", reason, todo))
    }

    /// What is past yield, with a caution where it is further than such a tightening usually goes.
    fn tell(self, answer: &mut Answer) {
        let stretch = self.stretch();
        if stretch <= 0.0 {
            return;
        }
        answer.sources.push(STRETCH);
        answer.add("stretch", "Stretched for good, of its length", stretch, "%", Rounding::Digits(2));
        if stretch <= USUAL_STRETCH {
            let text = "The bolt finishes past yield, as such a tightening usually means to: it is renewed each time it is \
                        undone.";
            answer.conclude_and_ask(Sureness::Likely, text, "The manufacturer's word on using the bolts again.");
            return;
        }
        let text = "The bolt finishes further past yield than such a tightening usually means to.";
        answer.conclude_and_ask(Sureness::Likely, text, "The manufacturer's angles, and the length that stretches.");
        let (told, breaks) = (Rounding::Digits(2).of(stretch), self.breaks);
        let (word, what) = if stretch * 2.0 > breaks {
            (SignalWord::Danger, "It may break under your hand")
        } else {
            (SignalWord::Warning, "Usual is up to 1 %")
        };
        let text = format!(
            "It stretches by {told} % of its length for good, and breaks from {breaks} % on, sooner where only a short piece \
             of thread is free. {what}: take the manufacturer's angles, and look at each again."
        );
        answer.caution(word, text);
    }
}

fn stages(answer: &mut Answer, seated: f64, angles: &[f64], per_degree: f64, yield_n: f64) {
    let two = Rounding::Digits(2);
    let (mut elastic, mut turned) = (seated, 0.0);
    let mut told = vec![format!("seated: {} N", two.of(seated))];
    for angle in angles {
        elastic += angle * per_degree;
        turned += angle;
        let reached = if elastic > yield_n {
            format!("at yield, {} N (elastic would be {} N)", two.of(yield_n), two.of(elastic))
        } else {
            format!("{} N", two.of(elastic))
        };
        told.push(format!("+{}°, {turned}° in all: {reached}", Rounding::Places(0).of(*angle)));
    }
    answer.add("preload", "Preload at the end", elastic.min(yield_n), "N", two);
    answer.add("elastic", "What an elastic bolt would have", elastic, "N", two);
    answer.add("yield_load", "Load at yield", yield_n, "N", two);
    answer.add("turned", "Turned in all", turned, "deg", Rounding::Places(0));
    answer.add("per_degree", "Preload for each degree", per_degree, "N/deg", two);
    answer.list_of("stages", told);
    if elastic <= yield_n {
        answer.conclude(Sureness::Likely, "The bolt stays elastic, if it is as stiff as was reckoned.");
    }
    answer.caution(SignalWord::Warning, BY_ANGLE);
}
