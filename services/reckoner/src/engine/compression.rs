//! A set of compression readings, judged: each against the least that an engine runs on, all against each other, and wet
//! against dry.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{self, Range, plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

/// How the engine lights its fuel, which says what the usual least is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ignition {
    /// By a spark.
    Spark,
    /// By compression.
    Compression,
}

/// A cylinder's readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Cylinder {
    /// Its number or name.
    pub name: String,
    /// Dry.
    pub dry: Amount,
    /// With a little oil in it, where that was tried.
    pub wet: Option<Amount>,
}

/// A set of readings, by bank, each bank in the order in which its cylinders stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Compression {
    /// The banks; an inline engine has one.
    pub banks: Vec<Vec<Cylinder>>,
    /// How the engine lights its fuel; where nobody says, there is no usual least.
    pub ignition: Option<Ignition>,
    /// Whether the order of a bank is known to be the order in which its cylinders stand.
    pub in_order: bool,
    /// How far the lowest may lie below the highest, in per cent of the highest; 20 when it is not said.
    pub spread: Option<Amount>,
    /// The least that each must have.
    pub least: Option<Amount>,
    /// From which rise a wet reading counts as higher, in per cent of the dry one; 10 when it is not said.
    pub rise: Option<Amount>,
}

const PRACTICE: Source = Source {
    name: "throttle open, all plugs out, same number of strokes; wet test and neighbours as usually taught",
    kind: SourceKind::CommonPractice,
};
const USUAL_SPREAD: f64 = 20.0;
const USUAL_RISE: f64 = 10.0;
/// Nine bar for spark ignition, twenty for compression ignition, in kilopascals. Where nobody says which it is, what is
/// below the first is too little for both, and what reaches it may be too little all the same.
const USUAL_LEAST_KPA: [f64; 2] = [900.0, 2000.0];
const PRACTICE_WHY: &str = "common practice, where makers say 10 to 25 %";
const LEAST_WHY: &str = "common practice; the maker's figure differs by engine";
const EITHER_WHY: &str = "common practice with spark ignition; an engine that lights by compression needs more";
/// What a conversion of units loses is no rise.
const NOISE_KPA: f64 = 1e-6;
const MOST_CYLINDERS: usize = 24;

struct Reading {
    name: String,
    dry: f64,
    wet: Option<f64>,
}

struct Limits {
    spread: f64,
    least: f64,
    /// Whether somebody set the least.
    said: bool,
    /// Whether what reaches the least is enough.
    suffices: bool,
    rise: f64,
    in_order: bool,
}

impl Limits {
    // What a comparison of two doubles loses is not a fault of the engine.

    /// Whether a reading is below the least.
    fn is_under(&self, reading: &Reading) -> bool {
        reading.dry < self.least - 1e-9
    }

    /// Whether it lies further below the highest than it may.
    fn is_apart(&self, reading: &Reading, highest: f64) -> bool {
        reading.dry < highest * (1.0 - self.spread / 100.0) - 1e-9
    }
}

impl Compression {
    /// The spread, who is low, and what it may be.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let formula = "spread = (highest − lowest)/highest; wet rise = wet/dry − 1";
        let mut answer = Answer::new("Compression", formula, &[PRACTICE]);
        let banks = self.readings(&mut answer)?;
        let limits = self.limits(&mut answer)?;
        let all: Vec<&Reading> = banks.iter().flatten().collect();
        let highest = all.iter().map(|reading| reading.dry).fold(0.0, f64::max);
        let lowest = all.iter().map(|reading| reading.dry).fold(f64::INFINITY, f64::min);
        let spread = (highest - lowest) / highest * 100.0;
        answer.add("spread", "Lowest below highest", spread, "%", Rounding::Digits(2));
        answer.add("low_over_high", "Lowest over highest", lowest / highest, "1", Rounding::Places(2));
        answer.add("lowest", "Lowest", lowest, "kPa", Rounding::Digits(3));
        answer.add("highest", "Highest", highest, "kPa", Rounding::Digits(3));
        judge(&mut answer, &banks, &limits, highest);
        answer.caution(
            SignalWord::Warning,
            "The engine turns over: ignition and fuel off, hands and cables out of the way, nobody at the plug holes.",
        );
        Ok(answer)
    }

    fn readings(&self, answer: &mut Answer) -> Result<Vec<Vec<Reading>>, Refusal> {
        let count: usize = self.banks.iter().map(Vec::len).sum();
        if !(2..=MOST_CYLINDERS).contains(&count) || self.banks.iter().any(Vec::is_empty) {
            let problem = format!("{count} cylinders in {} banks are no set to compare", self.banks.len());
            let todo = format!("give 2 to {MOST_CYLINDERS} cylinders, and no empty bank");
            return Err(Refusal::contradiction("banks", problem, todo));
        }
        let pressures = plausible(0.0, 6000.0);
        let mut seen = Vec::new();
        let mut banks = Vec::new();
        for (at, bank) in self.banks.iter().enumerate() {
            let mut readings = Vec::new();
            for (index, cylinder) in bank.iter().enumerate() {
                let field = format!("banks[{at}].cylinders[{index}]");
                let name = named(&field, &cylinder.name, &mut seen)?;
                answer.given(&format!("cylinder {name}, dry"), &cylinder.dry);
                let dry = within(&format!("{field}.dry"), &cylinder.dry, Kind::Pressure, pressures)?;
                let wet = match &cylinder.wet {
                    Some(wet) => {
                        answer.given(&format!("cylinder {name}, wet"), wet);
                        Some(within(&format!("{field}.wet"), wet, Kind::Pressure, pressures)?)
                    }
                    None => None,
                };
                readings.push(Reading { name, dry, wet });
            }
            banks.push(readings);
        }
        if banks.iter().flatten().all(|reading| reading.dry == 0.0) {
            let todo = "check the gauge and its hose";
            return Err(Refusal::contradiction("banks", "no cylinder has any compression at all", todo));
        }
        Ok(banks)
    }

    fn limits(&self, answer: &mut Answer) -> Result<Limits, Refusal> {
        let share = |least, most, covered| Range { least, most, covered, todo: "check the limit" };
        let spread = answer.or_usual("spread", self.spread.as_ref(), (Kind::Share, USUAL_SPREAD), PRACTICE_WHY);
        let usual = USUAL_LEAST_KPA[usize::from(self.ignition == Some(Ignition::Compression))];
        let why = if self.ignition.is_some() { LEAST_WHY } else { EITHER_WHY };
        let least = answer.or_usual("least", self.least.as_ref(), (Kind::Pressure, usual), why);
        let rise = answer.or_usual("rise", self.rise.as_ref(), (Kind::Share, USUAL_RISE), "common practice");
        Ok(Limits {
            spread: within("spread", &spread, Kind::Share, share(1.0, 60.0, "a limit for the spread"))?,
            least: within("least", &least, Kind::Pressure, plausible(100.0, 5000.0))?,
            said: self.least.is_some(),
            suffices: self.least.is_some() || self.ignition.is_some(),
            in_order: self.in_order,
            rise: within("rise", &rise, Kind::Share, share(1.0, 100.0, "a rise when wet"))?,
        })
    }
}

fn named(field: &str, name: &str, seen: &mut Vec<String>) -> Result<String, Refusal> {
    let field = &format!("{field}.name");
    let name = check::name(field, "a cylinder", name)?;
    if seen.contains(&name) {
        let problem = format!("two cylinders are called {name}");
        return Err(Refusal::contradiction(field, problem, "give each a name of its own"));
    }
    seen.push(name.clone());
    Ok(name)
}

fn judge(answer: &mut Answer, banks: &[Vec<Reading>], limits: &Limits, highest: f64) {
    let is_low = |reading: &Reading| limits.is_apart(reading, highest) || limits.is_under(reading);
    let low: Vec<&Reading> = banks.iter().flatten().filter(|reading| is_low(reading)).collect();
    answer.list_of("low", low.iter().map(|reading| reading.name.clone()).collect());
    if low.is_empty() {
        none_low(answer, limits);
        return;
    }
    let all = banks.iter().flatten().all(|reading| limits.is_under(reading));
    // Where all are low, only those that lie apart from the others have a fault of their own.
    let is_own = |reading: &Reading| if all { limits.is_apart(reading, highest) } else { is_low(reading) };
    if all {
        let apart: Vec<&str> = low.iter().filter(|one| is_own(one)).map(|one| one.name.as_str()).collect();
        all_low(answer, limits, &apart);
    }
    for (one, other) in pairs(banks, &is_own) {
        let (sureness, beside) =
            if limits.in_order { (Sureness::Likely, "stand") } else { (Sureness::Possible, "may stand") };
        answer.conclude_and_ask(
            sureness,
            format!(
                "Cylinders {one} and {other} {beside} side by side and are both low: the gasket between them, or a crack."
            ),
            "Leak-down on one with the plug of the other out: air comes across.",
        );
    }
    for reading in low {
        one_low(answer, reading, limits, is_own(reading));
    }
}

fn none_low(answer: &mut Answer, limits: &Limits) {
    if limits.suffices {
        answer.conclude_and_ask(
            Sureness::Likely,
            "All are near each other and above the least: rings, valves and gasket seal.",
            "Leak-down, where something else says otherwise.",
        );
    } else {
        answer.conclude_and_ask(
            Sureness::Certain,
            "All are near each other; whether that is enough says the maker's least.",
            "The maker's least, or how the engine lights its fuel.",
        );
    }
}

/// All are below the least; those that lie apart besides are named.
fn all_low(answer: &mut Answer, limits: &Limits, apart: &[&str]) {
    let least = Amount::of(Kind::Pressure, limits.least);
    let below = if limits.said {
        format!("All are below the least of {least}")
    } else {
        format!("All are below the {least} that are usual as the least, which nobody set here")
    };
    let text = if let [first @ .., last] = apart {
        let names = if first.is_empty() { (*last).to_owned() } else { format!("{} and {last}", first.join(", ")) };
        format!("{below}: something that all share. Cylinder {names} lies far below the others besides.")
    } else {
        format!("{below}, and the spread does not show it: something that all share.")
    };
    answer.conclude_and_ask(
        Sureness::Likely,
        text,
        "Throttle fully open, a charged battery and a second gauge first; then the valve timing; then wear.",
    );
}

/// The low cylinders that stand beside each other.
fn pairs(banks: &[Vec<Reading>], is_low: &impl Fn(&Reading) -> bool) -> Vec<(String, String)> {
    let beside = banks.iter().flat_map(|bank| bank.windows(2));
    beside.filter(|two| two.iter().all(is_low)).map(|two| (two[0].name.clone(), two[1].name.clone())).collect()
}

/// `own` says that it has a fault of its own.
fn one_low(answer: &mut Answer, reading: &Reading, limits: &Limits, own: bool) {
    let name = &reading.name;
    let Some(wet) = reading.wet else {
        if own {
            answer.conclude_and_ask(
                Sureness::Certain,
                format!("Cylinder {name} is low."),
                "The same again with a little oil in it, then leak-down.",
            );
        }
        return;
    };
    // A cylinder with no compression at all that gains some has risen beyond any share. Exactly the share counts, whatever
    // a conversion leaves in the last bits.
    let rose = wet > reading.dry && wet >= reading.dry * (1.0 + limits.rise / 100.0) - NOISE_KPA;
    let text = if rose {
        format!("Cylinder {name} rises when wet: rings or bore.")
    } else {
        format!("Cylinder {name} stays low when wet: a valve or its seat, or the gasket.")
    };
    answer.conclude_and_ask(Sureness::Likely, text, "Leak-down: where the air comes out says which.");
}
