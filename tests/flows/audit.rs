//! The audit: in every grouping the labels add up to the same time, and every number leads to a fact of its job.

use crate::clock::{MINUTE_US, ago, length, us, written_at};
use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};
use prost_types::{Timestamp, value::Kind};

/// A job of two stages, entered late; minutes before `now`.
async fn worked_job(shop: &Shop, who: &Client, now: Timestamp, template: &str) -> i64 {
    let at = |minutes| written_at(ago(now, minutes));
    let opened = v1::OpenJobRequest {
        write: at(400),
        template: template.into(),
        vehicle_label: "white van".into(),
        title: "Look at it".into(),
        ..Default::default()
    };
    let job = shop.lead.open_job(opened).await.unwrap().job;
    for stage in ["look", "mend"] {
        let (write, stage, title) = (at(390), stage.into(), stage.into());
        let asked = v1::AddStageRequest { write, job, stage, title, ..Default::default() };
        shop.lead.add_stage(asked).await.unwrap();
    }
    let stage = || "look".to_owned();
    who.start_stage(v1::StartStageRequest { write: at(350), job, stage: stage(), ..Default::default() }).await.unwrap();
    who.clock_off(v1::ClockOffRequest { write: at(330) }).await.unwrap();
    for (minutes, cause) in [(320, v1::Cause::Tool), (310, v1::Cause::Customer)] {
        let (write, cause) = (at(minutes), cause.into());
        let raise = v1::RaiseBlockerRequest { write, job, stage: stage(), cause, ..Default::default() };
        who.raise_blocker(raise).await.unwrap();
    }
    for (minutes, blocker) in [(290, 1), (250, 2)] {
        let clear = v1::ClearBlockerRequest { write: at(minutes), job, blocker, note: String::new() };
        who.clear_blocker(clear).await.unwrap();
    }
    let finish = v1::FinishStageRequest { write: at(240), job, stage: stage(), as_listed: true };
    who.finish_stage(finish).await.unwrap();
    job
}

/// A shop that is never closed, so that every label can be had.
async fn always_open() -> Shop {
    let shop = Shop::open().await;
    let week = (1..=7)
        .map(|weekday| v1::WeekdayHours { weekday, hours: vec![v1::DayHours { from_minute: 0, until_minute: 1440 }] })
        .collect();
    let two_days_ago = jiff::Timestamp::from_second(shop.now().await.seconds - 2 * 86_400).unwrap();
    let from_day = jiff::tz::TimeZone::UTC.to_datetime(two_days_ago).date().to_string();
    shop.lead.set_hours(v1::SetHoursRequest { write: Some(new_write()), from_day, week }).await.unwrap();
    shop
}

/// What a line says, all labels in microseconds, held up by cause last.
fn labels(line: &v1::AuditLine) -> [i64; 6] {
    let parts = [line.worked, line.outside, line.blocked, line.wait, line.idle].map(us);
    assert_eq!(parts.iter().sum::<i64>(), us(line.elapsed), "{}: the labels add up", line.about);
    let by_cause: i64 = line.blocked_by.iter().map(|blocked| us(blocked.time)).sum();
    assert_eq!(by_cause, us(line.blocked), "{}: the causes add up", line.about);
    [parts[0], parts[1], parts[2], parts[3], parts[4], us(line.labour)]
}

async fn audited(shop: &Shop, by: v1::AuditBy, job: i64) -> v1::AuditTimeResponse {
    let asked = v1::AuditTimeRequest { by: by.into(), job, with_segments: true, ..Default::default() };
    let audit = shop.elsewhere.audit_time(asked).await.unwrap();
    for line in &audit.lines {
        labels(line);
        let mut end = None;
        for part in &line.segments {
            assert!(end.is_none_or(|end| part.from_at == Some(end)), "{}: a gap or an overlap", line.about);
            assert!(length(part.from_at, part.until_at) > 0);
            end = part.until_at;
        }
        if !line.segments.is_empty() {
            let all: i64 = line.segments.iter().map(|part| length(part.from_at, part.until_at)).sum();
            assert_eq!(all, us(line.elapsed), "{}: the segments add up", line.about);
        }
    }
    audit
}

#[tokio::test(flavor = "multi_thread")]
async fn every_label_of_a_stage_is_what_was_entered() {
    use v1::Label::{Blocked, Idle, Worked};
    let shop = always_open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let now = flint.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap();
    let job = worked_job(&shop, &flint, now, "").await;
    let audit = audited(&shop, v1::AuditBy::Stage, job).await;
    let look = audit.lines.iter().find(|line| line.about == "look").unwrap();
    // By hand, in minutes: ready at -390, worked -350 to -330, held up -320 to -250, done at -240; the rest is idle.
    let expected = [20, 0, 70, 0, 40 + 10 + 10, 20].map(|minutes: i64| minutes * MINUTE_US);
    assert_eq!(labels(look), expected);
    // The earliest open blocker has the time: the tool until -290, then the customer.
    let by: Vec<(v1::Cause, i64)> = look.blocked_by.iter().map(|part| (part.cause(), us(part.time))).collect();
    assert_eq!(by, [(v1::Cause::Tool, 30 * MINUTE_US), (v1::Cause::Customer, 40 * MINUTE_US)]);
    let said: Vec<(v1::Label, i64)> =
        look.segments.iter().map(|part| (part.label(), length(part.from_at, part.until_at) / MINUTE_US)).collect();
    assert_eq!(said, [(Idle, 40), (Worked, 20), (Idle, 10), (Blocked, 30), (Blocked, 40), (Idle, 10)]);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_grouping_adds_up_to_the_same_time() {
    let shop = always_open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let now = flint.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap();
    let worked = worked_job(&shop, &flint, now, "front-brakes").await;
    // Closed jobs only, so that no label grows between two looks.
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job: worked, reason: "sold".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    let unknown = v1::AuditTimeRequest { template: "nope".into(), ..Default::default() };
    assert_eq!(reason(shop.lead.audit_time(unknown).await), "NOT_FOUND", "no time and no such template are two things");
    let by_stage = audited(&shop, v1::AuditBy::Stage, 0).await;
    let whole = labels(by_stage.total.as_ref().unwrap());
    // Worked, held up and idle are there to be added up; nothing is outside hours, and nothing waits by plan.
    assert_eq!(whole.map(|us| us > 0), [true, false, true, false, true, true]);
    for by in [v1::AuditBy::Job, v1::AuditBy::Template, v1::AuditBy::TemplateStage] {
        let audit = audited(&shop, by, 0).await;
        let sums: Vec<[i64; 6]> = audit.lines.iter().map(labels).collect();
        let sum: [i64; 6] = std::array::from_fn(|at| sums.iter().map(|line| line[at]).sum());
        assert_eq!((sum, labels(audit.total.as_ref().unwrap())), (whole, whole), "{by:?}");
    }
    let by_template = audited(&shop, v1::AuditBy::Template, 0).await.lines;
    let about: Vec<&str> = by_template.iter().map(|line| line.about.as_str()).collect();
    assert!(about.len() == 1 && about[0].starts_with("front-brakes"), "{about:?}");
    // Of one job, the stages of its template have what its stages have, in the written order.
    let both = audited(&shop, v1::AuditBy::TemplateStage, 0).await.lines;
    let told =
        |line: &v1::AuditLine| (line.about.trim_start_matches("front-brakes/").to_owned(), labels(line), line.minutes);
    assert!(both.iter().map(told).eq(by_stage.lines.iter().map(told)), "{both:?}");
    let narrow = |template: &str, job| {
        let (by, template) = (v1::AuditBy::TemplateStage.into(), template.into());
        shop.lead.audit_time(v1::AuditTimeRequest { by, template, job, ..Default::default() })
    };
    assert_eq!(narrow("front-brakes", worked).await.unwrap().lines.len(), both.len());
    assert_eq!(reason(narrow("nope", 0).await), "NOT_FOUND");
    assert_eq!(reason(narrow("", 99).await), "NOT_FOUND");
    let causes = audited(&shop, v1::AuditBy::Cause, 0).await;
    assert_eq!(us(causes.total.unwrap().blocked), whole[2], "a cause has what it held up");
    let finished: i32 = by_stage.lines.iter().map(|line| line.finished).sum();
    assert_eq!((finished, by_stage.total.as_ref().map(|total| total.finished)), (1, Some(1)), "{by_stage:?}");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn time_stands_beside_the_minutes_of_the_template() {
    let shop = always_open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let now = shop.now().await;
    let job = worked_job(&shop, &flint, now, "front-brakes").await;
    let place =
        v1::AssignJobRequest { write: written_at(ago(now, 200)), job, bay: "lift-1".into(), ..Default::default() };
    shop.lead.assign_job(place).await.unwrap();
    let out =
        v1::RollOutJobRequest { write: written_at(ago(now, 170)), job, override_reason: "it is in the way".into() };
    shop.lead.roll_out_job(out).await.unwrap();
    let minutes = |line: &v1::AuditLine| line.minutes.map(|all| (all.low, all.likely, all.high));
    let by_stage = audited(&shop, v1::AuditBy::Stage, job).await.lines;
    let of = |stage: &str| minutes(by_stage.iter().find(|line| line.about == stage).unwrap());
    // As written in deploy/demo-shop/templates/front-brakes.toml.
    assert_eq!([of("book-in"), of("lift")], [Some((10, 15, 25)), Some((15, 20, 40))]);
    let sum = by_stage
        .iter()
        .filter_map(minutes)
        .fold((0, 0, 0), |sum, next| (sum.0 + next.0, sum.1 + next.1, sum.2 + next.2));
    for by in [v1::AuditBy::Job, v1::AuditBy::Template] {
        let line = audited(&shop, by, job).await.lines.remove(0);
        assert_eq!(minutes(&line), Some(sum), "{by:?}: the minutes of its stages");
        assert_eq!(us(line.in_bay), 30 * MINUTE_US, "{by:?}: the bay was taken for half an hour");
        assert_eq!(us(line.labour), 20 * MINUTE_US, "{by:?}");
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_number_leads_to_a_fact_about_its_job() {
    let shop = always_open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let now = flint.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap();
    let jobs = [worked_job(&shop, &flint, now, "").await, shop.job("front-brakes", "grey van").await];
    let journal = shop.facts_after(0).await;
    let mut followed = 0;
    for job in jobs {
        for line in &audited(&shop, v1::AuditBy::Stage, job).await.lines {
            let parts = line.segments.iter().flat_map(|part| &part.numbers);
            for number in line.numbers.iter().chain(parts) {
                let fact = &journal[usize::try_from(number - 1).unwrap()];
                assert_eq!(fact.number, *number);
                let about = fact.body.as_ref().unwrap().fields.get("job").and_then(|job| job.kind.clone());
                #[expect(clippy::cast_precision_loss, reason = "a job's number is small")]
                let expected = Some(Kind::NumberValue(job as f64));
                assert!(about == expected || fact.kind == "calendar_set", "{} is no fact of job {job}", fact.kind);
                followed += 1;
            }
        }
    }
    assert!(followed > 10, "{followed} numbers were followed");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_lost_is_told_stretch_by_stretch_of_open_and_closed_jobs() {
    let shop = always_open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let now = flint.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap();
    let job = worked_job(&shop, &flint, now, "").await;
    let cut = |minutes: i64| Timestamp { seconds: now.seconds + minutes * 60, ..now };
    let asked = |cuts: &[i64]| {
        let cut_at = cuts.iter().map(|minutes| cut(*minutes)).collect();
        v1::AuditTimeRequest { by: v1::AuditBy::Cause.into(), cut_at, ..Default::default() }
    };
    let told = |answer: v1::AuditTimeResponse| -> Vec<(i64, String, i64)> {
        let from = |line: &v1::AuditLine| (line.from_at.unwrap().seconds - now.seconds) / 60;
        answer.lines.iter().map(|line| (from(line), line.about.clone(), us(line.blocked) / MINUTE_US)).collect()
    };
    // Held up from -320 to -250: by the tool until -290, then by the customer.
    let expected = [(-400, "tool".into(), 20), (-300, "tool".into(), 10), (-300, "customer".into(), 40)];
    let cuts = [-400, -300, -200];
    assert_eq!(told(shop.lead.audit_time(asked(&cuts)).await.unwrap()), expected);
    let one = v1::AuditTimeRequest { job, ..asked(&cuts) };
    assert_eq!(told(shop.lead.audit_time(one).await.unwrap()), expected);
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "sold".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    assert_eq!(told(shop.elsewhere.audit_time(asked(&cuts)).await.unwrap()), expected, "a closed job lost it too");
    // A job that was closed before is not looked at.
    assert_eq!(told(shop.lead.audit_time(asked(&[60, 120])).await.unwrap()), []);
    let wrong: [&[i64]; 3] = [&[0], &[0, 0], &[10, 0]];
    for cuts in wrong {
        assert_eq!(reason(shop.lead.audit_time(asked(cuts)).await), "INVALID_FIELD", "{cuts:?}");
    }
    let many: Vec<i64> = (0..121).collect();
    assert_eq!(reason(shop.lead.audit_time(asked(&many)).await), "INVALID_FIELD");
    let by_stage = v1::AuditTimeRequest { by: v1::AuditBy::Stage.into(), ..asked(&cuts) };
    assert_eq!(reason(shop.lead.audit_time(by_stage).await), "INVALID_FIELD");
    let bounded = v1::AuditTimeRequest { from_at: Some(now), ..asked(&cuts) };
    assert_eq!(reason(shop.lead.audit_time(bounded).await), "INVALID_FIELD");
}
