//! The strip book on the wire.

use super::time::stamp;
use super::{enums, fields, invalid, refit, seized};
use leadhand_app::{AppError, StripBook};
use leadhand_domain::answer::WentBack;
use leadhand_domain::command::{BackLine, Fitting, OffLine};
use leadhand_domain::condition;
use leadhand_domain::hand_over::told_by_kind;
use leadhand_domain::strip::{Open, Refit};
use leadhand_domain::template::{TIGHTEN_FORM, read_tighten, tightening};
use leadhand_domain::view::strip::PositionLine;
use leadhand_facts::PersonId;
use leadhand_facts::reading::OverruledLine;
use leadhand_facts::strip::PositionDetail;
use leadhand_proto::v1;
use leadhand_reckoner::job::Tightening;

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
            repair: fields::text_some(line.repair),
            studs: line.studs,
        })
    };
    said.into_iter().enumerate().map(read).collect()
}

/// How something that nobody had listed is turned, reached and put back.
pub fn fitting(asked: &v1::AddPositionRequest) -> Result<Fitting, AppError> {
    fields::bounded("tighten", &asked.tighten)?;
    fields::bounded("how", &asked.how)?;
    let stage = |(at, text): (usize, &String)| {
        let wrong = || invalid(format!("tighten[{at}]"), format!("it is no stage of tightening; write {TIGHTEN_FORM}"));
        read_tighten(text).ok_or_else(wrong)
    };
    let said = |text: &String| fields::text_some(text.clone());
    Ok(Fitting {
        head: said(&asked.head),
        reach: enums::read_reach_some("reach", asked.reach)?,
        tighten: asked.tighten.iter().enumerate().map(stage).collect::<Result<_, _>>()?,
        how: asked.how.clone(),
        second_check: asked.second_check,
        check: said(&asked.check),
        cure_minutes: fields::positive_some("cure_minutes", asked.cure_minutes)?,
        ladder: fields::key_some("ladder", &asked.ladder)?,
    })
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

/// What was recorded of a position.
pub fn went_back(line: &WentBack) -> v1::WentBack {
    v1::WentBack {
        position: line.position.to_string(),
        put_in: line.put_in,
        refitted: line.refitted,
        renewed: line.renewed,
        left_out: line.left_out,
        scrapped: line.scrapped,
        kept: line.kept,
        tightness: line.tightness.map(enums::tightness).unwrap_or_default(),
        tightness_unsaid: line.unsaid,
        places_left: line.places_left,
        pieces_left: line.pieces_left,
    }
}

/// A whole strip book, as this person sees it.
pub fn book(book: &StripBook, who: Option<PersonId>) -> v1::GetStripResponse {
    v1::GetStripResponse {
        positions: book.view.positions.iter().map(|line| position(line, book, who)).collect(),
        refit: book.view.refit.iter().map(|line| refit(line, book)).collect(),
        open: book.view.open.iter().map(open).chain(book.view.condition.iter().map(condition)).collect(),
        number: book.view.number,
        changes: book.changes.iter().map(refit::change).collect(),
        ladder: (1..).zip(&book.ladder).map(|(number, one)| seized::rung(number, one)).collect(),
    }
}

fn refit(line: &Refit, book: &StripBook) -> v1::RefitLine {
    let own = book.view.positions.iter().find(|one| one.row.position == line.position);
    let cures_until = own.filter(|_| line.done).and_then(|one| leadhand_domain::strip::cures_until(&one.row, book.at));
    v1::RefitLine {
        position: line.position.to_string(),
        stage: line.stage.as_ref().map(ToString::to_string).unwrap_or_default(),
        after: line.after.iter().map(ToString::to_string).collect(),
        done: line.done,
        part: own.and_then(|one| one.part.as_ref()).map(refit::new_part),
        cures_until: stamp(cures_until),
        since: own.and_then(|one| one.row.off_n).unwrap_or_default(),
    }
}

fn open(line: &Open) -> v1::OpenLine {
    v1::OpenLine { position: line.position().to_string(), text: line.to_string(), r#final: line.is_final() }
}

fn condition(line: &condition::Open) -> v1::OpenLine {
    v1::OpenLine { position: String::new(), text: line.to_string(), r#final: false }
}
fn position(line: &PositionLine, book: &StripBook, who: Option<PersonId>) -> v1::Position {
    let row = &line.row;
    let detail = &row.detail;
    let words = |text| book.words.get(text).to_owned();
    let name = |id: Option<PersonId>| id.and_then(|id| book.names.get(&id)).cloned().unwrap_or_default();
    let said = |text: &Option<String>| text.clone().unwrap_or_default();
    let said_of_it = v1::Position {
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
        ..Default::default()
    };
    more(said_of_it, line, book, who)
}

/// Stages of tightening in lbf.ft, empty for angles.
fn beside(detail: &PositionDetail) -> Vec<String> {
    let settings = Tightening { detail }.settings(None).unwrap_or_default();
    settings.into_iter().map(|stage| stage.beside.map(|beside| beside.text()).unwrap_or_default()).collect()
}

/// What a lead overruled when it came off or went back.
fn overruled(one: &OverruledLine, book: &StripBook) -> v1::OverruledWork {
    let kind = one.line.split_once(':').map_or(one.line.as_str(), |(kind, _)| kind);
    v1::OverruledWork {
        kind: kind.to_owned(),
        text: told_by_kind(kind).to_owned(),
        reason: book.words.get(Some(one.reason)).to_owned(),
        by: one.by.and_then(|by| book.names.get(&by)).cloned().unwrap_or_default(),
    }
}

/// What follows from the row, and its exceptions.
fn more(plain: v1::Position, line: &PositionLine, book: &StripBook, who: Option<PersonId>) -> v1::Position {
    let (row, detail) = (&line.row, &line.row.detail);
    let tags = detail.tag.map_or(0..0, |first| first..first + detail.count);
    let soak = row.soak_until.filter(|_| row.off_n.is_none());
    v1::Position {
        standing: enums::position_standing(line.standing),
        still_attached: line.attached.iter().map(ToString::to_string).collect(),
        repair: book.words.get(row.repair).to_owned(),
        item: detail.item.as_ref().map(ToString::to_string).unwrap_or_default(),
        cure_minutes: detail.cure_minutes.unwrap_or_default(),
        tags: tags.collect(),
        came_with: detail.came_with.as_ref().map(ToString::to_string).unwrap_or_default(),
        soak_until: stamp(soak),
        soaked: soak.is_some_and(|until| until <= book.at),
        attempts: line.attempts.iter().map(|one| seized::attempt(one, book)).collect(),
        next: line.next.as_ref().map(|next| seized::next(next, book, who)),
        tighten_beside: beside(detail),
        reach: detail.reach.map(enums::reach).unwrap_or_default(),
        overruled: row.off_overruled.iter().chain(&row.back_overruled).map(|one| overruled(one, book)).collect(),
        ..plain
    }
}
