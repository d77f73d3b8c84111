//! Assigning jobs to bays; templates; a blank job that becomes a template.

use crate::shop::{Shop, finish, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::new_write;

#[tokio::test(flavor = "multi_thread")]
async fn a_bay_holds_one_fitting_vehicle() {
    let shop = Shop::open().await;
    let (first, second) =
        (shop.job("head-gasket-20", "green estate").await, shop.job("head-gasket-20", "blue saloon").await);
    assert_eq!((first, second), (1, 2));
    shop.assign(first, "lift-1").await.unwrap();
    assert_eq!(reason(shop.assign(second, "lift-1").await), "BAY_TAKEN");
    assert_eq!(reason(shop.assign(first, "lift-1").await), "ALREADY_THERE");
    assert_eq!(reason(shop.assign(second, "floor-1").await), "UNFIT_BAY");
    let heavy = v1::OpenJobRequest {
        write: Some(new_write()),
        template: "front-brakes".into(),
        vehicle_label: "white van".into(),
        vehicle_weight_kg: 2100,
        ..Default::default()
    };
    let heavy = shop.lead.open_job(heavy).await.unwrap().job;
    assert_eq!(reason(shop.assign(heavy, "floor-1").await), "TOO_HEAVY");
    shop.assign(first, "pit-1").await.unwrap();
    shop.assign(second, "lift-1").await.unwrap();
    let out = v1::RollOutJobRequest { write: Some(new_write()), job: first, ..Default::default() };
    shop.lead.roll_out_job(out).await.unwrap();
    let board = shop.elsewhere.get_board(v1::GetBoardRequest {}).await.unwrap();
    assert!(board.outside.iter().any(|job| job.job == first));
    let bay = board.bays.iter().find(|bay| bay.bay.as_ref().is_some_and(|bay| bay.bay == "lift-1")).unwrap();
    assert_eq!(bay.job.as_ref().unwrap().vehicle_label, "blue saloon");
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job: second, reason: "sold as it is".into() };
    shop.lead.cancel_job(cancel).await.unwrap();
    assert_eq!(reason(shop.assign(second, "lift-2").await), "JOB_CLOSED");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_template_names_every_fault_and_keeps_its_revisions() {
    let shop = Shop::open().await;
    let bad =
        "key = \"x y\"\ntitle = \"T\"\n[[stage]]\nkey = \"a\"\ntitle = \"A\"\nminutes = [3, 2, 1]\nafter = [\"b\"]\n";
    let checked = shop.lead.check_template(v1::CheckTemplateRequest { source: bad.into() }).await.unwrap();
    let lines: Vec<i32> = checked.faults.iter().map(|fault| fault.line).collect();
    assert!(checked.faults.len() >= 3 && [1, 6, 7].iter().all(|line| lines.contains(line)), "{:?}", checked.faults);
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: bad.into() };
    assert_eq!(reason(shop.lead.publish_template(asked).await), "TEMPLATE_FAULTS");
    let job = shop.job("front-brakes", "white van").await;
    let first =
        shop.lead.get_template(v1::GetTemplateRequest { template: "front-brakes".into(), revision: 1 }).await.unwrap();
    let changed = first.source.replace("Front brake pads and discs", "Front brakes, second thoughts");
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: changed };
    assert_eq!(shop.lead.publish_template(asked).await.unwrap().revision, 2);
    let again =
        shop.lead.get_template(v1::GetTemplateRequest { template: "front-brakes".into(), revision: 1 }).await.unwrap();
    assert_eq!(again.source, first.source);
    assert_eq!(shop.whole_job(job).await.job.unwrap().revision, 1);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_blank_job_becomes_a_template() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["engine"]).await;
    let asked = v1::OpenJobRequest {
        write: Some(new_write()),
        title: "Find the rattle".into(),
        vehicle_label: "red pick-up".into(),
        ..Default::default()
    };
    let job = shop.lead.open_job(asked).await.unwrap().job;
    for (stage, after_last) in [("find", false), ("mend", true)] {
        let asked = v1::AddStageRequest {
            write: Some(new_write()),
            job,
            stage: stage.into(),
            title: format!("First {stage}"),
            minutes: Some(v1::Minutes { low: 5, likely: 10, high: 30 }),
            after_last,
            steps: vec!["Drive and listen".into()],
            ..Default::default()
        };
        flint.add_stage(asked).await.unwrap();
    }
    assert_eq!(reason(start(&flint, job, "mend").await), "NOT_READY");
    for stage in ["find", "mend"] {
        start(&flint, job, stage).await.unwrap();
        finish(&flint, job, stage).await.unwrap();
    }
    shop.lead.complete_job(v1::CompleteJobRequest { write: Some(new_write()), job }).await.unwrap();
    let draft = shop.lead.draft_template(v1::DraftTemplateRequest { job, template: "rattle".into() }).await.unwrap();
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: draft.source };
    assert_eq!(shop.lead.publish_template(asked).await.unwrap().revision, 1);
    let next = shop.job("rattle", "grey pick-up").await;
    let stages: Vec<String> = shop.whole_job(next).await.stages.into_iter().map(|stage| stage.stage).collect();
    assert_eq!(stages, ["find", "mend"]);
    shop.verified().await;
}
