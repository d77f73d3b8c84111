//! Two shops on one database: whatever one names of the other is not there.

use crate::shop::Shop;
use leadhand_proto::v1;
use leadhand_sdk::{Client, Code, SdkError, new_write, write_with_id};
use uuid::Uuid;

fn not_there<T: std::fmt::Debug>(what: &str, answer: Result<T, SdkError>) {
    let refused = answer.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::NotFound, "NOT_FOUND"), "{what}: {refused}");
}

#[tokio::test(flavor = "multi_thread")]
async fn no_job_of_the_neighbour_can_be_touched() {
    let shop = Shop::open().await;
    let neighbour = shop.neighbour().await;
    let job = shop.blank_job(&["strip"]).await;
    shop.assign(job, "lift-1").await.unwrap();
    let before = shop.head().await;
    let (stage, reason) = (|| "strip".to_owned(), || "no".to_owned());
    macro_rules! each {
        ($($rpc:ident $request:ident { $($field:ident: $value:expr),* })+) => {$(
            #[allow(clippy::needless_update, reason = "some requests have no other field")]
            let asked = v1::$request { write: Some(new_write()), job, $($field: $value,)* ..Default::default() };
            not_there(stringify!($rpc), neighbour.$rpc(asked).await);
        )+};
    }
    each! {
        promise_job PromiseJobRequest { priority: 1 }
        assign_job AssignJobRequest { bay: "lift-1".into() }
        roll_out_job RollOutJobRequest {}
        complete_job CompleteJobRequest {}
        cancel_job CancelJobRequest { reason: reason() }
        reopen_job ReopenJobRequest { reason: reason() }
        add_stage AddStageRequest { title: "x".into() }
        add_step AddStepRequest { stage: stage(), instruction: "x".into() }
        start_stage StartStageRequest { stage: stage() }
        finish_stage FinishStageRequest { stage: stage() }
        skip_stage SkipStageRequest { stage: stage(), reason: reason() }
        tick_steps TickStepsRequest { stage: stage() }
        skip_step SkipStepRequest { stage: stage(), step: 1, reason: reason() }
        raise_blocker RaiseBlockerRequest { stage: stage(), cause: v1::Cause::Tool.into() }
        clear_blocker ClearBlockerRequest { blocker: 1 }
        own_blocker OwnBlockerRequest { blocker: 1 }
        reserve_fill ReserveFillRequest { item: "hg-set-20".into() }
        reserve_stock ReserveStockRequest {}
        issue_stock IssueStockRequest {}
        return_stock ReturnStockRequest { item: "hg-set-20".into(), quantity: 1, place: "bin-a1".into() }
        release_stock ReleaseStockRequest {}
        clock_on ClockOnRequest { stage: stage() }
    }
    not_there("get_job", neighbour.get_job(v1::GetJobRequest { job }).await);
    let draft = v1::DraftTemplateRequest { job, template: "theirs".into() };
    not_there("draft_template", neighbour.draft_template(draft).await);
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

async fn no_customer_is_there(neighbour: &Client, id: &str, vehicle: &str) {
    for customer in ["Heather", id] {
        let (write, name) = (|| Some(new_write()), "Reed".into());
        let edit = v1::EditCustomerRequest { write: write(), customer: customer.into(), name, ..Default::default() };
        not_there("edit", neighbour.edit_customer(edit).await);
        let forget = v1::ForgetCustomerRequest { write: write(), customer: customer.into() };
        not_there("forget", neighbour.forget_customer(forget).await);
        not_there("show", neighbour.get_customer(v1::GetCustomerRequest { customer: customer.into() }).await);
        let data = v1::GetCustomerDataRequest { customer: customer.into(), ..Default::default() };
        not_there("data", neighbour.get_customer_data(data).await);
    }
    let (write, vehicle, plate) = (Some(new_write()), vehicle.into(), "ZZ 9".into());
    let edit = v1::EditVehicleRequest { write, vehicle, plate, ..Default::default() };
    not_there("vehicle", neighbour.edit_vehicle(edit).await);
    assert!(neighbour.list_customers(v1::ListCustomersRequest::default()).await.unwrap().customers.is_empty());
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_else_of_the_neighbour_is_there_either() {
    let shop = Shop::open().await;
    let neighbour = shop.neighbour().await;
    shop.technician("Flint", &["brakes"]).await;
    let opened = v1::OpenJobRequest {
        write: Some(new_write()),
        title: "Ours".into(),
        vehicle_label: "white van".into(),
        ..Default::default()
    };
    let vehicle = shop.lead.open_job(opened).await.unwrap().vehicle;
    let persons = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    let flint = persons.iter().find(|person| person.name == "Flint").unwrap().person.clone();
    let added = v1::AddCustomerRequest { write: Some(new_write()), name: "Heather".into(), ..Default::default() };
    let customer = shop.lead.add_customer(added).await.unwrap().customer;
    let token = shop.lead.list_tokens(v1::ListTokensRequest::default()).await.unwrap().tokens.remove(0).token;
    let before = shop.head().await;
    not_there("revoke", neighbour.revoke_token(v1::RevokeTokenRequest { write: Some(new_write()), token }).await);
    for person in ["Flint", flint.as_str()] {
        let asked = v1::ForgetPersonRequest { write: Some(new_write()), person: person.into() };
        not_there("forget", neighbour.forget_person(asked).await);
    }
    for person in ["Flint", flint.as_str()] {
        let (write, name, reason) = (Some(new_write()), "Reed".into(), "no".into());
        let asked = v1::RenamePersonRequest { write, person: person.into(), name, reason };
        not_there("rename", neighbour.rename_person(asked).await);
        let asked = v1::GetPersonDataRequest { person: person.into(), ..Default::default() };
        not_there("data", neighbour.get_person_data(asked).await);
    }
    let (write, bay, reason) = (Some(new_write()), "lift-1".into(), "no".into());
    not_there(
        "bay",
        neighbour.set_bay(v1::SetBayRequest { write, bay, rated_kg: 9, reason, kind: 0, clear_rated_kg: false }).await,
    );
    no_customer_is_there(&neighbour, &customer, &vehicle).await;
    let (write, role) = (Some(new_write()), v1::Role::Technician.into());
    let asked = v1::IssueTokenRequest { write, role, person: flint, ..Default::default() };
    not_there("issue", neighbour.issue_token(asked).await);
    let asked = v1::OpenJobRequest { write: Some(new_write()), title: "Theirs".into(), vehicle, ..Default::default() };
    not_there("vehicle", neighbour.open_job(asked).await);
    let asked = v1::GetTemplateRequest { template: "front-brakes".into(), revision: 0 };
    not_there("template", neighbour.get_template(asked).await);
    let asked = v1::GetStatementRequest { item: "hg-set-20".into(), ..Default::default() };
    not_there("statement", neighbour.get_statement(asked).await);
    assert!(neighbour.list_templates(v1::ListTemplatesRequest::default()).await.unwrap().templates.is_empty());
    assert!(neighbour.list_shortages(v1::ListShortagesRequest { job: 0 }).await.unwrap().shortages.is_empty());
    assert!(neighbour.audit_time(v1::AuditTimeRequest::default()).await.unwrap().lines.is_empty());
    assert_eq!(neighbour.list_tokens(v1::ListTokensRequest::default()).await.unwrap().tokens.len(), 1);
    let theirs = neighbour.get_shop(v1::GetShopRequest {}).await.unwrap();
    assert_eq!(theirs.persons.iter().map(|person| person.name.as_str()).collect::<Vec<_>>(), ["Heron"]);
    assert!(theirs.bays.is_empty());
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn journals_and_request_ids_are_each_shop_s_own() {
    let shop = Shop::open().await;
    let neighbour = shop.neighbour().await;
    let bay = || v1::Bay { bay: "shed".into(), name: "Shed".into(), kind: v1::BayKind::Floor.into(), rated_kg: 1000 };
    let write = write_with_id(Uuid::from_u128(77));
    let asked = || v1::AddBayRequest { write: Some(write.clone()), bay: Some(bay()) };
    for lead in [&shop.lead, &neighbour] {
        assert!(!lead.add_bay(asked()).await.unwrap().receipt.unwrap().repeated, "an id of one shop is new to another");
    }
    let theirs = neighbour.read_journal(v1::ReadJournalRequest::default()).await.unwrap();
    let kinds: Vec<&str> = theirs.facts.iter().map(|fact| fact.kind.as_str()).collect();
    assert_eq!(kinds, ["shop_opened", "person_added", "token_issued", "bay_added"]);
    assert!(theirs.facts.iter().map(|fact| fact.number).eq(1..=theirs.head));
    let ours = shop.facts_after(0).await;
    assert!(ours.iter().all(|fact| theirs.facts.iter().all(|other| other.fact_id != fact.fact_id)));
    // A place in one history is no place in the other.
    let number = theirs.head;
    let after = Some(v1::Cursor { number, fact_id: ours[usize::try_from(number - 1).unwrap()].fact_id.clone() });
    let refused = neighbour.read_journal(v1::ReadJournalRequest { after, page_size: 1 }).await.unwrap_err();
    assert_eq!(refused.code, Code::OutOfRange);
    shop.verified().await;
}
