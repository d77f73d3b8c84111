//! Words against hashes.
//!
//! The digest below is that of Python's hashlib over the same bytes.

use crate::kit::{Journal, PERSON, VEHICLE};
use leadhand_auditor::{Books, check_texts};
use leadhand_facts::text::TextBody;
use leadhand_facts::{Fact, TextId, TextRef};
use serde_json::{Value, json};
use uuid::Uuid;

const SALT: &str = "000102030405060708090a0b0c0d0e0f";
const WORDS: &str = "Oil seen at the seam – 2 mm";
const HASH: &str = "819d2f2c09b2ba151792626cfeeb37060d248d03b2a4982f1c31954da781ae91";
const TEXT: TextId = TextId(Uuid::from_u128(0x77));

/// Shop, person and vehicle share the one text; numbers 1 to 3.
fn books(forgotten: bool) -> Books {
    let text = TextRef { id: TEXT, hash: HASH.to_owned() };
    let mut journal = Journal::default();
    journal.at(0, Fact::ShopOpened { name: text.clone(), zone: "Europe/Paris".to_owned() });
    journal.at(0, Fact::PersonAdded { person: PERSON, name: text.clone(), skills: Vec::new() });
    journal.at(0, Fact::VehicleAdded { vehicle: VEHICLE, label: text, weight_kg: None });
    if forgotten {
        journal.at(1, Fact::PersonForgotten { person: PERSON, texts: vec![TEXT] });
    }
    journal.books()
}

fn body(salt: &str, words: &str) -> TextBody {
    TextBody { id: TEXT, salt: salt.to_owned(), body: words.to_owned() }
}

/// Columns, expected and found of the differences.
fn differences(books: &Books, bodies: Vec<TextBody>) -> Vec<(String, Value, Value)> {
    let found = check_texts(books, bodies);
    assert!(found.iter().all(|difference| difference.table == "text_body"));
    assert!(!format!("{found:?}").contains("seam"), "words do not belong in a report");
    found.into_iter().map(|difference| (difference.column, difference.expected, difference.found)).collect()
}

#[test]
fn words_that_were_said_or_erased_are_accepted() {
    assert_eq!(differences(&books(false), vec![body(SALT, WORDS)]), []);
    assert_eq!(differences(&books(true), Vec::new()), []);
}

#[test]
fn changed_missing_kept_and_foreign_words_are_found() {
    let changed = differences(&books(false), vec![body(SALT, "Oil seen at the seam – 3 mm")]);
    assert!(matches!(&changed[..], [(column, expected, _)] if column == "body" && *expected == json!(HASH)));
    let salted = differences(&books(false), vec![body("ff0102030405060708090a0b0c0d0e0f", WORDS)]);
    assert!(matches!(&salted[..], [(column, ..)] if column == "body"));
    for salt in ["", "00", "zz0102030405060708090a0b0c0d0e0f", "000102030405060708090a0b0c0d0e0", "é"] {
        let found = differences(&books(false), vec![body(salt, WORDS)]);
        assert!(matches!(&found[..], [(column, ..)] if column == "salt"), "salt '{salt}': {found:?}");
    }
    let row = |expected: Value, found: Value| vec![("(row)".to_owned(), expected, found)];
    assert_eq!(differences(&books(false), Vec::new()), row(json!("a body"), Value::Null));
    let kept = differences(&books(true), vec![body(SALT, WORDS)]);
    assert_eq!(kept, row(Value::Null, json!("a body that was to be erased")));
    let foreign = TextBody { id: TextId(Uuid::from_u128(1)), ..body(SALT, WORDS) };
    let found = differences(&books(false), vec![body(SALT, WORDS), foreign]);
    assert_eq!(found, row(Value::Null, json!("a body of no fact")));
    let twice = differences(&books(false), vec![body(SALT, WORDS), body(SALT, WORDS)]);
    assert_eq!(twice, row(json!("one body"), json!("two bodies")));
}
