//! Jobs, names and bays that were wrong, over the wire; and what is kept about somebody.

use crate::forget::tables_with;
use crate::shop::{Shop, finish, reason, start, stopped};
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, new_write};
use std::collections::BTreeMap;

fn reopen(job: i64) -> v1::ReopenJobRequest {
    v1::ReopenJobRequest { write: Some(new_write()), job, reason: "the wrong key".into() }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_job_that_was_handed_over_by_mistake_goes_on() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &[]).await;
    let job = shop.blank_job(&["look"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "look").await.unwrap();
    finish(&flint, job, "look").await.unwrap();
    assert_eq!(shop.lead.reopen_job(reopen(job)).await.unwrap_err().reason, "NOTHING_TO_DO");
    shop.lead
        .complete_job(v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() })
        .await
        .unwrap();
    let denied = flint.reopen_job(reopen(job)).await.unwrap_err();
    assert_eq!((denied.code, denied.reason.as_str()), (Code::PermissionDenied, "ROLE_NOT_ALLOWED"));
    shop.elsewhere.reopen_job(reopen(job)).await.unwrap();
    let open = shop.whole_job(job).await.job.unwrap();
    assert_eq!((open.state, open.closed_at, open.bay.as_str()), (v1::JobState::Open.into(), None, ""));
    shop.assign(job, "lift-1").await.unwrap();
    let asked = v1::ReopenStageRequest { write: Some(new_write()), job, stage: "look".into(), reason: "more".into() };
    flint.reopen_stage(asked).await.unwrap();
    finish(&flint, job, "look").await.unwrap();
    shop.lead
        .complete_job(v1::CompleteJobRequest { write: Some(new_write()), job, ..Default::default() })
        .await
        .unwrap();
    let vehicle = shop.whole_job(job).await.job.unwrap().vehicle;
    let again = v1::OpenJobRequest { write: Some(new_write()), title: "Again".into(), vehicle, ..Default::default() };
    let second = shop.lead.open_job(again).await.unwrap().job;
    stopped(shop.lead.reopen_job(reopen(job)).await, "VEHICLE_HAS_OPEN_JOB", &format!("job {second} "));
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job: second, reason: "no".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    stopped(shop.lead.reopen_job(reopen(job)).await, "CAME_AGAIN", &format!("job {second};"));
    shop.verified().await;
}

fn rename(person: &str, name: &str) -> v1::RenamePersonRequest {
    let (write, reason) = (Some(new_write()), "misheard".into());
    v1::RenamePersonRequest { write, person: person.into(), name: name.into(), reason }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_mistyped_name_is_in_no_table_any_more() {
    let shop = Shop::open().await;
    shop.technician("Flintwhistle", &[]).await;
    shop.technician("Moss", &[]).await;
    let taken = shop.lead.rename_person(rename("Flintwhistle", "moss ")).await.unwrap_err();
    assert_eq!((taken.code, taken.reason.as_str()), (Code::AlreadyExists, "NAME_TAKEN"));
    let asked = rename("Flintwhistle", "Flint");
    shop.lead.rename_person(asked.clone()).await.unwrap();
    assert!(shop.elsewhere.rename_person(asked).await.unwrap().receipt.unwrap().repeated, "a repeat finds the person");
    assert_eq!(tables_with(&shop, "flintwhistle").await, BTreeMap::new());
    let said = format!("{:?}", shop.facts_after(0).await);
    assert!(!said.contains("Flintwhistle") && said.contains("person_renamed") && said.contains("misheard"));
    // The same name in other capitals is no clash with oneself.
    shop.lead.rename_person(rename("Flint", "FLINT")).await.unwrap();
    assert_eq!(reason(shop.lead.rename_person(rename("Flintwhistle", "Reed")).await), "NOT_FOUND");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bay_is_described_anew() {
    let shop = Shop::open().await;
    let set = |rated_kg| v1::SetBayRequest {
        write: Some(new_write()),
        bay: "lift-1".into(),
        kind: v1::BayKind::Floor.into(),
        rated_kg,
        reason: "read off the plate".into(),
        clear_rated_kg: false,
    };
    shop.lead.set_bay(set(1200)).await.unwrap();
    let bays = shop.elsewhere.get_shop(v1::GetShopRequest {}).await.unwrap().bays;
    let bay = bays.into_iter().find(|bay| bay.bay == "lift-1").unwrap();
    assert_eq!((bay.kind, bay.rated_kg), (v1::BayKind::Floor.into(), 1200));
    assert_eq!(reason(shop.lead.set_bay(set(1200)).await), "NOTHING_TO_DO");
    let heavy = v1::OpenJobRequest {
        write: Some(new_write()),
        title: "Heavy".into(),
        vehicle_label: "lorry".into(),
        vehicle_weight_kg: 1300,
        ..Default::default()
    };
    let job = shop.lead.open_job(heavy).await.unwrap().job;
    stopped(shop.assign(job, "lift-1").await, "TOO_HEAVY", "1200 kg");
    shop.lead.set_bay(set(1300)).await.unwrap();
    shop.assign(job, "lift-1").await.unwrap();
    stopped(shop.lead.set_bay(set(1299)).await, "TOO_HEAVY", "1299 kg");
    // A floor needs no rating of its own; a lift does.
    shop.lead.set_bay(v1::SetBayRequest { clear_rated_kg: true, ..set(0) }).await.unwrap();
    let lift = v1::SetBayRequest { kind: v1::BayKind::TwoPostLift.into(), ..set(0) };
    assert_eq!(shop.lead.set_bay(lift).await.unwrap_err().fields[0].field, "rated_kg");
    let bays = shop.elsewhere.get_shop(v1::GetShopRequest {}).await.unwrap().bays;
    assert_eq!(bays.into_iter().find(|bay| bay.bay == "lift-1").unwrap().rated_kg, 0);
    shop.verified().await;
}

async fn person_data(who: &Client, person: &str) -> Result<v1::GetPersonDataResponse, leadhand_sdk::SdkError> {
    who.get_person_data(v1::GetPersonDataRequest { person: person.into(), page_size: 1000, ..Default::default() }).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_person_sees_all_that_is_kept_about_the_own_person_and_nobody_elses() {
    let shop = Shop::open().await;
    let (flint, moss) = (shop.technician("Flintwhistle", &[]).await, shop.technician("Moss", &[]).await);
    let tablet = shop.token(v1::Role::Parts, "Counter").await;
    let job = shop.blank_job(&["look"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "look").await.unwrap();
    let raise = v1::RaiseBlockerRequest {
        write: Some(new_write()),
        job,
        stage: "look".into(),
        cause: v1::Cause::Tool.into(),
        note: "gaugefellow".into(),
        ..Default::default()
    };
    flint.raise_blocker(raise.clone()).await.unwrap();
    let other = v1::RaiseBlockerRequest { write: Some(new_write()), note: "mossy words".into(), ..raise };
    moss.raise_blocker(other).await.unwrap();
    let own = person_data(&flint, "").await.unwrap();
    let kept = own.kept.clone().unwrap().fields;
    let tables: Vec<&str> = kept.keys().map(String::as_str).collect();
    assert!(["person", "token", "clocking"].iter().all(|table| tables.contains(table)), "{tables:?}");
    let kinds: Vec<&str> = own.facts.iter().map(|fact| fact.kind.as_str()).collect();
    let expected = ["person_added", "token_issued", "stage_started", "clocked_on", "blocker_raised"];
    assert!(expected.iter().all(|kind| kinds.contains(kind)), "{kinds:?}");
    let said = format!("{own:?}");
    assert!(said.contains("Flintwhistle") && said.contains("gaugefellow"));
    assert!(!said.contains("mossy"), "words of somebody else");
    assert!(own.facts.iter().all(|fact| !fact.body.as_ref().unwrap().fields.contains_key("hash")));
    assert_eq!(reason(person_data(&moss, "Flintwhistle").await), "LEAD_ONLY");
    assert_eq!(reason(person_data(&tablet, "").await), "NO_PERSON");
    let by_lead = person_data(&shop.lead, "flintwhistle").await.unwrap();
    assert!(format!("{by_lead:?}").contains("gaugefellow"));
    // Page by page it is the same.
    let mut paged = Vec::new();
    let mut page_token = String::new();
    loop {
        let asked = v1::GetPersonDataRequest { person: String::new(), page_size: 2, page_token };
        let page = flint.get_person_data(asked).await.unwrap();
        assert_eq!(page.kept.is_some(), paged.is_empty(), "the rows come on the first page alone");
        paged.extend(page.facts);
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
    }
    assert_eq!(paged, own.facts);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_customer_gets_the_own_data_and_no_times_of_persons() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flintwhistle", &[]).await;
    let (write, contact) = (Some(new_write()), "by the millwheel".into());
    let asked = v1::AddCustomerRequest { write, name: "Heatherby".into(), contact, note: String::new() };
    let customer = shop.lead.add_customer(asked).await.unwrap().customer;
    let job = shop.blank_job(&["look"]).await;
    let vehicle = shop.whole_job(job).await.job.unwrap().vehicle;
    let (write, plate) = (Some(new_write()), "ZQ 4711 X".into());
    let edit = v1::EditVehicleRequest { write, vehicle, plate, customer: "Heatherby".into(), ..Default::default() };
    shop.lead.edit_vehicle(edit).await.unwrap();
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "look").await.unwrap();
    finish(&flint, job, "look").await.unwrap();
    let asked = || v1::GetCustomerDataRequest { customer: customer.clone(), page_size: 1000, ..Default::default() };
    assert_eq!(flint.get_customer_data(asked()).await.unwrap_err().reason, "ROLE_NOT_ALLOWED");
    let data = shop.lead.get_customer_data(asked()).await.unwrap();
    let said = format!("{data:?}");
    for words in ["Heatherby", "by the millwheel", "ZQ 4711 X", "red pick-up", "As it goes"] {
        assert!(said.contains(words), "{words} is missing");
    }
    let kinds: Vec<&str> = data.facts.iter().map(|fact| fact.kind.as_str()).collect();
    assert!(["customer_added", "vehicle_described", "job_opened", "stage_finished"].iter().all(|k| kinds.contains(k)));
    let flints = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    let id = &flints.iter().find(|person| person.name == "Flintwhistle").unwrap().person;
    assert!(!kinds.contains(&"clocked_on") && !said.contains(id.as_str()) && !said.contains("Flintwhistle"));
    shop.verified().await;
}
