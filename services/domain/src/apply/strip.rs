//! The strip book: what came off, what went back, what is still in.

use super::{Folded, add, change, jobs, strayed};
use crate::state::State;
use leadhand_facts::rows::PositionRow;
use leadhand_facts::strip::JobPosition;
use leadhand_facts::{Entry, Fact, JobNo, StageKey};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::PositionAdded { job, stage, position } => add_position(state, entry, *job, stage, position),
        Fact::PositionOff { job, position, person, found, missing, damaged, keep, kept_at, note } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.off_at = Some(entry.happened_at);
                row.off_by = *person;
                row.off_n = Some(entry.number);
                (row.found, row.missing, row.damaged) = (*found, *missing, *damaged);
                row.keep = *keep;
                row.kept_at = kept_at.as_ref().map(|text| text.id);
                row.note = note.as_ref().map(|text| text.id);
            })
        }
        Fact::PositionBack {
            job,
            position,
            person,
            refitted,
            renewed,
            left_out,
            scrapped,
            kept,
            tightness,
            reason,
        } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.back_at = Some(entry.happened_at);
                row.back_by = *person;
                row.back_n = Some(entry.number);
                row.refitted += refitted;
                row.renewed += renewed;
                row.left_out += left_out;
                row.scrapped += scrapped;
                row.kept += kept;
                row.tightness = Some(*tightness);
                row.reason = reason.as_ref().map(|text| text.id).or(row.reason);
                // Whatever was looked at before is not what is there now.
                (row.checked_at, row.checked_by, row.checked_n) = (None, None, None);
            })
        }
        Fact::PositionTightened { job, position, person, tightness } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.tightness = Some(*tightness);
                row.back_by = *person;
                (row.checked_at, row.checked_by, row.checked_n) = (None, None, None);
            })
        }
        Fact::PositionChecked { job, position, person } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.checked_at = Some(entry.happened_at);
                row.checked_by = Some(*person);
                row.checked_n = Some(entry.number);
            })
        }
        Fact::PositionReopened { job, position, .. } => {
            change(entry, &mut state.positions, &(*job, position.clone()), reopen)
        }
        _ => strayed(entry),
    }
}

/// Undoes what was said last: that it is back, else that it is off.
fn reopen(row: &mut PositionRow) {
    (row.checked_at, row.checked_by, row.checked_n) = (None, None, None);
    if row.back_n.is_none() {
        (row.off_at, row.off_by, row.off_n) = (None, None, None);
        (row.found, row.missing, row.damaged) = (0, 0, 0);
        (row.keep, row.kept_at, row.note) = (None, None, None);
    }
    (row.back_at, row.back_by, row.back_n) = (None, None, None);
    (row.refitted, row.renewed, row.left_out, row.scrapped, row.kept) = (0, 0, 0, 0, 0);
    (row.tightness, row.reason) = (None, None);
}

/// A position as it stands when it comes to be.
pub(super) fn add_position(
    state: &mut State,
    entry: &Entry,
    job: JobNo,
    stage: &StageKey,
    position: &JobPosition,
) -> Folded {
    let (what, what_text) = jobs::worded(&position.what);
    let row = PositionRow {
        job,
        position: position.position.clone(),
        stage: stage.clone(),
        step: position.step,
        what,
        what_text,
        detail: position.detail.clone(),
        unplanned: position.unplanned,
        added_n: entry.number,
        off_at: None,
        off_by: None,
        off_n: None,
        found: 0,
        missing: 0,
        damaged: 0,
        keep: None,
        kept_at: None,
        note: None,
        back_at: None,
        back_by: None,
        back_n: None,
        refitted: 0,
        renewed: 0,
        left_out: 0,
        scrapped: 0,
        kept: 0,
        tightness: None,
        reason: None,
        checked_at: None,
        checked_by: None,
        checked_n: None,
    };
    add(entry, &mut state.positions, row)
}
