//! Questions that the books of a job answer: its tightenings and its readings.

use super::fasteners::{friction, preload};
use super::{answer, engine, said};
use crate::convert::{enums, fields, invalid};
use leadhand_app::{AppError, StripBook, Words};
use leadhand_domain::template::tightening as as_written;
use leadhand_domain::{check, refusal};
use leadhand_facts::rows::{PositionRow, ReadingRow};
use leadhand_facts::words::ReadingKind;
use leadhand_facts::{JobNo, PositionKey, ReadingKey, StageKey};
use leadhand_proto::v1;
use leadhand_reckoner::answer::Beside;
use leadhand_reckoner::engine::Heard;
use leadhand_reckoner::fasteners::{Friction, Preload, PropertyClass};
use leadhand_reckoner::job::{Judgement, Judging, Setting, TightenBy, Tightening, Wanted, judge, judged_with, untaken};
use leadhand_reckoner::{Kind, Refusal};

/// What is asked of the tightenings of a job.
pub struct TighteningsAsked {
    position: Option<PositionKey>,
    stage: Option<StageKey>,
    by: Option<TightenBy>,
    wanted: Option<Wanted>,
}

/// What a request for tightenings says.
pub fn tightenings_asked(asked: &v1::ReckonTighteningsRequest) -> Result<(JobNo, TighteningsAsked), AppError> {
    let job = fields::job(asked.job)?;
    let read = TighteningsAsked {
        position: fields::key_some("position", &asked.position)?,
        stage: fields::key_some("stage", &asked.stage)?,
        by: by(asked)?,
        wanted: wanted(asked)?,
    };
    Ok((job, read))
}

fn by(asked: &v1::ReckonTighteningsRequest) -> Result<Option<TightenBy>, Refusal> {
    let angle = said(Kind::Angle, "angle", &asked.angle)?;
    let wrench = said(Kind::Length, "wrench", &asked.wrench)?;
    let adapter = said(Kind::Length, "adapter", &asked.adapter)?;
    if wrench.is_none() && adapter.is_none() && angle.is_none() {
        return Ok(None);
    }
    let missing = |field: &str, todo: &str| Refusal::Contradiction {
        field: field.to_owned(),
        problem: "it is missing for the setting with an adapter".to_owned(),
        todo: todo.to_owned(),
    };
    Ok(Some(TightenBy {
        wrench: wrench.ok_or_else(|| missing("wrench", "give the length from drive to grip, such as 400 mm"))?,
        adapter: adapter.ok_or_else(|| missing("adapter", "give the length from drive to fastener, such as 50 mm"))?,
        angle,
    }))
}

fn wanted(asked: &v1::ReckonTighteningsRequest) -> Result<Option<Wanted>, Refusal> {
    let tight = Some(asked.preload.as_str()).filter(|preload| !preload.is_empty());
    let preload: Option<Preload> = tight.map(preload).transpose()?;
    let friction: Option<Friction> = asked.friction.as_ref().map(|said| friction(Some(said))).transpose()?;
    if asked.class.is_empty() {
        if preload.is_none() && friction.is_none() {
            return Ok(None);
        }
        return Err(Refusal::Contradiction {
            field: "class".to_owned(),
            problem: "a preload or a friction is given, and without the bolt's class nothing is reckoned by it"
                .to_owned(),
            todo: "say what is stamped on the bolt's head, such as 10.9".to_owned(),
        });
    }
    Ok(Some(Wanted { class: PropertyClass::read("class", &asked.class)?, preload, friction }))
}

/// The tightenings of a job, in the order of its strip book.
pub fn tightenings(book: &StripBook, job: JobNo, asked: &TighteningsAsked) -> Result<Vec<v1::JobTightening>, AppError> {
    if let Some(stage) = asked.stage.as_ref().filter(|stage| !book.stages.contains(stage)) {
        let (which, todo) = (format!("{stage}' of job '{job}"), "`leadhand job show` lists them");
        return Err(refusal::Refusal::Unknown { what: "stage", which, todo }.into());
    }
    let rows = book.view.positions.iter().map(|line| &line.row);
    let here = |row: &&PositionRow| {
        let named = asked.position.as_ref().is_none_or(|position| row.position == *position);
        named && asked.stage.as_ref().is_none_or(|stage| row.detail.back.as_ref() == Some(stage))
    };
    let found: Vec<&PositionRow> = rows.filter(here).filter(|row| !row.detail.tighten.is_empty()).collect();
    if let (Some(position), true) = (&asked.position, found.is_empty()) {
        let which = format!("{position}' with stages of tightening of job '{job}");
        let todo = "`leadhand strip show` lists them";
        return Err(refusal::Refusal::Unknown { what: "position", which, todo }.into());
    }
    found.into_iter().map(|row| Ok(tightening(row, book, asked)?)).collect()
}

fn tightening(row: &PositionRow, book: &StripBook, asked: &TighteningsAsked) -> Result<v1::JobTightening, Refusal> {
    let own = Tightening { detail: &row.detail };
    let settings = own.settings(asked.by.as_ref())?;
    let stages = row.detail.tighten.iter().zip(settings).map(|(stage, setting)| stage_of(as_written(*stage), setting));
    let reckoned = asked.wanted.as_ref().map(|wanted| own.reckoned(wanted));
    let (reckoned, unreckoned) = split(reckoned);
    Ok(v1::JobTightening {
        position: row.position.to_string(),
        what: book.words.either(row.what.as_deref(), row.what_text).to_owned(),
        size: row.detail.size.clone().unwrap_or_default(),
        count: row.detail.count,
        back: row.detail.back.as_ref().map(ToString::to_string).unwrap_or_default(),
        stages: stages.collect(),
        how: row.detail.how.clone(),
        reckoned,
        unreckoned,
        note: book.words.get(row.note).to_owned(),
        repair: book.words.get(row.repair).to_owned(),
        answer: Some(answer(&own.told())),
    })
}

fn stage_of(text: String, setting: Setting) -> v1::TighteningStage {
    v1::TighteningStage {
        text,
        beside: setting.beside.map(|beside: Beside| beside.text()).unwrap_or_default(),
        setting: setting.setting.as_ref().map(answer),
    }
}

/// An answer, or why there is none.
fn split(result: Option<Result<leadhand_reckoner::Answer, Refusal>>) -> (Option<v1::Answer>, String) {
    match result {
        None => (None, String::new()),
        Some(Ok(found)) => (Some(answer(&found)), String::new()),
        Some(Err(refusal)) => (None, refusal.to_string()),
    }
}

/// What is asked of the readings of a job.
pub struct ReadingsAsked {
    reading: Option<ReadingKey>,
    kind: Option<ReadingKind>,
    judging: Judging,
}

/// What a request for judgements says.
pub fn readings_asked(asked: &v1::ReckonReadingsRequest) -> Result<(JobNo, ReadingsAsked), AppError> {
    let job = fields::job(asked.job)?;
    let read = ReadingsAsked {
        reading: fields::key_some("reading", &asked.reading)?,
        kind: enums::read_reading_kind_some("kind", asked.kind)?,
        judging: Judging {
            ignition: engine::ignition_some(asked.ignition)?,
            pictures: asked.picture,
            banks: banks(&asked.banks)?,
            heard: heard(&asked.heard)?,
        },
    };
    Ok((job, read))
}

fn banks(counts: &[i32]) -> Result<Vec<usize>, AppError> {
    fields::bounded("banks", counts)?;
    let count = |(at, count): (usize, &i32)| {
        let wrong = || invalid(format!("banks[{at}]"), format!("{count} cylinders are no bank; give 1 or more"));
        usize::try_from(*count).ok().filter(|count| *count > 0).ok_or_else(wrong)
    };
    counts.iter().enumerate().map(count).collect()
}

fn heard(said: &[v1::HeardOf]) -> Result<Vec<(String, Heard)>, AppError> {
    fields::bounded("heard", said)?;
    let one = |(at, said): (usize, &v1::HeardOf)| {
        let (cylinder, field) = (said.cylinder.trim(), format!("heard[{at}].cylinder"));
        if !cylinder.is_empty() {
            check::name(&field, cylinder)?;
        }
        Ok((cylinder.to_owned(), engine::heard_at(&format!("heard[{at}].at"), said.at)?))
    };
    said.iter().enumerate().map(one).collect()
}

/// The judgements of a job's readings.
pub fn readings(
    rows: &[ReadingRow],
    words: &Words,
    job: JobNo,
    asked: &ReadingsAsked,
) -> Result<Vec<v1::JudgedReading>, AppError> {
    let here = |row: &&ReadingRow| {
        let named = asked.reading.as_ref().is_none_or(|reading| row.reading == *reading);
        named && asked.kind.is_none_or(|kind| row.detail.kind == kind)
    };
    let found: Vec<&ReadingRow> = rows.iter().filter(here).collect();
    if let (Some(reading), true) = (&asked.reading, found.is_empty()) {
        let which = format!("{reading}' of job '{job}");
        let todo = "`leadhand reading list` shows them";
        return Err(refusal::Refusal::Unknown { what: "reading", which, todo }.into());
    }
    // What is asked for by its key and was not taken is told as that.
    let untaken = |row: &ReadingRow| asked.reading.as_ref().and_then(|_| untaken(row, rows));
    if let [only] = found.as_slice()
        && let Some(refusal) = untaken(only)
    {
        let judgement = Judgement { of: None, answer: Err(refusal), picture: None };
        return Ok(vec![judged(only, words, judgement)]);
    }
    let named = |row| if asked.reading.is_some() { judged_with(row, rows) } else { row };
    let judged = found.into_iter().map(named).flat_map(|row| {
        let judgements = judge(row, rows, &asked.judging);
        judgements.into_iter().map(|judgement| judged(row, words, judgement))
    });
    Ok(judged.collect())
}

fn judged(row: &ReadingRow, words: &Words, judgement: Judgement) -> v1::JudgedReading {
    let (answer, unjudged) = split(Some(judgement.answer));
    v1::JudgedReading {
        reading: row.reading.to_string(),
        what: words.either(row.what.as_deref(), row.what_text).to_owned(),
        kind: enums::reading_kind(row.detail.kind),
        of: judgement.of.unwrap_or_default(),
        answer,
        unjudged,
        picture: judgement.picture.unwrap_or_default(),
    }
}
