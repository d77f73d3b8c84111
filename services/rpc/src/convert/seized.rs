//! What will not move, on the wire.

use super::time::{stamp, timestamp};
use super::{enums, job};
use leadhand_app::{StripBook, Words};
use leadhand_domain::strip::NextRung;
use leadhand_domain::view::strip::Soaking;
use leadhand_facts::PersonId;
use leadhand_facts::rows::AttemptRow;
use leadhand_facts::strip::Rung;
use leadhand_proto::v1;

/// A rung with its number.
pub fn rung(number: i32, rung: &Rung) -> v1::Rung {
    v1::Rung {
        rung: number,
        measure: rung.measure.clone(),
        tools: rung.tools.clone(),
        cautions: rung.cautions.iter().map(job::caution).collect(),
        skills: rung.skills.clone(),
        soak_minutes: rung.soak_minutes.unwrap_or_default(),
        last_safe: rung.last_safe,
    }
}

/// What is to be tried next, for whoever asks; names of those who may.
pub fn next(next: &NextRung, book: &StripBook, who: Option<PersonId>) -> v1::NextRung {
    v1::NextRung {
        rung: next.number,
        measure: next.rung.measure.clone(),
        yours: next.rung.skills.is_empty() || who.is_some_and(|who| next.who.contains(&who)),
        who: next.who.iter().filter_map(|person| book.names.get(person)).cloned().collect(),
    }
}

/// An attempt.
pub fn attempt(row: &AttemptRow, book: &StripBook) -> v1::Attempt {
    let words = |text| book.words.get(text).to_owned();
    v1::Attempt {
        attempt: row.attempt.0,
        rung: row.rung,
        measure: row.measure.clone(),
        outcome: enums::outcome(row.outcome),
        pieces: row.pieces,
        person: row.person.and_then(|id| book.names.get(&id)).cloned().unwrap_or_default(),
        at: Some(timestamp(row.at)),
        plan: words(row.plan),
        note: words(row.note),
        override_reason: words(row.overridden),
        last_safe: row.last_safe,
    }
}

/// Something that soaks.
pub fn soaking(line: &Soaking, words: &Words) -> v1::Soaking {
    let row = &line.row;
    v1::Soaking {
        position: row.position.to_string(),
        what: words.either(row.what.as_deref(), row.what_text).to_owned(),
        until: stamp(Some(line.until)),
        ready: line.ready,
    }
}
