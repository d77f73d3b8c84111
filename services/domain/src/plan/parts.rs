//! What stages need from stock and nobody has asked for yet: what is free on the shelves goes to the most urgent job first,
//! and who finds nothing left is short.

use crate::look;
use crate::state::State;
use leadhand_facts::rows::{JobRow, StepRow};
use leadhand_facts::words::{JobState, PlaceKind, StepState};
use leadhand_facts::{ItemKey, JobNo, PlaceKey, StageKey};
use std::collections::{BTreeMap, BTreeSet};

/// Items of which something has still to be set aside, for whatever job.
pub(super) fn wanted(state: &State) -> BTreeSet<ItemKey> {
    let mut items = BTreeSet::new();
    for job in open(state) {
        each(state, job.job, |_, item, _| {
            items.insert(item.clone());
        });
    }
    items
}

/// What is free on the shelves.
fn free_of(state: &State) -> BTreeMap<ItemKey, i64> {
    let mut free: BTreeMap<ItemKey, i64> = BTreeMap::new();
    for hold in state.holds.iter().filter(|hold| is_bin(state, &hold.place)) {
        *free.entry(hold.item.clone()).or_default() += (hold.on_hand.0 - hold.expired.0 - hold.reserved.0).max(0);
    }
    free
}

/// Whether a place is a shelf.
pub(super) fn is_bin(state: &State, place: &PlaceKey) -> bool {
    state.places.get(&(place.clone(),)).is_some_and(|row| row.kind == PlaceKind::Bin)
}

/// What is neither set aside, nor on the list of what is short, nor free, by stage.
pub(super) fn lacking(state: &State) -> BTreeMap<(JobNo, StageKey), BTreeSet<ItemKey>> {
    let mut free = free_of(state);
    let mut lacking: BTreeMap<(JobNo, StageKey), BTreeSet<ItemKey>> = BTreeMap::new();
    for job in open(state) {
        each(state, job.job, |step, item, missing| {
            let left = free.entry(item.clone()).or_default();
            if *left < missing {
                lacking.entry((step.job, step.stage.clone())).or_default().insert(item.clone());
            }
            *left -= missing.min(*left);
        });
    }
    lacking
}

/// Whether stages want more of an item than was free before so much came to the shelves; or, of what went, than is free now.
pub(super) fn matters(state: &State, item: &ItemKey, came: i64) -> bool {
    let mut wanted = 0_i64;
    for job in open(state) {
        each(state, job.job, |_, wants, missing| wanted += if wants == item { missing } else { 0 });
    }
    wanted > 0 && free_of(state).get(item).copied().unwrap_or(0) - came.max(0) < wanted
}

/// Open jobs, the most urgent first.
fn open(state: &State) -> Vec<&JobRow> {
    let mut jobs: Vec<&JobRow> = state.jobs.iter().filter(|row| row.state == JobState::Open).collect();
    jobs.sort_by_key(|row| (row.priority, row.promised_at.is_none(), row.promised_at, row.job));
    jobs
}

/// Each item of each step that is to be done, with what has still to be set aside of it.
fn each(state: &State, job: JobNo, mut then: impl FnMut(&StepRow, &ItemKey, i64)) {
    for stage in look::stages_in_order(state, job).into_iter().filter(|row| !look::is_ended(row)) {
        for step in look::steps(state, job, &stage.stage).filter(|step| step.state == StepState::Pending) {
            let items: BTreeSet<&ItemKey> = step.needs.iter().map(|need| &need.item).collect();
            for item in items {
                let needed = step.needs.iter().filter(|need| need.item == *item).map(|need| need.quantity.0);
                let needed = needed.fold(0, i64::saturating_add);
                let listed = state.demands.get(&(job, step.stage.clone(), step.step, item.clone()));
                let met = listed.map_or(0, |row| row.reserved.0 + row.issued.0 + row.short.0);
                if needed > met {
                    then(step, item, needed - met);
                }
            }
        }
    }
}
