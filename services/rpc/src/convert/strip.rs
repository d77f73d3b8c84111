//! The strip book on the wire.

use super::time::stamp;
use super::{enums, fields};
use leadhand_app::{AppError, StripBook};
use leadhand_domain::command::{BackLine, OffLine};
use leadhand_domain::condition;
use leadhand_domain::strip::{Open, Refit};
use leadhand_domain::template::tightening;
use leadhand_facts::PersonId;
use leadhand_facts::rows::PositionRow;
use leadhand_proto::v1;

/// What came off.
pub fn off_lines(said: Vec<v1::OffLine>) -> Result<Vec<OffLine>, AppError> {
    fields::bounded("lines", &said)?;
    let read = |(at, line): (usize, v1::OffLine)| {
        Ok(OffLine {
            position: fields::key(&format!("lines[{at}].position"), &line.position)?,
            found: line.found,
            missing: line.missing,
            damaged: line.damaged,
            keep: enums::read_keep_some(&format!("lines[{at}].keep"), line.keep)?,
            kept_at: fields::text_some(line.kept_at),
            note: fields::text_some(line.note),
        })
    };
    said.into_iter().enumerate().map(read).collect()
}

/// What went back.
pub fn back_lines(said: Vec<v1::BackLine>) -> Result<Vec<BackLine>, AppError> {
    fields::bounded("lines", &said)?;
    let read = |(at, line): (usize, v1::BackLine)| {
        Ok(BackLine {
            position: fields::key(&format!("lines[{at}].position"), &line.position)?,
            refitted: line.refitted,
            renewed: line.renewed,
            left_out: line.left_out,
            scrapped: line.scrapped,
            kept: line.kept,
            tightness: enums::read_tightness_some(&format!("lines[{at}].tightness"), line.tightness)?,
            reason: fields::text_some(line.reason),
        })
    };
    said.into_iter().enumerate().map(read).collect()
}

/// A whole strip book.
pub fn book(book: &StripBook) -> v1::GetStripResponse {
    v1::GetStripResponse {
        positions: book.view.positions.iter().map(|row| position(row, book)).collect(),
        refit: book.view.refit.iter().map(refit).collect(),
        open: book.view.open.iter().map(open).chain(book.view.condition.iter().map(condition)).collect(),
        number: book.view.number,
    }
}

fn refit(line: &Refit) -> v1::RefitLine {
    v1::RefitLine {
        position: line.position.to_string(),
        stage: line.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
        after: line.after.iter().map(ToString::to_string).collect(),
        done: line.done,
    }
}

fn open(line: &Open) -> v1::OpenLine {
    v1::OpenLine { position: line.position().to_string(), text: line.to_string(), r#final: line.is_final() }
}

fn condition(line: &condition::Open) -> v1::OpenLine {
    v1::OpenLine { position: String::new(), text: line.to_string(), r#final: false }
}

fn position(row: &PositionRow, book: &StripBook) -> v1::Position {
    let detail = &row.detail;
    let words = |text| book.words.get(text).to_owned();
    let name = |id: Option<PersonId>| id.and_then(|id| book.names.get(&id)).cloned().unwrap_or_default();
    let said = |text: &Option<String>| text.clone().unwrap_or_default();
    v1::Position {
        position: row.position.to_string(),
        stage: row.stage.to_string(),
        step: row.step.map(|step| step.0).unwrap_or_default(),
        what: book.words.either(row.what.as_deref(), row.what_text).to_owned(),
        kind: enums::position_kind(detail.kind),
        manner: enums::manner(detail.manner),
        count: detail.count,
        size: said(&detail.size),
        head: said(&detail.head),
        location: said(&detail.location),
        attached_to: detail.attached_to.as_ref().map(ToString::to_string).unwrap_or_default(),
        behind: detail.behind.iter().map(ToString::to_string).collect(),
        renew: enums::renew(detail.renew),
        check: said(&detail.check),
        back: detail.back.as_ref().map(ToString::to_string).unwrap_or_default(),
        tighten: detail.tighten.iter().map(|stage| tightening(*stage)).collect(),
        how: detail.how.clone(),
        second_check: detail.second_check,
        unplanned: row.unplanned,
        off_at: stamp(row.off_at),
        off_by: name(row.off_by),
        found: row.found,
        missing: row.missing,
        damaged: row.damaged,
        keep: row.keep.map(enums::keep).unwrap_or_default(),
        kept_at: words(row.kept_at),
        note: words(row.note),
        back_at: stamp(row.back_at),
        back_by: name(row.back_by),
        refitted: row.refitted,
        renewed: row.renewed,
        left_out: row.left_out,
        scrapped: row.scrapped,
        kept: row.kept,
        tightness: row.tightness.map(enums::tightness).unwrap_or_default(),
        reason: words(row.reason),
        checked_by: name(row.checked_by),
    }
}
