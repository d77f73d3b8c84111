//! Readings on the wire: figures are decimals in text.

use super::time::stamp;
use super::{enums, fields, invalid, reckon};
use leadhand_app::{AppError, Words};
use leadhand_domain::reading as rules;
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::rows::ReadingRow;
use leadhand_facts::words::{ReadingKind, ReadingUnit};
use leadhand_facts::{Measure, PersonId};
use leadhand_proto::v1;
use leadhand_reckoner::answer::Conclusion;
use leadhand_reckoner::job::{Judging, judge};
use std::collections::BTreeMap;

/// The figures of a reading.
pub fn figures(said: &[String]) -> Result<Vec<Measure>, AppError> {
    fields::bounded("figures", said)?;
    let read =
        |(at, text): (usize, &String)| rules::read_measure(text).map_err(|why| invalid(format!("figures[{at}]"), why));
    said.iter().enumerate().map(read).collect()
}

/// What is known of a reading that is added.
pub fn detail(said: Option<v1::ReadingDetail>) -> Result<ReadingDetail, AppError> {
    let said = said.unwrap_or_default();
    fields::bounded("detail.labels", &said.labels)?;
    for (name, words) in [("method", &said.method), ("instrument", &said.instrument)] {
        if !words.is_empty() {
            let why = "only a template says that; say it with the figures";
            return Err(invalid(format!("detail.{name}"), why));
        }
    }
    let limit = |name: &str, text: &str| {
        if text.is_empty() {
            return Ok(None);
        }
        rules::read_measure(text).map(Some).map_err(|why| invalid(format!("detail.{name}"), why))
    };
    let kind = enums::read_reading_kind_some("detail.kind", said.kind)?.unwrap_or(ReadingKind::Other);
    let unit = if said.unit.is_empty() { Some(ReadingUnit::One) } else { ReadingUnit::from_written(&said.unit) };
    let unit = unit.ok_or_else(|| {
        let known: Vec<&str> = ReadingUnit::ALL.iter().map(|unit| unit.shown()).collect();
        invalid("detail.unit", format!("it is none of {}", known.join(", ")))
    })?;
    Ok(ReadingDetail {
        low: limit("low", &said.low)?,
        high: limit("high", &said.high)?,
        spread: limit("spread", &said.spread)?,
        drop: limit("drop", &said.drop)?,
        minutes: fields::positive_some("detail.minutes", said.minutes)?,
        labels: said.labels,
        ..ReadingDetail::plain(kind, unit)
    })
}

/// What the reckoner makes of a reading among all of its job; what it says of several figures it says once. The kind of
/// engine is not in the books, and matters only where the template sets no least.
fn conclusions(row: &ReadingRow, all: &[ReadingRow]) -> Vec<v1::Conclusion> {
    let judging = Judging::default();
    let mut told: Vec<(Conclusion, Vec<String>)> = Vec::new();
    for judgement in judge(row, all, &judging) {
        for conclusion in judgement.answer.map(|answer| answer.conclusions).unwrap_or_default() {
            match told.iter_mut().find(|(known, _)| *known == conclusion) {
                Some((_, figures)) => figures.extend(judgement.of.clone()),
                None => told.push((conclusion, judgement.of.iter().cloned().collect())),
            }
        }
    }
    told.into_iter().map(|(one, figures)| in_front(&figures, reckon::conclusion(&one))).collect()
}

fn in_front(figures: &[String], conclusion: v1::Conclusion) -> v1::Conclusion {
    if figures.is_empty() {
        return conclusion;
    }
    v1::Conclusion { text: format!("{}: {}", figures.join(", "), conclusion.text), ..conclusion }
}

/// A reading among all of its job, and how it came out.
pub fn reading(row: &ReadingRow, all: &[ReadingRow], words: &Words, names: &BTreeMap<PersonId, String>) -> v1::Reading {
    let detail = &row.detail;
    let name = |id: Option<PersonId>| id.and_then(|id| names.get(&id)).cloned().unwrap_or_default();
    v1::Reading {
        reading: row.reading.to_string(),
        stage: row.stage.to_string(),
        step: row.step.map(|step| step.0).unwrap_or_default(),
        what: words.either(row.what.as_deref(), row.what_text).to_owned(),
        detail: Some(detail_of(detail)),
        slots: rules::slots(detail),
        limits: rules::limits(detail),
        unplanned: row.unplanned,
        taken_at: stamp(row.taken_at),
        taken_by: name(row.taken_by),
        figures: row.figures.iter().map(Measure::to_string).collect(),
        derived: rules::derived(detail, &row.figures),
        verdict: row.verdict.map(enums::verdict).unwrap_or_default(),
        off: row.off_limits.iter().map(|off| rules::told(detail, *off)).collect(),
        instrument: words.get(row.instrument).to_owned(),
        note: words.get(row.note).to_owned(),
        decision: row.decision.map(enums::decision).unwrap_or_default(),
        reason: words.get(row.decided_reason).to_owned(),
        decided_by: name(row.decided_by),
        decided_at: stamp(row.decided_at),
        conclusions: conclusions(row, all),
    }
}

fn detail_of(detail: &ReadingDetail) -> v1::ReadingDetail {
    let limit = |limit: Option<Measure>| limit.map(|limit| limit.to_string()).unwrap_or_default();
    v1::ReadingDetail {
        kind: enums::reading_kind(detail.kind),
        unit: detail.unit.to_string(),
        labels: detail.labels.clone(),
        low: limit(detail.low),
        high: limit(detail.high),
        spread: limit(detail.spread),
        drop: limit(detail.drop),
        minutes: detail.minutes.unwrap_or_default(),
        method: detail.method.clone().unwrap_or_default(),
        instrument: detail.instrument.clone().unwrap_or_default(),
    }
}
