//! The strip book of a job.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::view::strip::{StripView, strip_view};
use leadhand_facts::{JobNo, PersonId, TextId};
use std::collections::BTreeMap;

/// A strip book with the words that it refers to.
#[derive(Debug, Clone)]
pub struct StripBook {
    /// The book.
    pub view: StripView,
    /// Names of persons, by id; empty for somebody who was forgotten.
    pub names: BTreeMap<PersonId, String>,
    /// The words.
    pub words: Words,
}

impl App {
    /// The strip book of a job.
    pub async fn strip(&self, who: &Principal, job: JobNo) -> Result<StripBook, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Job(job)]).await?;
        look::job(&reading.state, job)?;
        let view = strip_view(&reading.state, job);
        let named: BTreeMap<PersonId, TextId> =
            view.persons().filter_map(|id| Some((id, reading.state.persons.get(&(id,))?.name))).collect();
        let texts: Vec<TextId> = view.text_ids().chain(named.values().copied()).collect();
        let words = reading.words(texts).await?;
        let names = named.into_iter().map(|(id, name)| (id, words.get(Some(name)).to_owned())).collect();
        Ok(StripBook { view, names, words })
    }
}
