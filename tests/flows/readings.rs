//! Readings over the wire: exact figures in text, an outcome in the answer, a hold until the lead decides; a hand-over
//! that goes line by line, the sheet, and the end of a shift. Common practice, in the shop's own words.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};

const TEMPLATE: &str = include_str!("../../deploy/demo-shop/templates/engine-check.toml");

fn record(job: i64, reading: &str, figures: &[&str]) -> v1::RecordReadingRequest {
    let figures = figures.iter().map(|figure| (*figure).to_owned()).collect();
    let instrument = "gauge 2".to_owned();
    v1::RecordReadingRequest {
        write: Some(new_write()),
        job,
        reading: reading.into(),
        figures,
        instrument,
        ..Default::default()
    }
}

fn decide(job: i64, decision: v1::Decision) -> v1::DecideReadingRequest {
    let (reading, reason) = ("compression".to_owned(), "the customer was asked".to_owned());
    v1::DecideReadingRequest { write: Some(new_write()), job, reading, decision: decision.into(), reason }
}

fn finish(job: i64, stage: &str) -> v1::FinishStageRequest {
    v1::FinishStageRequest { write: Some(new_write()), job, stage: stage.into(), as_listed: true }
}

fn complete(job: i64, lines: &[(&str, &str)]) -> v1::CompleteJobRequest {
    let one = |(line, reason): &(&str, &str)| v1::Override { line: (*line).into(), reason: (*reason).into() };
    let overrides = lines.iter().map(one).collect();
    v1::CompleteJobRequest { write: Some(new_write()), job, overrides, ..Default::default() }
}

async fn readings(who: &Client, job: i64) -> Vec<v1::Reading> {
    who.get_readings(v1::GetReadingsRequest { job }).await.unwrap().readings
}

async fn open_lines(who: &Client, job: i64) -> Vec<String> {
    let found = who.check_hand_over(v1::CheckHandOverRequest { job }).await.unwrap();
    found.lines.into_iter().map(|line| line.line).collect()
}

/// A shop with an engine check under way at its measuring stage.
async fn measuring() -> (Shop, Client, i64) {
    let shop = Shop::open().await;
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: TEMPLATE.into() };
    shop.lead.publish_template(publish).await.unwrap();
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.job("engine-check", "brown hatchback").await;
    shop.assign(job, "floor-1").await.unwrap();
    start(&flint, job, "look").await.unwrap();
    flint.finish_stage(finish(job, "look")).await.unwrap();
    start(&flint, job, "measure").await.unwrap();
    (shop, flint, job)
}

#[tokio::test(flavor = "multi_thread")]
async fn out_of_limits_holds_until_the_lead_decides_and_the_sheet_says_so() {
    let (shop, flint, job) = measuring().await;
    assert_eq!(reason(flint.finish_stage(finish(job, "measure")).await), "READINGS_MISSING");
    let asked = record(job, "compression", &["12.4", "8.1", "12.600000", "12.2"]);
    let first = flint.record_reading(asked.clone()).await.unwrap().receipt.unwrap();
    let again = flint.record_reading(asked).await.unwrap().receipt.unwrap();
    assert_eq!((again.number, again.repeated), (first.number, true), "a repeat takes effect once");
    assert_eq!(first.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["OUT_OF_LIMITS"]);
    let found = readings(&flint, job).await;
    let one = found.iter().find(|one| one.reading == "compression").unwrap();
    assert_eq!(one.figures, ["12.4", "8.1", "12.6", "12.2"]);
    assert_eq!((one.verdict(), one.taken_by.as_str(), one.instrument.as_str()), (v1::Verdict::Out, "Flint", "gauge 2"));
    // compression_test.csv, case one_low: (12.6 - 8.1) / 12.6 = 35.71 %.
    assert_eq!(one.derived, ["lowest 35.7 % below the highest"]);
    assert_eq!(one.limits, "at least 9.5 bar, lowest at most 20 % below the highest");
    let ends = flint.get_loose_ends(v1::GetLooseEndsRequest { job }).await.unwrap().jobs.remove(0);
    assert_eq!(
        (ends.bay.as_str(), ends.readings.len(), ends.blockers.len(), ends.half_done.len()),
        ("floor-1", 1, 1, 1)
    );

    flint
        .record_reading(record(job, "leak-down", &["600", "540", "600", "540", "600", "552", "600", "546"]))
        .await
        .unwrap();
    assert_eq!(reason(flint.finish_stage(finish(job, "measure")).await), "READING_OUT");
    flint.record_reading(record(job, "cooling-pressure", &["120", "118", "10"])).await.unwrap();
    assert_eq!(reason(flint.finish_stage(finish(job, "measure")).await), "READING_OUT");
    assert_eq!(reason(flint.decide_reading(decide(job, v1::Decision::Accept)).await), "ROLE_NOT_ALLOWED");
    shop.lead.decide_reading(decide(job, v1::Decision::Accept)).await.unwrap();
    flint.finish_stage(finish(job, "measure")).await.unwrap();
    start(&flint, job, "close").await.unwrap();
    flint.finish_stage(finish(job, "close")).await.unwrap();
    let words = "Cylinder 2 is low; the repair was not ordered.".to_owned();
    let what = v1::RemarkKind::AdviceDeclined.into();
    let remark = v1::MakeRemarkRequest { write: Some(new_write()), job, what, words: words.clone() };
    flint.make_remark(remark).await.unwrap();
    shop.lead.complete_job(complete(job, &[])).await.unwrap();
    let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    assert_eq!((sheet.vehicle.as_str(), sheet.stages.len(), sheet.readings.len()), ("brown hatchback", 3, 3));
    assert!(sheet.stages.iter().all(|stage| stage.done) && sheet.open.is_empty() && sheet.closed_at.is_some());
    let said: Vec<&str> = sheet.remarks.iter().map(|remark| remark.words.as_str()).collect();
    assert_eq!(said, [words.as_str(), "Look at the coolant level after a week, with the engine cold."]);
    assert!(sheet.deference.contains("manufacturer's data") && !sheet.cautions.is_empty());
    let low = sheet.readings.iter().find(|one| one.reading == "compression").unwrap();
    assert_eq!((low.decision(), low.reason.as_str()), (v1::Decision::Accept, "the customer was asked"));
    assert!(sheet.readings.iter().all(|one| one.taken_by.is_empty()), "who worked is no business of the customer");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hand_over_goes_line_by_line_and_each_reason_stays() {
    let (shop, flint, job) = measuring().await;
    for step in [1, 2] {
        let (stage, reason) = ("measure".to_owned(), "no gauge here".to_owned());
        flint.skip_step(v1::SkipStepRequest { write: Some(new_write()), job, stage, step, reason }).await.unwrap();
    }
    flint.record_reading(record(job, "cooling-pressure", &["120", "118", "10"])).await.unwrap();
    flint.finish_stage(finish(job, "measure")).await.unwrap();
    let status = shop.lead.complete_job(complete(job, &[])).await.unwrap_err();
    assert_eq!(reason::<()>(Err(status)), "HAND_OVER_UNFINISHED");
    start(&flint, job, "close").await.unwrap();
    flint.finish_stage(finish(job, "close")).await.unwrap();
    let (one, other) = ("reading-missing:compression", "reading-missing:leak-down");
    assert_eq!(open_lines(&flint, job).await, [one, other]);
    assert_eq!(reason(shop.lead.complete_job(complete(job, &[(one, "sent away")])).await), "HAND_OVER_OPEN");
    let gone = [(one, "sent away"), ("places:lid", "nothing of the kind")];
    assert_eq!(reason(shop.lead.complete_job(complete(job, &gone)).await), "INVALID_FIELD");
    shop.lead.complete_job(complete(job, &[(one, "sent away"), (other, "the set is lent")])).await.unwrap();
    let sheet = shop.lead.get_hand_over_sheet(v1::GetHandOverSheetRequest { job }).await.unwrap();
    let overruled: Vec<(&str, &str)> =
        sheet.overruled.iter().map(|line| (line.line.as_str(), line.reason.as_str())).collect();
    assert_eq!(overruled, [(one, "sent away"), (other, "the set is lent")]);
    assert!(sheet.overruled.iter().all(|line| !line.by.is_empty()), "on whose word");
    assert!(open_lines(&flint, job).await.is_empty(), "nothing is open of what is closed");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn figures_that_are_none_are_refused_with_their_place() {
    let (shop, flint, job) = measuring().await;
    let head = shop.head().await;
    for (figures, field) in [
        (["12.4", "8.1", "12,6", "12.2"], "figures[2]"),
        (["1e1", "8.1", "12.6", "12.2"], "figures[0]"),
        (["12.4", "8.1", "12.6", "0.0000001"], "figures[3]"),
        (["12.4", "-8.1", "12.6", "12.2"], "figures[1]"),
    ] {
        let refused = flint.record_reading(record(job, "compression", &figures)).await.unwrap_err();
        assert!(refused.to_string().contains(field), "{refused}");
    }
    let detail = v1::ReadingDetail { unit: "furlong".into(), ..Default::default() };
    let added = v1::AddReadingRequest {
        write: Some(new_write()),
        job,
        stage: "measure".into(),
        what: "depth".into(),
        detail: Some(detail),
        ..Default::default()
    };
    assert!(flint.add_reading(added.clone()).await.unwrap_err().to_string().contains("detail.unit"));
    assert_eq!(shop.head().await, head, "nothing was written");
    let detail = Some(v1::ReadingDetail { unit: "mm".into(), high: "2".into(), ..Default::default() });
    let figures = vec!["1.999999".to_owned()];
    let key = flint.add_reading(v1::AddReadingRequest { detail, figures, ..added }).await.unwrap().reading;
    let found = readings(&flint, job).await;
    let one = found.iter().find(|one| one.reading == key).unwrap();
    assert_eq!((one.verdict(), one.unplanned, one.figures[0].as_str()), (v1::Verdict::In, true, "1.999999"));
    shop.verified().await;
}
