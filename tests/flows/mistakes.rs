//! Mistakes are taken back over the wire: who may, what follows, and what stays to be seen.

use crate::clock::{ago, length, us};
use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};
use prost_types::Timestamp;

const MINUTE_US: i64 = 60_000_000;

fn list() -> v1::ListClockingsRequest {
    v1::ListClockingsRequest::default()
}

fn withdraw(entry: i64) -> v1::WithdrawClockingRequest {
    v1::WithdrawClockingRequest { write: Some(new_write()), entry, reason: "it was somebody else".into() }
}

fn reopen(job: i64, stage: &str) -> v1::ReopenStageRequest {
    v1::ReopenStageRequest { write: Some(new_write()), job, stage: stage.into(), reason: "not finished".into() }
}

/// A blank job with the stages look and mend, opened 200 minutes ago.
async fn opened_earlier(shop: &Shop, now: Timestamp) -> i64 {
    let opened = v1::OpenJobRequest {
        write: Some(v1::WriteContext { happened_at: Some(ago(now, 200)), ..new_write() }),
        title: "As it goes".into(),
        vehicle_label: "red pick-up".into(),
        ..Default::default()
    };
    let job = shop.lead.open_job(opened).await.unwrap().job;
    for stage in ["look", "mend"] {
        let write = Some(v1::WriteContext { happened_at: Some(ago(now, 190)), ..new_write() });
        let asked = v1::AddStageRequest { write, job, stage: stage.into(), title: stage.into(), ..Default::default() };
        shop.lead.add_stage(asked).await.unwrap();
    }
    job
}

#[tokio::test(flavor = "multi_thread")]
async fn time_is_corrected_by_whose_it_is_and_by_the_lead() {
    let shop = Shop::open().await;
    let (flint, moss) = (shop.technician("Flint", &[]).await, shop.technician("Moss", &[]).await);
    let now = shop.now().await;
    let job = opened_earlier(&shop, now).await;
    let work = |stage: &str, from, until| v1::RecordWorkRequest {
        write: Some(new_write()),
        job,
        stage: stage.into(),
        from_at: Some(ago(now, from)),
        until_at: Some(ago(now, until)),
        ..Default::default()
    };
    flint.record_work(work("look", 120, 60)).await.unwrap();
    moss.record_work(work("mend", 120, 90)).await.unwrap();
    let own = flint.list_clockings(list()).await.unwrap().clockings;
    assert_eq!(own.iter().map(|row| row.name.as_str()).collect::<Vec<_>>(), ["Flint"]);
    let theirs = v1::ListClockingsRequest { person: "Moss".into(), ..list() };
    let denied = flint.list_clockings(theirs.clone()).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "LEAD_ONLY"));
    assert_eq!(shop.lead.list_clockings(theirs).await.unwrap().clockings[0].name, "Moss");
    let page = shop.lead.list_clockings(v1::ListClockingsRequest { page_size: 1, ..list() }).await.unwrap();
    let next = v1::ListClockingsRequest { page_size: 1, page_token: page.next_page_token, ..list() };
    let second = shop.lead.list_clockings(next).await.unwrap().clockings;
    assert!(page.clockings.len() == 1 && second.len() == 1 && page.clockings[0].entry < second[0].entry);

    let entry = own[0].entry;
    let shorter = |until| v1::CorrectClockingRequest {
        write: Some(new_write()),
        entry,
        until_at: Some(ago(now, until)),
        reason: "I stopped earlier".into(),
        ..Default::default()
    };
    assert_eq!(moss.correct_clocking(shorter(80)).await.unwrap_err().reason, "LEAD_ONLY");
    assert_eq!(moss.withdraw_clocking(withdraw(entry)).await.unwrap_err().reason, "LEAD_ONLY");
    let before = shop.head().await;
    let request = shorter(80);
    flint.correct_clocking(request.clone()).await.unwrap();
    assert!(flint.correct_clocking(request).await.unwrap().receipt.unwrap().repeated);
    let own = flint.list_clockings(list()).await.unwrap().clockings;
    assert_eq!((own.len(), length(own[0].from_at, own[0].until_at)), (1, 40 * MINUTE_US));
    let audit = |job| v1::AuditTimeRequest { by: v1::AuditBy::Stage.into(), job, ..Default::default() };
    let lines = shop.elsewhere.audit_time(audit(job)).await.unwrap().lines;
    let look = lines.into_iter().find(|line| line.about == "look").unwrap();
    assert_eq!((us(look.worked), us(look.labour)), (40 * MINUTE_US, 40 * MINUTE_US));
    // Both stay to be seen, with who and why.
    let facts = shop.facts_after(before).await;
    let kinds: Vec<&str> = facts.iter().map(|fact| fact.kind.as_str()).collect();
    assert_eq!(kinds, ["clocking_withdrawn", "work_recorded"]);
    assert!(format!("{:?}", facts[0]).contains("I stopped earlier"), "{:?}", facts[0]);
    assert_eq!(reason(flint.correct_clocking(shorter(70)).await), "NOT_FOUND", "that entry is no more");

    shop.lead.withdraw_clocking(withdraw(own[0].entry)).await.unwrap();
    assert!(flint.list_clockings(list()).await.unwrap().clockings.is_empty());
    // The place in the book is free again for whoever was there.
    flint.record_work(work("mend", 110, 70)).await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_finished_by_mistake_goes_on() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["strip", "fit"]).await;
    let step = shop.step_with(job, "strip", "hg-set-20", 1).await;
    start(&flint, job, "strip").await.unwrap();
    let untick = v1::ReopenStepRequest {
        write: Some(new_write()),
        job,
        stage: "strip".into(),
        step,
        reason: "it was the other one".into(),
    };
    stopped(flint.reopen_stage(reopen(job, "strip")).await, "STAGE_STATE", "strip");
    finish(&flint, job, "strip").await.unwrap();
    stopped(flint.reopen_step(untick.clone()).await, "STAGE_STATE", "stage reopen");
    let receipt = flint.reopen_stage(reopen(job, "strip")).await.unwrap().receipt.unwrap();
    assert_eq!(receipt.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["CLOCK_ON_AGAIN"]);
    let untick = v1::ReopenStepRequest { write: Some(new_write()), ..untick };
    flint.reopen_step(untick).await.unwrap();
    let strip = shop.stage(job, "strip").await;
    assert_eq!(strip.state(), v1::StageState::Active);
    assert_eq!(strip.steps[0].state(), v1::StepState::Pending);
    stopped(start(&flint, job, "fit").await, "NOT_READY", "strip");
    finish(&flint, job, "strip").await.unwrap();
    start(&flint, job, "fit").await.unwrap();
    stopped(flint.reopen_stage(reopen(job, "strip")).await, "BEGUN_BEHIND", "fit");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_taken_back_tells_what_its_goods_did() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["fit"]).await;
    let step = shop.step_with(job, "fit", "hg-set-20", 2).await;
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, ..Default::default() };
    shop.lead.reserve_stock(reserve).await.unwrap();
    start(&flint, job, "fit").await.unwrap();
    let skip =
        v1::SkipStepRequest { write: Some(new_write()), job, stage: "fit".into(), step, reason: "it is whole".into() };
    flint.skip_step(skip).await.unwrap();
    let asked =
        v1::ReopenStepRequest { write: Some(new_write()), job, stage: "fit".into(), step, reason: "it is not".into() };
    let receipt = flint.reopen_step(asked).await.unwrap().receipt.unwrap();
    assert_eq!(receipt.notices.iter().map(|notice| notice.code.as_str()).collect::<Vec<_>>(), ["RESERVE_AGAIN"]);
    let reserve = v1::ReserveStockRequest { write: Some(new_write()), job, ..Default::default() };
    shop.lead.reserve_stock(reserve).await.unwrap();
    let need = shop.stage(job, "fit").await.steps[0].needs[0].clone();
    assert_eq!(need.reserved + need.short, 2, "{need:?}");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_that_was_in_another_bay_was_there_all_along() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let job = shop.job("front-brakes", "white van").await;
    shop.assign(job, "lift-1").await.unwrap();
    let to = |bay: &str| v1::CorrectStayRequest {
        write: Some(new_write()),
        job,
        bay: bay.into(),
        reason: "the tablet hangs in the other bay".into(),
        ..Default::default()
    };
    assert_eq!(flint.correct_stay(to("lift-2")).await.unwrap_err().code, Code::PermissionDenied);
    stopped(shop.lead.correct_stay(to("lift-1")).await, "NOTHING_TO_DO", "correct");
    let before = shop.head().await;
    shop.lead.correct_stay(to("lift-2")).await.unwrap();
    let bay = |whole: v1::GetJobResponse| whole.job.unwrap().bay;
    assert_eq!(bay(shop.whole_job(job).await), "lift-2");
    let facts = shop.facts_after(before).await;
    assert_eq!(facts.iter().map(|fact| fact.kind.as_str()).collect::<Vec<_>>(), ["stay_corrected"]);
    assert!(format!("{:?}", facts[0]).contains("the tablet hangs"), "{:?}", facts[0]);
    let other = shop.job("front-brakes", "black van").await;
    shop.assign(other, "lift-1").await.unwrap();
    stopped(shop.lead.correct_stay(to("lift-1")).await, "BAY_TAKEN", "lift-1");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn time_on_a_closed_job_is_asked_for_and_made_on_a_lead_s_word() {
    let shop = Shop::open().await;
    let (flint, moss) = (shop.technician("Flint", &[]).await, shop.technician("Moss", &[]).await);
    let now = shop.now().await;
    let job = opened_earlier(&shop, now).await;
    let work = v1::RecordWorkRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        from_at: Some(ago(now, 120)),
        until_at: Some(ago(now, 60)),
        ..Default::default()
    };
    flint.record_work(work).await.unwrap();
    let entry = flint.list_clockings(list()).await.unwrap().clockings[0].entry;
    let ask = || v1::AskCorrectionRequest {
        write: Some(new_write()),
        entry,
        until_at: Some(ago(now, 80)),
        reason: "I stopped earlier".into(),
        ..Default::default()
    };
    assert_eq!(reason(flint.ask_correction(ask()).await), "NOTHING_TO_DO", "it is one's own to correct");
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job, reason: "no".into(), as_it_is: true };
    shop.lead.cancel_job(cancel).await.unwrap();
    assert_eq!(moss.ask_correction(ask()).await.unwrap_err().reason, "LEAD_ONLY");
    let request = ask();
    let made = flint.ask_correction(request.clone()).await.unwrap();
    assert_eq!((made.job, made.ask), (job, 1));
    assert!(flint.ask_correction(request).await.unwrap().receipt.unwrap().repeated);

    let waiting = v1::ListAskedCorrectionsRequest::default;
    assert!(moss.list_asked_corrections(waiting()).await.unwrap().corrections.is_empty(), "people see their own");
    let line = shop.elsewhere.list_asked_corrections(waiting()).await.unwrap().corrections.remove(0);
    assert_eq!((line.name.as_str(), line.reason.as_str(), line.decided), ("Flint", "I stopped earlier", false));
    let (entered, wanted) = (line.as_entered.unwrap(), line.wanted.unwrap());
    assert_eq!(length(entered.from_at, entered.until_at), 60 * MINUTE_US);
    assert_eq!((length(wanted.from_at, wanted.until_at), wanted.stage.as_str()), (40 * MINUTE_US, "look"));

    let answer = |take| v1::DecideCorrectionRequest {
        write: Some(new_write()),
        job,
        ask: 1,
        take,
        reason: "as asked".into(),
        ..Default::default()
    };
    assert_eq!(flint.decide_correction(answer(true)).await.unwrap_err().reason, "LEAD_ONLY");
    shop.lead.decide_correction(answer(true)).await.unwrap();
    let own = flint.list_clockings(list()).await.unwrap().clockings;
    assert_eq!((own.len(), length(own[0].from_at, own[0].until_at)), (1, 40 * MINUTE_US));
    assert!(shop.lead.list_asked_corrections(waiting()).await.unwrap().corrections.is_empty(), "nothing waits");
    // Whoever asked is told what was decided, and nobody else is.
    let lately = |minutes| v1::ListAskedCorrectionsRequest { decided_from_at: Some(ago(now, minutes)), ..waiting() };
    let told = flint.list_asked_corrections(lately(10)).await.unwrap().corrections;
    assert_eq!(told.iter().map(|one| (one.ask, one.decided, one.taken)).collect::<Vec<_>>(), [(1, true, true)]);
    for other in [&moss, &shop.lead] {
        assert!(other.list_asked_corrections(lately(10)).await.unwrap().corrections.is_empty());
    }
    assert!(flint.list_asked_corrections(lately(-60)).await.unwrap().corrections.is_empty(), "before that");
    let of_job = v1::ListAskedCorrectionsRequest { job, ..waiting() };
    let line = flint.list_asked_corrections(of_job).await.unwrap().corrections.remove(0);
    assert_eq!((line.decided, line.taken, line.as_entered, line.answer.as_str()), (true, true, None, "as asked"));
    shop.verified().await;
}
