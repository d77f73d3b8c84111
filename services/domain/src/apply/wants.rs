//! What steps want of stock: demand, reservations, shortages.

use super::{Broken, Folded, add, change, known, missing, stock, strayed};
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{DemandRow, ReservationRow, Row, ShortageRow};
use leadhand_facts::{Entry, Fact, ItemKey, PlaceKey, Quantity, ReservationId};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    match &entry.fact {
        Fact::DemandSet { wanter, item, wanted } => {
            demand_set(state, wanter, item, *wanted);
            Ok(())
        }
        Fact::Reserved { .. } => reserved(state, entry),
        Fact::ReservationReduced { reservation, wanter, item, place, left, .. } => {
            reduced(state, entry, *reservation, (wanter, item, place), *left)
        }
        Fact::ShortageOpened { shortage, wanter, item, quantity } => {
            let row = ShortageRow {
                shortage: *shortage,
                job: wanter.job,
                stage: wanter.stage.clone(),
                step: wanter.step,
                item: item.clone(),
                quantity: *quantity,
                since: entry.happened_at,
                opened_n: entry.number,
                closed_n: None,
            };
            add(entry, &mut state.shortages, row)?;
            on_demand(state, entry, wanter, item, |row| move_by(entry, item, &mut row.short, *quantity))
        }
        Fact::ShortageChanged { shortage, wanter, item, left } => {
            let was = known(entry, &state.shortages, &(*shortage,))?.quantity;
            change(entry, &mut state.shortages, &(*shortage,), |row| {
                row.quantity = *left;
                row.closed_n = (*left == Quantity::ZERO).then_some(entry.number);
            })?;
            let by = difference(entry, item, *left, was)?;
            on_demand(state, entry, wanter, item, |row| move_by(entry, item, &mut row.short, by))
        }
        _ => strayed(entry),
    }
}

fn demand_set(state: &mut State, wanter: &Wanter, item: &ItemKey, wanted: Quantity) {
    if state.demands.change(&demand_key(wanter, item), |row| row.wanted = wanted) {
        return;
    }
    state.demands.put(DemandRow {
        job: wanter.job,
        stage: wanter.stage.clone(),
        step: wanter.step,
        item: item.clone(),
        wanted,
        reserved: Quantity::ZERO,
        issued: Quantity::ZERO,
        short: Quantity::ZERO,
    });
}

fn reserved(state: &mut State, entry: &Entry) -> Folded {
    let Fact::Reserved { reservation, wanter, item, place, quantity } = &entry.fact else { return strayed(entry) };
    let row = match state.reservations.get(&(*reservation,)) {
        Some(row) => {
            matches(entry, row, (wanter, item, place))?;
            ReservationRow { quantity: stock::sum(entry, item, row.quantity, *quantity)?, ..row.clone() }
        }
        None => ReservationRow {
            reservation: *reservation,
            job: wanter.job,
            stage: wanter.stage.clone(),
            step: wanter.step,
            item: item.clone(),
            place: place.clone(),
            quantity: *quantity,
            made_n: entry.number,
        },
    };
    state.reservations.put(row);
    set_aside(state, entry, (wanter, item, place), *quantity)
}

fn reduced(
    state: &mut State,
    entry: &Entry,
    reservation: ReservationId,
    (wanter, item, place): (&Wanter, &ItemKey, &PlaceKey),
    left: Quantity,
) -> Folded {
    let row = known(entry, &state.reservations, &(reservation,))?;
    matches(entry, row, (wanter, item, place))?;
    let by = difference(entry, item, left, row.quantity)?;
    if left < Quantity::ZERO || by > Quantity::ZERO {
        return Err(Broken::new(entry, format!("reservation {reservation} can't shrink to {left}")));
    }
    change(entry, &mut state.reservations, &(reservation,), |row| row.quantity = left)?;
    set_aside(state, entry, (wanter, item, place), by)
}

/// Moves what is set aside, at the place and for the step.
fn set_aside(
    state: &mut State,
    entry: &Entry,
    (wanter, item, place): (&Wanter, &ItemKey, &PlaceKey),
    by: Quantity,
) -> Folded {
    let mut hold = stock::hold(state, item, place);
    move_by(entry, item, &mut hold.reserved, by)?;
    state.holds.put(hold);
    on_demand(state, entry, wanter, item, |row| move_by(entry, item, &mut row.reserved, by))
}

fn matches(entry: &Entry, row: &ReservationRow, (wanter, item, place): (&Wanter, &ItemKey, &PlaceKey)) -> Folded {
    let whose = (row.job, &row.stage, row.step) == (wanter.job, &wanter.stage, wanter.step);
    if whose && row.item == *item && row.place == *place {
        return Ok(());
    }
    Err(Broken::new(entry, format!("reservation {} is for another step, item or place", row.reservation)))
}

/// The key of what a step wants of an item.
pub(super) fn demand_key(wanter: &Wanter, item: &ItemKey) -> <DemandRow as Row>::Key {
    (wanter.job, wanter.stage.clone(), wanter.step, item.clone())
}

/// Changes what a step wants of an item, which must be on the list.
pub(super) fn on_demand(
    state: &mut State,
    entry: &Entry,
    wanter: &Wanter,
    item: &ItemKey,
    with: impl FnOnce(&mut DemandRow) -> Folded,
) -> Folded {
    let key = demand_key(wanter, item);
    let mut row = state.demands.get(&key).cloned().ok_or_else(|| missing::<DemandRow>(entry, &key))?;
    with(&mut row)?;
    state.demands.put(row);
    Ok(())
}

/// Moves a sum that never goes below nothing.
pub(super) fn move_by(entry: &Entry, item: &ItemKey, sum: &mut Quantity, by: Quantity) -> Folded {
    let moved = stock::sum(entry, item, *sum, by)?;
    if moved < Quantity::ZERO {
        return Err(Broken::new(entry, format!("a sum of '{item}' would be {moved}")));
    }
    *sum = moved;
    Ok(())
}

fn difference(entry: &Entry, item: &ItemKey, left: Quantity, was: Quantity) -> Result<Quantity, Broken> {
    left.minus(was).ok_or_else(|| Broken::new(entry, format!("a difference of '{item}' leaves the range of numbers")))
}
