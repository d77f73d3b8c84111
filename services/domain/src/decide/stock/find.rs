//! Finding what a command names, or saying that it is not there.

use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::rows::{ItemRow, PlaceRow, StageRow};
use leadhand_facts::words::{PlaceKind, StageState, StepState};
use leadhand_facts::{ItemKey, JobNo, PlaceKey, StageKey, StepNo, Unit};

pub(super) fn item(state: &State, item: &ItemKey) -> Result<ItemRow, Refusal> {
    let row = state.items.get(&(item.clone(),)).cloned();
    row.ok_or_else(|| Refusal::Unknown {
        what: "item",
        which: item.to_string(),
        todo: "list it first, or check the key",
    })
}

/// Refuses an item that is not there, or is not counted piece by piece.
pub(in crate::decide) fn must_be_pieces(state: &State, key: &ItemKey) -> Result<(), Refusal> {
    let row = item(state, key)?;
    if row.unit == Unit::Piece {
        return Ok(());
    }
    let why = format!("'{key}' is kept in {} and not in pieces; name what a new one is", row.unit.code());
    Err(Refusal::invalid("item", why))
}

/// A place that must be a bin.
pub(super) fn bin(state: &State, place: &PlaceKey) -> Result<PlaceRow, Refusal> {
    let Some(row) = state.places.get(&(place.clone(),)) else {
        // The places of jobs are loaded with their jobs, and are no bins in any case.
        if place.as_str().starts_with("job-") {
            return Err(Refusal::NotABin { place: place.clone() });
        }
        let todo = "list it first, or choose a bin that is listed";
        return Err(Refusal::Unknown { what: "place", which: place.to_string(), todo });
    };
    if row.kind == PlaceKind::Bin { Ok(row.clone()) } else { Err(Refusal::NotABin { place: place.clone() }) }
}

/// Whether work on a stage lies ahead or is under way.
pub(super) fn is_ahead(stage: &StageRow) -> bool {
    matches!(stage.state, StageState::Pending | StageState::Active)
}

/// Whether a step is still to be done.
pub(super) fn is_pending(state: &State, job: JobNo, stage: &StageKey, step: StepNo) -> bool {
    let ahead = state.stages.get(&(job, stage.clone())).is_some_and(is_ahead);
    ahead && state.steps.get(&(job, stage.clone(), step)).is_some_and(|row| row.state == StepState::Pending)
}
