//! Taking over an opening stock: every row or none.

use super::cover::{Touched, cover, settle_blockers};
use super::import_rows::{Sheet, SheetRow, bad};
use super::listing::{Goods, take_in};
use super::needs::moved;
use crate::answer::Made;
use crate::command::ImportStock;
use crate::decide::calendar;
use crate::need::Need;
use crate::refusal::{BadRow, Refusal};
use crate::session::Session;
use crate::state::State;
use leadhand_facts::words::{MoveReason, PlaceKind};
use leadhand_facts::{Fact, Instant, ItemKey, PlaceKey};
use std::collections::BTreeSet;

/// Lists what is new and books every quantity as opening stock. An item that has moved before is
/// refused, so that the same file sent again changes nothing.
pub(super) fn import(session: &mut Session, asked: &ImportStock) -> Result<Made, Refusal> {
    let rows = checked(session.state, session.context.now, &asked.csv)?;
    let known: BTreeSet<&ItemKey> = rows
        .iter()
        .map(|row| &row.item)
        .filter(|item| session.state.items.get(&((*item).clone(),)).is_some())
        .collect();
    let (items, places) = list_new(session, &rows)?;
    for row in &rows {
        if let (Some(place), true) = (&row.place, row.quantity.is_positive()) {
            let goods = Goods { item: &row.item, place, quantity: row.quantity };
            take_in(session, goods, row.expires_on.clone(), MoveReason::Opening, None)?;
        }
    }
    let mut touched = Touched::new();
    for item in known {
        cover(session, item, &mut touched)?;
    }
    settle_blockers(session, &touched)?;
    Ok(Made::Imported { rows: count(rows.len()), items, places })
}

/// The rows, when every one can be taken over; else every fault there is.
fn checked(state: &State, now: Instant, csv: &str) -> Result<Vec<SheetRow>, Refusal> {
    let mut sheet = Sheet::read(csv)?;
    let today = calendar::today(state, now)?.to_string();
    check_rows(state, &today, &mut sheet);
    let Sheet { rows, bad } = sheet;
    if bad.is_empty() { Ok(rows) } else { Err(Refusal::BadRows { rows: bad }) }
}

/// Whether an opening stock could be taken over, on a state with what the command needs.
pub fn check(state: &State, now: Instant, asked: &ImportStock) -> Result<(), Refusal> {
    checked(state, now, &asked.csv).map(|_| ())
}

fn count(length: usize) -> i64 {
    i64::try_from(length).unwrap_or(i64::MAX)
}

/// Lists the items and bins that are new, in the order of the file.
fn list_new(session: &mut Session, rows: &[SheetRow]) -> Result<(i64, i64), Refusal> {
    let (mut items, mut places) = (0, 0);
    for SheetRow { item, name, unit, place, fluid, .. } in rows {
        if session.state.items.get(&(item.clone(),)).is_none() {
            session.emit(Fact::ItemAdded { item: item.clone(), name: name.clone(), unit: *unit })?;
            if fluid.is_some() {
                session.emit(Fact::ItemFluidSet { item: item.clone(), fluid: *fluid })?;
            }
            items += 1;
        }
        let new = place.as_ref().filter(|place| session.state.places.get(&((*place).clone(),)).is_none());
        if let Some(place) = new {
            let name = place.to_string();
            session.emit(Fact::PlaceAdded { place: place.clone(), place_kind: PlaceKind::Bin, name })?;
            places += 1;
        }
    }
    Ok((items, places))
}

/// What is wrong with rows as things stand in the shop. Every fault is told, in the order of the
/// file.
fn check_rows(state: &State, today: &str, sheet: &mut Sheet) {
    let mut unseen = 0;
    for row in &sheet.rows {
        check_item(state, row, &mut sheet.bad, &mut unseen);
        if row.place.as_ref().is_some_and(|place| !is_fit(state, place)) {
            sheet.bad.push(bad(row.line, "place", "it is not a bin of the parts room; choose a bin"));
        }
        if row.expires_on.as_deref().is_some_and(|day| day < today) {
            let message = format!("that day is over (today is {today}); check the date, and leave expired goods out");
            sheet.bad.push(bad(row.line, "expires_on", message));
        }
    }
    sheet.bad.sort_by_key(|bad| bad.line);
    if let (true, Some(last)) = (unseen > 0, sheet.rows.last()) {
        let message = format!("{unseen} more row(s) name items that are listed already and were not looked at");
        sheet.bad.push(bad(last.line, "", message));
    }
}

/// A bin, or a key that is free.
fn is_fit(state: &State, place: &PlaceKey) -> bool {
    state.places.get(&(place.clone(),)).is_none_or(|row| row.kind == PlaceKind::Bin)
}

fn check_item(state: &State, row: &SheetRow, faults: &mut Vec<BadRow>, unseen: &mut usize) {
    let Some(listed) = state.items.get(&(row.item.clone(),)) else { return };
    if listed.unit != row.unit {
        let message = format!("'{}' is listed in {}; give the quantity in that", row.item, listed.unit.code());
        faults.push(bad(row.line, "unit", message));
    }
    if listed.name != row.name {
        let message = format!("'{}' is listed as '{}'; use that name, or another key", row.item, listed.name);
        faults.push(bad(row.line, "name", message));
    }
    if row.fluid.is_some_and(|fluid| listed.fluid != Some(fluid)) {
        let said = listed.fluid.map_or_else(|| "as no fluid".to_owned(), |fluid| format!("as {fluid}"));
        let message = format!(
            "'{}' is listed {said}; leave it empty here, and say anew what it is (`leadhand item fluid`) where that is wrong",
            row.item
        );
        faults.push(bad(row.line, "fluid", message));
    }
    if !state.has(&Need::Stock(row.item.clone())) {
        // The first ones that were looked at have moved, so the file is refused in any case.
        *unseen += 1;
    } else if moved(state, &row.item) {
        let message = format!("'{}' has stock already; use receive or count, and leave the row out", row.item);
        faults.push(bad(row.line, "item", message));
    }
}
