//! Lots whose last good day is over.

use super::cover::{Touched, cover, settle_blockers};
use super::displace::displace;
use super::needs::{needs_of_item, unless_loaded};
use super::shelf;
use crate::context::Context;
use crate::decide::calendar;
use crate::need::Need;
use crate::refusal::Refusal;
use crate::session::Session;
use crate::state::State;
use leadhand_facts::rows::LotRow;
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{Fact, ItemKey, LotId, PlaceKey, Quantity};
use std::collections::BTreeSet;

/// Marks every loaded lot whose last good day is over, as the timer does.
pub(in crate::decide) fn expire_lots(session: &mut Session) -> Result<(), Refusal> {
    let today = calendar::today(session.state, session.context.now)?.to_string();
    let mut touched = Touched::new();
    for item in items_overdue(session.state, &today) {
        expire_item(session, &item, &mut touched)?;
    }
    settle_blockers(session, &touched)
}

/// What the timer needs to see for [`expire_lots`].
pub(in crate::decide) fn needs_of_expiry(state: &State, context: &Context) -> Vec<Need> {
    let Ok(today) = calendar::today(state, context.now) else { return vec![Need::Shop] };
    let lots = Need::LotsExpired(today.to_string());
    let mut needs = vec![Need::Shop];
    if unless_loaded(state, lots, &mut needs) {
        for item in items_overdue(state, &today.to_string()) {
            needs.extend(needs_of_item(state, context, &item, true));
        }
    }
    needs
}

fn items_overdue(state: &State, today: &str) -> BTreeSet<ItemKey> {
    state.lots.iter().filter(|lot| is_overdue(lot, today)).map(|lot| lot.item.clone()).collect()
}

fn is_overdue(lot: &LotRow, today: &str) -> bool {
    // Days written as YYYY-MM-DD stand in order as texts.
    !lot.expired && lot.expires_on.as_deref().is_some_and(|last| last < today)
}

/// Lots of an item that a held place has some of, and whose last good day is over.
pub(super) fn overdue(state: &State, item: &ItemKey, today: &str) -> Vec<LotId> {
    let held = shelf::balances(state, item).filter(|row| row.held && row.quantity.is_positive());
    let lots: BTreeSet<LotId> = held.map(|row| row.lot).collect();
    let late = |lot: &LotId| state.lots.get(&(*lot,)).is_some_and(|lot| is_overdue(lot, today));
    lots.into_iter().filter(late).collect()
}

/// Marks the lots of one item, displaces what stood on them, and covers that from other bins.
pub(super) fn expire_item(session: &mut Session, item: &ItemKey, touched: &mut Touched) -> Result<(), Refusal> {
    let today = calendar::today(session.state, session.context.now)?.to_string();
    let lots = overdue(session.state, item, &today);
    for lot in &lots {
        for (place, quantity) in bins_with(session.state, item, *lot) {
            displace(session, item, &place, quantity, touched)?;
        }
        session.emit(Fact::LotExpired { lot: *lot, item: item.clone() })?;
    }
    if lots.is_empty() { Ok(()) } else { cover(session, item, touched) }
}

fn bins_with(state: &State, item: &ItemKey, lot: LotId) -> Vec<(PlaceKey, Quantity)> {
    let of_lot = shelf::balances(state, item).filter(|row| row.lot == lot && row.quantity.is_positive());
    let kind = |place: &PlaceKey| state.places.get(&(place.clone(),)).map(|row| row.kind);
    of_lot.filter(|row| kind(&row.place) == Some(PlaceKind::Bin)).map(|row| (row.place.clone(), row.quantity)).collect()
}
