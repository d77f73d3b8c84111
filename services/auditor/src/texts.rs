//! Words against their hashes: the words of a text lie outside of the facts, so that they can be
//! erased, and the salted hash in the fact proves that they are still the ones that were said.

use crate::compare::{Difference, WHOLE_ROW};
use crate::fold::Books;
use leadhand_facts::TextId;
use leadhand_facts::rows::TextRow;
use leadhand_facts::text::TextBody;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;

/// The table in which the words lie.
pub const TEXT_BODY: &str = "text_body";

/// Where the words in the database differ from what the facts say: a living text has one body
/// whose salted SHA-256 is the fact's hash, an erased or unknown one has none.
pub fn check_texts(books: &Books, bodies: Vec<TextBody>) -> Vec<Difference> {
    let mut found: BTreeMap<TextId, TextBody> = BTreeMap::new();
    let mut differences = Vec::new();
    for body in bodies {
        let id = body.id;
        if found.insert(id, body).is_some() {
            differences.push(about(id, WHOLE_ROW, json!("one body"), json!("two bodies")));
        }
    }
    for row in books.tables().rows::<TextRow>() {
        let body = found.remove(&row.text);
        differences.extend(match (row.erased_n, body) {
            (None, None) => Some(about(row.text, WHOLE_ROW, json!("a body"), Value::Null)),
            (Some(_), Some(_)) => Some(about(row.text, WHOLE_ROW, Value::Null, json!("a body that was to be erased"))),
            (None, Some(body)) => wrong_hash(row, &body),
            (Some(_), None) => None,
        });
    }
    differences.extend(found.into_keys().map(|id| about(id, WHOLE_ROW, Value::Null, json!("a body of no fact"))));
    differences
}

/// Never shows words: a report of verify is no place for them.
fn wrong_hash(row: &TextRow, body: &TextBody) -> Option<Difference> {
    let Some(hash) = salted_hash(&body.salt, &body.body) else {
        return Some(about(row.text, "salt", json!("16 bytes in hexadecimal"), json!("something else")));
    };
    (hash != row.hash).then(|| about(row.text, "body", json!(row.hash), json!(hash)))
}

/// SHA-256 of the salt's 16 bytes followed by the words, in hexadecimal; `None` when the salt is
/// not 16 bytes in hexadecimal.
fn salted_hash(salt: &str, words: &str) -> Option<String> {
    let digits: Vec<u32> = salt.chars().map(|c| c.to_digit(16)).collect::<Option<_>>()?;
    let bytes: Vec<u8> =
        digits.chunks(2).map(|pair| u8::try_from(pair[0] * 16 + pair.get(1)?).ok()).collect::<Option<_>>()?;
    if bytes.len() != 16 {
        return None;
    }
    let digest = Sha256::new().chain_update(&bytes).chain_update(words.as_bytes()).finalize();
    let mut hex = String::with_capacity(64);
    for byte in digest {
        write!(hex, "{byte:02x}").ok()?;
    }
    Some(hex)
}

fn about(text: TextId, column: &str, expected: Value, found: Value) -> Difference {
    Difference { table: TEXT_BODY.to_owned(), key: json!([text]), column: column.to_owned(), expected, found }
}
