//! The texts that a person can have forgotten, found as the store's query finds them.

use leadhand_auditor::Books;
use leadhand_facts::rows::{PersonRow, TokenRow};
use leadhand_facts::{Entry, PersonId, TextId};
use serde_json::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// A person's name, the labels of the person's tokens, and the notes in facts about the person or made by the person's
/// requests, for whomever.
pub fn texts_of(books: &Books, journal: &[Entry], person: PersonId) -> BTreeSet<TextId> {
    let tables = books.tables();
    let named = tables.get::<PersonRow>(&(person,)).map(|row| row.name);
    let tokens: Vec<&TokenRow> = tables.rows::<TokenRow>().filter(|row| row.person == Some(person)).collect();
    let sent = |entry: &Entry| tokens.iter().any(|token| entry.principal == Some(token.principal));
    let notes = journal.iter().flat_map(|entry| notes_of(entry, person, sent(entry)));
    named.into_iter().chain(tokens.iter().filter_map(|row| row.label)).chain(notes).collect()
}

fn notes_of(entry: &Entry, person: PersonId, sent: bool) -> Vec<TextId> {
    let body = serde_json::to_value(&entry.fact).expect("a fact can be written")["body"].take();
    let is_theirs = |field: &str| body[field].as_str() == Some(&person.0.to_string());
    if !sent && entry.person != Some(person) && !is_theirs("person") && !is_theirs("owner") {
        return Vec::new();
    }
    let notes = [&body["note"], &body["reason"], &body["overridden"], &body["change"]["reason"]];
    let id = |note: &Value| note["id"].as_str().and_then(|id| Uuid::parse_str(id).ok()).map(TextId);
    notes.into_iter().filter_map(id).collect()
}
