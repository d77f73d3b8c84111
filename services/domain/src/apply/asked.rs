//! Corrections of time that were asked for.

use super::{Broken, Folded, add, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::AskedRow;
use leadhand_facts::{Entry, Fact};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::CorrectionAsked { job, ask, clocking, entry: of, person, wanted, reason } => {
            let row = AskedRow {
                job: *job,
                ask: *ask,
                clocking: *clocking,
                entry: *of,
                person: *person,
                to_job: wanted.as_ref().map(|wanted| wanted.job),
                to_stage: wanted.as_ref().map(|wanted| wanted.stage.clone()),
                from_at: wanted.as_ref().map(|wanted| wanted.from_at),
                until_at: wanted.as_ref().and_then(|wanted| wanted.until_at),
                reason: reason.id,
                asked_at: entry.happened_at,
                asked_n: entry.number,
                taken: None,
                decided_by: None,
                decided_at: None,
                decided_n: None,
                answer: None,
            };
            add(entry, &mut state.asked, row)
        }
        Fact::CorrectionDecided { job, ask, by, taken, reason } => {
            if known(entry, &state.asked, &(*job, *ask))?.decided_n.is_some() {
                return Err(Broken::new(entry, format!("correction {ask} of job {job} is decided already")));
            }
            change(entry, &mut state.asked, &(*job, *ask), |row| {
                row.taken = Some(*taken);
                row.decided_by = *by;
                row.decided_at = Some(entry.happened_at);
                row.decided_n = Some(entry.number);
                row.answer = Some(reason.id);
            })
        }
        _ => strayed(entry),
    }
}
