//! The strip book of a job.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::strip::RefitChange;
use leadhand_domain::view::strip::{StripView, ladder, refit_changes, strip_view};
use leadhand_facts::strip::Rung;
use leadhand_facts::{Instant, JobNo, PersonId, PositionKey, StageKey, TextId};
use std::collections::BTreeMap;

/// A strip book with the words that it refers to.
#[derive(Debug, Clone)]
pub struct StripBook {
    /// The book.
    pub view: StripView,
    /// The stages of the job, in order.
    pub stages: Vec<StageKey>,
    /// When it was read.
    pub at: Instant,
    /// What the refit says now that it did not say at the number that was asked for.
    pub changes: Vec<RefitChange>,
    /// The ladder that was asked for.
    pub ladder: Vec<Rung>,
    /// Names of persons, by id; empty for somebody who was forgotten.
    pub names: BTreeMap<PersonId, String>,
    /// The words.
    pub words: Words,
}

impl App {
    /// The strip book of a job; what changed in the refit since a journal number, and the ladder of a position, where
    /// they are asked for.
    pub async fn strip(
        &self,
        who: &Principal,
        job: JobNo,
        since: Option<i64>,
        ladder_of: Option<&PositionKey>,
    ) -> Result<StripBook, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let at = reading.now();
        reading.load(&[Need::Shop, Need::Job(job)]).await?;
        let row = look::job(&reading.state, job)?;
        // The ladders are the template's.
        if let (Some(template), Some(revision)) = (row.template.clone(), row.revision) {
            reading.load(&[Need::Template(template, revision)]).await?;
        }
        let state = &reading.state;
        let view = strip_view(state, job);
        let changes = since.map_or_else(Vec::new, |since| refit_changes(state, job, since));
        let ladder = match ladder_of {
            None => Vec::new(),
            Some(position) => ladder(state, job, position).ok_or_else(|| Refusal::Unknown {
                what: "position",
                which: format!("{position}' of job '{job}"),
                todo: "`leadhand strip show` lists them",
            })?,
        };
        let stages = look::stages_in_order(state, job).into_iter().map(|row| row.stage.clone()).collect();
        let named: BTreeMap<PersonId, TextId> =
            view.persons().filter_map(|id| Some((id, state.persons.get(&(id,))?.name))).collect();
        let texts: Vec<TextId> = view.text_ids().chain(named.values().copied()).collect();
        let words = reading.words(texts).await?;
        let names = named.into_iter().map(|(id, name)| (id, words.get(Some(name)).to_owned())).collect();
        Ok(StripBook { view, stages, at, changes, ladder, names, words })
    }
}
