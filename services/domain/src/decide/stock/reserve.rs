//! Reserving all that a job, or one of its stages, still needs.

use super::cover::{Touched, grow_shortage, set_aside, settle_blockers};
use super::expire::expire_item;
use super::{find, shelf};
use crate::answer::{Made, StockLine};
use crate::command::ReserveStock;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{StageRow, StepRow};
use leadhand_facts::words::StepState;
use leadhand_facts::{Fact, ItemKey, JobNo, PlaceKey, Quantity, StageKey, StepNo};
use std::collections::BTreeSet;

/// What one step needs of one item.
struct Wanted {
    wanter: Wanter,
    item: ItemKey,
    quantity: Quantity,
}

pub(super) fn reserve(session: &mut Session, asked: &ReserveStock) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, asked.job)?;
    if let Some(stage) = &asked.stage {
        let row = look::stage(session.state, asked.job, stage)?;
        must_be_ahead(row)?;
    }
    let wanted = wanted(session.state, asked.job, asked.stage.as_ref())?;
    if wanted.is_empty() {
        let whose = asked.stage.as_ref().map_or(String::new(), |stage| format!("stage '{stage}' of "));
        return Err(Refusal::NothingToDo { what: format!("reserve: no step of {whose}job {} needs stock", asked.job) });
    }
    let mut touched = Touched::new();
    for item in wanted.iter().map(|wanted| &wanted.item).collect::<BTreeSet<_>>() {
        expire_item(session, item, &mut touched)?;
    }
    let mut lines = Vec::new();
    for wanted in &wanted {
        lines.push(serve(session, wanted, &mut touched)?);
    }
    settle_blockers(session, &touched)?;
    Ok(Made::Stock(lines))
}

fn must_be_ahead(row: &StageRow) -> Result<(), Refusal> {
    if find::is_ahead(row) {
        return Ok(());
    }
    Err(Refusal::StageIs {
        job: row.job,
        stage: row.stage.clone(),
        state: row.state,
        attempted: "reserved for",
        todo: "choose a stage that is still to be done",
    })
}

/// Needs of the steps still to be done, in the order of stages and steps.
fn wanted(state: &State, job: JobNo, only: Option<&StageKey>) -> Result<Vec<Wanted>, Refusal> {
    let mut list = Vec::new();
    for stage in look::stages_in_order(state, job) {
        if find::is_ahead(stage) && only.is_none_or(|only| *only == stage.stage) {
            for step in look::steps(state, job, &stage.stage).filter(|step| step.state == StepState::Pending) {
                wanted_by(state, step, &mut list)?;
            }
        }
    }
    Ok(list)
}

fn wanted_by(state: &State, step: &StepRow, list: &mut Vec<Wanted>) -> Result<(), Refusal> {
    let items: BTreeSet<&ItemKey> = step.needs.iter().map(|need| &need.item).collect();
    for item in items {
        let row = find::item(state, item)?;
        if let Some(need) = step.needs.iter().find(|need| need.item == *item && need.unit != row.unit) {
            let why = format!(
                "step {} of stage '{}' counts '{item}' in {} and the stock is kept in {}; skip that step and add one in {}",
                step.step,
                step.stage,
                need.unit.code(),
                row.unit.code(),
                row.unit.code()
            );
            return Err(Refusal::invalid("job", why));
        }
        let wanter = Wanter { job: step.job, stage: step.stage.clone(), step: step.step };
        let quantity = needed(step, item)?;
        if quantity.is_positive() {
            list.push(Wanted { wanter, item: item.clone(), quantity });
        }
    }
    Ok(())
}

/// Puts what one step needs on the list at once, and sets aside what is free of it.
pub(in crate::decide) fn want(
    session: &mut Session,
    job: JobNo,
    stage: &StageKey,
    step: StepNo,
) -> Result<(), Refusal> {
    let mut list = Vec::new();
    wanted_by(session.state, look::step(session.state, job, stage, step)?, &mut list)?;
    let mut touched = Touched::new();
    for wanted in &list {
        expire_item(session, &wanted.item, &mut touched)?;
        serve(session, wanted, &mut touched)?;
    }
    settle_blockers(session, &touched)
}

/// How much of an item a job could have now for one purpose: what it was given, what is set aside for it, and what is
/// free; without what is for another purpose of the same job, by the step that asked.
pub(in crate::decide) fn at_hand(
    state: &State,
    job: JobNo,
    item: &ItemKey,
    other: impl Fn(&StepRow) -> bool,
) -> Quantity {
    let other = |stage: &StageKey, step: StepNo| state.steps.get(&(job, stage.clone(), step)).is_some_and(&other);
    let elsewhere = shelf::demands(state, job).filter(|row| row.item == *item && other(&row.stage, row.step));
    let elsewhere = elsewhere.fold(0, |sum, row| sum + row.issued.0);
    let given = Quantity((shelf::usable(&shelf::hold(state, item, &PlaceKey::of_job(job))).0 - elsewhere).max(0));
    let own = shelf::reservations(state, item).filter(|row| row.job == job && !other(&row.stage, row.step));
    let own = shelf::total(own.map(|row| &row.quantity));
    let free = shelf::free_bins(state, item);
    shelf::total([given, own].iter().chain(free.iter().map(|(_, quantity)| quantity)))
}

/// What a step needs of an item in all.
pub(super) fn needed(step: &StepRow, item: &ItemKey) -> Result<Quantity, Refusal> {
    let mut needs = step.needs.iter().filter(|need| need.item == *item).map(|need| need.quantity);
    needs.try_fold(Quantity::ZERO, Quantity::plus).ok_or_else(|| Refusal::TooMuch { item: item.clone() })
}

/// Puts a need on the list and sets aside what is free of it; the rest is short.
fn serve(session: &mut Session, wanted: &Wanted, touched: &mut Touched) -> Result<StockLine, Refusal> {
    let Wanted { wanter, item, quantity } = wanted;
    let listed = shelf::demand(session.state, wanter, item);
    let met = listed.as_ref().map_or(0, |row| row.reserved.0 + row.issued.0 + row.short.0);
    if listed.is_none_or(|row| row.wanted < *quantity) {
        session.emit(Fact::DemandSet { wanter: wanter.clone(), item: item.clone(), wanted: *quantity })?;
    }
    let missing = Quantity((quantity.0 - met).max(0));
    let places = shelf::from_bins(session.state, item, missing);
    let reserved = shelf::total(places.iter().map(|(_, quantity)| quantity));
    set_aside(session, wanter, item, &places)?;
    let short = Quantity(missing.0 - reserved.0);
    if short.is_positive() {
        grow_shortage(session, wanter, item, short, touched)?;
    }
    let short = shelf::demand(session.state, wanter, item).map_or(Quantity::ZERO, |row| row.short);
    let held_by = if short.is_positive() { shelf::held_by(session.state, item, wanter.job) } else { Vec::new() };
    Ok(StockLine {
        stage: Some(wanter.stage.clone()),
        step: Some(wanter.step),
        item: item.clone(),
        quantity: reserved,
        place: if let [(place, _)] = places.as_slice() { Some(place.clone()) } else { None },
        bins: if places.len() > 1 { places } else { Vec::new() },
        short,
        held_by,
        unit: None,
    })
}
