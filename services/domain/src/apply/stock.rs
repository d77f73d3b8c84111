//! Items, places, lots, and what moves between places.

use super::{Broken, Folded, add, change, known, strayed, wants};
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{BalanceRow, HoldRow, ItemRow, LotRow, MoveRow, PlaceRow};
use leadhand_facts::words::MoveReason;
use leadhand_facts::{Entry, Fact, ItemKey, LotId, PlaceKey, Quantity};

pub(super) fn apply(state: &mut State, entry: &Entry) -> Folded {
    let n = entry.number;
    match &entry.fact {
        Fact::ItemAdded { item, name, unit } => {
            let row = ItemRow {
                item: item.clone(),
                name: name.clone(),
                unit: *unit,
                added_n: n,
                supplier: None,
                fluid: None,
            };
            add(entry, &mut state.items, row)
        }
        Fact::PlaceAdded { place, place_kind, name } => {
            let (place, name) = (place.clone(), name.clone());
            add(entry, &mut state.places, PlaceRow { place, kind: *place_kind, name, job: None, added_n: n })
        }
        Fact::LotMade { lot, item, expires_on } => {
            let row = LotRow {
                lot: *lot,
                item: item.clone(),
                received_at: entry.happened_at,
                expires_on: expires_on.clone(),
                expired: false,
                made_n: n,
            };
            add(entry, &mut state.lots, row)
        }
        Fact::LotExpired { lot, item } => expired(state, entry, *lot, item),
        Fact::Moved { .. } => moved(state, entry),
        _ => strayed(entry),
    }
}

/// What held places still have of the lot counts as expired from now on.
fn expired(state: &mut State, entry: &Entry, lot: LotId, item: &ItemKey) -> Folded {
    if known(entry, &state.lots, &(lot,))?.expired {
        return Err(Broken::new(entry, format!("lot {lot} is expired already")));
    }
    change(entry, &mut state.lots, &(lot,), |row| row.expired = true)?;
    let first = (item.clone(), lot, PlaceKey(String::new()));
    let held: Vec<BalanceRow> = state
        .balances
        .from_key(first)
        .take_while(|row| row.item == *item && row.lot == lot)
        // What is 0 is not touched: whoever loaded the item did not load it, and would not write it.
        .filter(|row| row.held && row.quantity != Quantity::ZERO)
        .cloned()
        .collect();
    for BalanceRow { place, quantity, .. } in held {
        let mut hold = hold(state, item, &place);
        hold.expired = sum(entry, item, hold.expired, quantity)?;
        state.holds.put(hold);
    }
    Ok(())
}

fn moved(state: &mut State, entry: &Entry) -> Folded {
    let Fact::Moved { item, lot, from_place, to_place, quantity, why, wanter, reason } = &entry.fact else {
        return strayed(entry);
    };
    if from_place == to_place || !quantity.is_positive() {
        return Err(Broken::new(
            entry,
            format!("{quantity} of '{item}' from '{from_place}' to '{to_place}' is no move"),
        ));
    }
    let row = MoveRow {
        n: entry.number,
        item: item.clone(),
        lot: *lot,
        from_place: from_place.clone(),
        to_place: to_place.clone(),
        quantity: *quantity,
        why: *why,
        job: wanter.as_ref().map(|wanter| wanter.job),
        stage: wanter.as_ref().map(|wanter| wanter.stage.clone()),
        step: wanter.as_ref().map(|wanter| wanter.step),
        at: entry.happened_at,
        reason: reason.as_ref().map(|reason| reason.id),
    };
    add(entry, &mut state.moves, row)?;
    shift(state, entry, (item, *lot, from_place), Quantity(-quantity.0))?;
    shift(state, entry, (item, *lot, to_place), *quantity)?;
    match wanter {
        Some(wanter) => count_issue(state, entry, wanter, *why),
        None => Ok(()),
    }
}

/// Changes the balance of a lot at a place, and the item's sums there when the place is held.
fn shift(state: &mut State, entry: &Entry, (item, lot, place): (&ItemKey, LotId, &PlaceKey), by: Quantity) -> Folded {
    let held = known(entry, &state.places, &(place.clone(),))?.kind.is_held();
    let lot_row = known(entry, &state.lots, &(lot,))?;
    let expired = lot_row.expired;
    if lot_row.item != *item {
        return Err(Broken::new(entry, format!("lot {lot} is of '{}', not of '{item}'", lot_row.item)));
    }
    let key = (item.clone(), lot, place.clone());
    let was = state.balances.get(&key).map_or(Quantity::ZERO, |row| row.quantity);
    let quantity = sum(entry, item, was, by)?;
    if held && quantity < Quantity::ZERO {
        return Err(Broken::new(entry, format!("place '{place}' would hold {quantity} of lot {lot} of '{item}'")));
    }
    state.balances.put(BalanceRow { item: item.clone(), lot, place: place.clone(), quantity, held });
    if held {
        let mut hold = hold(state, item, place);
        hold.on_hand = sum(entry, item, hold.on_hand, by)?;
        if expired {
            hold.expired = sum(entry, item, hold.expired, by)?;
        }
        state.holds.put(hold);
    }
    Ok(())
}

/// An issue or a return counts towards what the step wants, when that is on the list.
fn count_issue(state: &mut State, entry: &Entry, wanter: &Wanter, why: MoveReason) -> Folded {
    let Fact::Moved { item, quantity, .. } = &entry.fact else { return strayed(entry) };
    let by = match why {
        MoveReason::Issue => *quantity,
        MoveReason::Return => Quantity(-quantity.0),
        _ => return Ok(()),
    };
    if state.demands.get(&wants::demand_key(wanter, item)).is_none() {
        return Ok(());
    }
    wants::on_demand(state, entry, wanter, item, |row| wants::move_by(entry, item, &mut row.issued, by))
}

/// An item's sums at a held place, made when there are none.
pub(super) fn hold(state: &State, item: &ItemKey, place: &PlaceKey) -> HoldRow {
    state.holds.get(&(item.clone(), place.clone())).cloned().unwrap_or_else(|| HoldRow {
        item: item.clone(),
        place: place.clone(),
        on_hand: Quantity::ZERO,
        expired: Quantity::ZERO,
        reserved: Quantity::ZERO,
    })
}

/// A sum of quantities that must fit.
pub(super) fn sum(entry: &Entry, item: &ItemKey, one: Quantity, other: Quantity) -> Result<Quantity, Broken> {
    one.plus(other).ok_or_else(|| Broken::new(entry, format!("a sum of '{item}' leaves the range of numbers")))
}
