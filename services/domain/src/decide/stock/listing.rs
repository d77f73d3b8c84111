//! Listing items and bins, and booking deliveries.

use super::cover::{Touched, cover, settle_blockers};
use super::expire::expire_item;
use super::{find, gainsaid, shelf};
use crate::answer::Made;
use crate::check;
use crate::command::{AddItem, AddPlace, ReceiveStock, SetItemFluid};
use crate::decide::calendar;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::words::{MoveReason, PlaceKind};
use leadhand_facts::{Fact, ItemFluid, ItemKey, LotId, PlaceKey, Quantity, TextRef};

pub(super) fn add_item(session: &mut Session, asked: &AddItem) -> Result<Made, Refusal> {
    check::key("item", asked.item.as_str())?;
    check::name("name", &asked.name)?;
    if session.state.items.get(&(asked.item.clone(),)).is_some() {
        return Err(Refusal::Taken { what: "item", which: asked.item.to_string() });
    }
    fits("fluid", asked.fluid)?;
    session.emit(Fact::ItemAdded { item: asked.item.clone(), name: asked.name.clone(), unit: asked.unit })?;
    if asked.fluid.is_some() {
        session.emit(Fact::ItemFluidSet { item: asked.item.clone(), fluid: asked.fluid })?;
    }
    Ok(Made::Nothing)
}

pub(super) fn set_fluid(session: &mut Session, asked: &SetItemFluid) -> Result<Made, Refusal> {
    let row = find::item(session.state, &asked.item)?;
    fits("fluid", asked.fluid)?;
    if row.fluid == asked.fluid {
        let said = asked.fluid.map_or_else(|| "to be no fluid".to_owned(), |fluid| format!("to be {fluid}"));
        return Err(Refusal::NothingToDo { what: format!("change: item '{}' is said {said} already", asked.item) });
    }
    session.emit(Fact::ItemFluidSet { item: asked.item.clone(), fluid: asked.fluid })?;
    gainsaid::follow(session, &asked.item, asked.fluid)?;
    Ok(Made::Nothing)
}

fn fits(field: &str, fluid: Option<ItemFluid>) -> Result<(), Refusal> {
    if fluid.is_none_or(ItemFluid::fits) {
        return Ok(());
    }
    let why = "a strength is of a coolant, above 0 % and up to 100 % by volume; give one of these, or leave it out";
    Err(Refusal::invalid(format!("{field}.strength"), why))
}

pub(super) fn add_place(session: &mut Session, asked: &AddPlace) -> Result<Made, Refusal> {
    check::key("place", asked.place.as_str())?;
    check::name("name", &asked.name)?;
    if let Some(why) = check::fault_of_bin(&asked.place) {
        return Err(Refusal::invalid("place", why));
    }
    if session.state.places.get(&(asked.place.clone(),)).is_some() {
        return Err(Refusal::Taken { what: "place", which: asked.place.to_string() });
    }
    let (place, name) = (asked.place.clone(), asked.name.clone());
    session.emit(Fact::PlaceAdded { place, place_kind: PlaceKind::Bin, name })?;
    Ok(Made::Nothing)
}

pub(super) fn receive(session: &mut Session, asked: &ReceiveStock) -> Result<Made, Refusal> {
    check::quantity("quantity", asked.quantity)?;
    if let Some(day) = &asked.expires_on {
        let today = calendar::today(session.state, session.context.now)?;
        if check::date("expires_on", day)? < today {
            let why = format!("{day} is over (today is {today}); check the date, and keep expired goods out");
            return Err(Refusal::invalid("expires_on", why));
        }
    }
    find::item(session.state, &asked.item)?;
    find::bin(session.state, &asked.place)?;
    let mut touched = Touched::new();
    expire_item(session, &asked.item, &mut touched)?;
    let goods = Goods { item: &asked.item, place: &asked.place, quantity: asked.quantity };
    let lot = take_in(session, goods, asked.expires_on.clone(), MoveReason::Receipt, None)?;
    cover(session, &asked.item, &mut touched)?;
    settle_blockers(session, &touched)?;
    Ok(Made::Lot(lot))
}

/// A quantity of an item at a bin.
#[derive(Clone, Copy)]
pub(super) struct Goods<'a> {
    pub(super) item: &'a ItemKey,
    pub(super) place: &'a PlaceKey,
    pub(super) quantity: Quantity,
}

/// Puts a new lot into a bin, from the place outside that the reason names.
pub(super) fn take_in(
    session: &mut Session,
    goods: Goods,
    expires_on: Option<String>,
    why: MoveReason,
    reason: Option<TextRef>,
) -> Result<LotId, Refusal> {
    let Goods { item, place, quantity } = goods;
    // The sum over all places must fit, so that no sum over some of them can fail.
    let there = shelf::holds(session.state, item).try_fold(quantity, |sum, hold| sum.plus(hold.on_hand));
    if there.is_none() {
        return Err(Refusal::TooMuch { item: item.clone() });
    }
    let lot = LotId(session.id());
    session.emit(Fact::LotMade { lot, item: item.clone(), expires_on })?;
    // What a count finds was always there, and so was the stock with which a shop begins.
    let from = if why == MoveReason::Receipt { PlaceKind::Supplier } else { PlaceKind::Count };
    session.emit(Fact::Moved {
        item: item.clone(),
        lot,
        from_place: PlaceKey::from(from.word()),
        to_place: place.clone(),
        quantity,
        why,
        wanter: None,
        reason,
    })?;
    Ok(lot)
}
