//! What a line keeps between batches, and how it keeps up with the other replicas.

use leadhand_domain::follow::follow;
use leadhand_domain::state::State;
use leadhand_facts::{Entry, FactId};
use leadhand_store::{Batch, StoreError};

/// Facts of other replicas that are followed at once; beyond that, loading anew is the shorter way.
const FOLLOWED_MOST: i64 = 500;

/// State that is as the database's rows were at its head.
pub(super) struct Kept {
    pub(super) state: State,
    pub(super) fact_id: Option<FactId>,
}

impl Kept {
    /// The facts since; nothing when they are too many, or when this journal is not the one that
    /// was kept up with (a restore, a failover).
    pub(super) async fn since(&self, batch: &mut Batch) -> Result<Option<Vec<Entry>>, StoreError> {
        let (head, from) = (batch.head, self.state.head);
        if from == head.number {
            return Ok((self.fact_id == head.fact_id).then(Vec::new));
        }
        let behind = head.number - from;
        if !(1..=FOLLOWED_MOST).contains(&behind) || from == 0 {
            return Ok(None);
        }
        // The last one known comes along, to be recognised.
        let mut facts = batch.journal(from - 1, behind + 1).await?;
        let known = facts.first().is_some_and(|entry| entry.number == from && Some(entry.fact_id) == self.fact_id);
        Ok(known.then(|| facts.split_off(1)))
    }

    /// The state with these facts; nothing when it has to be loaded anew.
    pub(super) fn forward(self, facts: &[Entry]) -> Option<State> {
        let Self { mut state, .. } = self;
        if facts.is_empty() {
            return Some(state);
        }
        match follow(&mut state, facts) {
            Ok(()) => {
                metrics::counter!("leadhand_foreign_facts_followed_total").increment(facts.len() as u64);
                Some(state)
            }
            Err(lost) => {
                tracing::debug!(%lost, "what was kept of a shop is loaded anew");
                None
            }
        }
    }
}
