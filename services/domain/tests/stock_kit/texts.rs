//! The texts that a person or a customer can have forgotten, found as the store's query finds them.

use leadhand_auditor::Books;
use leadhand_domain::apply::texts_of as texts_of_fact;
use leadhand_facts::rows::{CustomerRow, JobRow, PersonRow, TokenRow, VehicleRow};
use leadhand_facts::{CustomerId, Entry, Fact, PersonId, TextId};
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
    let named = ["note", "reason", "overridden", "kept_at", "words", "whom", "instrument", "repair", "plan"];
    let lines = body["lines"].as_array().into_iter().flatten().map(|line| &line["reason"]);
    let notes: Vec<&Value> =
        named.iter().map(|name| &body[*name]).chain([&body["change"]["reason"]]).chain(lines).collect();
    let id = |note: &Value| note["id"].as_str().and_then(|id| Uuid::parse_str(id).ok()).map(TextId);
    notes.into_iter().filter_map(id).collect()
}

/// What a customer's row and vehicles say, and whatever was typed in a fact about one of the customer's jobs.
pub fn texts_of_customer(books: &Books, journal: &[Entry], customer: CustomerId) -> BTreeSet<TextId> {
    let tables = books.tables();
    let row = tables.get::<CustomerRow>(&(customer,));
    let named = row.into_iter().flat_map(|row| [Some(row.name), row.contact, row.about]);
    let vehicles = tables.rows::<VehicleRow>().filter(|row| row.customer == Some(customer));
    let named = named.chain(vehicles.flat_map(|row| [Some(row.label), row.plate]));
    let jobs: BTreeSet<i64> =
        tables.rows::<JobRow>().filter(|row| row.customer == Some(customer)).map(|row| row.job.0).collect();
    let theirs = journal.iter().filter(|entry| {
        let body = serde_json::to_value(&entry.fact).expect("a fact can be written")["body"].take();
        let job = body["job"].as_i64().or(body["wanter"]["job"].as_i64());
        let told = matches!(&entry.fact, Fact::SomebodyTold { customer: Some(whom), .. } if *whom == customer);
        told || job.is_some_and(|job| jobs.contains(&job))
    });
    let typed = theirs.flat_map(|entry| texts_of_fact(&entry.fact)).map(|text| text.id);
    named.flatten().chain(typed).collect()
}
