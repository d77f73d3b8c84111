//! Everything that is kept about somebody, for whoever asks what that is.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::words::Role;
use leadhand_facts::{CustomerId, Entry, Fact, Instant, PersonId, TextId};
use serde_json::{Map, Value};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Columns that let somebody in, or would let somebody try to.
const SECRET: [&str; 2] = ["hash", "secret"];

/// About whom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whom {
    /// A person.
    Person(PersonId),
    /// A customer.
    Customer(CustomerId),
}

/// What is kept about somebody.
#[derive(Debug, Clone)]
pub struct About {
    /// When it was so.
    pub at: Instant,
    /// Rows by table, with words in the place of texts' ids; nothing on later pages.
    pub kept: Option<Map<String, Value>>,
    /// The facts.
    pub entries: Vec<Entry>,
    /// Words by id, those of the one who is asked about alone.
    pub words: BTreeMap<String, String>,
    /// The last number of a full page: more may follow.
    pub next: Option<i64>,
}

impl App {
    /// What is kept about somebody, with the facts after this one. A lead sees everybody's, any other person
    /// the own alone.
    pub async fn about(&self, who: &Principal, whom: Whom, after: i64, size: usize) -> Result<About, AppError> {
        if who.role != Role::Lead && who.person.map(Whom::Person) != Some(whom) {
            return Err(Refusal::LeadOnly { what: "see what is kept about somebody else" }.into());
        }
        let mut reading = Reading::begin(self, who.shop).await?;
        match whom {
            Whom::Person(person) => {
                reading.load(&[Need::Shop, Need::PersonTexts(person)]).await?;
                look::any_person(&reading.state, person)?;
            }
            Whom::Customer(customer) => {
                reading.load(&[Need::Customer(customer), Need::CustomerTexts(customer)]).await?;
                look::any_customer(&reading.state, customer)?;
            }
        }
        let limit = i64::try_from(size).unwrap_or(i64::MAX);
        let snapshot = &mut reading.snapshot;
        let entries = match whom {
            Whom::Person(person) => {
                let facts = snapshot.person_facts(person, who.role == Role::Lead, after, limit).await?;
                facts.into_iter().map(|entry| own(entry, person)).collect()
            }
            Whom::Customer(customer) => snapshot.customer_facts(customer, after, limit).await?,
        };
        let next = (entries.len() == size).then(|| entries.last().map(|entry| entry.number)).flatten();
        let rows = match whom {
            _ if after > 0 => Vec::new(),
            Whom::Person(person) => snapshot.person_rows(person).await?,
            Whom::Customer(customer) => snapshot.customer_rows(customer).await?,
        };
        let at = reading.now();
        let texts: Vec<TextId> = reading.state.texts.iter().map(|row| row.text).collect();
        let words = reading.words(texts.iter().copied()).await?;
        let words = by_id(&texts, &words);
        let kept = (after == 0).then(|| by_table(rows, &words));
        Ok(About { at, kept, entries, words, next })
    }
}

/// Of a plan only what it has somebody do: the rest is about others.
fn own(mut entry: Entry, person: PersonId) -> Entry {
    if let Fact::PlanAccepted { stages, visits, jobs, .. } = &mut entry.fact {
        stages.retain(|row| row.people.contains(&person));
        visits.clear();
        jobs.clear();
    }
    entry
}

fn by_id(texts: &[TextId], words: &Words) -> BTreeMap<String, String> {
    let said = texts.iter().map(|text| (text.to_string(), words.get(Some(*text)).to_owned()));
    said.filter(|(_, words)| !words.is_empty()).collect()
}

/// Rows by table, without secrets, with words in the place of texts' ids.
fn by_table(rows: Vec<(String, Value)>, words: &BTreeMap<String, String>) -> Map<String, Value> {
    let mut tables = Map::new();
    for (table, mut row) in rows {
        if let Some(columns) = row.as_object_mut() {
            columns.retain(|column, _| !SECRET.contains(&column.as_str()));
        }
        say(&mut row, words);
        if let Value::Array(rows) = tables.entry(table).or_insert_with(|| Value::Array(Vec::new())) {
            rows.push(row);
        }
    }
    tables
}

fn say(value: &mut Value, words: &BTreeMap<String, String>) {
    match value {
        Value::String(id) if Uuid::try_parse(id).is_ok() => {
            if let Some(said) = words.get(id) {
                said.clone_into(id);
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|value| say(value, words)),
        Value::Object(fields) => fields.values_mut().for_each(|value| say(value, words)),
        _ => {}
    }
}
