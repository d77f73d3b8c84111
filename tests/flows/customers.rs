//! Customers over the wire: who sees them, and that nothing of theirs is left when they are forgotten.

use crate::forget::{only_text_bodies, tables_with};
use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, SdkError, new_write, write_with_id};
use std::collections::BTreeMap;
use uuid::Uuid;

async fn add(shop: &Shop, name: &str) -> String {
    let (write, contact, note) = (Some(new_write()), "by the millwheel".into(), "rings the cowbell".into());
    shop.lead.add_customer(v1::AddCustomerRequest { write, name: name.into(), contact, note }).await.unwrap().customer
}

async fn open_for(shop: &Shop, customer: &str) -> v1::OpenJobResponse {
    let asked = v1::OpenJobRequest {
        write: Some(new_write()),
        title: "Rattle of Heatherby".into(),
        vehicle_label: "Heatherby hatch".into(),
        vehicle_plate: "ZQ 4711 X".into(),
        customer: customer.into(),
        ..Default::default()
    };
    shop.lead.open_job(asked).await.unwrap()
}

async fn forget(who: &Client, customer: &str) -> Result<v1::ForgetCustomerResponse, SdkError> {
    who.forget_customer(v1::ForgetCustomerRequest { write: Some(new_write()), customer: customer.into() }).await
}

async fn job_of(who: &Client, job: i64) -> v1::Job {
    who.get_job(v1::GetJobRequest { job }).await.unwrap().job.unwrap()
}

/// Work on a job for Heatherby, with the name typed wherever words can be.
async fn worked(shop: &Shop, flint: &Client) -> v1::OpenJobResponse {
    let opened = open_for(shop, "Heatherby").await;
    let job = opened.job;
    let add_stage = v1::AddStageRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        title: "Look as Heatherby asked".into(),
        steps: vec!["Ring Heatherby".into(), "Ask Heatherby again".into()],
        ..Default::default()
    };
    shop.lead.add_stage(add_stage).await.unwrap();
    shop.assign(job, "lift-1").await.unwrap();
    start(flint, job, "look").await.unwrap();
    let raise = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        cause: v1::Cause::Customer.into(),
        note: "Heatherby has to decide".into(),
        ..Default::default()
    };
    let blocker = flint.raise_blocker(raise).await.unwrap().blocker;
    let note = "Heatherby said yes".to_owned();
    flint.clear_blocker(v1::ClearBlockerRequest { write: Some(new_write()), job, blocker, note }).await.unwrap();
    let (write, why) = (Some(new_write()), "Heatherby did it".to_owned());
    let skip = v1::SkipStepRequest { write, job, stage: "look".into(), step: 2, reason: why };
    flint.skip_step(skip).await.unwrap();
    opened
}

#[tokio::test(flavor = "multi_thread")]
async fn who_is_forgotten_is_in_no_table_and_no_answer_and_the_figures_stay() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let customer = add(&shop, "Heatherby").await;
    let opened = worked(&shop, &flint).await;
    stopped(forget(&shop.lead, "heatherBY ").await, "CUSTOMER_HAS_OPEN_JOB", &format!("job(s) {} ", opened.job));
    finish(&flint, opened.job, "look").await.unwrap();
    let complete = v1::CompleteJobRequest { write: Some(new_write()), job: opened.job, ..Default::default() };
    shop.lead.complete_job(complete).await.unwrap();
    let bystander = shop.blank_job(&["strip"]).await;
    let edit = v1::EditCustomerRequest {
        write: Some(new_write()),
        customer: customer.clone(),
        note: "rings the cowbell no more".into(),
        ..Default::default()
    };
    shop.lead.edit_customer(edit).await.unwrap();
    assert_eq!(tables_with(&shop, "heatherby").await, only_text_bodies(9), "words lie in one table only");
    assert_eq!(tables_with(&shop, "cowbell").await, only_text_bodies(1), "what was said before is erased");
    assert_eq!(tables_with(&shop, "zq 4711").await, only_text_bodies(1));
    let audit = v1::AuditTimeRequest { job: opened.job, ..Default::default() };
    let before = shop.lead.audit_time(audit.clone()).await.unwrap().lines;

    let id = write_with_id(Uuid::from_u128(4711));
    let asked = v1::ForgetCustomerRequest { write: Some(id), customer: "Heatherby".into() };
    shop.lead.forget_customer(asked.clone()).await.unwrap();
    assert!(shop.elsewhere.forget_customer(asked).await.unwrap().receipt.unwrap().repeated, "a repeat finds it");

    for words in ["heatherby", "cowbell", "millwheel", "zq 4711"] {
        assert_eq!(tables_with(&shop, words).await, BTreeMap::new(), "{words}");
    }
    assert_eq!(unguessable(&shop).await, 0, "a fingerprint of words that are gone is kept");
    let jobs = shop.lead.list_jobs(v1::ListJobsRequest::default()).await.unwrap();
    let data = v1::GetCustomerDataRequest { customer: customer.clone(), ..Default::default() };
    let shown = format!(
        "{:?} {jobs:?} {:?} {:?} {:?}",
        shop.whole_job(opened.job).await,
        shop.facts_after(0).await,
        shop.lead.list_customers(v1::ListCustomersRequest::default()).await.unwrap(),
        shop.lead.get_customer_data(data).await.unwrap(),
    );
    let shown = shown.to_lowercase();
    for words in ["heatherby", "cowbell", "millwheel", "zq 4711"] {
        assert!(!shown.contains(words), "{words} is shown");
    }
    let job = job_of(&shop.lead, opened.job).await;
    assert_eq!((job.customer, job.customer_name.as_str(), job.vehicle_label.as_str()), (customer.clone(), "", ""));
    assert_eq!(job_of(&shop.lead, bystander).await.vehicle_label, "red pick-up", "others keep their words");
    let figures = |lines: Vec<v1::AuditLine>| -> Vec<_> {
        lines.into_iter().map(|line| (line.about, line.worked, line.labour, line.elapsed)).collect()
    };
    assert_eq!(figures(shop.elsewhere.audit_time(audit).await.unwrap().lines), figures(before));
    stopped(forget(&shop.lead, &customer).await, "CUSTOMER_FORGOTTEN", "forgotten");
    assert_eq!(reason(forget(&shop.lead, "Heatherby").await), "NOT_FOUND");
    shop.verified().await;
}

/// Requests whose fingerprint is kept although one of their texts was erased.
async fn unguessable(shop: &Shop) -> i64 {
    let mut database = shop.database.superuser().await.unwrap();
    let asked = "SELECT count(*) FROM request AS r JOIN journal AS e ON e.shop = r.shop \
        AND e.number BETWEEN r.first_n AND r.last_n \
        CROSS JOIN LATERAL jsonb_path_query(e.body, '$.** ? (exists(@.id) && exists(@.hash))') AS said (ref) \
        JOIN text_ref AS t ON t.shop = r.shop AND t.text::text = said.ref ->> 'id' \
        WHERE t.erased_n IS NOT NULL AND r.fingerprint IS NOT NULL AND NOT EXISTS ( \
            SELECT 1 FROM journal AS f WHERE f.shop = r.shop AND f.number < r.first_n \
            AND f.body::text LIKE '%' || t.text::text || '%')";
    sqlx::query_scalar(asked).fetch_one(&mut database).await.unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_lead_sees_whose_a_job_is_and_a_screen_not_even_the_plate() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let screen = shop.token(v1::Role::Viewer, "Hall screen").await;
    let customer = add(&shop, "Heatherby").await;
    let job = open_for(&shop, "Heatherby").await.job;
    let seen = |job: v1::Job| (job.customer, job.customer_name, job.vehicle_plate);
    let plate = || "ZQ 4711 X".to_owned();
    let nothing = String::new;
    assert_eq!(seen(job_of(&shop.lead, job).await), (customer.clone(), "Heatherby".to_owned(), plate()));
    assert_eq!(seen(job_of(&flint, job).await), (nothing(), nothing(), plate()));
    assert_eq!(seen(job_of(&screen, job).await), (nothing(), nothing(), nothing()));
    let listed = async |who: &Client| who.list_jobs(v1::ListJobsRequest::default()).await.unwrap().jobs.remove(0);
    assert_eq!(seen(listed(&shop.lead).await).1, "Heatherby");
    assert_eq!(seen(listed(&flint).await), (nothing(), nothing(), plate()));
    assert_eq!(seen(listed(&screen).await), (nothing(), nothing(), nothing()));
    for who in [&flint, &screen] {
        let denied = who.get_customer(v1::GetCustomerRequest { customer: customer.clone() }).await.unwrap_err();
        assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "ROLE_NOT_ALLOWED"));
    }
    let whole = shop.lead.get_customer(v1::GetCustomerRequest { customer: "heatherby".into() }).await.unwrap();
    assert_eq!(whole.vehicles.iter().map(|vehicle| vehicle.plate.as_str()).collect::<Vec<_>>(), ["ZQ 4711 X"]);
    assert_eq!(whole.jobs.iter().map(|found| found.job).collect::<Vec<_>>(), [job]);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_of_the_same_name_are_told_apart_by_id() {
    let shop = Shop::open().await;
    let (first, second) = (add(&shop, "Heatherby").await, add(&shop, "heatherby").await);
    let refused = forget(&shop.lead, "Heatherby").await.unwrap_err();
    assert_eq!((refused.code, refused.fields[0].field.as_str()), (Code::InvalidArgument, "customer"), "{refused}");
    forget(&shop.lead, &first).await.unwrap();
    let page = v1::ListCustomersRequest { page_size: 1, ..Default::default() };
    let page = shop.lead.list_customers(page).await.unwrap();
    assert!(page.customers[0].forgotten && page.customers[0].name.is_empty());
    let next = v1::ListCustomersRequest { page_size: 1, page_token: page.next_page_token };
    assert_eq!(shop.lead.list_customers(next).await.unwrap().customers[0].customer, second);
    shop.verified().await;
}
