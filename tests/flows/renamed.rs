//! A repeat gets the first answer although whoever it names is called otherwise by now, and an id whose words were
//! erased answers nothing but its own request.

use crate::shop::{Shop, reason};
use leadhand_proto::v1;
use leadhand_sdk::{Client, WriteContextExt, new_write};

const REUSED: &str = "REQUEST_ID_REUSED";

/// Sends a request again, to the other replica: it is a repeat, with the first receipt.
macro_rules! repeated {
    ($shop:expr, $rpc:ident, $asked:expr, $first:expr) => {
        let again = $shop.elsewhere.$rpc($asked.clone()).await.unwrap().receipt.unwrap();
        assert_eq!(again, v1::Receipt { repeated: true, ..$first.receipt.clone().unwrap() }, stringify!($rpc));
    };
}

fn rename(person: &str, name: &str) -> v1::RenamePersonRequest {
    let (write, reason) = (Some(new_write()), "misheard".into());
    v1::RenamePersonRequest { write, person: person.into(), name: name.into(), reason }
}

fn skills(person: &str) -> v1::SetSkillsRequest {
    v1::SetSkillsRequest { write: Some(new_write()), person: person.into(), skills: vec!["brakes".into()] }
}

fn rename_customer(customer: &str, name: &str) -> v1::EditCustomerRequest {
    let (write, customer, name) = (Some(new_write()), customer.into(), name.into());
    v1::EditCustomerRequest { write, customer, name, ..Default::default() }
}

fn open(label: &str, customer: &str) -> v1::OpenJobRequest {
    v1::OpenJobRequest {
        write: Some(new_write()),
        title: "As it goes".into(),
        vehicle_label: label.into(),
        customer: customer.into(),
        ..Default::default()
    }
}

fn describe(vehicle: &str) -> v1::EditVehicleRequest {
    v1::EditVehicleRequest { write: Some(new_write()), vehicle: vehicle.into(), ..Default::default() }
}

async fn add_person(who: &Client, name: &str) {
    let asked = v1::AddPersonRequest { write: Some(new_write()), name: name.into(), skills: Vec::new() };
    who.add_person(asked).await.unwrap();
}

async fn add_customer(who: &Client, name: &str) -> String {
    let asked = v1::AddCustomerRequest { write: Some(new_write()), name: name.into(), ..Default::default() };
    who.add_customer(asked).await.unwrap().customer
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_was_renamed_since_was_meant_all_the_same() {
    let shop = Shop::open().await;
    add_person(&shop.lead, "Flnit").await;
    add_person(&shop.lead, "Heron").await;
    let job = shop.blank_job(&["strip"]).await;
    let able = skills("Flnit");
    let first = shop.lead.set_skills(able.clone()).await.unwrap();
    let both = v1::RaiseBlockerRequest {
        write: Some(new_write().for_person("Heron")),
        job,
        stage: "strip".into(),
        cause: v1::Cause::Tool.into(),
        owner: "Flnit".into(),
        ..Default::default()
    };
    let raised = shop.lead.raise_blocker(both.clone()).await.unwrap();
    let new_name = rename("Flnit", "Flint");
    let renamed = shop.lead.rename_person(new_name.clone()).await.unwrap();
    shop.lead.rename_person(rename("Heron", "Egret")).await.unwrap();
    let head = shop.head().await;
    repeated!(shop, set_skills, able, first);
    repeated!(shop, raise_blocker, both, raised);
    repeated!(shop, rename_person, new_name, renamed);
    // Somebody who had another name then is not who was meant; nor is a name that leads nowhere when the one who was
    // meant has the name still, nor an id that nobody has.
    let other = v1::SetSkillsRequest { person: "Wren".into(), ..able.clone() };
    assert_eq!(reason(shop.lead.set_skills(other).await), REUSED);
    let known = skills("Wren");
    shop.lead.set_skills(known.clone()).await.unwrap();
    let nobody = v1::SetSkillsRequest { person: "Moss".into(), ..known };
    assert_eq!(reason(shop.lead.set_skills(nobody).await), REUSED);
    let unheard = v1::SetSkillsRequest { person: uuid::Uuid::from_u128(7).to_string(), ..able.clone() };
    assert_eq!(reason(shop.lead.set_skills(unheard).await), REUSED);
    let other = v1::SetSkillsRequest { skills: vec!["engine".into()], ..able };
    assert_eq!(reason(shop.lead.set_skills(other).await), REUSED);
    assert_eq!(shop.head().await, head + 1);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_name_that_somebody_new_has_led_to_the_one_before() {
    let shop = Shop::open().await;
    add_person(&shop.lead, "Ash").await;
    let able = skills("Ash");
    let first = shop.lead.set_skills(able.clone()).await.unwrap();
    let senior = rename("Ash", "Ash senior");
    let renamed = shop.lead.rename_person(senior.clone()).await.unwrap();
    add_person(&shop.lead, "Ash").await;
    let head = shop.head().await;
    repeated!(shop, rename_person, senior, renamed);
    repeated!(shop, set_skills, able, first);
    assert_eq!(shop.head().await, head, "nobody new was renamed");
    // The new one may go again, and another may be called so by a new name.
    let forget = v1::ForgetPersonRequest { write: Some(new_write()), person: "Ash".into() };
    let forgotten = shop.lead.forget_person(forget.clone()).await.unwrap();
    add_person(&shop.lead, "Birch").await;
    shop.lead.rename_person(rename("Birch", "Ash")).await.unwrap();
    repeated!(shop, forget_person, forget, forgotten);
    repeated!(shop, rename_person, senior, renamed);
    repeated!(shop, set_skills, able, first);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_customer_who_was_renamed_or_forgotten_since_was_meant_all_the_same() {
    let shop = Shop::open().await;
    let customer = add_customer(&shop.lead, "Smithers").await;
    let opened = open("van one", "Smithers");
    let job = shop.lead.open_job(opened.clone()).await.unwrap();
    let given = v1::EditVehicleRequest { customer: "Smithers".into(), ..describe(&job.vehicle) };
    let gave = shop.lead.edit_vehicle(given.clone()).await.unwrap();
    let new_name = rename_customer("Smithers", "Smythe");
    let renamed = shop.lead.edit_customer(new_name.clone()).await.unwrap();
    let head = shop.head().await;
    for round in ["nobody has the name", "somebody new has it"] {
        repeated!(shop, edit_customer, new_name, renamed);
        repeated!(shop, open_job, opened, job);
        repeated!(shop, edit_vehicle, given, gave);
        if round == "nobody has the name" {
            assert_eq!(shop.head().await, head);
            let anew = v1::OpenJobRequest { write: Some(new_write()), ..opened.clone() };
            assert_eq!(reason(shop.lead.open_job(anew).await), "NOT_FOUND");
            add_customer(&shop.lead, "Smithers").await;
        }
    }
    let other = v1::OpenJobRequest { customer: String::new(), ..opened.clone() };
    assert_eq!(reason(shop.lead.open_job(other).await), REUSED);
    let cancel = v1::CancelJobRequest { write: Some(new_write()), job: job.job, reason: "no".into(), as_it_is: false };
    shop.lead.cancel_job(cancel).await.unwrap();
    let forget = v1::ForgetCustomerRequest { write: Some(new_write()), customer: "Smythe".into() };
    let forgotten = shop.lead.forget_customer(forget.clone()).await.unwrap();
    repeated!(shop, forget_customer, forget, forgotten);
    repeated!(shop, edit_customer, new_name, renamed);
    repeated!(shop, open_job, opened, job);
    repeated!(shop, edit_vehicle, given, gave);
    let view = shop.lead.get_customer(v1::GetCustomerRequest { customer }).await.unwrap();
    assert!(view.customer.unwrap().forgotten, "the one who was added then");
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn another_of_the_same_name_does_not_come_between_a_request_and_its_answer() {
    let shop = Shop::open().await;
    add_customer(&shop.lead, "Smithers").await;
    let opened = open("van one", "Smithers");
    let job = shop.lead.open_job(opened.clone()).await.unwrap();
    let second = add_customer(&shop.lead, "smithers").await;
    repeated!(shop, open_job, opened, job);
    let anew = v1::OpenJobRequest { write: Some(new_write()), ..opened.clone() };
    let unclear = shop.lead.open_job(anew).await.unwrap_err();
    assert_eq!((unclear.reason.as_str(), unclear.fields[0].field.as_str()), ("INVALID_FIELD", "customer"));
    let other = v1::OpenJobRequest { customer: second, ..opened };
    assert_eq!(reason(shop.lead.open_job(other).await), REUSED);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_person_and_a_customer_of_one_name_are_two() {
    let shop = Shop::open().await;
    add_person(&shop.lead, "Ash").await;
    add_customer(&shop.lead, "Ash").await;
    let opened = v1::OpenJobRequest { write: Some(new_write().for_person("Ash")), ..open("van one", "Ash") };
    let job = shop.lead.open_job(opened.clone()).await.unwrap();
    shop.lead.rename_person(rename("Ash", "Birch")).await.unwrap();
    repeated!(shop, open_job, opened, job);
    shop.lead.edit_customer(rename_customer("Ash", "Elder")).await.unwrap();
    repeated!(shop, open_job, opened, job);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_id_whose_words_were_erased_answers_only_its_own_request() {
    let shop = Shop::open().await;
    add_customer(&shop.lead, "Smithers").await;
    let asked = open("van one", "Smithers");
    let job = shop.lead.open_job(asked.clone()).await.unwrap();
    let label = v1::EditVehicleRequest { label: "van two".into(), ..describe(&job.vehicle) };
    shop.lead.edit_vehicle(label).await.unwrap();
    let head = shop.head().await;
    let again = shop.elsewhere.open_job(asked.clone()).await.unwrap();
    assert_eq!((again.job, again.receipt.unwrap().repeated), (job.job, true));
    let others = [
        v1::OpenJobRequest { vehicle_weight_kg: 1200, ..asked.clone() },
        v1::OpenJobRequest { vehicle_plate: "ZQ 4711 X".into(), ..asked.clone() },
        v1::OpenJobRequest { title: String::new(), template: "front-brakes".into(), ..asked.clone() },
        v1::OpenJobRequest { priority: 1, ..asked.clone() },
        v1::OpenJobRequest { customer: String::new(), ..asked.clone() },
    ];
    for other in others {
        assert_eq!(reason(shop.lead.open_job(other.clone()).await), REUSED, "{other:?}");
    }
    let cancel =
        v1::CancelJobRequest { write: asked.write.clone(), job: job.job, reason: "no".into(), as_it_is: false };
    assert_eq!(reason(shop.lead.cancel_job(cancel).await), REUSED);
    assert_eq!(shop.head().await, head);
    // The name in it may be gone as well.
    shop.lead.edit_customer(rename_customer("Smithers", "Smythe")).await.unwrap();
    repeated!(shop, open_job, asked, job);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_view_says_the_name_that_is_not_known() {
    let shop = Shop::open().await;
    let asked = v1::GetPersonDataRequest { person: "Moss".into(), ..Default::default() };
    let unknown = shop.lead.get_person_data(asked).await.unwrap_err();
    assert_eq!(unknown.reason, "NOT_FOUND");
    assert!(unknown.message.contains("'Moss'"), "{unknown}");
    let asked = v1::GetCustomerDataRequest { customer: "Moss".into(), ..Default::default() };
    let unknown = shop.lead.get_customer_data(asked).await.unwrap_err();
    assert!(unknown.reason == "NOT_FOUND" && unknown.message.contains("'Moss'"), "{unknown}");
}
