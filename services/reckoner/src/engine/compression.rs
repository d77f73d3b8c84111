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

    /// Whether it rises with oil; nothing where that was not tried. A cylinder with no compression at all that gains some has
    /// risen beyond any share. Exactly the share counts, whatever a conversion leaves in the last bits.
    fn rose(&self, reading: &Reading) -> Option<bool> {
        let risen = |wet: f64| wet > reading.dry && wet >= reading.dry * (1.0 + self.rise / 100.0) - NOISE_KPA;
        reading.wet.map(risen)
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
        let (apart, together): (Vec<&Reading>, Vec<&Reading>) = low.iter().copied().partition(|one| is_own(one));
        all_low(answer, limits, &apart, &together);
    }
    for (one, other) in pairs(banks, &is_own) {
        pair_low(answer, limits, one, other);
    }
    // What all share is said once, and no cylinder has a fault of its own for it.
    for reading in low.into_iter().filter(|reading| is_own(reading)) {
        one_low(answer, reading, limits);
    }
}

/// Two low neighbours. Oil closes no gap in a gasket, so one that rises with it speaks against that.
fn pair_low(answer: &mut Answer, limits: &Limits, one: &Reading, other: &Reading) {
    let beside = if limits.in_order { "stand" } else { "may stand" };
    let mut text = format!(
        "Cylinders {} and {} {beside} side by side and are both low: the gasket between them, or a crack.",
        one.name, other.name
    );
    let risen: Vec<&str> =
        [one, other].into_iter().filter(|one| limits.rose(one) == Some(true)).map(|one| one.name.as_str()).collect();
    let sureness = if limits.in_order && risen.is_empty() { Sureness::Likely } else { Sureness::Possible };
    if !risen.is_empty() {
        text = format!(
            "{} Oil closes no gap there, and cylinder {} rose with it, which speaks for rings instead.",
            text,
            risen.join(" and ")
        );
    }
    answer.conclude_and_ask(sureness, text, "Leak-down on one with the plug of the other out: air comes across.");
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

/// All are below the least: one conclusion of what they share, by how those that lie near each other did with oil. Those
/// that lie apart besides are named.
fn all_low(answer: &mut Answer, limits: &Limits, apart: &[&Reading], together: &[&Reading]) {
    let least = Amount::of(Kind::Pressure, limits.least);
    let below = if limits.said {
        format!("All are below the least of {least}")
    } else {
        format!("All are below the {least} that are usual as the least, which nobody set here")
    };
    let hidden = if apart.is_empty() { ", and the spread does not show it" } else { "" };
    let (sureness, shared, more) = shared_by(limits, together);
    let besides = match apart {
        [] => String::new(),
        [one] => format!(" Cylinder {} lies far below the others besides.", one.name),
        several => format!(" Cylinders {} lie far below the others besides.", listed(several)),
    };
    answer.conclude_and_ask(sureness, format!("{below}{hidden}: {shared}.{besides}"), more);
}

/// What cylinders that are low together share, as usually taught: oil seals worn rings for a while and nothing else.
fn shared_by(limits: &Limits, together: &[&Reading]) -> (Sureness, String, &'static str) {
    const FIRST: &str =
        "Throttle fully open, a charged battery and a second gauge first; then the valve timing; then wear.";
    const LEAK: &str = "Throttle fully open, a charged battery and a second gauge first; then leak-down on each: air at the \
                        oil filler says rings, at throttle or tailpipe a valve.";
    let wet: Vec<&Reading> = together.iter().copied().filter(|one| one.wet.is_some()).collect();
    let (risen, same): (Vec<&Reading>, Vec<&Reading>) =
        wet.iter().copied().partition(|one| limits.rose(one) == Some(true));
    match (risen.as_slice(), same.as_slice()) {
        ([], []) => (Sureness::Likely, "something that all share".to_owned(), FIRST),
        ([], _) => {
            let shared = "something that all share, and not the rings, since oil raises none that was tried";
            (Sureness::Likely, shared.to_owned(), FIRST)
        }
        (_, []) => {
            let enough = risen.iter().all(|one| one.wet.is_some_and(|wet| wet >= limits.least - NOISE_KPA));
            let rest = if enough {
                "with oil they reach it"
            } else {
                "with oil they stay below it all the same, so something else that all share may come to it"
            };
            let all = if wet.len() == together.len() { "all rise" } else { "those that were tried rise" };
            (
                Sureness::Likely,
                format!("{all} when wet, which speaks for worn rings or bores in all of them; {rest}"),
                LEAK,
            )
        }
        (risen, same) => {
            let (verb, stay) = if risen.len() == 1 { ("rises", "cylinder") } else { ("rise", "cylinders") };
            let keeps = if same.len() == 1 { "does" } else { "do" };
            let text = format!(
                "{stay} {} {verb} when wet, which speaks for rings or bore there, and {} {keeps} not, so it is not one cause \
                 for all",
                listed(risen),
                listed(same)
            );
            (Sureness::Possible, text, LEAK)
        }
    }
}

fn listed(readings: &[&Reading]) -> String {
    let names: Vec<&str> = readings.iter().map(|one| one.name.as_str()).collect();
    match names.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        names => names.concat(),
    }
}

/// The low cylinders that stand beside each other.
fn pairs<'a>(banks: &'a [Vec<Reading>], is_low: &impl Fn(&Reading) -> bool) -> Vec<(&'a Reading, &'a Reading)> {
    let beside = banks.iter().flat_map(|bank| bank.windows(2));
    beside.filter(|two| two.iter().all(is_low)).map(|two| (&two[0], &two[1])).collect()
}

/// A cylinder with a fault of its own.
fn one_low(answer: &mut Answer, reading: &Reading, limits: &Limits) {
    let name = &reading.name;
    let text = match limits.rose(reading) {
        None => {
            let more = "The same again with a little oil in it, then leak-down.";
            answer.conclude_and_ask(Sureness::Certain, format!("Cylinder {name} is low."), more);
            return;
        }
        Some(true) => format!("Cylinder {name} rises when wet: rings or bore."),
        Some(false) => format!("Cylinder {name} stays low when wet: a valve or its seat, or the gasket."),
    };
    answer.conclude_and_ask(Sureness::Likely, text, "Leak-down: where the air comes out says which.");
}
