//! What was told to whom about a job.

use super::{Broken, Folded, add, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::ToldRow;
use leadhand_facts::{Entry, Fact};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::SomebodyTold { job, told, person, customer, whom, words, promised_at } => {
            let row = ToldRow {
                job: *job,
                told: *told,
                customer: *customer,
                whom: whom.as_ref().map(|text| text.id),
                words: words.id,
                promised_at: *promised_at,
                told_at: entry.happened_at,
                told_by: *person,
                told_n: entry.number,
                withdrawn_n: None,
                withdrawn_reason: None,
            };
            add(entry, &mut state.told, row)
        }
        Fact::ToldWithdrawn { job, told, reason } => {
            if known(entry, &state.told, &(*job, *told))?.withdrawn_n.is_some() {
                return Err(Broken::new(entry, format!("what was told as number {told} is withdrawn already")));
            }
            change(entry, &mut state.told, &(*job, *told), |row| {
                row.withdrawn_n = Some(entry.number);
                row.withdrawn_reason = Some(reason.id);
            })
        }
        _ => strayed(entry),
    }
}
