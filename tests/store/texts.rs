//! Names and free text can be forgotten, with everything that could bring them back.

use crate::samples::{id, row, sample, with};
use crate::shop::{entry, request, shop};
use leadhand_domain::need::Need;
use leadhand_domain::state::AnyRow;
use leadhand_facts::text::TextBody;
use leadhand_facts::words::Cause;
use leadhand_facts::{BlockerNo, Entry, Fact, JobNo, PersonId, PrincipalId, StageKey, TextId, TextRef};
use leadhand_store::{AcceptedRequest, Outline, Written};
use serde_json::json;
use uuid::Uuid;

fn text(n: u128, body: &str) -> TextBody {
    TextBody { id: TextId(Uuid::from_u128(n)), salt: format!("{n:032x}"), body: body.to_owned() }
}

fn accepted(n: u128) -> AcceptedRequest {
    AcceptedRequest {
        request: request(n),
        principal: None,
        fingerprint: Some(vec![7; 32]),
        outline: None,
        answer: json!({}),
        first_n: 1,
        last_n: 0,
    }
}

/// Source: GDPR, article 17 (erasure) and recital 26 (a person must not be identifiable by means
/// likely to be used, such as trying words against a hash).
#[tokio::test]
async fn erasing_a_text_takes_words_salt_and_the_fingerprint_of_its_request() {
    let shop = shop().await;
    let (name, note) = (text(1, "A. Example"), text(2, "left the key in the cab"));
    let texts = [(name.clone(), request(1)), (note.clone(), request(2))];
    let outline = Outline { hash: vec![9; 48], blanked: vec!["/AddPerson/name".to_owned()] };
    let with_outline = AcceptedRequest { outline: Some(outline), ..accepted(1) };
    let requests = [with_outline.clone(), accepted(2)];
    shop.write(&Written { texts: &texts, requests: &requests, ..Written::default() }).await.unwrap();

    let mut snapshot = shop.store.snapshot(shop.id).await.unwrap();
    assert_eq!(snapshot.text_bodies().await.unwrap(), [name.clone(), note.clone()]);
    assert_eq!(snapshot.texts(&[note.id]).await.unwrap(), std::slice::from_ref(&note));
    snapshot.end().await.unwrap();

    shop.write(&Written { erased_texts: &[name.id], ..Written::default() }).await.unwrap();
    let mut snapshot = shop.store.snapshot(shop.id).await.unwrap();
    assert_eq!(snapshot.text_bodies().await.unwrap(), [note]);
    assert_eq!(snapshot.texts(&[name.id]).await.unwrap(), []);
    snapshot.end().await.unwrap();

    let mut batch = shop.store.begin(shop.id).await.unwrap();
    let mut seen = batch.request(&[request(1), request(2)]).await.unwrap();
    seen.sort_by_key(|seen| seen.request);
    assert_eq!(seen[0], AcceptedRequest { fingerprint: None, ..with_outline }, "what has no word in it stays");
    assert_eq!(seen[1], accepted(2));
}

/// A blocker with a note, raised by one person and owned by another.
fn noted(number: i64, at: leadhand_facts::Instant, note: u128, by: PersonId, owner: Option<PersonId>) -> Entry {
    let note = TextRef { id: TextId(Uuid::from_u128(note)), hash: "f".repeat(64) };
    let fact = Fact::BlockerRaised {
        job: JobNo(7),
        blocker: BlockerNo(1),
        stage: StageKey::from("drain"),
        cause: Cause::Person,
        owner,
        expected_at: None,
        note: Some(note),
        step: None,
        item: None,
        reading: None,
        tool: None,
    };
    Entry { person: Some(by), fact, ..entry(number, at) }
}

#[tokio::test]
async fn a_persons_texts_are_the_name_the_tokens_labels_and_notes_by_or_about_the_person() {
    let shop = shop().await;
    let person = PersonId(Uuid::try_parse(&id(3)).unwrap());
    let other = PersonId(Uuid::try_parse(&id(9)).unwrap());
    let mut rows = vec![row("person", &sample("person")), row("token", &sample("token"))];
    let texts = [4, 8, 0x70, 0x71, 0x72, 0x73, 0x74, 0x75];
    rows.extend(texts.map(|n| row("text_ref", &with(&sample("text_ref"), &json!({"text": id(n)})))));
    shop.put(&rows).await.unwrap();
    // The sample token's, and another.
    let [own, foreign] = [7, 0xA].map(|n| PrincipalId(Uuid::try_parse(&id(n)).unwrap()));
    let note = |n| Uuid::try_parse(&id(n)).unwrap().as_u128();
    let now = shop.store.snapshot(shop.id).await.unwrap().now;
    let entries = [
        noted(1, now, note(0x70), person, None),
        noted(2, now, note(0x71), other, Some(person)),
        noted(3, now, note(0x72), other, Some(other)),
        // Sent with the person's token, for somebody else.
        Entry { principal: Some(own), ..noted(4, now, note(0x74), other, None) },
        Entry { principal: Some(foreign), ..noted(5, now, note(0x75), other, None) },
    ];
    shop.write(&Written { entries: &entries, ..Written::default() }).await.unwrap();

    let found = shop.store.snapshot(shop.id).await.unwrap().load(&[Need::PersonTexts(person)]).await.unwrap();
    let mut found: Vec<String> = found
        .into_iter()
        .map(|row| match row {
            AnyRow::TextRow(row) => row.text.to_string(),
            other => panic!("{other:?}"),
        })
        .collect();
    found.sort_unstable();
    assert_eq!(found, [4, 8, 0x70, 0x71, 0x74].map(id));
}
