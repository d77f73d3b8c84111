//! The words behind text ids, as far as they were not erased.

use leadhand_facts::TextId;
use leadhand_store::{Snapshot, StoreError};
use std::collections::{BTreeMap, BTreeSet};

/// Words by text id.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Words(BTreeMap<TextId, String>);

impl Words {
    pub(crate) async fn load(
        snapshot: &mut Snapshot,
        texts: impl IntoIterator<Item = TextId>,
    ) -> Result<Self, StoreError> {
        let texts: BTreeSet<TextId> = texts.into_iter().collect();
        if texts.is_empty() {
            return Ok(Self::default());
        }
        let texts: Vec<TextId> = texts.into_iter().collect();
        Ok(Self(snapshot.texts(&texts).await?.into_iter().map(|text| (text.id, text.body)).collect()))
    }

    /// The words; empty when there are none, or when they were erased.
    pub fn get(&self, text: Option<TextId>) -> &str {
        text.and_then(|text| self.0.get(&text)).map_or("", String::as_str)
    }

    /// A template's own words, or else the typed ones.
    pub fn either<'a>(&'a self, own: Option<&'a str>, text: Option<TextId>) -> &'a str {
        own.unwrap_or_else(|| self.get(text))
    }
}
