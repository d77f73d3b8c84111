//! Giving goods to a job.

use super::cover::{Touched, reduce, settle_blockers, shrink_shortage};
use super::expire::expire_item;
use super::release::{self, line};
use super::reserve::needed;
use super::{find, shelf};
use crate::answer::{Made, StockLine};
use crate::check;
use crate::command::IssueStock;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{ReservationRow, StepRow};
use leadhand_facts::words::{MoveReason, ReservationChange, StageState, StepState};
use leadhand_facts::{Fact, ItemKey, JobNo, PlaceKey, Quantity, StageKey};
use std::collections::BTreeSet;

pub(super) fn issue(session: &mut Session, asked: &IssueStock) -> Result<Made, Refusal> {
    if let Some(quantity) = asked.quantity {
        check::quantity("quantity", quantity)?;
        if asked.item.is_none() {
            return Err(Refusal::invalid("item", "a quantity is of an item; say of which"));
        }
    }
    look::open_job(session.state, session.context, asked.job)?;
    if let Some(stage) = &asked.stage {
        look::stage(session.state, asked.job, stage)?;
    }
    if let Some(item) = &asked.item {
        find::item(session.state, item)?;
    }
    let mut touched = Touched::new();
    for item in items(session.state, asked) {
        expire_item(session, &item, &mut touched)?;
    }
    let lines = match (&asked.item, asked.quantity) {
        (Some(item), Some(quantity)) => exactly(session, asked, item, quantity, &mut touched)?,
        _ => all_reserved(session, asked)?,
    };
    settle_blockers(session, &touched)?;
    Ok(Made::Stock(lines))
}

fn items(state: &State, asked: &IssueStock) -> BTreeSet<ItemKey> {
    let reserved = own(state, asked).into_iter().map(|row| row.item);
    reserved.chain(asked.item.clone()).collect()
}

/// The job's reservations that the command means, in the order of its steps.
fn own(state: &State, asked: &IssueStock) -> Vec<ReservationRow> {
    release::reservations_of(state, asked.job, asked.stage.as_ref(), asked.item.as_ref())
}

fn all_reserved(session: &mut Session, asked: &IssueStock) -> Result<Vec<StockLine>, Refusal> {
    let own = own(session.state, asked);
    if own.is_empty() {
        let what = format!("issue: nothing is reserved for job {} that fits; say which item and how much", asked.job);
        return Err(Refusal::NothingToDo { what });
    }
    own.iter().map(|row| issue_reserved(session, row, row.quantity)).collect()
}

/// Exactly this much: from the job's own reservations, then from what is free.
fn exactly(
    session: &mut Session,
    asked: &IssueStock,
    item: &ItemKey,
    quantity: Quantity,
    touched: &mut Touched,
) -> Result<Vec<StockLine>, Refusal> {
    let own = own(session.state, asked);
    let free = shelf::free_bins(session.state, item);
    let there = own.iter().map(|row| &row.quantity).chain(free.iter().map(|(_, quantity)| quantity));
    let there = shelf::total(there);
    if there < quantity {
        return Err(not_enough(session.state, asked, item, quantity, there));
    }
    let mut left = quantity.0;
    let mut lines = Vec::new();
    for row in &own {
        let take = Quantity(row.quantity.0.min(left));
        if take.is_positive() {
            lines.push(issue_reserved(session, row, take)?);
            left -= take.0;
        }
    }
    if left > 0 {
        for (wanter, quantity) in takers(session.state, asked, item, left)? {
            issue_free(session, &wanter, item, quantity, touched, &mut lines)?;
        }
    }
    Ok(lines)
}

fn not_enough(state: &State, asked: &IssueStock, item: &ItemKey, wanted: Quantity, free: Quantity) -> Refusal {
    let mut held: Vec<String> =
        shelf::held_by(state, item, asked.job).iter().map(|(job, q)| format!("job {job} holds {q}")).collect();
    let others = release::reservations_of(state, asked.job, None, Some(item));
    let others = others.iter().filter(|row| asked.stage.as_ref().is_some_and(|stage| row.stage != *stage));
    let others = shelf::total(others.map(|row| &row.quantity));
    if others.is_positive() {
        held.push(format!("other stages of this job hold {others}"));
    }
    let held_by = if held.is_empty() { String::new() } else { format!(" ({})", held.join(", ")) };
    Refusal::NotEnough { item: item.clone(), wanted, free, held_by }
}

fn issue_reserved(session: &mut Session, row: &ReservationRow, quantity: Quantity) -> Result<StockLine, Refusal> {
    reduce(session, row, quantity, ReservationChange::Issued)?;
    hand_out(session, &shelf::wanter_of(row), &row.item, &row.place, quantity)?;
    Ok(line(&shelf::wanter_of(row), &row.item, quantity, Some(row.place.clone())))
}

/// Free stock to a step: less of it is short then, and what goes beyond its need is wanted too.
fn issue_free(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    quantity: Quantity,
    touched: &mut Touched,
    lines: &mut Vec<StockLine>,
) -> Result<(), Refusal> {
    let listed = shelf::demand(session.state, wanter, item);
    let need = needed_by(session.state, wanter, item)?.max(listed.as_ref().map_or(0, |row| row.wanted.0));
    let met = listed.as_ref().map_or(0, |row| row.reserved.0 + row.issued.0 + row.short.0);
    let over = (met + quantity.0 - need).max(0);
    if let Some(shortage) = shelf::shortage_of(session.state, wanter, item).cloned() {
        let by = Quantity(over.min(shortage.quantity.0));
        if by.is_positive() {
            shrink_shortage(session, &shortage, by, touched)?;
        }
    }
    fit_demand(session, wanter, item, quantity)?;
    for (place, quantity) in shelf::from_bins(session.state, item, quantity) {
        hand_out(session, wanter, item, &place, quantity)?;
        lines.push(line(wanter, item, quantity, Some(place)));
    }
    Ok(())
}

/// What a step wants is what it needs, and whatever it took beyond that.
pub(super) fn fit_demand(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    coming: Quantity,
) -> Result<(), Refusal> {
    let listed = shelf::demand(session.state, wanter, item);
    let met = listed.as_ref().map_or(0, |row| row.reserved.0 + row.issued.0 + row.short.0);
    let wanted = Quantity(needed_by(session.state, wanter, item)?.max(met + coming.0));
    if listed.is_none_or(|row| row.wanted != wanted) {
        session.emit(Fact::DemandSet { wanter: wanter.clone(), item: item.clone(), wanted })?;
    }
    Ok(())
}

fn needed_by(state: &State, wanter: &Wanter, item: &ItemKey) -> Result<i64, Refusal> {
    let step = state.steps.get(&(wanter.job, wanter.stage.clone(), wanter.step));
    step.map_or(Ok(0), |step| needed(step, item).map(|quantity| quantity.0))
}

fn hand_out(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    place: &PlaceKey,
    quantity: Quantity,
) -> Result<(), Refusal> {
    for (lot, quantity) in shelf::portions(session.state, item, place, quantity, shelf::Order::Fefo)? {
        session.emit(Fact::Moved {
            item: item.clone(),
            lot,
            from_place: place.clone(),
            to_place: PlaceKey::of_job(wanter.job),
            quantity,
            why: MoveReason::Issue,
            wanter: Some(wanter.clone()),
            reason: None,
        })?;
    }
    Ok(())
}

/// Which steps take free goods: those that still need the item, in order, as far as they need
/// it; the rest goes to the one that is next, or else to the last that needed it.
fn takers(
    state: &State,
    asked: &IssueStock,
    item: &ItemKey,
    quantity: i64,
) -> Result<Vec<(Wanter, Quantity)>, Refusal> {
    let steps = steps_wanting(state, asked.job, asked.stage.as_ref(), item);
    let mut left = quantity;
    let mut takers: Vec<(Wanter, Quantity)> = Vec::new();
    for step in steps.iter().filter(|step| find::is_pending(state, step.job, &step.stage, step.step)) {
        let wanter = wanter_of(step);
        let held = shelf::demand(state, &wanter, item).map_or(0, |row| row.reserved.0 + row.issued.0);
        let take = (needed(step, item)?.0 - held).clamp(0, left);
        if take > 0 {
            takers.push((wanter, Quantity(take)));
            left -= take;
        }
    }
    if left > 0 {
        let rest = rest_taker(state, asked, &steps)?;
        match takers.iter_mut().find(|(wanter, _)| *wanter == rest) {
            Some((_, quantity)) => quantity.0 += left,
            None => takers.push((rest, Quantity(left))),
        }
    }
    Ok(takers)
}

fn rest_taker(state: &State, asked: &IssueStock, wanting: &[StepRow]) -> Result<Wanter, Refusal> {
    let next = wanting.iter().find(|step| find::is_pending(state, step.job, &step.stage, step.step));
    if let Some(step) = next.or(wanting.last()) {
        return Ok(wanter_of(step));
    }
    let Some(stage) = asked.stage.clone().or_else(|| only_active(state, asked.job)) else {
        let item = asked.item.as_ref().map_or("", ItemKey::as_str);
        let why = format!("no step of job {} asks for '{item}'; say for which stage it is", asked.job);
        return Err(Refusal::invalid("stage", why));
    };
    let steps: Vec<&StepRow> = look::steps(state, asked.job, &stage).collect();
    let next = steps.iter().find(|step| step.state == StepState::Pending);
    let step = next.or(steps.last()).copied();
    step.map(wanter_of).ok_or_else(|| {
        let why = format!("stage '{stage}' of job {} has no step that could take goods; add a step first", asked.job);
        Refusal::invalid("stage", why)
    })
}

/// The stage that is under way, when there is exactly one.
fn only_active(state: &State, job: JobNo) -> Option<StageKey> {
    let active = look::stages_in_order(state, job).into_iter().filter(|stage| stage.state == StageState::Active);
    let active: Vec<_> = active.collect();
    if let [stage] = active.as_slice() { Some(stage.stage.clone()) } else { None }
}

fn steps_wanting(state: &State, job: JobNo, only: Option<&StageKey>, item: &ItemKey) -> Vec<StepRow> {
    let mut wanting = Vec::new();
    for stage in
        look::stages_in_order(state, job).into_iter().filter(|stage| only.is_none_or(|only| *only == stage.stage))
    {
        let steps = look::steps(state, job, &stage.stage);
        wanting.extend(steps.filter(|step| step.needs.iter().any(|need| need.item == *item)).cloned());
    }
    wanting
}

fn wanter_of(step: &StepRow) -> Wanter {
    Wanter { job: step.job, stage: step.stage.clone(), step: step.step }
}
