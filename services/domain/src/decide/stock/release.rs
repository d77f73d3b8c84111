//! Giving up what was reserved or short, and writing off what a job has left.

use super::cover::{Touched, cover, reduce, settle_blockers, shrink_shortage};
use super::expire::expire_item;
use super::{find, shelf};
use crate::answer::{Made, Notice, StockLine};
use crate::command::ReleaseStock;
use crate::look;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{ReservationRow, ShortageRow};
use leadhand_facts::words::{MoveReason, PlaceKind, ReservationChange};
use leadhand_facts::{Fact, ItemKey, JobNo, PlaceKey, Quantity, StageKey, StepNo};
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn release(session: &mut Session, asked: &ReleaseStock) -> Result<Made, Refusal> {
    look::open_job(session.state, session.context, asked.job)?;
    if let Some(stage) = &asked.stage {
        look::stage(session.state, asked.job, stage)?;
    }
    if let Some(item) = &asked.item {
        find::item(session.state, item)?;
    }
    let (stage, item) = (asked.stage.as_ref(), asked.item.as_ref());
    let held = reservations_of(session.state, asked.job, stage, item);
    let short = shortages_of(session.state, asked.job, stage, item);
    let items: BTreeSet<ItemKey> =
        held.iter().map(|row| row.item.clone()).chain(short.iter().map(|row| row.item.clone())).collect();
    let mut touched = Touched::new();
    for item in &items {
        expire_item(session, item, &mut touched)?;
    }
    // Expiry may have moved some of it; what is given up is what is there now.
    let held = reservations_of(session.state, asked.job, stage, item);
    let short = shortages_of(session.state, asked.job, stage, item);
    if held.is_empty() && short.is_empty() {
        let what = format!("release: nothing that fits is reserved for job {} or short", asked.job);
        return Err(Refusal::NothingToDo { what });
    }
    let lines = lines_of(&held, &short);
    give_up(session, &held, &short, &mut touched)?;
    for item in &items {
        cover(session, item, &mut touched)?;
    }
    settle_blockers(session, &touched)?;
    Ok(Made::Stock(lines))
}

/// A line for each reservation, and one for each shortage of a step that had nothing set aside.
fn lines_of(held: &[ReservationRow], short: &[ShortageRow]) -> Vec<StockLine> {
    let released =
        held.iter().map(|row| line(&shelf::wanter_of(row), &row.item, row.quantity, Some(row.place.clone())));
    let alone = short.iter().filter(|short| {
        !held.iter().any(|row| row.item == short.item && shelf::wanter_of(row) == shelf::wanter_of_shortage(short))
    });
    let given_up = alone.map(|row| line(&shelf::wanter_of_shortage(row), &row.item, Quantity::ZERO, None));
    released.chain(given_up).collect()
}

/// A line about a step that is short of nothing.
pub(super) fn line(wanter: &Wanter, item: &ItemKey, quantity: Quantity, place: Option<PlaceKey>) -> StockLine {
    StockLine {
        stage: Some(wanter.stage.clone()),
        step: Some(wanter.step),
        item: item.clone(),
        quantity,
        place,
        bins: Vec::new(),
        short: Quantity::ZERO,
        held_by: Vec::new(),
        unit: None,
    }
}

/// Open reservations of a job, in the order of its steps.
pub(super) fn reservations_of(
    state: &State,
    job: JobNo,
    stage: Option<&StageKey>,
    item: Option<&ItemKey>,
) -> Vec<ReservationRow> {
    let open = state.reservations.iter().filter(|row| row.job == job && row.quantity.is_positive());
    let fits = |row: &&ReservationRow| stage.is_none_or(|s| *s == row.stage) && item.is_none_or(|i| *i == row.item);
    let mut rows: Vec<ReservationRow> = open.filter(fits).cloned().collect();
    rows.sort_by_key(|row| (ordinal(state, job, &row.stage), row.step, row.item.clone(), row.place.clone()));
    rows
}

/// Open shortages of a job, in the order of its steps.
fn shortages_of(state: &State, job: JobNo, stage: Option<&StageKey>, item: Option<&ItemKey>) -> Vec<ShortageRow> {
    let open = state.shortages.iter().filter(|row| row.job == job && row.closed_n.is_none());
    let fits = |row: &&ShortageRow| stage.is_none_or(|s| *s == row.stage) && item.is_none_or(|i| *i == row.item);
    let mut rows: Vec<ShortageRow> = open.filter(fits).cloned().collect();
    rows.sort_by_key(|row| (ordinal(state, job, &row.stage), row.step, row.item.clone()));
    rows
}

fn ordinal(state: &State, job: JobNo, stage: &StageKey) -> i32 {
    state.stages.get(&(job, stage.clone())).map_or(0, |row| row.ordinal)
}

fn give_up(
    session: &mut Session,
    held: &[ReservationRow],
    short: &[ShortageRow],
    touched: &mut Touched,
) -> Result<(), Refusal> {
    for row in short {
        shrink_shortage(session, row, row.quantity, touched)?;
    }
    for row in held {
        reduce(session, row, row.quantity, ReservationChange::Released)?;
    }
    Ok(())
}

/// Ends what a step has open in the books: its shortages and, when it was left out, its
/// reservations too; a step that was done keeps what is set aside until that is issued or
/// released. What becomes free goes to shortages of other jobs, whose blockers follow; those of
/// this job are for the caller to settle.
pub(in crate::decide) fn close_step(
    session: &mut Session,
    job: JobNo,
    stage: &StageKey,
    step: StepNo,
    skipped: bool,
) -> Result<(), Refusal> {
    let mut short = shortages_of(session.state, job, Some(stage), None);
    short.retain(|row| row.step == step);
    let mut held = if skipped { reservations_of(session.state, job, Some(stage), None) } else { Vec::new() };
    held.retain(|row| row.step == step);
    give_up_and_pass_on(session, job, &held, &short)
}

/// Gives up all that is reserved for a job or short. What becomes free goes to shortages of other
/// jobs, whose blockers follow; those of this job are for the caller to settle.
pub(in crate::decide) fn release_job(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let held = reservations_of(session.state, job, None, None);
    let short = shortages_of(session.state, job, None, None);
    give_up_and_pass_on(session, job, &held, &short)
}

fn give_up_and_pass_on(
    session: &mut Session,
    job: JobNo,
    held: &[ReservationRow],
    short: &[ShortageRow],
) -> Result<(), Refusal> {
    let mut touched = Touched::new();
    give_up(session, held, short, &mut touched)?;
    for item in held.iter().map(|row| &row.item).collect::<BTreeSet<_>>() {
        expire_item(session, item, &mut touched)?;
        cover(session, item, &mut touched)?;
    }
    touched.remove(&job);
    settle_blockers(session, &touched)
}

/// Writes whatever lies at a job's place to used, and says so.
pub(in crate::decide) fn use_up_job(session: &mut Session, job: JobNo) -> Result<(), Refusal> {
    let place = PlaceKey::of_job(job);
    let there = session.state.balances.iter().filter(|row| row.place == place && row.quantity.is_positive());
    let there: Vec<_> = there.map(|row| (row.item.clone(), row.lot, row.quantity)).collect();
    let mut sums = BTreeMap::<ItemKey, i64>::new();
    for (item, lot, quantity) in there {
        *sums.entry(item.clone()).or_default() += quantity.0;
        session.emit(Fact::Moved {
            item,
            lot,
            from_place: place.clone(),
            to_place: PlaceKey::from(PlaceKind::Used.word()),
            quantity,
            why: MoveReason::Used,
            wanter: None,
            reason: None,
        })?;
    }
    for (item, quantity) in sums {
        let unit = find::item(session.state, &item)?.unit;
        session.notice(Notice::WrittenToUsed { item, quantity: Quantity(quantity), unit });
    }
    Ok(())
}
