//! Bays: one vehicle each even when two replicas are asked at once, and who may let a vehicle out.

use crate::shop::{Shop, finish, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

#[tokio::test(flavor = "multi_thread")]
async fn what_stands_against_a_bay_is_said_with_its_code_and_name() {
    let shop = Shop::open().await;
    let jobs = [shop.job("head-gasket-20", "green estate").await, shop.job("head-gasket-20", "blue saloon").await];
    shop.assign(jobs[0], "lift-1").await.unwrap();
    stopped(shop.assign(jobs[1], "lift-1").await, "BAY_TAKEN", "job 1");
    stopped(shop.assign(jobs[0], "lift-1").await, "ALREADY_THERE", "lift-1");
    stopped(shop.assign(jobs[1], "floor-1").await, "UNFIT_BAY", "two-post-lift");
    let out = v1::RollOutJobRequest { write: Some(new_write()), job: jobs[1], ..Default::default() };
    stopped(shop.lead.roll_out_job(out).await, "NOT_IN_BAY", "job 2");
    let heavy = v1::OpenJobRequest {
        write: Some(new_write()),
        template: "front-brakes".into(),
        vehicle_label: "white van".into(),
        vehicle_weight_kg: 1601,
        ..Default::default()
    };
    let heavy = shop.lead.open_job(heavy).await.unwrap().job;
    stopped(shop.assign(heavy, "floor-1").await, "TOO_HEAVY", "1601 kg");
    let nowhere = shop.assign(heavy, "lift-9").await.unwrap_err();
    assert_eq!((nowhere.code, nowhere.reason.as_str()), (Code::NotFound, "NOT_FOUND"));
    let complete = v1::CompleteJobRequest { write: Some(new_write()), job: heavy, ..Default::default() };
    stopped(shop.lead.complete_job(complete).await, "HAND_OVER_UNFINISHED", "book-in");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_replicas_never_put_two_vehicles_into_one_bay() {
    let shop = Shop::open().await;
    for round in 0..8 {
        let jobs = [shop.job("front-brakes", "one").await, shop.job("front-brakes", "two").await];
        let asked =
            |job| v1::AssignJobRequest { write: Some(new_write()), job, bay: "lift-1".into(), ..Default::default() };
        let (here, there) =
            tokio::join!(shop.lead.assign_job(asked(jobs[0])), shop.elsewhere.assign_job(asked(jobs[1])));
        let (winner, lost) = match (here, there) {
            (Ok(_), Err(lost)) => (jobs[0], lost),
            (Err(lost), Ok(_)) => (jobs[1], lost),
            both => panic!("round {round}: {both:?}"),
        };
        assert_eq!(lost.reason, "BAY_TAKEN");
        let cancel = v1::CancelJobRequest {
            write: Some(new_write()),
            job: winner,
            reason: "next round".into(),
            as_it_is: false,
        };
        shop.lead.cancel_job(cancel).await.unwrap();
    }
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_leaves_its_bay_when_the_work_allows_it_or_the_lead_says_why() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let job = shop.job("front-brakes", "white van").await;
    shop.assign(job, "lift-1").await.unwrap();
    for stage in ["book-in", "lift"] {
        start(&flint, job, stage).await.unwrap();
        finish(&flint, job, stage).await.unwrap();
    }
    let out = |why: &str| v1::RollOutJobRequest { write: Some(new_write()), job, override_reason: why.into() };
    stopped(flint.roll_out_job(out("")).await, "CANNOT_LEAVE", "lift");
    let denied = flint.roll_out_job(out("it is in the way")).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "LEAD_ONLY"));
    stopped(shop.assign(job, "floor-1").await, "CANNOT_LEAVE", "lift");
    let before = shop.head().await;
    shop.lead.roll_out_job(out("on stands with its wheels on")).await.unwrap();
    let left = shop.facts_after(before).await;
    assert_eq!(left.iter().map(|fact| fact.kind.as_str()).collect::<Vec<_>>(), ["vehicle_left"]);
    let overridden = &left[0].body.as_ref().unwrap().fields["overridden"];
    assert!(matches!(overridden.kind, Some(prost_types::value::Kind::StructValue(_))), "the override is on record");
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    assert_eq!(board.outside.iter().map(|job| job.job).collect::<Vec<_>>(), [job]);
    assert!(board.bays.iter().all(|bay| bay.job.is_none()));
    shop.assign(job, "floor-1").await.unwrap();
    shop.verified().await;
}
