//! Reading vectors and comparing figures.
#![allow(dead_code, reason = "every test file takes what it needs")]

use leadhand_facts::words::SignalWord;
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

/// The rows of a table, each as its cells.
pub fn rows(csv: &str) -> Vec<Vec<&str>> {
    let rows: Vec<Vec<&str>> = csv.lines().skip(1).map(|line| line.split(',').collect()).collect();
    assert!(!rows.is_empty(), "the table is empty");
    rows
}

pub fn num(cell: &str) -> f64 {
    cell.parse().unwrap_or_else(|_| panic!("{cell:?} is no number"))
}

/// Within so much, relative to what it should be.
#[track_caller]
pub fn near(what: &str, got: f64, should: f64, relative: f64) {
    let off = (got - should).abs();
    assert!(off <= relative * should.abs() + 1e-12, "{what} is {got}, should be {should}, off by {off}");
}

#[track_caller]
pub fn value(answer: &Answer, name: &str) -> f64 {
    answer.figure(name).unwrap_or_else(|| panic!("there is no figure {name} in {answer:#?}")).value
}

#[track_caller]
pub fn shown(answer: &Answer, name: &str) -> String {
    answer.figure(name).unwrap_or_else(|| panic!("there is no figure {name} in {answer:#?}")).to_string()
}

#[track_caller]
pub fn read(kind: Kind, text: &str) -> Amount {
    Amount::read(kind, "test", text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

/// Every answer has what an answer has to have.
#[track_caller]
pub fn whole(answer: &Answer) {
    assert!(!answer.title.is_empty() && !answer.formula.is_empty(), "{answer:#?}");
    assert!(!answer.inputs.is_empty(), "inputs are not echoed: {answer:#?}");
    assert!(!answer.sources.is_empty(), "no source is named: {answer:#?}");
    assert!(!answer.figures.is_empty() || !answer.lists.is_empty(), "it answers nothing: {answer:#?}");
    assert!(answer.deference.contains("manufacturer's data, local codes and licensed practice"));
    for figure in &answer.figures {
        assert!(figure.value.is_finite(), "{} is {}", figure.name, figure.value);
        let same = answer.figures.iter().filter(|other| other.name == figure.name).count();
        assert_eq!(same, 1, "two figures are called {}", figure.name);
    }
}

/// A refusal names its field and says what to do, in one sentence.
#[track_caller]
pub fn refused(result: Result<Answer, Refusal>, reason: &str, part: &str) {
    let refusal = result.expect_err("it should be refused");
    let text = refusal.to_string();
    assert_eq!(refusal.reason(), reason, "{text}");
    assert!(text.contains(part), "{text:?} does not say {part:?}");
    assert!(!text.contains('\n') && !text.ends_with('.') && text.len() > 20, "{text:?} is no sentence of a refusal");
}

/// Whether something is warned of with this word.
pub fn cautioned(answer: &Answer, word: SignalWord, part: &str) -> bool {
    answer.cautions.iter().any(|caution| caution.word == word && caution.text.contains(part))
}
