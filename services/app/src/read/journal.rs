//! The journal, from a cursor on.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::apply::shown_texts_of;
use leadhand_domain::need::Need;
use leadhand_facts::{Entry, FactId, TextId};
use std::collections::BTreeMap;

/// Facts in order, without a gap.
#[derive(Debug, Clone)]
pub struct JournalPage {
    /// The facts.
    pub entries: Vec<Entry>,
    /// The last number of the journal.
    pub head: i64,
    /// The words of their texts and the names of persons, by id, as far as they were not erased.
    pub words: BTreeMap<String, String>,
}

impl App {
    /// Facts after a number. With the id of the fact that the reader has under that number, a
    /// history that diverged (a restore, a failover) is noticed and said.
    pub async fn journal(
        &self,
        who: &Principal,
        after: i64,
        fact_id: Option<FactId>,
        limit: usize,
    ) -> Result<JournalPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let head = reading.snapshot.head.number;
        if after < 0 || after > head {
            return Err(AppError::OutOfRange(format!(
                "after.number: the journal goes from 1 to {head} and {after} lies outside; if you had facts beyond it, this history is another one: start again from 0"
            )));
        }
        if let Some(fact_id) = fact_id.filter(|_| after > 0)
            && reading.snapshot.fact_id_at(after).await? != Some(fact_id)
        {
            return Err(AppError::OutOfRange(format!(
                "after.fact_id: fact {after} of this journal is another one, so this history is not the one you followed; start again from 0"
            )));
        }
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let entries = reading.snapshot.journal(after, limit).await?;
        let words = if entries.is_empty() { BTreeMap::new() } else { words(&mut reading, &entries).await? };
        reading.snapshot.end().await?;
        Ok(JournalPage { entries, head, words })
    }
}

async fn words(reading: &mut Reading, entries: &[Entry]) -> Result<BTreeMap<String, String>, AppError> {
    reading.load(&[Need::Shop, Need::Tokens]).await?;
    let texts: Vec<TextId> = entries.iter().flat_map(|entry| shown_texts_of(&entry.fact)).map(|text| text.id).collect();
    let names: Vec<TextId> = reading.state.persons.iter().map(|row| row.name).collect();
    // Devices act under their principals, which no fact after the first one names.
    let devices = reading.state.tokens.iter().filter(|token| token.person.is_none());
    let devices: Vec<(String, TextId)> =
        devices.filter_map(|token| Some((token.principal.to_string(), token.label?))).collect();
    let labels = devices.iter().map(|(_, label)| *label);
    let words = Words::load(&mut reading.snapshot, texts.iter().chain(&names).copied().chain(labels)).await?;
    let of_devices = devices.iter().map(|(principal, label)| (principal.clone(), words.get(Some(*label))));
    let of_persons = reading.state.persons.iter().map(|row| (row.person.to_string(), words.get(Some(row.name))));
    let of_texts = texts.iter().map(|text| (text.to_string(), words.get(Some(*text))));
    let all = of_persons.chain(of_texts).chain(of_devices).filter(|(_, said)| !said.is_empty());
    Ok(all.map(|(id, said)| (id, said.to_owned())).collect())
}
