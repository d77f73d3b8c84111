//! Persons of the shop: names that tell them apart, and who is named in a refusal.

use crate::shop::{Shop, reason, start};
use leadhand_proto::v1;
use leadhand_sdk::{Code, SdkError, new_write};

async fn add(shop: &Shop, name: &str) -> Result<v1::AddPersonResponse, SdkError> {
    shop.lead.add_person(v1::AddPersonRequest { write: Some(new_write()), name: name.into(), skills: vec![] }).await
}

#[tokio::test(flavor = "multi_thread")]
async fn two_persons_of_a_shop_have_different_names() {
    let shop = Shop::open().await;
    add(&shop, "Flint").await.unwrap();
    let said = add(&shop, " fLINT ").await.unwrap_err();
    assert_eq!(said.reason, "NAME_TAKEN");
    assert!(said.message.contains("there is already a 'Flint'"), "{}", said.message);
    // Sent together, they are decided together or one after the other; one of them comes first.
    let (one, other) = tokio::join!(add(&shop, "Moss"), add(&shop, "moss"));
    assert_eq!([&one, &other].into_iter().filter(|answer| answer.is_ok()).count(), 1, "{one:?} {other:?}");
    let forget = v1::ForgetPersonRequest { write: Some(new_write()), person: "Flint".into() };
    shop.lead.forget_person(forget).await.unwrap();
    add(&shop, "flint").await.unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whoever_is_at_work_on_a_vehicle_is_named() {
    let shop = Shop::open().await;
    let flint = shop.technician("Flint", &["brakes"]).await;
    let job = shop.job("front-brakes", "white van").await;
    shop.assign(job, "lift-1").await.unwrap();
    start(&flint, job, "book-in").await.unwrap();
    crate::shop::finish(&flint, job, "book-in").await.unwrap();
    start(&flint, job, "lift").await.unwrap();
    let out = v1::RollOutJobRequest { write: Some(new_write()), job, override_reason: "it is urgent".into() };
    let said = shop.lead.roll_out_job(out.clone()).await.unwrap_err();
    assert_eq!(said.reason, "AT_WORK");
    assert!(said.message.contains("(Flint)"), "{}", said.message);
    flint.clock_off(v1::ClockOffRequest { write: Some(new_write()) }).await.unwrap();
    let again = v1::RollOutJobRequest { write: Some(new_write()), ..out };
    shop.lead.roll_out_job(again).await.unwrap();
    let on = v1::ClockOnRequest { write: Some(new_write()), job, stage: "lift".into(), ..Default::default() };
    assert_eq!(reason(flint.clock_on(on).await), "NOT_IN_BAY");
    shop.verified().await;
}

// Unicode Standard Annex #15: both spellings of the name are canonically the same.
#[tokio::test(flavor = "multi_thread")]
async fn a_name_is_found_however_it_is_spelled_and_shown_as_it_was_typed() {
    let shop = Shop::open().await;
    let add = |name: &str| v1::AddPersonRequest { write: Some(new_write()), name: name.into(), skills: vec![] };
    shop.lead.add_person(add("Re\u{301}mi")).await.unwrap();
    for taken in ["R\u{e9}mi", "RE\u{301}MI", "Re\u{301}\u{200b}mi", "\u{202e}R\u{e9}mi\u{202c}"] {
        let refused = shop.elsewhere.add_person(add(taken)).await.unwrap_err();
        assert_eq!(refused.reason, "NAME_TAKEN", "{taken:?}: {refused}");
    }
    let refused = shop.lead.add_person(add("\u{200b}\u{2060}")).await.unwrap_err();
    assert_eq!((refused.code, refused.fields[0].field.as_str()), (Code::InvalidArgument, "name"));
    let skills = vec!["brakes".to_owned()];
    let set = v1::SetSkillsRequest { write: Some(new_write()), person: "r\u{e9}mi".into(), skills };
    shop.lead.set_skills(set).await.unwrap();
    let persons = shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().persons;
    assert_eq!(persons.last().unwrap().name, "Re\u{301}mi", "kept byte for byte");
    assert_eq!(persons.last().unwrap().skills, ["brakes"]);
    shop.verified().await;
}
