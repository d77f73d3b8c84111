//! What every question checks of its inputs before it reckons.

use crate::quantity::{Amount, Kind};
use crate::refusal::Refusal;

/// The range that a method or a data set covers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Range {
    pub least: f64,
    pub most: f64,
    pub covered: &'static str,
    pub todo: &'static str,
}

/// The amount in its kind's own unit, when it is of the kind and in the range.
pub(crate) fn within(field: &str, amount: &Amount, kind: Kind, range: Range) -> Result<f64, Refusal> {
    let value = amount.of_kind(field, kind)?;
    if (range.least..=range.most).contains(&value) {
        return Ok(value);
    }
    Err(Refusal::OutOfRange {
        field: field.to_owned(),
        given: amount.to_string(),
        least: Amount::of(kind, range.least).to_string().into(),
        most: Amount::of(kind, range.most).to_string().into(),
        covered: range.covered,
        todo: range.todo,
    })
}

/// A range of what a workshop meets: what lies outside is a slip of the keyboard.
pub(crate) fn plausible(least: f64, most: f64) -> Range {
    Range { least, most, covered: "what a workshop meets", todo: "check the number and its unit" }
}

/// The longest name of a bolt or a cylinder.
const NAME_MAX: usize = 20;

/// A name that is typed on a list and told again.
pub(crate) fn name(field: &str, what: &str, text: &str) -> Result<String, Refusal> {
    let name = text.trim();
    if name.is_empty() || name.chars().count() > NAME_MAX || name.contains(char::is_control) {
        let problem = format!("{what} has no name, or one that is no short line of text");
        return Err(Refusal::contradiction(field, problem, format!("use 1 to {NAME_MAX} letters")));
    }
    Ok(name.to_owned())
}
