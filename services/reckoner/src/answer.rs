//! What an answer has: figures with unit and rounding, inputs, formula, sources, what follows and how sure that is, and
//! cautions.

mod beside;

pub use beside::Beside;

use crate::quantity::{Amount, Kind, cut, kind_of};
use crate::refusal::Refusal;
use crate::words::of_field;
use leadhand_facts::template::Caution;
use leadhand_facts::words::SignalWord;

/// From which share of what is reckoned on a manufacturer's figure is asked about.
const FAR_FROM_RECKONED: f64 = 0.3;
/// What is said of the figures beside one of the manufacturer's.
const NOT_FOLLOWED: &str = "The other figures go by what was reckoned and do not follow the manufacturer's.";
/// What is said where they do follow the manufacturer's torque.
pub(crate) const FOLLOWS_TORQUE: &str =
    "The other figures follow the manufacturer's torque, at the friction that was taken.";
/// What comes before every answer.
pub const DEFERENCE: &str = "The manufacturer's data, local codes and licensed practice come before this answer.";

/// An answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What was asked.
    pub title: &'static str,
    /// What it was reckoned from, as typed and as taken.
    pub inputs: Vec<Input>,
    /// The figures, the one that was asked for first.
    pub figures: Vec<Figure>,
    /// Orders of work and series, each with a name.
    pub lists: Vec<List>,
    /// What follows from the figures.
    pub conclusions: Vec<Conclusion>,
    /// The formula or method, by name and in signs.
    pub formula: &'static str,
    /// Where formula and data come from.
    pub sources: Vec<Source>,
    /// What to mind, gravest first.
    pub cautions: Vec<Caution>,
    /// What comes first: [`DEFERENCE`].
    pub deference: &'static str,
}

/// What an answer was reckoned from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// Its name.
    pub name: String,
    /// As it was taken, with its unit.
    pub taken: String,
    /// As it was typed; the same as `taken` where nothing was converted.
    pub typed: String,
    /// The UCUM code of the unit in which it was typed; none of a word.
    pub unit: Option<&'static str>,
    /// Who said it.
    pub standing: Standing,
}

/// Who said a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Whoever asked.
    Given,
    /// The job's books: what was recorded there.
    Job,
    /// Nobody did: the usual figure was taken, and why it is usual.
    Usual(&'static str),
    /// The manufacturer, which overrides what was reckoned.
    Manufacturer,
    /// It was reckoned.
    Reckoned,
}

/// A figure of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Its name in the answer, the same for every answer of this kind.
    pub name: &'static str,
    /// In words.
    pub label: String,
    /// In full, to go on reckoning with; what is shown is [`Figure::shown`].
    pub value: f64,
    /// Its UCUM code.
    pub unit: &'static str,
    /// How far it can be trusted.
    pub rounding: Rounding,
    /// Whose figure it is.
    pub standing: Standing,
    /// What was reckoned, where the manufacturer's figure stands in its place.
    pub reckoned: Option<f64>,
}

/// How a figure is rounded when it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// To so many digits.
    Digits(u8),
    /// To so many decimal places.
    Places(u8),
    /// Up to so many decimal places: what must suffice, and freezing points, which are to be taken warmer.
    Up(u8),
    /// Down to so many decimal places: what may not be exceeded.
    Down(u8),
    /// Of a chance in per cent that is not certain either way: whole, near both ends to a tenth, and never 0 or 100.
    Chance,
}

/// A named order or series.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List {
    /// Its name.
    pub name: &'static str,
    /// In order.
    pub entries: Vec<String>,
}

/// Something that follows from the figures.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conclusion {
    /// In one sentence.
    pub text: String,
    /// How sure.
    pub sureness: Sureness,
    /// What would tell more.
    pub tells_more: Option<String>,
}

/// How sure a conclusion is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sureness {
    /// It follows from the figures alone.
    Certain,
    /// It is the usual cause.
    Likely,
    /// It is one of several.
    Possible,
}

/// Where a formula, a figure or a rule comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    /// The standard, handbook, data set or practice.
    pub name: &'static str,
    /// What kind of source it is.
    pub kind: SourceKind,
}

/// What kind of source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SourceKind {
    /// A standard.
    Standard,
    /// A standard of which the printed text was not at hand: its figures are from memory or from copies.
    StandardFromCopies,
    /// A published method or handbook.
    Published,
    /// A named set of measured data.
    DataSet,
    /// True by definition or by geometry.
    Definition,
    /// What the trade usually does, with no source.
    CommonPractice,
}

impl Answer {
    pub(crate) fn new(title: &'static str, formula: &'static str, sources: &[Source]) -> Self {
        Self {
            title,
            inputs: Vec::new(),
            figures: Vec::new(),
            lists: Vec::new(),
            conclusions: Vec::new(),
            formula,
            sources: sources.to_vec(),
            cautions: Vec::new(),
            deference: DEFERENCE,
        }
    }

    /// The figure of this name.
    pub fn figure(&self, name: &str) -> Option<&Figure> {
        self.figures.iter().find(|figure| figure.name == name)
    }

    /// The list of this name.
    pub fn list(&self, name: &str) -> Option<&[String]> {
        self.lists.iter().find(|list| list.name == name).map(|list| list.entries.as_slice())
    }

    /// Puts the manufacturer's figure in the place of a reckoned one; both are shown, and that the others do not follow it.
    pub fn overridden(mut self, name: &str, amount: &Amount) -> Result<Self, Refusal> {
        self.put_manufacturers(name, amount)?;
        let said = |words: &str| self.conclusions.iter().any(|one| one.text == words);
        if said(FOLLOWS_TORQUE) {
            let what = name.replace('_', " ");
            let alone = format!("The manufacturer's {what} stands by itself: the others follow the torque.");
            self.conclude(Sureness::Certain, alone);
        } else if self.figures.len() > 1 && !said(NOT_FOLLOWED) {
            self.conclude(Sureness::Certain, NOT_FOLLOWED);
        }
        Ok(self)
    }

    /// As [`Answer::overridden`], where the other figures are yet to be reckoned by it.
    pub(crate) fn put_manufacturers(&mut self, name: &str, amount: &Amount) -> Result<(), Refusal> {
        let known = self.figures.iter().map(|figure| figure.name).collect::<Vec<_>>().join(", ");
        let Some(figure) = self.figures.iter_mut().find(|figure| figure.name == name) else {
            return Err(Refusal::Unknown {
                field: "override".to_owned(),
                given: name.to_owned(),
                list: "this answer",
                known,
            });
        };
        let value = amount.in_unit("override", figure.unit)?;
        let reckoned = figure.reckoned.unwrap_or(figure.value);
        figure.reckoned = Some(reckoned);
        figure.value = value;
        figure.standing = Standing::Manufacturer;
        let label = figure.label.clone();
        self.inputs.push(Input {
            name: label,
            taken: amount.to_string(),
            typed: amount.typed().to_owned(),
            unit: Some(amount.typed_unit()),
            standing: Standing::Manufacturer,
        });
        if (value - reckoned).abs() > reckoned.abs() * FAR_FROM_RECKONED {
            let text = "The manufacturer's figure is far from what is reckoned: look whether it is for this part, and at its \
                        unit.";
            self.caution(SignalWord::Warning, text);
        }
        Ok(())
    }

    /// As [`Answer::overridden`], with the figure as it was typed. `field` is where it stands, with `.figure` and `.value`
    /// in it.
    pub fn manufacturers(self, field: &str, name: &str, typed: &str) -> Result<Self, Refusal> {
        let fits = |figure: &&Figure| figure.name == name && kind_of(figure.unit).is_some();
        let Some(kind) = self.figures.iter().find(fits).and_then(|figure| kind_of(figure.unit)) else {
            let known = self.figures.iter().filter(|figure| kind_of(figure.unit).is_some());
            return Err(Refusal::Unknown {
                field: format!("{field}.figure"),
                given: format!("figure \"{}\"", cut(name)),
                list: "this answer",
                known: known.map(|figure| figure.name).collect::<Vec<_>>().join(", "),
            });
        };
        let amount = Amount::read(kind, &format!("{field}.value"), typed)?;
        self.overridden(name, &amount)
    }

    /// Says whose figures some inputs are that were taken as given.
    pub fn said_by(&mut self, names: &[&str], standing: Standing) {
        for input in &mut self.inputs {
            if input.standing == Standing::Given && names.contains(&input.name.as_str()) {
                input.standing = standing;
            }
        }
    }

    pub(crate) fn given(&mut self, name: &str, amount: &Amount) {
        self.taken(name, amount, Standing::Given);
    }

    pub(crate) fn taken(&mut self, name: &str, amount: &Amount, standing: Standing) {
        let typed = amount.typed().to_owned();
        let unit = Some(amount.typed_unit());
        self.inputs.push(Input { name: name.to_owned(), taken: amount.taken(), typed, unit, standing });
    }

    /// An amount that may be missing, with the usual one for that case; gives what counts.
    pub(crate) fn or_usual(
        &mut self,
        name: &str,
        amount: Option<&Amount>,
        usual: (Kind, f64),
        why: &'static str,
    ) -> Amount {
        if let Some(amount) = amount {
            self.given(name, amount);
            return amount.clone();
        }
        let usual = Amount::of(usual.0, usual.1);
        self.taken(name, &usual, Standing::Usual(why));
        usual
    }

    /// Several amounts as they were typed, in the unit of one of them.
    pub(crate) fn in_unit_of(&mut self, name: &str, typed: String, one: &Amount) {
        self.word(name, typed);
        if let Some(input) = self.inputs.last_mut() {
            input.unit = Some(one.typed_unit());
        }
    }

    pub(crate) fn word(&mut self, name: &str, word: impl Into<String>) {
        let word = word.into();
        let (name, taken) = (name.to_owned(), word.clone());
        self.inputs.push(Input { name, taken, typed: word, unit: None, standing: Standing::Given });
    }

    pub(crate) fn add(
        &mut self,
        name: &'static str,
        label: impl Into<String>,
        value: f64,
        unit: &'static str,
        rounding: Rounding,
    ) {
        self.figures.push(Figure {
            name,
            label: label.into(),
            value,
            unit,
            rounding,
            standing: Standing::Reckoned,
            reckoned: None,
        });
    }

    pub(crate) fn list_of(&mut self, name: &'static str, entries: Vec<String>) {
        self.lists.push(List { name, entries });
    }

    pub(crate) fn conclude(&mut self, sureness: Sureness, text: impl Into<String>) {
        self.conclusions.push(Conclusion { text: text.into(), sureness, tells_more: None });
    }

    pub(crate) fn conclude_and_ask(
        &mut self,
        sureness: Sureness,
        text: impl Into<String>,
        tells_more: impl Into<String>,
    ) {
        self.conclusions.push(Conclusion { text: text.into(), sureness, tells_more: Some(tells_more.into()) });
    }

    pub(crate) fn caution(&mut self, word: SignalWord, text: impl Into<String>) {
        self.cautions.push(Caution { word, text: text.into() });
        self.cautions.sort_by_key(|caution| gravity(caution.word));
    }
}

fn gravity(word: SignalWord) -> u8 {
    match word {
        SignalWord::Danger => 0,
        SignalWord::Warning => 1,
        SignalWord::Caution => 2,
        SignalWord::Notice => 3,
    }
}

impl Input {
    /// Its name in words.
    pub fn label(&self) -> String {
        of_field(&self.name)
    }
}

impl Figure {
    /// As it is shown: rounded, without its unit.
    pub fn shown(&self) -> String {
        self.rounding.of(self.value)
    }
}

impl std::fmt::Display for Figure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&with_unit(&self.shown(), self.unit))
    }
}

pub(crate) fn with_unit(number: &str, unit: &str) -> String {
    if unit == "1" { number.to_owned() } else { format!("{number} {unit}") }
}

/// The least that is told of a chance in per cent, and of its counterpart.
const LEAST_CHANCE: f64 = 0.1;
/// What is lost in the last bits must not turn 4.5 into 4.6 when it is rounded up.
const NOISE: f64 = 1e-9;

impl Rounding {
    /// The number as it is shown.
    pub fn of(self, value: f64) -> String {
        match self {
            Self::Places(places) => fixed(value, places),
            Self::Up(places) => {
                let scale = libm::pow(10.0, f64::from(places));
                fixed(libm::ceil(value * scale - NOISE) / scale, places)
            }
            Self::Down(places) => {
                let scale = libm::pow(10.0, f64::from(places));
                fixed(libm::floor(value * scale + NOISE) / scale, places)
            }
            Self::Digits(digits) => significant(value, digits),
            Self::Chance if value < LEAST_CHANCE => format!("<{LEAST_CHANCE}"),
            Self::Chance if value > 100.0 - LEAST_CHANCE => format!(">{}", fixed(100.0 - LEAST_CHANCE, 1)),
            Self::Chance if (1.0..=99.0).contains(&value) => fixed(value, 0),
            Self::Chance => fixed(value, 1),
        }
    }
}

fn fixed(value: f64, places: u8) -> String {
    let text = format!("{value:.*}", usize::from(places));
    // A negative number that rounds to nothing has no sign.
    if text.starts_with('-') && text.bytes().all(|byte| b"-0.".contains(&byte)) { text[1..].to_owned() } else { text }
}

fn significant(value: f64, digits: u8) -> String {
    if value == 0.0 || !value.is_finite() {
        return fixed(value, 0);
    }
    let digits = i32::from(digits.max(1));
    // The exponent is taken after rounding, so that 9.996 to three digits is 10.0.
    let text = format!("{:.*e}", usize::try_from(digits - 1).unwrap_or(0), value);
    let exponent: i32 = text.split('e').nth(1).and_then(|part| part.parse().ok()).unwrap_or(0);
    let places = digits - 1 - exponent;
    if places >= 0 {
        return fixed(value, u8::try_from(places).unwrap_or(u8::MAX));
    }
    let scale = libm::pow(10.0, f64::from(-places));
    fixed(libm::round(value / scale) * scale, 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_shown_with_the_digits_that_it_has_and_no_more() {
        for (rounding, value, shown) in [
            (Rounding::Digits(3), 58.942, "58.9"),
            (Rounding::Digits(3), 9.996, "10.0"),
            (Rounding::Digits(3), 36_105.0, "36100"),
            (Rounding::Digits(3), 0.002_346, "0.00235"),
            (Rounding::Digits(3), 0.0, "0"),
            (Rounding::Places(2), -0.001, "0.00"),
            (Rounding::Up(0), -37.115, "-37"),
            (Rounding::Up(1), 4.5, "4.5"),
            (Rounding::Up(1), 4.51, "4.6"),
            (Rounding::Up(2), 3.0 * 1.1, "3.30"),
            (Rounding::Down(2), 0.3 - 0.1, "0.20"),
            (Rounding::Down(1), 4.59, "4.5"),
            (Rounding::Chance, 54.6, "55"),
            (Rounding::Chance, 99.5, "99.5"),
            (Rounding::Chance, 99.95, ">99.9"),
            (Rounding::Chance, 100.0, ">99.9"),
            (Rounding::Chance, 0.44, "0.4"),
            (Rounding::Chance, 0.02, "<0.1"),
        ] {
            assert_eq!(rounding.of(value), shown, "{rounding:?} of {value}");
        }
    }

    #[test]
    fn the_manufacturers_figure_stands_in_place_of_the_reckoned_one_and_both_show() {
        let mut answer = Answer::new("t", "f", &[]);
        answer.add("torque", "Torque", 58.9, "N.m", Rounding::Digits(3));
        let amount = Amount::read(Kind::Torque, "override", "50 lbf.ft").expect("reads");
        let answer = answer.overridden("torque", &amount).expect("overrides");
        let figure = answer.figure("torque").expect("is there");
        assert_eq!(figure.standing, Standing::Manufacturer);
        assert_eq!(figure.reckoned, Some(58.9));
        assert_eq!(figure.to_string(), "67.8 N.m");
        assert_eq!(answer.inputs[0].typed, "50 lbf.ft");
        let wrong = Amount::of(Kind::Length, 3.0);
        assert!(matches!(answer.clone().overridden("torque", &wrong), Err(Refusal::Unit { .. })));
        assert!(matches!(answer.overridden("angle", &amount), Err(Refusal::Unknown { .. })));
    }

    #[test]
    fn the_gravest_caution_comes_first() {
        let mut answer = Answer::new("t", "f", &[]);
        for word in [SignalWord::Notice, SignalWord::Caution, SignalWord::Danger, SignalWord::Warning] {
            answer.caution(word, "x");
        }
        let words: Vec<_> = answer.cautions.iter().map(|caution| caution.word).collect();
        assert_eq!(words, [SignalWord::Danger, SignalWord::Warning, SignalWord::Caution, SignalWord::Notice]);
    }
}
