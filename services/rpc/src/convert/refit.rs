//! The refit on the wire: its new parts, its waits, and what changed in it.

use leadhand_app::Words;
use leadhand_domain::strip::{NewPart, RefitChange};
use leadhand_domain::toolbox::listed;
use leadhand_domain::view::to_get::ToGet;
use leadhand_facts::{ItemKey, PositionKey, StageKey};
use leadhand_proto::v1;

/// New pieces that a position takes.
pub fn new_part(part: &NewPart) -> v1::NewPart {
    let (stage, step) = part.asked_by.as_ref().map_or((None, 0), |(stage, step)| (Some(stage), step.0));
    v1::NewPart {
        item: part.item.as_ref().map(ItemKey::to_string).unwrap_or_default(),
        pieces: part.pieces,
        stage: stage.map(StageKey::to_string).unwrap_or_default(),
        step,
        reserved: part.reserved.0,
        issued: part.issued.0,
        short: part.short.0,
        listed: part.listed,
    }
}

/// New pieces that no stock has.
pub fn to_get(line: &ToGet, words: &Words) -> v1::ToGet {
    v1::ToGet {
        position: line.position.to_string(),
        what: words.either(line.what.words.as_deref(), line.what.text).to_owned(),
        pieces: line.pieces,
        stage: line.back.as_ref().map(StageKey::to_string).unwrap_or_default(),
    }
}

/// What changed, as a sentence.
pub fn change(change: &RefitChange) -> v1::RefitChange {
    let (position, text, added) = match change {
        RefitChange::Added { position, before: Some(before) } => {
            (position, format!("goes back as well, before {before}"), true)
        }
        RefitChange::Added { position, before: None } => (position, "goes back as well, at the end".to_owned(), true),
        RefitChange::WaitsFor { position, others } => {
            let others: Vec<&str> = others.iter().map(PositionKey::as_str).collect();
            (position, format!("waits for {} now", listed(&others)), false)
        }
        RefitChange::Moved { position } => (position, "goes back at another place now".to_owned(), false),
    };
    v1::RefitChange { position: position.to_string(), text, added }
}
