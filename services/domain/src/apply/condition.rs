//! The condition of a vehicle: its states, its fluids, and ways that are not the book's.

use super::{Folded, add, change, strayed};
use crate::state::State;
use leadhand_facts::rows::{FluidRow, VehicleStateRow, WayRow};
use leadhand_facts::safety::FluidSpec;
use leadhand_facts::{Entry, Fact, FluidKey, JobNo, StageKey, StepNo};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::VehicleStateSet { .. } => {
            set(state, entry);
            Ok(())
        }
        Fact::FluidRecorded { job, fluid, .. } => {
            let key = (*job, fluid.clone());
            if state.fluids.get(&key).is_none() {
                add(entry, &mut state.fluids, unlisted(entry, *job, fluid))?;
            }
            change(entry, &mut state.fluids, &key, |row| recorded(row, entry))
        }
        Fact::FluidReopened { job, fluid, .. } => change(entry, &mut state.fluids, &(*job, fluid.clone()), |row| {
            if row.filled_ml > 0 {
                row.filled_ml = 0;
            } else {
                row.drained_ml = 0;
            }
            (row.said_at, row.said_n, row.note) = (Some(entry.happened_at), Some(entry.number), None);
        }),
        Fact::FillReckoned { job, stage, step, fill, needs, cautions } => {
            change(entry, &mut state.steps, &(*job, stage.clone(), *step), |row| {
                row.needs.clone_from(needs);
                row.cautions.clone_from(cautions);
                row.safety.fill = Some(fill.clone());
            })
        }
        Fact::WayProposed { .. } => {
            proposed(state, entry);
            Ok(())
        }
        Fact::WayDecided { job, stage, step, person, approved, note } => {
            change(entry, &mut state.ways, &(*job, stage.clone(), *step), |row| {
                row.approved = Some(*approved);
                row.decided_by = Some(*person);
                row.decided_at = Some(entry.happened_at);
                row.decided_n = Some(entry.number);
                row.decided_note = note.as_ref().map(|text| text.id);
            })
        }
        _ => strayed(entry),
    }
}

fn set(state: &mut State, entry: &Entry) {
    let Fact::VehicleStateSet { job, state: now, before, person, stage, step, reason } = &entry.fact else { return };
    state.vehicle_states.put(VehicleStateRow {
        job: *job,
        feature: now.feature(),
        state: *now,
        before: *before,
        person: *person,
        stage: stage.clone(),
        step: *step,
        reason: reason.as_ref().map(|text| text.id),
        set_at: entry.happened_at,
        set_n: entry.number,
    });
}

fn proposed(state: &mut State, entry: &Entry) {
    let Fact::WayProposed { job, stage, step, person, note, reason } = &entry.fact else { return };
    // What was proposed before goes with its decision.
    state.ways.put(WayRow {
        job: *job,
        stage: stage.clone(),
        step: *step,
        note: note.id,
        reason: reason.id,
        person: *person,
        proposed_at: entry.happened_at,
        proposed_n: entry.number,
        approved: None,
        decided_by: None,
        decided_at: None,
        decided_n: None,
        decided_note: None,
    });
}

fn recorded(row: &mut FluidRow, entry: &Entry) {
    let Fact::FluidRecorded { person, drained_ml, filled_ml, note, .. } = &entry.fact else { return };
    row.drained_ml += drained_ml;
    row.filled_ml += filled_ml;
    row.person = *person;
    row.said_at = Some(entry.happened_at);
    row.said_n = Some(entry.number);
    row.note = note.as_ref().map(|text| text.id).or(row.note);
}

fn unlisted(entry: &Entry, job: JobNo, fluid: &FluidKey) -> FluidRow {
    FluidRow {
        job,
        fluid: fluid.clone(),
        stage: None,
        step: None,
        what: None,
        expected_ml: None,
        back: None,
        drained_ml: 0,
        filled_ml: 0,
        person: None,
        said_at: None,
        said_n: None,
        note: None,
        added_n: entry.number,
    }
}

/// A fluid that a step drains, as it stands when the step comes to be.
pub(super) fn add_fluid(
    state: &mut State,
    entry: &Entry,
    (job, stage, step): (JobNo, &StageKey, StepNo),
    fluid: &FluidSpec,
) -> Folded {
    let row = FluidRow {
        stage: Some(stage.clone()),
        step: Some(step),
        what: Some(fluid.what.clone()),
        expected_ml: fluid.expected_ml,
        back: fluid.back.clone(),
        ..unlisted(entry, job, &fluid.key)
    };
    add(entry, &mut state.fluids, row)
}
