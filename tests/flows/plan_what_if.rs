//! What if: each kind of change over the wire, what it does to the plan, and that nothing in the shop is touched by asking. The
//! figures follow from the shop that each test sets up: it is open day and night, and minutes are the same at all three points.

use crate::clock::later;
use crate::plan::{accept, accepted, asked, open_always, proposed};
use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_proto::v1::PlanChangeKind as Kind;
use leadhand_sdk::new_write;
use prost_types::Timestamp;

const MINUTE: i64 = 60_000_000;
const DAY: i64 = 24 * 60 * MINUTE;

/// A shop that is open always, with one technician, in which moving a vehicle takes no time.
async fn shop() -> Shop {
    let shop = Shop::open().await;
    open_always(&shop).await;
    shop.technician("Flint", &["engine"]).await;
    let yard = v1::SetYardRequest { write: Some(new_write()), places_outside: None, moving_minutes: Some(0) };
    shop.lead.set_yard(yard).await.unwrap();
    shop
}

#[expect(clippy::unnecessary_wraps, reason = "a message field is an option")]
fn exactly(minutes: i32) -> Option<v1::Minutes> {
    Some(v1::Minutes { low: minutes, likely: minutes, high: minutes })
}

/// A stage after all others.
async fn add(shop: &Shop, job: i64, stage: &str, minutes: i32, bays: Vec<i32>) {
    let (write, stage, title) = (Some(new_write()), stage.to_owned(), stage.to_owned());
    let minutes = exactly(minutes);
    let asked = v1::AddStageRequest { write, job, stage, title, minutes, bays, after_last: true, ..Default::default() };
    shop.lead.add_stage(asked).await.unwrap();
}

/// A job of one stage of an hour.
async fn hour(shop: &Shop) -> i64 {
    let job = shop.blank_job(&[]).await;
    add(shop, job, "look", 60, vec![]).await;
    job
}

async fn promise(shop: &Shop, job: i64, priority: i32, promised_at: Timestamp) {
    let promised_at = Some(promised_at);
    let write = Some(new_write());
    shop.lead
        .promise_job(v1::PromiseJobRequest { write, job, priority, promised_at, ..Default::default() })
        .await
        .unwrap();
}

fn of_job(kind: Kind, job: i64) -> v1::PlanChange {
    v1::PlanChange { kind: kind.into(), job, ..Default::default() }
}

/// From now on for so long.
fn stretch(kind: Kind, now: Timestamp, length: i64) -> v1::PlanChange {
    let (from_at, until_at) = (Some(now), Some(later(now, length)));
    v1::PlanChange { kind: kind.into(), from_at, until_at, ..Default::default() }
}

/// What would be; and everything in the shop is afterwards as it was.
async fn what_if(shop: &Shop, change: v1::PlanChange) -> v1::ProposePlanResponse {
    let before = (shop.head().await, accepted(shop).await);
    let found = shop.lead.propose_plan(v1::ProposePlanRequest { changes: vec![change], ..asked() }).await.unwrap();
    assert_eq!((shop.head().await, accepted(shop).await), before, "nothing is touched by asking");
    let plan = found.plan.clone().unwrap();
    assert_eq!(plan.number, 0, "it is no plan of the shop as it is");
    let refused = shop.lead.accept_plan(accept(Some(plan), false)).await.unwrap_err();
    assert_eq!(refused.fields[0].field, "plan.number");
    found
}

fn of(found: &v1::ProposePlanResponse, job: i64) -> v1::JobOutlook {
    found.outlooks.iter().find(|row| row.job == job).unwrap().clone()
}

fn ready(found: &v1::ProposePlanResponse, job: i64) -> i64 {
    of(found, job).ready_at.unwrap().seconds
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_job_and_with_one_more_hand_the_others_are_sooner_ready() {
    let shop = shop().await;
    let jobs = [hour(&shop).await, hour(&shop).await, hour(&shop).await];
    let now = shop.now().await;
    let last = |found: &v1::ProposePlanResponse| {
        let all = found.outlooks.iter().map(|row| row.ready_at.unwrap().seconds);
        all.max().unwrap() - found.plan.as_ref().unwrap().made_at.unwrap().seconds
    };
    assert_eq!(last(&proposed(&shop).await), 3 * 3_600, "one after the other");
    let without = what_if(&shop, of_job(Kind::Without, jobs[1])).await;
    assert_eq!(last(&without), 2 * 3_600);
    assert!(without.outlooks.iter().all(|row| row.job != jobs[1]));
    let hand = v1::PlanChange { person: "Flint".into(), ..stretch(Kind::OneMoreHand, now, DAY) };
    let more = what_if(&shop, hand).await;
    assert_eq!(last(&more), 2 * 3_600, "two at a time");
    assert!(more.persons.iter().any(|row| row.name == "one more hand"));
    let away = v1::PlanChange { person: "Flint".into(), ..stretch(Kind::Away, now, DAY) };
    assert!(last(&what_if(&shop, away).await) >= 24 * 3_600 + 2 * 3_600, "nothing is done before Flint is back");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn parts_and_blockers_at_another_time_move_their_stage() {
    let shop = shop().await;
    let job = hour(&shop).await;
    let now = shop.now().await;
    let there = later(now, 3 * DAY);
    let parts = v1::PlanChange { stage: "look".into(), from_at: Some(there), ..of_job(Kind::PartsFrom, job) };
    let found = ready(&what_if(&shop, parts).await, job);
    assert!((there.seconds + 3_600..=there.seconds + 3_660).contains(&found), "an hour after its parts are there");

    let until = later(now, 5 * DAY);
    let raise = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        cause: v1::Cause::Customer.into(),
        expected_at: Some(until),
        ..Default::default()
    };
    shop.lead.raise_blocker(raise).await.unwrap();
    let held = ready(&proposed(&shop).await, job);
    assert!((until.seconds + 3_600..=until.seconds + 3_660).contains(&held));
    let over = v1::PlanChange { stage: "look".into(), ..of_job(Kind::BlockerEnds, job) };
    assert!(ready(&what_if(&shop, over).await, job) < now.seconds + 2 * 3_600);
    let sooner = later(now, DAY);
    let ends = v1::PlanChange { stage: "look".into(), until_at: Some(sooner), ..of_job(Kind::BlockerEnds, job) };
    let found = ready(&what_if(&shop, ends).await, job);
    assert!((sooner.seconds + 3_600..=sooner.seconds + 3_660).contains(&found));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bay_that_is_closed_and_another_promise_or_urgency_are_taken_for_so() {
    let shop = shop().await;
    let job = shop.blank_job(&[]).await;
    add(&shop, job, "look", 60, vec![v1::BayKind::Pit.into()]).await;
    let now = shop.now().await;
    promise(&shop, job, 3, later(now, 30 * MINUTE)).await;
    let before = proposed(&shop).await;
    let late = of(&before, job).late_minutes;
    assert!((30..=32).contains(&late), "{late} min late: an hour of work, promised in half an hour");
    assert_eq!(before.lateness, 4 * late, "urgency 3 weighs four times urgency 5");
    let urgent = what_if(&shop, v1::PlanChange { priority: 1, ..of_job(Kind::Priority, job) }).await;
    assert_eq!(urgent.lateness, 16 * of(&urgent, job).late_minutes, "urgency 1 sixteen times");
    let later_on = v1::PlanChange { until_at: Some(later(now, DAY)), ..of_job(Kind::Promise, job) };
    assert_eq!(of(&what_if(&shop, later_on).await, job).late_minutes, 0);
    let none = what_if(&shop, of_job(Kind::Promise, job)).await;
    assert_eq!((of(&none, job).promised_at, none.lateness), (None, 0));
    let closed = v1::PlanChange { bay: "pit-1".into(), ..stretch(Kind::BayClosed, now, 2 * DAY) };
    assert!(ready(&what_if(&shop, closed).await, job) >= now.seconds + 2 * 24 * 3_600 + 3_600, "there is one pit");
    shop.verified().await;
}

/// The pit's first job cures for four hours between two hours of work, and keeps the pit; the second is promised in that time.
#[tokio::test(flavor = "multi_thread")]
async fn rolled_out_while_it_waits_a_vehicle_makes_room() {
    let shop = shop().await;
    let pit = || vec![v1::BayKind::Pit.into()];
    let first = shop.blank_job(&[]).await;
    add(&shop, first, "strip", 60, pit()).await;
    let cure = v1::AddStageRequest {
        write: Some(new_write()),
        job: first,
        stage: "cure".into(),
        title: "cure".into(),
        kind: v1::StageKind::Wait.into(),
        minutes: exactly(240),
        after_last: true,
        ..Default::default()
    };
    shop.lead.add_stage(cure).await.unwrap();
    add(&shop, first, "refit", 60, pit()).await;
    let second = shop.blank_job(&[]).await;
    add(&shop, second, "brakes", 120, pit()).await;
    let now = shop.now().await;
    promise(&shop, first, 1, later(now, 365 * MINUTE)).await;
    promise(&shop, second, 3, later(now, 185 * MINUTE)).await;
    let kept = proposed(&shop).await;
    assert!(kept.lateness > 0, "one of them is late");
    assert!(kept.helps.iter().any(|help| help.sentence.contains("out of bay pit-1")), "{:?}", kept.helps);
    let why = shop.lead.explain_job(v1::ExplainJobRequest { job: second }).await.unwrap();
    let sentence = why.outlook.unwrap().sentence;
    assert!(
        sentence.starts_with(&format!("job {second} is ")) && sentence.contains("because strip of job"),
        "{sentence}"
    );
    assert!(sentence.contains("bay pit-1, which job") && sentence.contains("then "), "{sentence}");
    assert!(sentence.contains(" today ") || sentence.contains(" tomorrow "), "times are told as people do: {sentence}");
    assert!(!why.helps.is_empty());
    let other = shop.lead.explain_job(v1::ExplainJobRequest { job: first }).await.unwrap();
    assert_eq!(
        (other.outlook.unwrap().late_minutes, other.helps),
        (0, vec![]),
        "it is in time, whatever would help others"
    );
    let rolled = what_if(&shop, of_job(Kind::RollOut, first)).await;
    assert_eq!(rolled.lateness, 0, "{:?}", rolled.outlooks);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn overtime_that_nobody_opened_is_used_in_the_question_alone() {
    // The shop never said its hours, so nobody works at all.
    let shop = Shop::open().await;
    shop.technician("Flint", &["engine"]).await;
    let job = hour(&shop).await;
    assert_eq!(proposed(&shop).await.unplaced.len(), 1);
    let now = shop.now().await;
    let overtime = v1::PlanChange { person: "Flint".into(), ..stretch(Kind::Overtime, later(now, DAY), 120 * MINUTE) };
    let found = what_if(&shop, overtime).await;
    assert_eq!((found.unplaced.len(), found.overtime_minutes), (0, 60));
    let planned = found.plan.unwrap().stages.remove(0);
    assert!(planned.from_at.unwrap().seconds >= later(now, DAY).seconds);
    assert_eq!(planned.job, job);
    assert_eq!(proposed(&shop).await.unplaced.len(), 1, "nobody opened it");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_can_not_be_taken_for_otherwise_is_refused_with_its_place() {
    let shop = shop().await;
    let job = hour(&shop).await;
    let ask = async |change: v1::PlanChange| {
        let changes = vec![of_job(Kind::RollOut, job), change];
        shop.lead.propose_plan(v1::ProposePlanRequest { changes, ..asked() }).await.unwrap_err()
    };
    let now = shop.now().await;
    let backwards = v1::PlanChange { until_at: Some(now), bay: "pit-1".into(), ..stretch(Kind::BayClosed, now, 0) };
    assert_eq!(ask(backwards).await.fields[0].field, "changes[1].until_at");
    let taken = v1::PlanChange { bay: "pit-1".into(), ..of_job(Kind::Without, job) };
    assert_eq!(ask(taken).await.fields[0].field, "changes[1].bay", "it takes no bay");
    assert_eq!(ask(of_job(Kind::Without, job + 1)).await.reason, "NOT_FOUND");
    assert_eq!(reason(shop.lead.forecast_job(v1::ForecastJobRequest { job: job + 1 }).await), "NOT_FOUND");
    shop.verified().await;
}
