//! What the trade does and nobody has written down: kept as data with that status, each with its answer.

use crate::answer::{Answer, Rounding, Source, SourceKind, Sureness};
use crate::check::{plausible, within};
use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;
use leadhand_facts::words::SignalWord;

const PRACTICE: Source = Source { name: "what the trade usually does", kind: SourceKind::CommonPractice };

/// Which colour a blade fuse has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BladeFuse {
    /// Its rating in tenths of an ampere, so that 7.5 A is 75.
    pub tenths: u32,
}

/// From memory; the middle ones are on every vehicle.
const COLOURS: [(u32, &str); 12] = [
    (10, "black"),
    (20, "grey"),
    (30, "violet"),
    (40, "pink"),
    (50, "tan"),
    (75, "brown"),
    (100, "red"),
    (150, "blue"),
    (200, "yellow"),
    (250, "clear"),
    (300, "green"),
    (400, "orange"),
];

fn amperes(tenths: u32) -> String {
    if tenths.is_multiple_of(10) { format!("{} A", tenths / 10) } else { format!("{}.{} A", tenths / 10, tenths % 10) }
}

const FUSE_EXAMPLE: &str = "15 A or 7.5 A";
/// Beyond this no blade fuse is made.
const AMPERES_MAX: f64 = 1000.0;

impl BladeFuse {
    /// Reads a rating in amperes: `15 A`, `7.5`, `7,5 A`.
    pub fn read(field: &str, text: &str) -> Result<Self, Refusal> {
        let number = text.trim().trim_end_matches(['A', 'a']).trim_end();
        let unreadable = |why: &str| Refusal::Unreadable {
            field: field.to_owned(),
            typed: text.trim().chars().filter(|letter| !letter.is_control()).take(20).collect(),
            why: why.to_owned(),
            example: FUSE_EXAMPLE,
        };
        let plain = Amount::read(Kind::Number, field, number).map_err(|_| unreadable("it is no number of amperes"))?;
        let tenths = plain.value() * 10.0;
        if !(0.0..=AMPERES_MAX).contains(&plain.value()) || libm::fabs(tenths - libm::round(tenths)) > 1e-6 {
            return Err(unreadable("no blade fuse is made so"));
        }
        // A whole number below ten thousand.
        Ok(Self { tenths: format!("{tenths:.0}").parse().unwrap_or(0) })
    }

    /// The colour.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let Some((_, colour)) = COLOURS.iter().find(|row| row.0 == self.tenths) else {
            return Err(Refusal::Unknown {
                field: "rating".to_owned(),
                given: format!("blade fuse of {}", amperes(self.tenths)),
                list: "the colours that are kept here; read the figure on the fuse",
                known: COLOURS.map(|row| amperes(row.0)).join(", "),
            });
        };
        let mut answer = Answer::new("Blade fuse", "a table by rating", &[PRACTICE]);
        answer.word("rating", amperes(self.tenths));
        answer.list_of("colour", vec![(*colour).to_owned()]);
        answer.conclude(Sureness::Likely, format!("{} is {colour}; the figure on it counts.", amperes(self.tenths)));
        answer.caution(
            SignalWord::Warning,
            "Never a larger fuse than the one that belongs there: the cable burns first.",
        );
        Ok(answer)
    }
}

/// How a rounded head is undone.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundedHead {
    /// What it was across flats.
    pub width: Amount,
}

impl RoundedHead {
    /// Gentle things first.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        let width = within("width", &self.width, Kind::Length, plausible(5.0, 60.0))?;
        let mut answer = Answer::new("Rounded head", "the next millimetre down, driven on", &[PRACTICE]);
        answer.given("width", &self.width);
        let next = libm::ceil(width) - 1.0;
        answer.add("socket", "Socket to drive on", next, "mm", Rounding::Places(0));
        let steps = [
            "Penetrant, and time for it to creep, before any force.".to_owned(),
            format!("A six-point socket of {next} mm driven on; six points before twelve."),
            "A small impact tool in light blows, both ways.".to_owned(),
            "An extractor, then heat where nothing near it burns, then the drill.".to_owned(),
            "A new bolt goes in; this one is scrap.".to_owned(),
        ];
        answer.list_of("steps", steps.to_vec());
        answer.conclude_and_ask(
            Sureness::Possible,
            "It moves at one of these, gentle things first.",
            "Each attempt, noted.",
        );
        answer.caution(
            SignalWord::Warning,
            "Eyes and ears covered, impact sockets only, somebody on fire watch when there is heat.",
        );
        Ok(answer)
    }
}

/// In which order the leads of a battery go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BatteryLeads {
    /// They come off.
    Off,
    /// They go on.
    On,
}

impl BatteryLeads {
    /// The order.
    pub fn reckon(self) -> Result<Answer, Refusal> {
        let mut answer = Answer::new("Battery leads", "earth off first and on last", &[PRACTICE]);
        let mut order = vec!["earth lead".to_owned(), "other lead".to_owned()];
        if self == Self::On {
            order.reverse();
        }
        answer.word("direction", if self == Self::Off { "off" } else { "on" });
        answer.list_of("order", order);
        answer.caution(
            SignalWord::Warning,
            "Batteries give off explosive gas: goggles on, rings off, insulated tools, no sparks.",
        );
        Ok(answer)
    }
}
