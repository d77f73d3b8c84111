//! Assigning jobs to bays; what the lead sees of them; a template's revisions.

use crate::shop::{Shop, finish, pass_second, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_comes_into_a_bay_moves_and_waits_outside() {
    let shop = Shop::open().await;
    let first = shop.job("head-gasket-20", "green estate").await;
    let second = shop.job("head-gasket-20", "blue saloon").await;
    // Jobs by bay, and the jobs outside, as the other replica shows them.
    let stand = async || {
        let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
        let outside: Vec<i64> = board.outside.iter().map(|job| job.job).collect();
        let inside = board.bays.into_iter().filter_map(|bay| Some((bay.bay?.bay, bay.job?.job)));
        (inside.collect::<Vec<_>>(), outside)
    };
    let bay = |bay: &str, job: i64| (bay.to_owned(), job);
    assert_eq!(stand().await, (vec![], vec![first, second]));
    shop.assign(first, "lift-1").await.unwrap();
    assert_eq!(stand().await, (vec![bay("lift-1", first)], vec![second]));
    shop.assign(first, "pit-1").await.unwrap();
    shop.assign(second, "lift-1").await.unwrap();
    assert_eq!(stand().await, (vec![bay("lift-1", second), bay("pit-1", first)], vec![]));
    let out = v1::RollOutJobRequest { write: Some(new_write()), job: first, ..Default::default() };
    shop.lead.roll_out_job(out).await.unwrap();
    assert_eq!(stand().await, (vec![bay("lift-1", second)], vec![first]));
    let cancel =
        v1::CancelJobRequest { write: Some(new_write()), job: second, reason: "sold as it is".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    assert_eq!(stand().await, (vec![], vec![first]));
    let cancelled = shop.whole_job(second).await;
    let head = cancelled.job.unwrap();
    assert_eq!((head.state(), head.reason.as_str()), (v1::JobState::Cancelled, "sold as it is"));
    assert!(cancelled.stages.iter().all(|stage| stage.state() == v1::StageState::Skipped));
    stopped(shop.assign(second, "lift-2").await, "JOB_CLOSED", "job 2");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_published_revision_never_changes_and_a_job_keeps_its_own() {
    let shop = Shop::open().await;
    let job = shop.job("front-brakes", "white van").await;
    let asked = || v1::GetTemplateRequest { template: "front-brakes".into(), revision: 1 };
    let first = shop.lead.get_template(asked()).await.unwrap();
    let changed = first.source.replace("Front brake pads and discs", "Front brakes, second thoughts");
    assert_ne!(changed, first.source);
    let publish = v1::PublishTemplateRequest { write: Some(new_write()), source: changed };
    assert_eq!(shop.lead.publish_template(publish).await.unwrap().revision, 2);
    assert_eq!(shop.elsewhere.get_template(asked()).await.unwrap(), first);
    let head = shop.whole_job(job).await.job.unwrap();
    assert_eq!((head.revision, head.title.as_str()), (1, "Front brake pads and discs"));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_job_that_is_handed_over_gives_its_bay_free_and_takes_nothing_more() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes", "road-test"]).await;
    let moss = shop.technician("Moss", &["brakes"]).await;
    let job = shop.job("front-brakes", "white van").await;
    shop.assign(job, "lift-1").await.unwrap();
    shop.lead
        .reserve_stock(v1::ReserveStockRequest { write: Some(new_write()), job, stage: String::new() })
        .await
        .unwrap();
    let stages: Vec<String> = shop.whole_job(job).await.stages.into_iter().map(|stage| stage.stage).collect();
    let complete = || v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() };
    for stage in &stages {
        // Once the wheels are off, somebody else has to look at them before anything.
        let early = ["book-in", "lift"].contains(&stage.as_str());
        let code = if early { "HAND_OVER_UNFINISHED" } else { "HAND_OVER_FOR_GOOD" };
        stopped(shop.lead.complete_job(complete()).await, code, stage);
        start(&flint, job, stage).await.unwrap();
        pass_second(&flint, &moss, job, stage).await.unwrap();
        finish(&flint, job, stage).await.unwrap();
    }
    // Bolts and discs are always renewed, and nobody gave them out.
    stopped(shop.lead.complete_job(complete()).await, "HAND_OVER_OPEN", "calliper-bolt-20");
    let override_reason = "the parts came with the vehicle".to_owned();
    let named = ["calliper-bolt-20", "brake-disc-front-20", "disc-screw-8"];
    let overrides = named.map(|item| v1::Override { line: format!("not-taken:{item}"), ..Default::default() });
    let overrides = overrides.to_vec();
    shop.lead.complete_job(v1::CompleteJobRequest { override_reason, overrides, ..complete() }).await.unwrap();
    let seen = shop.whole_job(job).await;
    let head = seen.job.unwrap();
    assert_eq!((head.state(), head.bay.as_str()), (v1::JobState::Completed, ""));
    assert!(seen.stages.iter().all(|stage| stage.state() == v1::StageState::Finished && stage.persons.is_empty()));
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    assert!(board.bays.iter().all(|bay| bay.job.is_none()) && board.outside.is_empty());
    // What was set aside and never issued is free again.
    let stock = shop.lead.list_stock(v1::ListStockRequest::default()).await.unwrap().items;
    assert!(stock.iter().all(|item| item.reserved == 0));
    stopped(shop.lead.complete_job(complete()).await, "JOB_CLOSED", "job 1");
    stopped(shop.assign(job, "lift-1").await, "JOB_CLOSED", "job 1");
    let next = shop.job("front-brakes", "grey van").await;
    shop.assign(next, "lift-1").await.unwrap();
    shop.verified().await;
}
