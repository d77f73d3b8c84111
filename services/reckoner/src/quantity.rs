//! Quantities as people type them: `95 Nm`, `70 lbf.ft`, `6.8 L`, `-30 °C`, `0,05 mm`.
//!
//! A unit is always asked for, and what may mean two things is refused: nobody finds a silent wrong unit later.

mod number;
mod units;

use crate::answer::{Answer, Rounding, Source, SourceKind};
use crate::refusal::Refusal;
pub use units::{Kind, shown_unit};
use units::{Spelt, Unit};
pub(crate) use units::{converted, kind_of};

/// A quantity, in its kind's own unit, with what was typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    kind: Kind,
    value: f64,
    typed: String,
    unit: &'static str,
}

const NANO_OR_NEWTON: &str = "nm is a nanometre, and N.m a newton metre; write N.m";

const DISTANCE: &str = "48210 km or 30000 mi";

/// The longest text that is read; what is longer is no quantity.
const LONGEST: usize = 60;

impl Amount {
    /// Reads what was typed into a field that wants this kind.
    pub fn read(kind: Kind, field: &str, text: &str) -> Result<Self, Refusal> {
        let (number, unit) = split(kind, field, text)?;
        match units::find(kind, unit) {
            Spelt::Known(unit) => Self::made(unit, number, field, text),
            Spelt::TwoMeanings(why) => Err(unit_refusal(kind, field, text, why.to_owned())),
            Spelt::Nothing => Err(unit_refusal(kind, field, text, strange(kind, unit))),
        }
    }

    /// Reads a quantity of whatever kind its unit says.
    pub fn read_any(field: &str, text: &str) -> Result<Self, Refusal> {
        let (number, unit) = split(Kind::Number, field, text)?;
        // A number alone is an angle where one is asked for, and here nobody asks for one.
        let kinds = Kind::ALL.into_iter().filter(|kind| !unit.is_empty() || *kind == Kind::Number);
        let known: Vec<&Unit> = kinds.filter_map(|kind| units::find(kind, unit).known()).collect();
        match known.as_slice() {
            // Of a text that names no kind nobody can tell.
            [_] if unit == "nm" => Err(unit_refusal(Kind::Number, field, text, NANO_OR_NEWTON.to_owned())),
            [unit] => Self::made(unit, number, field, text),
            [] => Err(strange_everywhere(field, text, unit)),
            _ => Err(unit_refusal(Kind::Number, field, text, format!("\"{}\" is a unit of several kinds", cut(unit)))),
        }
    }

    /// Reads so many to one, as a compression ratio is said: `10`, `10:1`, `10 to 1`.
    pub fn read_ratio(field: &str, text: &str) -> Result<Self, Refusal> {
        let to_one = |mark: &str| text.split_once(mark).filter(|(_, one)| one.trim() == "1");
        let so_many = match to_one(":").or_else(|| to_one("to")) {
            Some((so_many, _)) => so_many,
            None if text.contains(':') => {
                let why = "such a ratio is so many to one";
                let (field, typed) = (field.to_owned(), cut(text));
                return Err(Refusal::Unreadable { field, typed, why: why.to_owned(), example: "10:1 or 10" });
            }
            None => text,
        };
        let read = Self::read(Kind::Number, field, so_many)?;
        Ok(Self { typed: text.trim().to_owned(), ..read })
    }

    /// Reads a distance that a vehicle has gone, which nobody writes in millimetres.
    pub fn read_distance(field: &str, text: &str) -> Result<Self, Refusal> {
        Self::read(Kind::Length, field, text).map_err(|refusal| match refusal {
            Refusal::Unreadable { field, typed, why, .. } => {
                Refusal::Unreadable { field, typed, why, example: DISTANCE }
            }
            Refusal::Unit { field, typed, why, .. } => {
                Refusal::Unit { field, typed, wanted: "distance", why, example: DISTANCE }
            }
            other => other,
        })
    }

    /// Reads a difference of temperatures in degrees Celsius: `5`, `5 K`, `5 °C`, `9 °F`.
    pub fn read_degrees(field: &str, text: &str) -> Result<Self, Refusal> {
        let (number, unit) = split(Kind::Number, field, text)?;
        let Spelt::Known(scale) = units::find(Kind::Temperature, unit) else {
            return Self::read(Kind::Number, field, text);
        };
        // Of a scale only the step counts.
        let value = scale.to_own(number) - scale.to_own(0.0);
        Ok(Self { kind: Kind::Number, value, typed: text.trim().to_owned(), unit: Kind::Number.unit() })
    }

    /// Reads a time, or a number where the unit of time is left to whoever asks: `45 min`, `1.5h`, `45`.
    pub fn read_time(field: &str, text: &str) -> Result<Self, Refusal> {
        let plain = Self::read(Kind::Number, field, text);
        // What is neither is told as a time that it is not.
        if plain.is_ok() { plain } else { Self::read(Kind::Time, field, text) }
    }

    /// An amount in its kind's own unit.
    pub fn of(kind: Kind, value: f64) -> Self {
        Self { kind, value, typed: told(kind, value, ECHOED_DIGITS), unit: kind.unit() }
    }

    fn made(unit: &Unit, number: f64, field: &str, text: &str) -> Result<Self, Refusal> {
        let value = unit.to_own(number);
        let cold = unit.kind == Kind::Temperature && value < ABSOLUTE_ZERO_C;
        if cold {
            return Err(Refusal::OutOfRange {
                field: field.to_owned(),
                given: cut(text),
                least: written(&plain(ABSOLUTE_ZERO_C, ECHOED_DIGITS), "Cel").into(),
                most: "any heat".into(),
                covered: "what is possible",
                todo: "check the number and its unit",
            });
        }
        Ok(Self { kind: unit.kind, value, typed: text.trim().to_owned(), unit: unit.code })
    }

    /// What it measures.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// In its kind's own unit.
    pub fn value(&self) -> f64 {
        self.value
    }

    /// As it was typed.
    pub fn typed(&self) -> &str {
        &self.typed
    }

    /// The UCUM code of the unit in which it was typed.
    pub fn typed_unit(&self) -> &'static str {
        self.unit
    }

    /// In its own unit, when it is of this kind and a number at all.
    pub fn of_kind(&self, field: &str, kind: Kind) -> Result<f64, Refusal> {
        if self.kind != kind {
            return Err(unit_refusal(kind, field, &self.typed, format!("it is a {}", self.kind.name())));
        }
        if !self.value.is_finite() {
            return Err(unreadable(kind, field, &self.typed, "it is no finite number"));
        }
        Ok(self.value)
    }

    /// In another unit of its kind, named by UCUM code or as people write it.
    pub fn in_unit(&self, field: &str, unit: &str) -> Result<f64, Refusal> {
        self.of_kind(field, self.kind)?;
        match units::find(self.kind, unit) {
            Spelt::Known(unit) => Ok(unit.out_of_own(self.value)),
            Spelt::TwoMeanings(why) => Err(unit_refusal(self.kind, field, &self.typed, why.to_owned())),
            Spelt::Nothing => {
                let why = format!("a {} has no unit \"{}\"", self.kind.name(), cut(unit));
                Err(unit_refusal(self.kind, field, &self.typed, why))
            }
        }
    }
}

/// In its kind's own unit as people write it; lengths in kilometres from one on, pressures in gigapascals.
impl std::fmt::Display for Amount {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&told(self.kind, self.value, ECHOED_DIGITS))
    }
}

impl Amount {
    /// As it was taken: in another unit than it was typed in with four digits, since no gauge of a workshop has more.
    pub fn taken(&self) -> String {
        if self.typed_unit() == self.kind.unit() {
            self.to_string()
        } else {
            told(self.kind, self.value, CONVERTED_DIGITS)
        }
    }
}

const CONVERTED_DIGITS: u8 = 4;
const MM_PER_KM: f64 = 1e6;
const KPA_PER_GPA: f64 = 1e6;

fn told(kind: Kind, value: f64, digits: u8) -> String {
    match kind {
        Kind::Length if value.abs() >= MM_PER_KM => written(&plain(value / MM_PER_KM, digits), "km"),
        Kind::Pressure if value.abs() >= KPA_PER_GPA => written(&plain(value / KPA_PER_GPA, digits), "GPa"),
        _ => written(&plain(value, digits), kind.unit()),
    }
}

/// A number with its unit as people write it: `90°`, `-30 °C`, `205 GPa`.
pub(crate) fn written(number: &str, code: &str) -> String {
    match shown_unit(code) {
        "" => number.to_owned(),
        "°" => format!("{number}°"),
        unit => format!("{number} {unit}"),
    }
}

const ABSOLUTE_ZERO_C: f64 = -273.15;

/// So many digits say what was meant; more would be the noise of a conversion.
const ECHOED_DIGITS: u8 = 6;

fn plain(value: f64, digits: u8) -> String {
    let text = Rounding::Digits(digits).of(value);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// The number and the unit of a text.
fn split<'a>(kind: Kind, field: &str, text: &'a str) -> Result<(f64, &'a str), Refusal> {
    if text.trim().is_empty() {
        return Err(unreadable(kind, field, text, "nothing was typed"));
    }
    if text.chars().count() > LONGEST {
        return Err(unreadable(kind, field, text, "it is too long for a number with a unit"));
    }
    number::leading(text.trim()).map_err(|why| unreadable(kind, field, text, why))
}

fn strange(kind: Kind, unit: &str) -> String {
    if unit.is_empty() {
        return "its unit is missing".to_owned();
    }
    let other = Kind::ALL.into_iter().find(|other| matches!(units::find(*other, unit), Spelt::Known(_)));
    match other.filter(|other| *other != kind) {
        Some(other) => format!("\"{}\" is a unit of {}", cut(unit), other.name()),
        None => format!("nobody here knows the unit \"{}\"", cut(unit)),
    }
}

/// Of a unit that is none of any kind; what may mean two things of one kind is told as that.
fn strange_everywhere(field: &str, text: &str, unit: &str) -> Refusal {
    let vague = Kind::ALL.into_iter().find_map(|kind| match units::find(kind, unit) {
        Spelt::TwoMeanings(why) => Some((kind, why)),
        Spelt::Known(_) | Spelt::Nothing => None,
    });
    let (typed, field) = (cut(text), field.to_owned());
    if let Some((kind, why)) = vague {
        let wanted = if kind == Kind::Volume { "clear volume" } else { kind.name() };
        let example = if kind == Kind::Volume { "1 US qt, 1 imp qt or 1 L" } else { kind.example() };
        return Refusal::Unit { field, typed, wanted, why: why.to_owned(), example };
    }
    let why = format!("nobody here knows the unit \"{}\"", cut(unit));
    Refusal::Unit { field, typed, wanted: "quantity", why, example: "70 lbf.ft, 6.8 L or -30 °C" }
}

/// The beginning of a text that came from outside, fit for a sentence.
pub(crate) fn cut(text: &str) -> String {
    let text = text.trim();
    let mut kept: String = text.chars().filter(|letter| !letter.is_control()).take(LONGEST / 2).collect();
    if text.chars().count() > LONGEST / 2 {
        kept.push('…');
    }
    kept
}

fn unreadable(kind: Kind, field: &str, text: &str, why: &str) -> Refusal {
    Refusal::Unreadable { field: field.to_owned(), typed: cut(text), why: why.to_owned(), example: kind.example() }
}

fn unit_refusal(kind: Kind, field: &str, text: &str, why: String) -> Refusal {
    Refusal::Unit { field: field.to_owned(), typed: cut(text), wanted: kind.name(), why, example: kind.example() }
}

/// A quantity in another unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Conversion {
    /// What is to be converted.
    pub amount: Amount,
    /// Into which unit: its UCUM code, or as people write it.
    pub into: String,
}

pub(crate) const DEFINITIONS: Source = Source {
    name: "definitions of the units: SI Brochure; NIST SP 811, Appendix B (its factors from copies)",
    kind: SourceKind::Definition,
};

/// How many digits of a conversion are shown: more than any workshop's instrument has.
const DIGITS: u8 = 6;

/// What people mean by pounds where they ask for a torque or a force.
const POUNDS: &str = "; a torque in pounds is lbf.ft or lbf.in, and a force lbf";

impl Conversion {
    /// Refuses a unit of another kind by its own name, since the amount is none the worse for it.
    fn refuse_other_kind(&self) -> Result<(), Refusal> {
        let kind = self.amount.kind;
        let is = |kind: Kind| matches!(units::find(kind, &self.into), Spelt::Known(_));
        let Some(other) = Kind::ALL.into_iter().find(|other| is(*other)).filter(|_| !is(kind)) else { return Ok(()) };
        let pounds = kind == Kind::Mass && matches!(other, Kind::Torque | Kind::Force);
        let why = format!(
            "it is a unit of {}, and {} is a {}{}",
            other.name(),
            cut(&self.amount.typed),
            kind.name(),
            if pounds { POUNDS } else { "" }
        );
        let (field, typed) = ("into".to_owned(), cut(&self.into));
        Err(Refusal::Unit { field, typed, wanted: "unit for that", why, example: kind.unit_example() })
    }

    /// The amount in the other unit.
    pub fn reckon(&self) -> Result<Answer, Refusal> {
        self.refuse_other_kind()?;
        let value = self.amount.in_unit("into", &self.into)?;
        let Spelt::Known(unit) = units::find(self.amount.kind, &self.into) else {
            return Err(unit_refusal(self.amount.kind, "into", &self.into, strange(self.amount.kind, &self.into)));
        };
        let formula = "value × factor of its unit ÷ factor of the other; factors exact by definition";
        let mut answer = Answer::new("Conversion", formula, &[DEFINITIONS]);
        answer.given("amount", &self.amount);
        answer.word("into", self.into.trim());
        answer.add("converted", "Converted", value, unit.code, Rounding::Digits(DIGITS));
        Ok(answer)
    }
}
