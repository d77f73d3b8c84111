//! Readings, and remarks on a job.

use super::{Broken, Folded, add, change, jobs, known, strayed};
use crate::state::State;
use leadhand_facts::reading::JobReading;
use leadhand_facts::rows::{ReadingRow, RemarkRow};
use leadhand_facts::{Entry, Fact, JobNo, StageKey};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::ReadingAdded { job, stage, reading } => add_reading(state, entry, *job, stage, reading),
        Fact::ReadingTaken { job, reading, person, figures, verdict, off_limits, instrument, note } => {
            change(entry, &mut state.readings, &(*job, reading.clone()), |row| {
                row.taken_at = Some(entry.happened_at);
                row.taken_by = *person;
                row.taken_n = Some(entry.number);
                row.figures.clone_from(figures);
                row.verdict = Some(*verdict);
                row.off_limits.clone_from(off_limits);
                row.instrument = instrument.as_ref().map(|text| text.id);
                row.note = note.as_ref().map(|text| text.id);
                // What was decided was about what is no longer there.
                (row.decided_at, row.decided_by, row.decided_n) = (None, None, None);
                (row.decision, row.decided_reason) = (None, None);
            })
        }
        Fact::ReadingDecided { job, reading, person, decision, reason } => {
            change(entry, &mut state.readings, &(*job, reading.clone()), |row| {
                row.decided_at = Some(entry.happened_at);
                row.decided_by = Some(*person);
                row.decided_n = Some(entry.number);
                row.decision = Some(*decision);
                row.decided_reason = Some(reason.id);
            })
        }
        Fact::RemarkMade { job, remark, person, what, words } => {
            let row = RemarkRow {
                job: *job,
                remark: *remark,
                what: *what,
                words: words.id,
                said_at: entry.happened_at,
                said_by: *person,
                said_n: entry.number,
                withdrawn_n: None,
                withdrawn_reason: None,
            };
            add(entry, &mut state.remarks, row)
        }
        Fact::RemarkWithdrawn { job, remark, reason } => {
            if known(entry, &state.remarks, &(*job, *remark))?.withdrawn_n.is_some() {
                return Err(Broken::new(entry, format!("remark {remark} is withdrawn already")));
            }
            change(entry, &mut state.remarks, &(*job, *remark), |row| {
                row.withdrawn_n = Some(entry.number);
                row.withdrawn_reason = Some(reason.id);
            })
        }
        _ => strayed(entry),
    }
}

/// A reading as it stands when it comes to be.
pub(super) fn add_reading(
    state: &mut State,
    entry: &Entry,
    job: JobNo,
    stage: &StageKey,
    reading: &JobReading,
) -> Folded {
    let (what, what_text) = jobs::worded(&reading.what);
    let row = ReadingRow {
        job,
        reading: reading.reading.clone(),
        stage: stage.clone(),
        step: reading.step,
        what,
        what_text,
        detail: reading.detail.clone(),
        unplanned: reading.unplanned,
        added_n: entry.number,
        taken_at: None,
        taken_by: None,
        taken_n: None,
        figures: Vec::new(),
        verdict: None,
        off_limits: Vec::new(),
        instrument: None,
        note: None,
        decided_at: None,
        decided_by: None,
        decided_n: None,
        decision: None,
        decided_reason: None,
    };
    add(entry, &mut state.readings, row)
}
