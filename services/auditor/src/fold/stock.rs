//! Items, places, lots, movements, and what steps want of them.

use super::astray;
use crate::fault::{At, Fault};
use crate::tables::Tables;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{
    BalanceRow, DemandRow, HoldRow, ItemRow, LotRow, MoveRow, PlaceRow, ReservationRow, Row, ShortageRow, StepRow,
};
use leadhand_facts::words::MoveReason;
use leadhand_facts::{Fact, ItemKey, LotId, PlaceKey, Quantity, ShortageId};

pub(super) fn take(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    match fact {
        Fact::ItemAdded { item, name, unit } => tables.add(
            at,
            ItemRow { item: item.clone(), name: name.clone(), unit: *unit, added_n: at.n, supplier: None, fluid: None },
        ),
        Fact::PlaceAdded { place, place_kind, name } => {
            let (place, name) = (place.clone(), name.clone());
            tables.add(at, PlaceRow { place, kind: *place_kind, name, job: None, added_n: at.n })
        }
        Fact::LotMade { lot, item, expires_on } => {
            tables.known::<ItemRow>(at, &(item.clone(),))?;
            let (item, expires_on) = (item.clone(), expires_on.clone());
            let received_at = at.happened;
            tables.add(at, LotRow { lot: *lot, item, received_at, expires_on, expired: false, made_n: at.n })
        }
        Fact::LotExpired { lot, item } => expired(tables, at, *lot, item),
        Fact::Moved { .. } => moved(tables, at, fact),
        Fact::DemandSet { wanter, item, wanted } => demand_set(tables, at, wanter, item, *wanted),
        Fact::Reserved { .. } => reserved(tables, at, fact),
        Fact::ReservationReduced { .. } => reduced(tables, at, fact),
        Fact::ShortageOpened { shortage, wanter, item, quantity } => {
            shortage_opened(tables, at, *shortage, wanter, item, *quantity)
        }
        Fact::ShortageChanged { shortage, wanter, item, left } => {
            shortage_changed(tables, at, *shortage, wanter, item, *left)
        }
        _ => Err(astray(at)),
    }
}

/// A sum that has to fit and must not go below zero.
fn sum(at: At, table: &'static str, figure: &mut Quantity, change: Quantity, what: &str) -> Result<(), Fault> {
    let total = figure.plus(change).ok_or_else(|| at.fault(table, format!("{what} is too large to be written")))?;
    at.demand(total.0 >= 0, table, || format!("{what} would become {total}"))?;
    *figure = total;
    Ok(())
}

fn positive(at: At, table: &'static str, quantity: Quantity) -> Result<(), Fault> {
    at.demand(quantity.is_positive(), table, || format!("a quantity of {quantity} is not above zero"))
}

fn lot_of(tables: &Tables, at: At, lot: LotId, item: &ItemKey) -> Result<LotRow, Fault> {
    let row = tables.known::<LotRow>(at, &(lot,))?;
    at.demand(row.item == *item, "lot", || format!("lot {lot} is of item '{}', not '{item}'", row.item))?;
    Ok(row.clone())
}

fn expired(tables: &mut Tables, at: At, lot: LotId, item: &ItemKey) -> Result<(), Fault> {
    let row = lot_of(tables, at, lot, item)?;
    at.demand(!row.expired, "lot", || format!("lot {lot} expired before"))?;
    tables.change::<LotRow>(at, &(lot,))?.expired = true;
    let first = (item.clone(), lot, PlaceKey::from(""));
    let rest = tables.map::<BalanceRow>().range(first..).map(|(_, row)| row);
    let of_lot = rest.take_while(|row| row.lot == lot && row.item == *item).filter(|row| row.held);
    let held: Vec<(PlaceKey, Quantity)> = of_lot.map(|row| (row.place.clone(), row.quantity)).collect();
    for (place, quantity) in held {
        let hold = tables.change::<HoldRow>(at, &(item.clone(), place))?;
        sum(at, "hold", &mut hold.expired, quantity, "the expired quantity")?;
    }
    Ok(())
}

fn moved(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::Moved { item, lot, from_place, to_place, quantity, why, wanter, reason } = fact else {
        return Err(astray(at));
    };
    positive(at, "stock_move", *quantity)?;
    at.demand(from_place != to_place, "stock_move", || format!("it leaves '{from_place}' and goes nowhere else"))?;
    let lot_row = lot_of(tables, at, *lot, item)?;
    if let Some(wanter) = wanter {
        known_step(tables, at, wanter)?;
    }
    put(tables, at, &lot_row, from_place, Quantity(-quantity.0))?;
    put(tables, at, &lot_row, to_place, *quantity)?;
    let wanter = wanter.as_ref();
    tables.add(
        at,
        MoveRow {
            n: at.n,
            item: item.clone(),
            lot: *lot,
            from_place: from_place.clone(),
            to_place: to_place.clone(),
            quantity: *quantity,
            why: *why,
            job: wanter.map(|wanter| wanter.job),
            stage: wanter.map(|wanter| wanter.stage.clone()),
            step: wanter.map(|wanter| wanter.step),
            at: at.happened,
            reason: reason.as_ref().map(|text| text.id),
        },
    )?;
    let issued = match why {
        MoveReason::Issue => *quantity,
        MoveReason::Return => Quantity(-quantity.0),
        _ => return Ok(()),
    };
    let demand = wanter.map(|wanter| demand_key(wanter, item));
    match demand.filter(|key| tables.get::<DemandRow>(key).is_some()) {
        Some(key) => {
            let row = tables.change::<DemandRow>(at, &key)?;
            sum(at, "demand", &mut row.issued, issued, "what was issued to the step")
        }
        None => Ok(()),
    }
}

/// Changes what a place has of a lot.
fn put(tables: &mut Tables, at: At, lot: &LotRow, place: &PlaceKey, change: Quantity) -> Result<(), Fault> {
    let held = tables.known::<PlaceRow>(at, &(place.clone(),))?.kind.is_held();
    let (item, lot_id) = (lot.item.clone(), lot.lot);
    let fresh = BalanceRow { item, lot: lot_id, place: place.clone(), quantity: Quantity::ZERO, held };
    let key = fresh.key();
    if tables.get::<BalanceRow>(&key).is_none() {
        tables.add(at, fresh)?;
    }
    let balance = &mut tables.change::<BalanceRow>(at, &key)?.quantity;
    if held {
        sum(at, "balance", balance, change, &format!("lot {lot_id} at '{place}'"))?;
        let hold = hold(tables, at, &lot.item, place)?;
        sum(at, "hold", &mut hold.on_hand, change, "the quantity on hand")?;
        if lot.expired {
            sum(at, "hold", &mut hold.expired, change, "the expired quantity")?;
        }
    } else {
        *balance = balance.plus(change).ok_or_else(|| at.fault("balance", "it is too large to be written"))?;
    }
    Ok(())
}

/// The row of a held place and an item, made when it is not there yet.
fn hold<'a>(tables: &'a mut Tables, at: At, item: &ItemKey, place: &PlaceKey) -> Result<&'a mut HoldRow, Fault> {
    let key = (item.clone(), place.clone());
    if tables.get::<HoldRow>(&key).is_none() {
        let none = Quantity::ZERO;
        let (item, place) = key.clone();
        tables.add(at, HoldRow { item, place, on_hand: none, expired: none, reserved: none })?;
    }
    tables.change::<HoldRow>(at, &key)
}

fn known_step(tables: &Tables, at: At, wanter: &Wanter) -> Result<(), Fault> {
    tables.known::<StepRow>(at, &(wanter.job, wanter.stage.clone(), wanter.step)).map(|_| ())
}

fn demand_key(wanter: &Wanter, item: &ItemKey) -> <DemandRow as Row>::Key {
    (wanter.job, wanter.stage.clone(), wanter.step, item.clone())
}

fn demand_set(tables: &mut Tables, at: At, wanter: &Wanter, item: &ItemKey, wanted: Quantity) -> Result<(), Fault> {
    known_step(tables, at, wanter)?;
    tables.known::<ItemRow>(at, &(item.clone(),))?;
    at.demand(wanted.0 >= 0, "demand", || format!("a wanted quantity of {wanted} is below zero"))?;
    let key = demand_key(wanter, item);
    if tables.get::<DemandRow>(&key).is_none() {
        let none = Quantity::ZERO;
        let (job, stage, step, item) = key.clone();
        tables.add(at, DemandRow { job, stage, step, item, wanted, reserved: none, issued: none, short: none })?;
    }
    tables.change::<DemandRow>(at, &key)?.wanted = wanted;
    Ok(())
}

fn reserved(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::Reserved { reservation, wanter, item, place, quantity } = fact else {
        return Err(astray(at));
    };
    positive(at, "reservation", *quantity)?;
    let fresh = ReservationRow {
        reservation: *reservation,
        job: wanter.job,
        stage: wanter.stage.clone(),
        step: wanter.step,
        item: item.clone(),
        place: place.clone(),
        quantity: Quantity::ZERO,
        made_n: at.n,
    };
    if tables.get::<ReservationRow>(&fresh.key()).is_none() {
        let kind = tables.known::<PlaceRow>(at, &(place.clone(),))?.kind;
        at.demand(kind.is_held(), "reservation", || format!("place '{place}' holds no stock to be set aside"))?;
        tables.add(at, fresh.clone())?;
    }
    set_aside(tables, at, &fresh, *quantity)
}

fn reduced(tables: &mut Tables, at: At, fact: &Fact) -> Result<(), Fault> {
    let Fact::ReservationReduced { reservation, wanter, item, place, left, .. } = fact else {
        return Err(astray(at));
    };
    let row = tables.known::<ReservationRow>(at, &(*reservation,))?.clone();
    let smaller = left.0 >= 0 && *left < row.quantity;
    at.demand(smaller, "reservation", || {
        format!("reservation {reservation} of {} does not shrink to {left}", row.quantity)
    })?;
    let named = ReservationRow {
        job: wanter.job,
        stage: wanter.stage.clone(),
        step: wanter.step,
        item: item.clone(),
        place: place.clone(),
        ..row.clone()
    };
    set_aside(tables, at, &named, Quantity(left.0 - row.quantity.0))
}

/// Changes a reservation, its place's hold and its step's demand alike.
fn set_aside(tables: &mut Tables, at: At, named: &ReservationRow, change: Quantity) -> Result<(), Fault> {
    let row = tables.change::<ReservationRow>(at, &named.key())?;
    let same = ReservationRow { quantity: row.quantity, made_n: row.made_n, ..named.clone() } == *row;
    at.demand(same, "reservation", || {
        format!("reservation {} is of '{}' at '{}' for another step or place", row.reservation, row.item, row.place)
    })?;
    sum(at, "reservation", &mut row.quantity, change, "the reservation")?;
    let hold = hold(tables, at, &named.item, &named.place)?;
    sum(at, "hold", &mut hold.reserved, change, "the reserved quantity")?;
    let key = (named.job, named.stage.clone(), named.step, named.item.clone());
    let demand = tables.change::<DemandRow>(at, &key)?;
    sum(at, "demand", &mut demand.reserved, change, "what is reserved for the step")
}

fn shortage_opened(
    tables: &mut Tables,
    at: At,
    shortage: ShortageId,
    wanter: &Wanter,
    item: &ItemKey,
    quantity: Quantity,
) -> Result<(), Fault> {
    positive(at, "shortage", quantity)?;
    let demand = tables.change::<DemandRow>(at, &demand_key(wanter, item))?;
    sum(at, "demand", &mut demand.short, quantity, "what the step is short of")?;
    tables.add(
        at,
        ShortageRow {
            shortage,
            job: wanter.job,
            stage: wanter.stage.clone(),
            step: wanter.step,
            item: item.clone(),
            quantity,
            since: at.happened,
            opened_n: at.n,
            closed_n: None,
        },
    )
}

fn shortage_changed(
    tables: &mut Tables,
    at: At,
    shortage: ShortageId,
    wanter: &Wanter,
    item: &ItemKey,
    left: Quantity,
) -> Result<(), Fault> {
    let row = tables.change::<ShortageRow>(at, &(shortage,))?;
    let same = (row.job, &row.stage, row.step, &row.item) == (wanter.job, &wanter.stage, wanter.step, item);
    at.demand(same, "shortage", || format!("shortage {shortage} is of '{}' for another step", row.item))?;
    at.demand(row.closed_n.is_none(), "shortage", || format!("shortage {shortage} was over before"))?;
    at.demand(left.0 >= 0, "shortage", || format!("shortage {shortage} can't become {left}"))?;
    let change = Quantity(left.0 - row.quantity.0);
    row.quantity = left;
    row.closed_n = (left == Quantity::ZERO).then_some(at.n);
    let demand = tables.change::<DemandRow>(at, &demand_key(wanter, item))?;
    sum(at, "demand", &mut demand.short, change, "what the step is short of")
}
