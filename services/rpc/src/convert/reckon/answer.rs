//! Answers for the wire.

use crate::convert::enums;
use leadhand_proto::v1;
use leadhand_reckoner::Answer;
use leadhand_reckoner::answer::{Beside, Conclusion, Figure, Input, Source, SourceKind, Standing, Sureness};

/// An answer.
pub fn answer(said: &Answer) -> v1::Answer {
    let list = |list: &leadhand_reckoner::answer::List| v1::AnswerList {
        name: list.name.to_owned(),
        entries: list.entries.clone(),
    };
    let caution = |caution: &leadhand_facts::template::Caution| v1::Caution {
        word: enums::signal_word(caution.word),
        text: caution.text.clone(),
    };
    v1::Answer {
        title: said.title.to_owned(),
        inputs: said.inputs.iter().map(input).collect(),
        figures: said.figures.iter().map(|one| figure(said, one)).collect(),
        lists: said.lists.iter().map(list).collect(),
        conclusions: said.conclusions.iter().map(conclusion).collect(),
        formula: said.formula.to_owned(),
        sources: said.sources.iter().map(source).collect(),
        cautions: said.cautions.iter().map(caution).collect(),
        deference: said.deference.to_owned(),
    }
}

fn input(input: &Input) -> v1::AnswerInput {
    let why = if let Standing::Usual(why) = input.standing { why } else { "" };
    v1::AnswerInput {
        name: input.name.clone(),
        typed: input.typed.clone(),
        taken: input.taken.clone(),
        standing: standing(input.standing),
        why: why.to_owned(),
        label: input.label(),
    }
}

fn figure(answer: &Answer, figure: &Figure) -> v1::AnswerFigure {
    let reckoned = figure.reckoned.map(|value| Figure { value, ..figure.clone() }.text());
    v1::AnswerFigure {
        name: figure.name.to_owned(),
        label: figure.label.clone(),
        value: figure.value,
        unit: figure.unit.to_owned(),
        shown: figure.shown(),
        text: figure.text(),
        standing: standing(figure.standing),
        reckoned: figure.reckoned,
        reckoned_text: reckoned.unwrap_or_default(),
        beside: answer.beside(figure).map(beside),
    }
}

fn beside(beside: Beside) -> v1::OtherUnit {
    let text = beside.text();
    v1::OtherUnit { value: beside.value, unit: beside.unit.to_owned(), shown: beside.shown, text }
}

/// A conclusion.
pub fn conclusion(said: &Conclusion) -> v1::Conclusion {
    let sureness = match said.sureness {
        Sureness::Certain => v1::Sureness::Certain,
        Sureness::Likely => v1::Sureness::Likely,
        Sureness::Possible => v1::Sureness::Possible,
    };
    v1::Conclusion {
        text: said.text.clone(),
        sureness: sureness.into(),
        tells_more: said.tells_more.clone().unwrap_or_default(),
    }
}

fn standing(said: Standing) -> i32 {
    (match said {
        Standing::Given => v1::FigureStanding::Given,
        Standing::Job => v1::FigureStanding::Job,
        Standing::Usual(_) => v1::FigureStanding::Usual,
        Standing::Manufacturer => v1::FigureStanding::Manufacturer,
        Standing::Reckoned => v1::FigureStanding::Reckoned,
    }) as i32
}

fn source(said: &Source) -> v1::AnswerSource {
    let kind = match said.kind {
        SourceKind::Standard => v1::SourceKind::Standard,
        SourceKind::StandardFromCopies => v1::SourceKind::StandardFromCopies,
        SourceKind::Published => v1::SourceKind::Published,
        SourceKind::DataSet => v1::SourceKind::DataSet,
        SourceKind::Definition => v1::SourceKind::Definition,
        SourceKind::CommonPractice => v1::SourceKind::CommonPractice,
    };
    v1::AnswerSource { name: said.name.to_owned(), kind: kind.into() }
}
