//! Counting what is there, and throwing away.

use super::cover::{Touched, cover, settle_blockers};
use super::displace::displace;
use super::expire::expire_item;
use super::listing::{Goods, take_in};
use super::{find, shelf};
use crate::answer::Made;
use crate::check;
use crate::command::{CountStock, ScrapStock};
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::words::{MoveReason, PlaceKind};
use leadhand_facts::{Fact, PlaceKey, Quantity};

/// What was counted at a bin stands from now on. A surplus is a lot of its own without a last
/// good day; a shortfall is taken from expired lots first and then first expiring first. A count
/// that agrees with the books is accepted and makes no movement.
pub(super) fn count(session: &mut Session, asked: &CountStock) -> Result<Made, Refusal> {
    if !(0..=QUANTITY_MAX).contains(&asked.counted.0) {
        let why = format!("{} can't be counted; give a whole number from 0 to {QUANTITY_MAX}", asked.counted);
        return Err(Refusal::invalid("counted", why));
    }
    check::text("reason", &asked.reason)?;
    if session.at() < session.context.now {
        // What moved since then would be counted away.
        let why = "a count says what lies there now; leave the time out, or count again";
        return Err(Refusal::invalid("write.happened_at", why));
    }
    find::item(session.state, &asked.item)?;
    find::bin(session.state, &asked.place)?;
    let mut touched = Touched::new();
    expire_item(session, &asked.item, &mut touched)?;
    let (item, place) = (&asked.item, &asked.place);
    let on_hand = shelf::hold(session.state, item, place).on_hand;
    let difference = asked.counted.0 - on_hand.0;
    if difference > 0 {
        let reason = session.seal(&asked.reason);
        let goods = Goods { item, place, quantity: Quantity(difference) };
        take_in(session, goods, None, MoveReason::Count, Some(reason))?;
        cover(session, item, &mut touched)?;
    }
    if difference < 0 {
        let goods = Goods { item, place, quantity: Quantity(-difference) };
        take_out(session, goods, MoveReason::Count, &asked.reason, &mut touched)?;
    }
    settle_blockers(session, &touched)?;
    Ok(Made::Nothing)
}

pub(super) fn scrap(session: &mut Session, asked: &ScrapStock) -> Result<Made, Refusal> {
    check::quantity("quantity", asked.quantity)?;
    check::text("reason", &asked.reason)?;
    find::item(session.state, &asked.item)?;
    find::bin(session.state, &asked.place)?;
    let mut touched = Touched::new();
    expire_item(session, &asked.item, &mut touched)?;
    let on_hand = shelf::hold(session.state, &asked.item, &asked.place).on_hand;
    if on_hand < asked.quantity {
        let held_by = format!(" at '{}'", asked.place);
        return Err(Refusal::NotEnough { item: asked.item.clone(), wanted: asked.quantity, free: on_hand, held_by });
    }
    let goods = Goods { item: &asked.item, place: &asked.place, quantity: asked.quantity };
    take_out(session, goods, MoveReason::Scrap, &asked.reason, &mut touched)?;
    settle_blockers(session, &touched)?;
    Ok(Made::Nothing)
}

/// Takes goods out of a bin for good. Reservations that stood on them give way, and are covered
/// from other bins as far as those go.
fn take_out(
    session: &mut Session,
    goods: Goods,
    why: MoveReason,
    reason: &str,
    touched: &mut Touched,
) -> Result<(), Refusal> {
    let Goods { item, place, quantity } = goods;
    let portions = shelf::portions(session.state, item, place, quantity, shelf::Order::ExpiredFirst)?;
    let going = shelf::usable_part(session.state, &portions);
    displace(session, item, place, going, touched)?;
    let reason = session.seal(reason);
    let to = if why == MoveReason::Scrap { PlaceKind::Scrap } else { PlaceKind::Count };
    for (lot, quantity) in portions {
        session.emit(Fact::Moved {
            item: item.clone(),
            lot,
            from_place: place.clone(),
            to_place: PlaceKey::from(to.word()),
            quantity,
            why,
            wanter: None,
            reason: Some(reason.clone()),
        })?;
    }
    cover(session, item, touched)
}
