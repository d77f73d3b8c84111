//! Which step of a job fills a fluid again, and which litres it still needs: a step says so by what it carries, never by its
//! words.
//!
//! - A step that names the fluid (`fills` in a template) is its filling.
//! - Else it is the step that leaves the system full which the drain emptied.
//! - Else the first step of a template that asks for the item, in the stage in which the fluid goes back.
//! - What other steps ask for of the item counts, unless they fill another fluid: two systems out of one drum are two
//!   fillings.

use crate::condition;
use crate::look;
use crate::state::State;
use leadhand_facts::rows::{FluidRow, Row, StepRow};
use leadhand_facts::safety::{Fill, ReckonedFill};
use leadhand_facts::template::Need;
use leadhand_facts::words::{FluidKind, JobState, StepState, VehicleState};
use leadhand_facts::{FluidKey, ItemFluid, ItemKey, JobNo, Quantity, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// What the steps of a job that are still to be done say of one fluid and one item.
#[derive(Debug, Clone)]
pub struct FillBooks<'a> {
    /// The step that fills the fluid, where one does.
    pub filling: Option<&'a StepRow>,
    /// Other steps that ask for the item.
    pub elsewhere: Vec<&'a StepRow>,
    /// The step that filled it and is done, where none is left that is known to fill it.
    pub done: Option<&'a StepRow>,
    /// What the filling has of other items that it is poured from: reserved or given out already.
    pub kept: Vec<(ItemKey, Quantity, Unit)>,
}

impl<'a> FillBooks<'a> {
    /// Of a fluid of a job that is to be poured from an item.
    pub fn of(state: &'a State, row: &FluidRow, item: &ItemKey) -> Self {
        let ahead: Vec<&StepRow> = ahead(state, row.job).collect();
        let unnamed = |step: &&&StepRow| step.safety.fill.is_none();
        let full = |step: &&&StepRow| leaves_full(state, step, row);
        let asks = |step: &&&StepRow| asked(step, item) > 0 && !fills_another(state, step, row);
        let back = |step: &&&StepRow| row.back.as_ref() == Some(&step.stage) && !step.unplanned;
        let named = ahead.iter().find(|step| fill_of(step, &row.fluid).is_some());
        let known = named.or_else(|| ahead.iter().filter(unnamed).find(full)).copied();
        let done = if known.is_none() { done(state, row) } else { None };
        let filling = known.or_else(|| ahead.iter().filter(unnamed).filter(asks).find(back).copied());
        let elsewhere = ahead.iter().filter(asks).copied();
        let elsewhere = elsewhere.filter(|step| filling.is_none_or(|own| own.key() != step.key()));
        let kept = filling.map(|step| kept(state, step, item)).unwrap_or_default();
        Self { filling, elsewhere: elsewhere.collect(), done, kept }
    }

    /// Millilitres that come from other items already.
    pub fn kept_ml(&self) -> i64 {
        self.kept.iter().map(|(_, quantity, unit)| millilitres(*quantity, *unit)).fold(0, i64::saturating_add)
    }

    /// What other steps ask for of the item.
    pub fn asked_elsewhere(&self, item: &ItemKey) -> i64 {
        self.elsewhere.iter().map(|step| asked(step, item)).fold(0, i64::saturating_add)
    }
}

/// What a step says of filling this fluid.
pub fn fill_of<'a>(step: &'a StepRow, fluid: &FluidKey) -> Option<&'a Fill> {
    step.safety.fill.as_ref().filter(|fill| fill.fluid == *fluid)
}

/// What was reckoned for a step.
pub fn reckoned(step: &StepRow) -> Option<&ReckonedFill> {
    step.safety.fill.as_ref()?.reckoned.as_ref()
}

/// Steps of open jobs that were reckoned to be poured from an item, and that nobody left out.
pub fn poured_from<'a>(state: &'a State, item: &'a ItemKey) -> impl Iterator<Item = &'a StepRow> {
    let open = |step: &&StepRow| state.jobs.get(&(step.job,)).is_some_and(|job| job.state == JobState::Open);
    let from = |step: &&StepRow| reckoned(step).is_some_and(|own| own.from.contains(item));
    state.steps.iter().filter(from).filter(|step| step.state != StepState::Skipped).filter(open)
}

/// Items of which the job's fills that are done were reckoned with another fluid or strength than they say by now.
pub fn gainsaid(state: &State, job: JobNo) -> BTreeSet<ItemKey> {
    let done = state.steps.iter().filter(|step| step.job == job && step.state == StepState::Done);
    let own = done.filter_map(reckoned).flat_map(|own| &own.gainsaid);
    own.map(|one| one.item.clone()).collect()
}

/// How much of an item a step asks for.
pub fn asked(step: &StepRow, item: &ItemKey) -> i64 {
    step.needs.iter().filter(|need| need.item == *item).map(|need| need.quantity.0).sum()
}

/// In the unit in which an item is kept, rounded up, so that never less is drawn than is poured; nothing for what is kept by
/// no volume.
pub fn in_unit(millilitres: i64, unit: Unit) -> Option<Quantity> {
    match unit {
        Unit::Millilitre => Some(Quantity(millilitres)),
        Unit::Litre => Some(Quantity(millilitres.saturating_add(999) / 1000)),
        _ => None,
    }
}

/// What a quantity of what is kept by volume holds.
pub(crate) fn millilitres(quantity: Quantity, unit: Unit) -> i64 {
    if unit == Unit::Litre { quantity.0.saturating_mul(1000) } else { quantity.0 }
}

/// The steps of a job that are still to be done, in order.
fn ahead(state: &State, job: JobNo) -> impl Iterator<Item = &StepRow> {
    let left = look::stages_in_order(state, job).into_iter().filter(|stage| !look::is_ended(stage));
    let steps = left.flat_map(move |stage| look::steps(state, job, &stage.stage));
    steps.filter(|step| step.state == StepState::Pending)
}

/// The last step that filled the fluid and is done, in the order of the stages.
fn done<'a>(state: &'a State, row: &FluidRow) -> Option<&'a StepRow> {
    let stages = look::stages_in_order(state, row.job).into_iter();
    let steps = stages.flat_map(|stage| look::steps(state, row.job, &stage.stage));
    let fills = |step: &&StepRow| match &step.safety.fill {
        Some(fill) => fill.fluid == row.fluid,
        None => leaves_full(state, step, row),
    };
    steps.filter(|step| step.state == StepState::Done).filter(fills).last()
}

/// What fills take, what was given out for the job, and the unit.
pub type NotDrawn = (Quantity, Quantity, Unit);

/// Items of which the job's fills that were set aside and are done take more than was given out for the job.
pub fn not_drawn(state: &State, job: JobNo) -> BTreeMap<ItemKey, NotDrawn> {
    let mut sums: BTreeMap<ItemKey, NotDrawn> = BTreeMap::new();
    for step in state.steps.iter().filter(|step| step.job == job && step.state == StepState::Done) {
        let Some(own) = reckoned(step) else { continue };
        let last = step.needs.iter().filter(|need| own.from.contains(&need.item));
        // Another reckoning does not unsay what went in before it.
        for need in last.chain(&own.poured) {
            let (takes, ..) = sums.entry(need.item.clone()).or_insert((Quantity::ZERO, Quantity::ZERO, need.unit));
            *takes = takes.plus(need.quantity).unwrap_or(*takes);
        }
    }
    for row in state.demands.iter().filter(|row| row.job == job) {
        if let Some((_, issued, _)) = sums.get_mut(&row.item) {
            *issued = issued.plus(row.issued).unwrap_or(*issued);
        }
    }
    sums.retain(|_, (takes, issued, _)| takes > issued);
    sums
}

/// Which fluid an item is, as far as it says so.
pub fn kind_of(state: &State, item: &ItemKey) -> Option<FluidKind> {
    said_by(state, item).map(|fluid| fluid.kind)
}

/// Which fluid an item is, and how strong, as far as it says so.
pub fn said_by(state: &State, item: &ItemKey) -> Option<ItemFluid> {
    state.items.get(&(item.clone(),))?.fluid
}

/// What a filling has of the other items that it is poured from.
fn kept(state: &State, step: &StepRow, item: &ItemKey) -> Vec<(ItemKey, Quantity, Unit)> {
    let from = reckoned(step).map(|reckoned| reckoned.from.as_slice()).unwrap_or_default();
    let others = step.needs.iter().filter(|need| need.item != *item && from.contains(&need.item));
    let there = |need: &Need| {
        let demand = state.demands.get(&(step.job, step.stage.clone(), step.step, need.item.clone()))?;
        let there = demand.reserved.0 + demand.issued.0;
        (there > 0).then(|| (need.item.clone(), Quantity(there), need.unit))
    };
    others.filter_map(there).collect()
}

/// Whether a step is the filling of another fluid of the job.
fn fills_another(state: &State, step: &StepRow, row: &FluidRow) -> bool {
    if let Some(fill) = &step.safety.fill {
        return fill.fluid != row.fluid;
    }
    let other = |other: &FluidRow| other.fluid != row.fluid && leaves_full(state, step, other);
    !leaves_full(state, step, row) && condition::fluids(state, step.job).any(other)
}

/// Whether a step leaves full what the drain of this fluid emptied.
fn leaves_full(state: &State, step: &StepRow, fluid: &FluidRow) -> bool {
    let drain = fluid.stage.clone().zip(fluid.step);
    let drain = drain.and_then(|(stage, number)| state.steps.get(&(fluid.job, stage, number)));
    drain.is_some_and(|drain| full_of(drain, &fluid.fluid).iter().any(|full| step.safety.sets.contains(full)))
}

/// The systems of a fluid when they are full, by the step that drains it. Where that one drains two systems the fluid's key
/// says of which it is; where that says neither, it is of both, and the last that is filled answers for it.
pub(crate) fn full_of(drain: &StepRow, fluid: &FluidKey) -> BTreeSet<VehicleState> {
    let all: BTreeSet<VehicleState> = drain.safety.sets.iter().filter_map(|set| filled_again(*set)).collect();
    let named = |full: &&VehicleState| fluid.as_str().contains(full.feature().word());
    let own: BTreeSet<VehicleState> = all.iter().filter(named).copied().collect();
    if own.is_empty() { all } else { own }
}

/// How a system that was drained is filled.
fn filled_again(drained: VehicleState) -> Option<VehicleState> {
    match drained {
        VehicleState::CoolantDrained => Some(VehicleState::CoolantFull),
        VehicleState::OilDrained => Some(VehicleState::OilFull),
        _ => None,
    }
}

/// The fluid of a job, by its key.
pub fn fluid<'a>(state: &'a State, job: JobNo, fluid: &FluidKey) -> Option<&'a FluidRow> {
    condition::fluids(state, job).find(|row| row.fluid == *fluid)
}
