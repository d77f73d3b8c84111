//! Opening a job: options, revision, promise, vehicle, number.

use crate::clock::{ago, later};
use crate::shop::{Shop, reason, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Code, new_write};

fn brakes(with: &[&str], without: &[&str]) -> v1::OpenJobRequest {
    let keys = |keys: &[&str]| keys.iter().map(|key| (*key).to_owned()).collect();
    v1::OpenJobRequest {
        write: Some(new_write()),
        template: "front-brakes".into(),
        vehicle_label: "white van".into(),
        with: keys(with),
        without: keys(without),
        ..Default::default()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn options_switch_stages_and_steps() {
    let shop = Shop::open().await;
    let counts = async |asked| {
        let job = shop.lead.open_job(asked).await.unwrap().job;
        let job = shop.whole_job(job).await;
        let options = job.job.unwrap().options;
        (options, job.stages.len(), job.stages.iter().map(|stage| stage.steps.len()).sum::<usize>())
    };
    let options = |options: &[&str]| options.iter().map(|option| (*option).to_owned()).collect::<Vec<_>>();
    // Counted in deploy/demo-shop/templates/front-brakes.toml: six stages with 16 steps, of which `fluid` switches a
    // stage of one step and `discs` two steps.
    assert_eq!(counts(brakes(&[], &[])).await, (options(&["discs"]), 5, 15));
    assert_eq!(counts(brakes(&["fluid"], &[])).await, (options(&["discs", "fluid"]), 6, 16));
    assert_eq!(counts(brakes(&["fluid"], &["discs"])).await, (options(&["fluid"]), 6, 14));
    let before = shop.head().await;
    assert_eq!(reason(shop.lead.open_job(brakes(&["gold"], &[])).await), "UNKNOWN_OPTION");
    let both = shop.lead.open_job(brakes(&["fluid"], &["fluid"])).await.unwrap_err();
    assert_eq!((both.code, both.fields[0].field.as_str()), (Code::InvalidArgument, "without"));
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_job_may_be_opened_from_an_older_revision() {
    let shop = Shop::open().await;
    let asked = v1::GetTemplateRequest { template: "front-brakes".into(), revision: 0 };
    let source = shop.lead.get_template(asked).await.unwrap().source;
    let changed = source.replace("Front brake pads and discs", "Second thoughts");
    assert_ne!(changed, source);
    let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: changed };
    shop.lead.publish_template(asked).await.unwrap();
    for (revision, expected, title) in [(0, 2, "Second thoughts"), (1, 1, "Front brake pads and discs")] {
        let asked = v1::OpenJobRequest { revision, ..brakes(&[], &[]) };
        let job = shop.lead.open_job(asked).await.unwrap().job;
        let job = shop.whole_job(job).await.job.unwrap();
        assert_eq!((job.revision, job.title.as_str()), (expected, title));
    }
    let asked = v1::OpenJobRequest { revision: 3, ..brakes(&[], &[]) };
    assert_eq!(reason(shop.lead.open_job(asked).await), "NOT_FOUND");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_promised_stands_on_the_job_and_lies_ahead() {
    let shop = Shop::open().await;
    let now = shop.now().await;
    let soon = later(now, 86_400_000_000);
    let asked = v1::OpenJobRequest { promised_at: Some(soon), priority: 2, ..brakes(&[], &[]) };
    let job = shop.lead.open_job(asked).await.unwrap().job;
    let seen = shop.whole_job(job).await.job.unwrap();
    assert_eq!((seen.promised_at, seen.priority, seen.state()), (Some(soon), 2, v1::JobState::Open));
    let before = shop.head().await;
    let asked = v1::OpenJobRequest { promised_at: Some(ago(now, 1)), ..brakes(&[], &[]) };
    assert_eq!(shop.lead.open_job(asked).await.unwrap_err().fields[0].field, "promised_at");
    let asked = v1::OpenJobRequest { priority: 6, ..brakes(&[], &[]) };
    assert_eq!(shop.lead.open_job(asked).await.unwrap_err().fields[0].field, "priority");
    assert_eq!(shop.head().await, before);
    let withdrawn =
        v1::PromiseJobRequest { write: Some(new_write()), job, withdraw_promise: true, ..Default::default() };
    shop.lead.promise_job(withdrawn).await.unwrap();
    let seen = shop.whole_job(job).await.job.unwrap();
    assert_eq!((seen.promised_at, seen.priority), (None, 2), "only the promise is withdrawn");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_vehicle_has_one_open_job_and_every_shop_counts_from_1() {
    let shop = Shop::open().await;
    let first = shop.lead.open_job(brakes(&[], &[])).await.unwrap();
    assert_eq!(first.job, 1);
    let again =
        || v1::OpenJobRequest { vehicle: first.vehicle.clone(), vehicle_label: String::new(), ..brakes(&[], &[]) };
    stopped(shop.lead.open_job(again()).await, "VEHICLE_HAS_OPEN_JOB", "job 1");
    let labelled = v1::OpenJobRequest { vehicle_label: "white van".into(), ..again() };
    assert_eq!(shop.lead.open_job(labelled).await.unwrap_err().fields[0].field, "vehicle");
    let cancel =
        v1::CancelJobRequest { write: Some(new_write()), job: 1, reason: "it was stolen".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    let second = shop.lead.open_job(again()).await.unwrap();
    assert_eq!((second.job, second.vehicle.as_str()), (2, first.vehicle.as_str()));
    assert_eq!(shop.whole_job(2).await.job.unwrap().vehicle_label, "white van");
    let neighbour = shop.neighbour().await;
    let asked = v1::OpenJobRequest { title: "Their first".into(), template: String::new(), ..brakes(&[], &[]) };
    assert_eq!(neighbour.open_job(asked).await.unwrap().job, 1);
    // A list is in order, in pages, and by state.
    let listed = async |states: &[v1::JobState], page_token: &str| {
        let states = states.iter().map(|state| (*state).into()).collect();
        let asked = v1::ListJobsRequest { states, page_size: 1, page_token: page_token.into(), ..Default::default() };
        let page = shop.lead.list_jobs(asked).await.unwrap();
        (page.jobs.iter().map(|job| job.job).collect::<Vec<_>>(), page.next_page_token)
    };
    let (jobs, next) = listed(&[], "").await;
    assert_eq!((jobs, listed(&[], &next).await.0), (vec![1], vec![2]));
    assert_eq!(listed(&[v1::JobState::Cancelled], "").await.0, [1]);
    assert_eq!(listed(&[v1::JobState::Open], "").await.0, [2]);
    shop.verified().await;
}
