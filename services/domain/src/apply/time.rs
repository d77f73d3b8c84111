//! What holds stages up, and the time of persons.

use super::{Broken, Folded, add, change, known, strayed};
use crate::state::State;
use leadhand_facts::rows::{BlockerRow, ClockingRow};
use leadhand_facts::{Entry, Fact};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let n = entry.number;
    match &entry.fact {
        Fact::BlockerRaised { .. } => raised(state, entry),
        Fact::BlockerCleared { job, blocker, note } => {
            let key = (*job, *blocker);
            if known(entry, &state.blockers, &key)?.cleared_at.is_some() {
                return Err(Broken::new(entry, format!("blocker {blocker} of job {job} is cleared already")));
            }
            change(entry, &mut state.blockers, &key, |row| {
                // What ends it may be entered late; then it held nothing up.
                row.cleared_at = Some(entry.happened_at.max(row.since));
                row.cleared_n = Some(n);
                row.cleared_note = note.as_ref().map(|note| note.id);
            })
        }
        Fact::BlockerOwned { .. } => owned(state, entry),
        Fact::ClockedOn { clocking, person, job, stage, overridden } => {
            let row = ClockingRow {
                clocking: *clocking,
                person: *person,
                job: *job,
                stage: stage.clone(),
                from_at: entry.happened_at,
                until_at: None,
                on_n: n,
                off_n: None,
                overridden: overridden.as_ref().map(|reason| reason.id),
            };
            add(entry, &mut state.clockings, row)
        }
        Fact::ClockedOff { clocking, .. } => {
            if known(entry, &state.clockings, &(*clocking,))?.until_at.is_some() {
                return Err(Broken::new(entry, format!("clocking {clocking} is over already")));
            }
            change(entry, &mut state.clockings, &(*clocking,), |row| {
                row.until_at = Some(entry.happened_at);
                row.off_n = Some(n);
            })
        }
        Fact::WorkRecorded { clocking, person, job, stage, from_at, until_at, overridden } => {
            let row = ClockingRow {
                clocking: *clocking,
                person: *person,
                job: *job,
                stage: stage.clone(),
                from_at: *from_at,
                until_at: Some(*until_at),
                on_n: n,
                off_n: Some(n),
                overridden: overridden.as_ref().map(|reason| reason.id),
            };
            add(entry, &mut state.clockings, row)
        }
        Fact::ClockingWithdrawn { clocking, .. } => {
            known(entry, &state.clockings, &(*clocking,))?;
            state.clockings.remove(&(*clocking,));
            Ok(())
        }
        _ => strayed(entry),
    }
}

fn owned(state: &mut State, entry: &Entry) -> Folded {
    let Fact::BlockerOwned { job, blocker, owner, expected_at } = &entry.fact else {
        return strayed(entry);
    };
    let key = (*job, *blocker);
    if known(entry, &state.blockers, &key)?.cleared_at.is_some() {
        return Err(Broken::new(entry, format!("blocker {blocker} of job {job} is cleared already")));
    }
    change(entry, &mut state.blockers, &key, |row| {
        row.owner = *owner;
        row.expected_at = *expected_at;
    })
}

fn raised(state: &mut State, entry: &Entry) -> Folded {
    let Fact::BlockerRaised { job, blocker, stage, cause, owner, expected_at, note, step, item, reading, tool } =
        &entry.fact
    else {
        return strayed(entry);
    };
    let row = BlockerRow {
        job: *job,
        blocker: *blocker,
        stage: stage.clone(),
        cause: *cause,
        owner: *owner,
        expected_at: *expected_at,
        note: note.as_ref().map(|note| note.id),
        step: *step,
        item: item.clone(),
        reading: reading.clone(),
        tool: tool.clone(),
        since: entry.happened_at,
        raised_n: entry.number,
        cleared_at: None,
        cleared_n: None,
        cleared_note: None,
    };
    add(entry, &mut state.blockers, row)?;
    change(entry, &mut state.jobs, &(*job,), |row| row.last_blocker = blocker.0)
}
