//! The strip book: what came off, what went back, what is still in.

use super::astray;
use super::jobs::words;
use super::seized;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::reading::{Overruled, OverruledLine};
use leadhand_facts::rows::{JobRow, PositionRow, StageRow, StepRow};
use leadhand_facts::strip::JobPosition;
use leadhand_facts::words::{JobState, Manner, PositionKind};
use leadhand_facts::{Fact, JobNo, PersonId, PositionKey, StageKey};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::PositionAdded { job, stage, position } => lay(tables, at, *job, stage, position),
        Fact::PositionOff { job, position, .. } => off(position_of(tables, at, *job, position)?, at, fact),
        Fact::PositionBack { job, position, .. } => back(position_of(tables, at, *job, position)?, at, fact),
        Fact::PositionTightened { job, position, person, tightness } => {
            let row = position_of(tables, at, *job, position)?;
            let other = row.tightness.is_some_and(|before| before != *tightness);
            at.demand(other, "strip_position", || format!("position '{position}' of job {job} was as tight before"))?;
            row.tightness = Some(*tightness);
            row.back_by = *person;
            row.back_at = Some(at.happened);
            let screwed = row.detail.kind == PositionKind::Fastener || !row.detail.tighten.is_empty();
            if screwed {
                row.hands.clear();
                row.unnamed = false;
            }
            worked(row, *person);
            unchecked(row);
            Ok(())
        }
        Fact::PositionChecked { job, position, person } => {
            let row = position_of(tables, at, *job, position)?;
            let other = row.back_n.is_some() && !row.hands.contains(person);
            at.demand(other, "strip_position", || {
                format!("position '{position}' of job {job} is not back, or is checked by who put it there")
            })?;
            row.checked_n = Some(at.n);
            row.checked_at = Some(at.happened);
            row.checked_by = Some(*person);
            Ok(())
        }
        Fact::PositionReopened { job, position, .. } => {
            let row = position_of(tables, at, *job, position)?;
            at.demand(row.off_n.is_some(), "strip_position", || {
                format!("nothing was said of position '{position}' of job {job} that could be taken back")
            })?;
            again(row);
            Ok(())
        }
        Fact::PositionRecounted { job, position, .. } => {
            counted_anew(position_of(tables, at, *job, position)?, at, fact)
        }
        Fact::PositionSplit { job, position, part } => seized::divide(tables, at, *job, position, part),
        Fact::PositionSoaked { job, position, until_at, .. } => {
            seized::soak(position_of(tables, at, *job, position)?, at, *until_at)
        }
        Fact::AttemptRecorded { .. } => seized::attempt(tables, at, fact),
        _ => Err(astray(at)),
    }
}

/// Counted anew: no fewer than are settled, and of what was put in nothing is missing.
fn counted_anew(row: &mut PositionRow, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::PositionRecounted { job, position, found, missing, damaged, reason, .. } = fact else {
        return Err(astray(at));
    };
    let fewer = row.detail.manner == Manner::In && missing + damaged > 0;
    let counted = *missing >= 0 && (0..=*found).contains(damaged);
    let settled = row.refitted + row.renewed + row.left_out <= found + missing
        && row.refitted + row.scrapped + row.kept <= *found;
    let open = row.off_n.is_some() && settled;
    at.demand(open && counted && !fewer, "strip_position", || {
        format!("position '{position}' of job {job} is not off, or is counted as it can't be")
    })?;
    row.found = *found;
    row.missing = *missing;
    row.damaged = *damaged;
    row.note = Some(reason.id);
    Ok(())
}

/// A position of a job that is open.
pub(super) fn position_of<'a>(
    tables: &'a mut Tables,
    at: At,
    job: JobNo,
    position: &PositionKey,
) -> Result<&'a mut PositionRow, Fault> {
    let open = tables.known::<JobRow>(at, &(job,))?.state == JobState::Open;
    at.demand(open, "strip_position", || format!("job {job} of position '{position}' is closed"))?;
    tables.change::<PositionRow>(at, &(job, position.clone()))
}

pub(super) fn lay(
    tables: &mut Tables,
    at: At,
    job: JobNo,
    stage: &StageKey,
    position: &JobPosition,
) -> Result<(), Fault> {
    tables.known::<StageRow>(at, &(job, stage.clone()))?;
    if let Some(step) = position.step {
        tables.known::<StepRow>(at, &(job, stage.clone(), step))?;
    }
    let key = &position.position;
    at.demand(position.detail.count > 0, "strip_position", || format!("position '{key}' of job {job} has no place"))?;
    let (what, what_text) = words(&position.what);
    tables.add(
        at,
        PositionRow {
            job,
            position: key.clone(),
            stage: stage.clone(),
            step: position.step,
            what,
            what_text,
            detail: position.detail.clone(),
            unplanned: position.unplanned,
            added_n: at.n,
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
        },
    )
}

fn off(row: &mut PositionRow, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::PositionOff { job, position, person, found, missing, damaged, keep, kept_at, note, repair, overruled } =
        fact
    else {
        return Err(astray(at));
    };
    let refuse = |holds: bool, why: &str| {
        at.demand(holds, "strip_position", || format!("position '{position}' of job {job} {why}"))
    };
    refuse(row.off_n.is_none(), "is off already")?;
    refuse(*found >= 0 && *missing >= 0 && (0..=*found).contains(damaged), "has counts that can't be")?;
    refuse(row.detail.manner != Manner::In || (*missing, *damaged) == (0, 0), "is put in and lacks something")?;
    row.off_at = Some(at.happened);
    row.off_by = *person;
    row.off_n = Some(at.n);
    row.found = *found;
    row.missing = *missing;
    row.damaged = *damaged;
    row.keep = *keep;
    row.kept_at = kept_at.as_ref().map(|text| text.id);
    row.note = note.as_ref().map(|text| text.id);
    row.repair = repair.as_ref().map(|text| text.id);
    row.taken_back = false;
    row.off_overruled.clear();
    overrule(&mut row.off_overruled, at, overruled);
    Ok(())
}

fn back(row: &mut PositionRow, at: At, fact: &Fact) -> Result<(), Fault> {
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
    } = fact
    else {
        return Err(astray(at));
    };
    let refuse = |holds: bool, why: &str| {
        at.demand(holds, "strip_position", || format!("position '{position}' of job {job} {why}"))
    };
    refuse(row.off_n.is_some(), "is not off and can't go back")?;
    refuse(
        [refitted, renewed, left_out, scrapped, kept].iter().all(|count| **count >= 0),
        "goes back by less than nothing",
    )?;
    let others = *renewed + *left_out + *scrapped + *kept;
    refuse(row.detail.manner != Manner::In || others == 0, "was put in and can only come out")?;
    row.refitted += *refitted;
    row.renewed += *renewed;
    row.left_out += *left_out;
    row.scrapped += *scrapped;
    row.kept += *kept;
    let (places, pieces) = (row.found + row.missing, row.found);
    refuse(row.refitted + row.renewed + row.left_out <= places, "has fewer places than went back")?;
    refuse(row.refitted + row.scrapped + row.kept <= pieces, "has fewer pieces than are accounted for")?;
    // Who only accounts for pieces has not touched what is back.
    let touched = *refitted + *renewed + *left_out > 0;
    if touched || row.back_n.is_none() {
        row.back_at = Some(at.happened);
        row.back_n = Some(at.n);
    }
    if touched {
        if *refitted > 0 || *renewed > 0 {
            row.back_by = *person;
        }
        worked(row, *person);
        unchecked(row);
    }
    row.tightness = Some(*tightness);
    if let Some(reason) = reason {
        row.reason = Some(reason.id);
    }
    overrule(&mut row.back_overruled, at, overruled);
    Ok(())
}

/// Adds what was overruled; the word is the one of who acted.
fn overrule(known: &mut Vec<OverruledLine>, at: At, overruled: &[Overruled]) {
    for Overruled { line, reason } in overruled {
        known.push(OverruledLine { line: line.clone(), reason: reason.id, by: at.word });
    }
}

/// Somebody had a hand in it; without a name nobody can tell who.
fn worked(row: &mut PositionRow, person: Option<PersonId>) {
    let Some(person) = person else {
        row.unnamed = true;
        return;
    };
    if row.hands.iter().all(|other| *other != person) {
        row.hands.push(person);
    }
}

fn unchecked(row: &mut PositionRow) {
    row.checked_n = None;
    row.checked_at = None;
    row.checked_by = None;
}

fn again(row: &mut PositionRow) {
    unchecked(row);
    if row.back_n.is_some() {
        row.back_n = None;
        row.back_at = None;
        row.back_by = None;
        row.hands.clear();
        row.unnamed = false;
        (row.refitted, row.renewed, row.left_out) = (0, 0, 0);
        (row.scrapped, row.kept) = (0, 0);
        row.tightness = None;
        row.reason = None;
        row.back_overruled.clear();
    } else {
        row.off_n = None;
        row.off_at = None;
        row.off_by = None;
        (row.found, row.missing, row.damaged) = (0, 0, 0);
        row.keep = None;
        row.kept_at = None;
        row.note = None;
        row.repair = None;
        row.off_overruled.clear();
        row.taken_back = true;
    }
}
