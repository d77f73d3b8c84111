//! The strip book: what came off, what went back, what is still in.

use super::{Folded, add, change, jobs, strayed};
use crate::state::State;
use leadhand_facts::reading::{Overruled, OverruledLine};
use leadhand_facts::rows::{AttemptRow, PositionRow};
use leadhand_facts::strip::JobPosition;
use leadhand_facts::words::PositionKind;
use leadhand_facts::{Entry, Fact, JobNo, PersonId, PositionKey, StageKey};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::PositionAdded { job, stage, position } => add_position(state, entry, *job, stage, position),
        Fact::PositionOff {
            job,
            position,
            person,
            found,
            missing,
            damaged,
            keep,
            kept_at,
            note,
            repair,
            overruled,
        } => change(entry, &mut state.positions, &(*job, position.clone()), |row| {
            row.off_at = Some(entry.happened_at);
            row.off_by = *person;
            row.off_n = Some(entry.number);
            (row.found, row.missing, row.damaged) = (*found, *missing, *damaged);
            row.keep = *keep;
            row.kept_at = kept_at.as_ref().map(|text| text.id);
            row.note = note.as_ref().map(|text| text.id);
            row.repair = repair.as_ref().map(|text| text.id);
            row.off_overruled = lines_of(entry, overruled).collect();
            row.taken_back = false;
        }),
        Fact::PositionBack { .. } => back(state, entry),
        Fact::PositionTightened { job, position, person, tightness } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.tightness = Some(*tightness);
                row.back_by = *person;
                row.back_at = Some(entry.happened_at);
                // Of what is screwed is looked at how tight it is, and that is the work of this one alone. Of anything else it is
                // looked at how it sits, and who fitted it had a hand in that.
                if row.detail.kind == PositionKind::Fastener || !row.detail.tighten.is_empty() {
                    (row.hands, row.unnamed) = (Vec::new(), false);
                }
                had_a_hand(row, *person);
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
        Fact::PositionRecounted { .. } => recount(state, entry),
        Fact::PositionSplit { job, position, part } => split(state, entry, *job, position, part),
        Fact::PositionSoaked { job, position, until_at, .. } => {
            change(entry, &mut state.positions, &(*job, position.clone()), |row| {
                row.soak_until = *until_at;
                row.soak_n = until_at.map(|_| entry.number);
            })
        }
        Fact::AttemptRecorded { .. } => attempt(state, entry),
        _ => strayed(entry),
    }
}

fn recount(state: &mut State, entry: &Entry) -> Folded {
    let Fact::PositionRecounted { job, position, found, missing, damaged, reason, .. } = &entry.fact else {
        return strayed(entry);
    };
    change(entry, &mut state.positions, &(*job, position.clone()), |row| {
        (row.found, row.missing, row.damaged) = (*found, *missing, *damaged);
        row.note = Some(reason.id);
    })
}

fn back(state: &mut State, entry: &Entry) -> Folded {
    let Fact::PositionBack {
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
        overruled,
    } = &entry.fact
    else {
        return strayed(entry);
    };
    change(entry, &mut state.positions, &(*job, position.clone()), |row| {
        // Who only says where pieces are did not touch what is back.
        let touched = refitted + renewed + left_out > 0;
        if touched || row.back_n.is_none() {
            (row.back_at, row.back_n) = (Some(entry.happened_at), Some(entry.number));
        }
        if touched {
            row.back_by = if refitted + renewed > 0 { *person } else { row.back_by };
            had_a_hand(row, *person);
            // Whatever was looked at before is not what is there now.
            (row.checked_at, row.checked_by, row.checked_n) = (None, None, None);
        }
        row.refitted += refitted;
        row.renewed += renewed;
        row.left_out += left_out;
        row.scrapped += scrapped;
        row.kept += kept;
        row.tightness = Some(*tightness);
        row.reason = reason.as_ref().map(|text| text.id).or(row.reason);
        row.back_overruled.extend(lines_of(entry, overruled));
    })
}

/// What a lead overruled, and on whose word that was.
fn lines_of<'e>(entry: &'e Entry, overruled: &'e [Overruled]) -> impl Iterator<Item = OverruledLine> + 'e {
    let by = entry.proved.or(entry.person);
    overruled.iter().map(move |one| OverruledLine { line: one.line.clone(), reason: one.reason.id, by })
}

/// It is the work of this one as well, or of nobody knows whom.
fn had_a_hand(row: &mut PositionRow, person: Option<PersonId>) {
    match person {
        None => row.unnamed = true,
        Some(person) if !row.hands.contains(&person) => row.hands.push(person),
        Some(_) => {}
    }
}

/// Undoes what was said last: that it is back, else that it is off.
fn reopen(row: &mut PositionRow) {
    (row.checked_at, row.checked_by, row.checked_n) = (None, None, None);
    if row.back_n.is_none() {
        (row.off_at, row.off_by, row.off_n) = (None, None, None);
        (row.found, row.missing, row.damaged) = (0, 0, 0);
        (row.keep, row.kept_at, row.note, row.repair) = (None, None, None, None);
        row.off_overruled = Vec::new();
        row.taken_back = true;
    }
    (row.back_at, row.back_by, row.back_n) = (None, None, None);
    (row.refitted, row.renewed, row.left_out, row.scrapped, row.kept) = (0, 0, 0, 0, 0);
    (row.tightness, row.reason) = (None, None);
    row.back_overruled = Vec::new();
    (row.hands, row.unnamed) = (Vec::new(), false);
}

/// Some places become a position of their own, which everything behind the first lies behind as well.
fn split(state: &mut State, entry: &Entry, job: JobNo, position: &PositionKey, part: &JobPosition) -> Folded {
    let known = super::known(entry, &state.positions, &(job, position.clone()))?;
    let stage = known.stage.clone();
    change(entry, &mut state.positions, &(job, position.clone()), |row| row.detail.count -= part.detail.count)?;
    let behind: Vec<PositionKey> = crate::strip::positions(state, job)
        .filter(|row| row.detail.behind.contains(position))
        .map(|row| row.position.clone())
        .collect();
    for key in behind {
        change(entry, &mut state.positions, &(job, key), |row| row.detail.behind.push(part.position.clone()))?;
    }
    add_position(state, entry, job, &stage, part)
}

fn attempt(state: &mut State, entry: &Entry) -> Folded {
    let Fact::AttemptRecorded {
        job,
        position,
        attempt,
        person,
        rung,
        measure,
        last_safe,
        outcome,
        pieces,
        plan,
        note,
        overridden,
    } = &entry.fact
    else {
        return strayed(entry);
    };
    super::known(entry, &state.positions, &(*job, position.clone()))?;
    let row = AttemptRow {
        job: *job,
        position: position.clone(),
        attempt: *attempt,
        rung: *rung,
        measure: measure.clone(),
        last_safe: *last_safe,
        outcome: *outcome,
        pieces: *pieces,
        person: *person,
        at: entry.happened_at,
        n: entry.number,
        plan: plan.as_ref().map(|text| text.id),
        note: note.as_ref().map(|text| text.id),
        overridden: overridden.as_ref().map(|text| text.id),
    };
    add(entry, &mut state.attempts, row)
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
        repair: None,
        soak_until: None,
        soak_n: None,
        hands: Vec::new(),
        unnamed: false,
        off_overruled: Vec::new(),
        back_overruled: Vec::new(),
        taken_back: false,
    };
    add(entry, &mut state.positions, row)
}
