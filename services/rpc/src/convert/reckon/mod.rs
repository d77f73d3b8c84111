//! The reckoner on the wire: what is asked is text as people type it, read here into questions; what is answered is told
//! rounded and in full.

mod answer;
mod coolant;
mod engine;
mod fasteners;
mod job;
mod shop;

pub use answer::{answer, conclusion};
pub use coolant::{Drawn, drawn, fill_from, fill_of_job};
pub use engine::flatness;
pub use job::{readings, readings_asked, tightenings, tightenings_asked};

use leadhand_proto::v1;
use leadhand_reckoner::{Amount, Answer, Kind, Refusal};

/// A request that says a whole question.
pub trait Question {
    /// The answer, or why there is none.
    fn reckon(&self) -> Result<Answer, Refusal>;
}

/// A quantity that was said.
fn said(kind: Kind, field: &str, text: &str) -> Result<Option<Amount>, Refusal> {
    if text.is_empty() { Ok(None) } else { Amount::read(kind, field, text).map(Some) }
}

/// A plain number that has to be said.
fn number(field: &str, text: &str) -> Result<f64, Refusal> {
    Ok(Amount::read(Kind::Number, field, text)?.value())
}

/// A choice of a closed list; nothing when it is unspecified, a refusal when it is newer than this server.
fn chosen<W: TryFrom<i32>>(field: &str, value: i32) -> Result<Option<W>, Refusal> {
    if value == 0 {
        return Ok(None);
    }
    let unknown = |_| Refusal::Unknown {
        field: field.to_owned(),
        given: value.to_string(),
        list: "the contract",
        known: "its words".to_owned(),
    };
    W::try_from(value).map(Some).map_err(unknown)
}

/// What has to be chosen and was not.
fn unchosen(field: &str) -> Refusal {
    Refusal::Contradiction {
        field: field.to_owned(),
        problem: "it is not specified".to_owned(),
        todo: "choose one".to_owned(),
    }
}

/// The manufacturer's figures in the places of reckoned ones.
fn overridden(answer: Answer, figures: &[v1::ManufacturersFigure]) -> Result<Answer, Refusal> {
    overridden_but(answer, figures, "")
}

/// The same without the figure that the answer was reckoned by already.
fn overridden_but(mut answer: Answer, figures: &[v1::ManufacturersFigure], but: &str) -> Result<Answer, Refusal> {
    for (at, figure) in figures.iter().enumerate().filter(|(_, figure)| but.is_empty() || figure.figure != but) {
        answer = answer.manufacturers(&format!("manufacturer[{at}]"), &figure.figure, &figure.value)?;
    }
    Ok(answer)
}
