//! Who is forgotten leaves no words behind, whatever stands in the queue with it.

use crate::Shop;
use crate::together::together;
use leadhand_app::access::Principal;
use leadhand_app::{AppError, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{AddPerson, ForgetPerson, SetDay};
use leadhand_domain::refusal::Refusal;
use leadhand_facts::PersonId;
use leadhand_facts::words::Role;

fn forget(person: PersonId) -> ForgetPerson {
    ForgetPerson { person, texts: Vec::new() }
}

/// Words typed: a day's reason.
fn typed(words: &str) -> SetDay {
    SetDay { day: "2030-05-01".into(), hours: Vec::new(), reason: Some(words.into()) }
}

impl Shop {
    /// A second lead.
    async fn flint(&self) -> (PersonId, Principal) {
        let added = self.must(AddPerson { name: "Flint".into(), skills: vec!["engine".into()] }).await;
        let Made::Person(person) = added.answer.made else { panic!("no person") };
        let issued = self.app.issue_token(&self.lead, self.write(), Role::Lead, Some(person), None, None).await;
        let secret = issued.unwrap().1.unwrap();
        (person, self.app.authenticate(&secret).await.unwrap().in_shop().unwrap())
    }

    /// Writes into the journal who sent a fact.
    async fn sent_by(&self, number: i64, who: Option<&Principal>) {
        let mut database = self.database.superuser().await.unwrap();
        let written = sqlx::query("UPDATE journal SET principal = $1, proved = $3 WHERE number = $2");
        let proved = who.and_then(|who| who.person).map(|person| person.0);
        let written = written.bind(who.map(|who| who.principal.0)).bind(number).bind(proved);
        let written = written.execute(&mut database).await.unwrap();
        assert_eq!(written.rows_affected(), 1);
    }

    /// How many texts have these words in them.
    async fn words_like(&self, words: &str) -> i64 {
        let mut database = self.database.superuser().await.unwrap();
        let asked = "SELECT count(*) FROM text_body WHERE body LIKE '%' || $1 || '%'";
        sqlx::query_scalar(asked).bind(words).fetch_one(&mut database).await.unwrap()
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn name_and_words_are_erased_and_verify_accepts_it() {
    let shop = Shop::open().await;
    let (person, flint) = shop.flint().await;
    shop.app.execute(&flint, shop.write(), typed("gaugefellow")).await.unwrap();
    shop.must(forget(person)).await;
    let view = shop.app.shop(&shop.lead).await.unwrap();
    let row = view.persons.iter().find(|row| row.person == person).unwrap();
    assert!(row.forgotten);
    assert_eq!(view.words.get(Some(row.name)), "");
    assert_eq!(shop.words_like("gaugefellow").await, 0);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn words_that_are_queued_just_before_are_erased_as_well() {
    let shop = Shop::open().await;
    let (person, flint) = shop.flint().await;
    let sent = vec![
        (flint, shop.write(), typed("gaugefellow").into()),
        (shop.lead, shop.write(), forget(person).into()),
        (flint, shop.write(), typed("latecomer").into()),
    ];
    let answers = Box::pin(together(&shop, sent)).await;
    assert!(answers[0].is_ok() && answers[1].is_ok() && answers[2].is_err(), "{answers:?}");
    assert_eq!(shop.words_like("gaugefellow").await, 0);
    assert_eq!(shop.words_like("latecomer").await, 0);
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn words_that_a_lead_typed_for_somebody_else_go_with_the_lead() {
    let shop = Shop::open().await;
    let (person, flint) = shop.flint().await;
    let for_wren = Write { for_person: Some(shop.new.lead), ..shop.write() };
    shop.app.execute(&flint, for_wren, typed("gaugefellow")).await.unwrap();
    shop.must(typed("leadkeeper")).await;
    shop.must(forget(person)).await;
    assert_eq!(shop.words_like("gaugefellow").await, 0);
    assert_eq!(shop.words_like("leadkeeper").await, 1);
    shop.verified().await;
}

/// As if the first forgetting had passed over who sent a fact.
#[tokio::test(flavor = "multi_thread")]
async fn who_is_forgotten_again_loses_what_was_left_over_and_then_nothing_is_left() {
    let shop = Shop::open().await;
    let (person, flint) = shop.flint().await;
    let for_wren = Write { for_person: Some(shop.new.lead), ..shop.write() };
    let sent = shop.app.execute(&flint, for_wren, typed("gaugefellow")).await.unwrap().answer.number;
    shop.sent_by(sent, None).await;
    shop.must(forget(person)).await;
    assert_eq!(shop.words_like("gaugefellow").await, 1);
    shop.sent_by(sent, Some(&flint)).await;
    shop.must(forget(person)).await;
    assert_eq!(shop.words_like("gaugefellow").await, 0);
    let again = shop.app.execute(&shop.lead, shop.write(), forget(person)).await;
    assert!(matches!(&again, Err(AppError::Refused { refusal: Refusal::Forgotten {}, .. })), "{again:?}");
    shop.verified().await;
}
