//! Torque from a wanted preload: the equation with its three parts, the unsimplified one beside it, and the short form.

use super::strength::Bears;
use super::{ISO_STRENGTH, ISO_THREADS, ISO_TORQUE, PropertyClass, Thread, tightening_cautions};
use crate::answer::{Answer, FOLLOWS_TORQUE, Rounding, Source, SourceKind, Standing, Sureness};
use crate::check::{Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// Friction in the thread and under the head.
#[derive(Debug, Clone, PartialEq)]
pub struct Friction {
    /// In the thread, μth.
    pub thread: Amount,
    /// Under the head or nut, μb.
    pub bearing: Amount,
}

/// What the head rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Bearing {
    /// Outer diameter of the face that turns.
    pub face: Amount,
    /// Diameter of the hole under it.
    pub hole: Amount,
}

/// How much preload is wanted.
#[derive(Debug, Clone, PartialEq)]
pub enum Preload {
    /// A force.
    Force(Amount),
    /// A share of the proof load.
    OfProof(Amount),
}

/// Nominal size, washer face of a hexagon head (ISO 4014, least, to a tenth) and clearance hole (ISO 273, medium): both
/// from memory.
const HEXAGONS: &[(f64, f64, f64)] = &[
    (4.0, 5.9, 4.5),
    (5.0, 6.9, 5.5),
    (6.0, 8.9, 6.6),
    (8.0, 11.6, 9.0),
    (10.0, 14.6, 11.0),
    (12.0, 16.6, 13.5),
    (14.0, 19.6, 15.5),
    (16.0, 22.5, 17.5),
    (20.0, 28.2, 22.0),
    (24.0, 33.6, 26.0),
];

pub(super) const FRICTIONS: Range = Range {
    least: 0.04,
    most: 0.4,
    covered: "friction between metal faces",
    todo: "look the friction up for the coating and lubricant, or use the manufacturer's torque",
};

/// The usual constants of the printed equation: 1/2π and half of 1/cos 30°, rounded.
const OF_PITCH: f64 = 0.159;
const OF_THREAD: f64 = 0.578;

/// Everything of the equation that is not force, in millimetres.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arms {
    pub pitch: f64,
    pub thread: f64,
    pub bearing: f64,
    pub unsimplified: f64,
}

impl Arms {
    pub fn of(thread: Thread, mu_thread: f64, mu_bearing: f64, mean_diameter_mm: f64) -> Self {
        let (pitch, d2) = (thread.pitch_mm(), thread.pitch_diameter_mm());
        let bearing = 0.5 * mean_diameter_mm * mu_bearing;
        let wedge = mu_thread / libm::cos(std::f64::consts::FRAC_PI_6);
        let pi = std::f64::consts::PI;
        let full = 0.5 * (pitch + pi * wedge * d2) / (pi - wedge * pitch / d2) + bearing;
        Self { pitch: OF_PITCH * pitch, thread: OF_THREAD * d2 * mu_thread, bearing, unsimplified: full }
    }

    pub fn sum(self) -> f64 {
        self.pitch + self.thread + self.bearing
    }
}

pub(super) const MM_PER_M: f64 = 1e3;

/// The mean diameter on which friction under the head acts.
pub(super) fn mean_diameter_mm(answer: &mut Answer, thread: Thread, bearing: Option<&Bearing>) -> Result<f64, Refusal> {
    let (face, hole) = match bearing {
        Some(bearing) => {
            answer.given("bearing.face", &bearing.face);
            answer.given("bearing.hole", &bearing.hole);
            let d = thread.diameter_mm();
            let sized = |most: f64| plausible(d, d * most);
            let face = within("bearing.face", &bearing.face, Kind::Length, sized(6.0))?;
            (face, within("bearing.hole", &bearing.hole, Kind::Length, sized(3.0))?)
        }
        None => usual_bearing(answer, thread)?,
    };
    if face <= hole {
        return Err(Refusal::contradiction(
            "bearing.face",
            format!("a face of {face} mm does not rest on a hole of {hole} mm"),
            "measure the face and the hole again",
        ));
    }
    Ok(f64::midpoint(face, hole))
}

fn usual_bearing(answer: &mut Answer, thread: Thread) -> Result<(f64, f64), Refusal> {
    let size = HEXAGONS.iter().find(|size| (size.0 - thread.diameter_mm()).abs() < 1e-9);
    let Some((_, face, hole)) = size.copied() else {
        return Err(Refusal::Unknown {
            field: "bearing".to_owned(),
            given: format!("head of {thread}"),
            list: "the hexagon heads that are kept here; give the diameters of face and hole",
            known: HEXAGONS.iter().map(|size| format!("M{}", size.0)).collect::<Vec<_>>().join(", "),
        });
    };
    let why = "hexagon head of ISO 4014 over a medium hole of ISO 273, from memory";
    answer.taken("bearing.face", &Amount::of(Kind::Length, face), Standing::Usual(why));
    answer.taken("bearing.hole", &Amount::of(Kind::Length, hole), Standing::Usual(why));
    Ok((face, hole))
}

/// In the thread and under the head, the usual one where nobody says.
pub(super) fn friction(answer: &mut Answer, friction: Option<&Friction>) -> Result<(f64, f64), Refusal> {
    let usual = (Kind::Number, USUAL_FRICTION);
    let thread = friction.map(|friction| &friction.thread);
    let bearing = friction.map(|friction| &friction.bearing);
    let thread = answer.or_usual("friction.thread", thread, usual, FRICTION_WHY);
    let bearing = answer.or_usual("friction.bearing", bearing, usual, FRICTION_WHY);
    let thread = within("friction.thread", &thread, Kind::Number, FRICTIONS)?;
    Ok((thread, within("friction.bearing", &bearing, Kind::Number, FRICTIONS)?))
}

/// The preload as a force, never above the proof load.
fn wanted_n(answer: &mut Answer, preload: Option<&Preload>, proof_n: f64) -> Result<f64, Refusal> {
    let usual = || Preload::OfProof(Amount::of(Kind::Share, USUAL_OF_PROOF));
    let wanted = preload.cloned().unwrap_or_else(usual);
    let (amount, kind, most, covered) = match &wanted {
        Preload::Force(force) => (force, Kind::Force, proof_n, "a preload below the proof load of this bolt"),
        Preload::OfProof(share) => (share, Kind::Share, 100.0, "elastic tightening, by share of the proof load"),
    };
    let standing = if preload.is_some() { Standing::Given } else { Standing::Usual(OF_PROOF_WHY) };
    answer.taken("preload", amount, standing);
    let todo = "ask for less, or for a stronger bolt; past yield only by the manufacturer's torque and angle";
    // Below a thousandth of it nothing is tight, and the number was meant otherwise.
    let value = within("preload", amount, kind, Range { least: most / 1000.0, most, covered, todo })?;
    Ok(match wanted {
        Preload::Force(_) => value,
        Preload::OfProof(_) => value / 100.0 * proof_n,
    })
}

/// Torque that gives a wanted preload.
#[derive(Debug, Clone, PartialEq)]
pub struct TorqueFromPreload {
    /// The thread.
    pub thread: Thread,
    /// The bolt's class.
    pub class: PropertyClass,
    /// How tight; 75 % of the proof load when it is not said.
    pub preload: Option<Preload>,
    /// Thread and head friction; 0.12 in both when it is not said.
    pub friction: Option<Friction>,
    /// What the head rests on; a plain hexagon head over a medium hole when it is not said.
    pub bearing: Option<Bearing>,
    /// The manufacturer's torque: it stands in the place of the reckoned one, and the other figures follow it.
    pub maker: Option<Amount>,
}

/// What is taken where nobody says how slippery and how tight. Common practice.
const USUAL_FRICTION: f64 = 0.12;
const FRICTION_WHY: &str = "common practice for lightly oiled steel";
const USUAL_OF_PROOF: f64 = 75.0;
const OF_PROOF_WHY: &str = "common practice for bolts that are undone again, as a share of the proof load";

/// The factor of the short form that is in everybody's head.
const USUAL_K: f64 = 0.2;
/// From here on the short form is told to overtighten: twice what a good wrench may be off by.
const OVERTIGHT: f64 = 1.08;

impl TorqueFromPreload {
    /// The torque, its parts, and what the short form would have said.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "T = F·(0.159·P + 0.578·d2·μth + 0.5·Db·μb), Db = (face + hole)/2; unsimplified: \
                       T = F·[½·(P + κπ·μth·d2)/(π − κ·μth·P/d2) + ½·Db·μb], κ = 1/cos 30°";
        let title = "Torque for a preload";
        let mut answer = Answer::new(title, formula, &[ISO_TORQUE, ISO_STRENGTH, ISO_THREADS]);
        answer.word("thread", self.thread.to_string());
        answer.word("class", self.class.to_string());
        let bears = Bears::of(self.thread, self.class)?;
        let force_n = wanted_n(&mut answer, self.preload.as_ref(), bears.proof)?;
        let (mu_thread, mu_bearing) = friction(&mut answer, self.friction.as_ref())?;
        let mean = mean_diameter_mm(&mut answer, self.thread, self.bearing.as_ref())?;
        let arms = Arms::of(self.thread, mu_thread, mu_bearing, mean);
        answer.add("torque", "Torque", force_n * arms.sum() / MM_PER_M, "N.m", Rounding::Digits(3));
        tightening_cautions(&mut answer);
        let force_n = match &self.maker {
            Some(maker) => by_maker(&mut answer, maker, arms, bears)?,
            None => force_n,
        };
        self.tell(&mut answer, force_n, bears, arms);
        Ok(answer)
    }

    /// Everything beside the torque, by what an elastic bolt would pull with.
    fn tell(&self, answer: &mut Answer, elastic_n: f64, bears: Bears, arms: Arms) {
        let three = Rounding::Digits(3);
        let newton_metres = |arm_mm: f64| elastic_n * arm_mm / MM_PER_M;
        let reached_n = bears.reached(elastic_n);
        let k = arms.sum() / self.thread.diameter_mm();
        let short = reached_n * USUAL_K * self.thread.diameter_mm() / MM_PER_M;
        answer.add("preload", bears.label("Preload", elastic_n), reached_n, "N", three);
        let share = reached_n / bears.proof * 100.0;
        answer.add("share_of_proof", "Share of the proof load", share, "%", Rounding::Places(0));
        answer.add("stretching", "Of it for the pitch, which stretches", newton_metres(arms.pitch), "N.m", three);
        answer.add("thread_friction", "Of it for the thread's friction", newton_metres(arms.thread), "N.m", three);
        answer.add("head_friction", "Of it for friction under the head", newton_metres(arms.bearing), "N.m", three);
        answer.add("unsimplified", "By the unsimplified equation", newton_metres(arms.unsimplified), "N.m", three);
        answer.add("k", "Nut factor K that this comes to", k, "1", three);
        answer.add("short_form", "By the short form with K = 0.2", short, "N.m", three);
        if USUAL_K > k * OVERTIGHT {
            let by_short_n = short * MM_PER_M / arms.sum();
            let end = if by_short_n > bears.yields {
                "the bolt yields before that".to_owned()
            } else {
                format!("that is {:.0} % of the proof load", by_short_n / bears.proof * 100.0)
            };
            let (short, more) = (three.of(short), (USUAL_K / k - 1.0) * 100.0);
            let text = format!(
                "The short form with K = 0.2 would say {short} N.m, {more:.0} % more than is wanted at this friction: {end}."
            );
            answer.caution(SignalWord::Warning, text);
        }
    }
}

/// Puts the manufacturer's torque in its place; gives what an elastic bolt would pull with at it.
fn by_maker(answer: &mut Answer, maker: &Amount, arms: Arms, bears: Bears) -> Result<f64, Refusal> {
    let torque = within("manufacturer", maker, Kind::Torque, plausible(0.1, 5000.0))?;
    answer.put_manufacturers("torque", maker)?;
    let elastic_n = torque * MM_PER_M / arms.sum();
    answer.conclude_and_ask(
        Sureness::Certain,
        FOLLOWS_TORQUE,
        "The friction that the manufacturer's torque is meant for.",
    );
    bears.caution(answer, "At the manufacturer's torque and this friction", elastic_n);
    Ok(elastic_n)
}

/// Torque by the short form T = K·d·F.
#[derive(Debug, Clone, PartialEq)]
pub struct ShortForm {
    /// The thread.
    pub thread: Thread,
    /// The wanted force.
    pub preload: Amount,
    /// The nut factor; 0.2 when it is not said.
    pub k: Option<Amount>,
    /// The bolt's class, to be told when its proof load is exceeded.
    pub class: Option<PropertyClass>,
    /// Friction, to be told what the short form comes to.
    pub friction: Option<Friction>,
    /// What the head rests on, for the friction.
    pub bearing: Option<Bearing>,
}

const NUT_FACTORS: Source = Source {
    name: "short form with a nut factor K; 0.20 to 0.25 dry, 0.15 to 0.20 oiled",
    kind: SourceKind::CommonPractice,
};

impl ShortForm {
    /// The torque, and a warning where it overtightens.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Torque by the short form", "T = K·d·F", &[NUT_FACTORS, ISO_TORQUE]);
        answer.word("thread", self.thread.to_string());
        answer.given("preload", &self.preload);
        let force_n = within("preload", &self.preload, Kind::Force, plausible(1.0, 2e6))?;
        let usual = "dry steel, as everybody reckons";
        let k = answer.or_usual("k", self.k.as_ref(), (Kind::Number, USUAL_K), usual);
        let todo = "look the factor up for the lubricant";
        let factors = Range { least: 0.08, most: 0.4, covered: "what is known of nut factors", todo };
        let k = within("k", &k, Kind::Number, factors)?;
        let torque = k * self.thread.diameter_mm() * force_n / MM_PER_M;
        answer.add("torque", "Torque by the short form", torque, "N.m", Rounding::Digits(2));
        let bears = self.class.map(|class| Bears::of(self.thread, class)).transpose()?;
        let elastic_n = self.compared(&mut answer, force_n, torque, bears)?;
        if let (Some(class), Some(bears)) = (self.class, bears) {
            answer.word("class", class.to_string());
            let share = bears.reached(elastic_n) / bears.proof * 100.0;
            answer.add("share_of_proof", "Of the proof load", share, "%", Rounding::Places(0));
            bears.caution(&mut answer, "At this torque", elastic_n);
        }
        tightening_cautions(&mut answer);
        Ok(answer)
    }

    /// The force with which an elastic bolt would pull at this torque, at the friction that was said.
    fn compared(&self, answer: &mut Answer, force_n: f64, torque: f64, bears: Option<Bears>) -> Result<f64, Refusal> {
        let Some(said) = &self.friction else {
            answer.caution(
                SignalWord::Warning,
                "The short form knows no friction: on an oiled or coated bolt it overtightens, by a fifth and more.",
            );
            return Ok(force_n);
        };
        let (mu_thread, mu_bearing) = friction(answer, Some(said))?;
        let mean = mean_diameter_mm(answer, self.thread, self.bearing.as_ref())?;
        let arm = Arms::of(self.thread, mu_thread, mu_bearing, mean).sum();
        let reached_n = torque * MM_PER_M / arm;
        let label = "Preload that it reaches at this friction";
        let (label, shown) = match bears {
            Some(bears) => (bears.label(label, reached_n), bears.reached(reached_n)),
            None => (format!("{label}, of a bolt that bears it"), reached_n),
        };
        answer.add("reached", label, shown, "N", Rounding::Digits(3));
        answer.add("long_form", "Torque by the full equation", force_n * arm / MM_PER_M, "N.m", Rounding::Digits(3));
        if reached_n > force_n * OVERTIGHT {
            let over = (reached_n / force_n - 1.0) * 100.0;
            answer.caution(
                SignalWord::Warning,
                format!("The short form overtightens here: it asks for {over:.0} % more preload than was wanted."),
            );
        }
        Ok(reached_n)
    }
}
