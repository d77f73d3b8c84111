//! What readings and the hand-over are asked in the samples.

use crate::samples::{Sample, Who, by};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

/// A reading of the second step that is out of its limits, and a remark.
pub async fn prepare(flint: &Client, job: i64) {
    let detail = v1::ReadingDetail { unit: "mm".into(), high: "0.05".into(), ..Default::default() };
    let asked = v1::AddReadingRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        step: 2,
        reading: "gap".into(),
        what: "some words".into(),
        detail: Some(detail),
        figures: vec!["0.07".into()],
        ..Default::default()
    };
    flint.add_reading(asked).await.unwrap();
    let asked = v1::MakeRemarkRequest { write: Some(new_write()), job, what: 1, words: "some words".into() };
    flint.make_remark(asked).await.unwrap();
}

/// A sample of each request; `recorded` is for a person.
pub fn samples(job: i64, recorded: Option<v1::WriteContext>) -> Vec<Sample> {
    let write = || Some(new_write());
    let (stage, gap, text) = (|| "strip".to_owned(), || "gap".to_owned(), || "some words".to_owned());
    let detail = v1::ReadingDetail {
        kind: 1,
        unit: "bar".into(),
        labels: vec!["1".into(), "2".into()],
        low: "9.5".into(),
        high: "15".into(),
        spread: "20".into(),
        ..Default::default()
    };
    let held = v1::ReadingDetail { kind: 7, unit: "kPa".into(), drop: "5".into(), minutes: 10, ..Default::default() };
    let add = v1::AddReadingRequest {
        write: recorded,
        job,
        stage: stage(),
        step: 1,
        reading: "compression".into(),
        what: text(),
        detail: Some(detail),
        figures: vec!["12.4".into(), "12.1".into()],
        instrument: text(),
        note: text(),
        sure: false,
    };
    let later = v1::AddReadingRequest {
        write: write(),
        job,
        stage: stage(),
        what: text(),
        detail: Some(held),
        ..Default::default()
    };
    let figures = vec!["0.04".into()];
    let (instrument, note) = (text(), text());
    let record =
        v1::RecordReadingRequest { write: write(), job, reading: gap(), figures, instrument, note, sure: false };
    let decide = v1::DecideReadingRequest { write: write(), job, reading: gap(), decision: 1, reason: text() };
    vec![
        by(Who::Lead, &add),
        by(Who::Lead, &later),
        by(Who::Lead, &record),
        by(Who::Lead, &decide),
        by(Who::Lead, &v1::GetReadingsRequest { job }),
        by(Who::Lead, &v1::CheckHandOverRequest { job }),
        by(Who::Lead, &v1::GetHandOverSheetRequest { job }),
        by(Who::Lead, &v1::MakeRemarkRequest { write: write(), job, what: 2, words: text() }),
        by(Who::Lead, &v1::WithdrawRemarkRequest { write: write(), job, remark: 1, reason: text() }),
        by(Who::Lead, &v1::GetLooseEndsRequest { job }),
    ]
}
