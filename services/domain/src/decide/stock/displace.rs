//! Taking stock from under reservations.

use super::cover::{Touched, grow_shortage, reduce};
use super::{find, shelf, urgency};
use crate::answer::Notice;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::ReservationRow;
use leadhand_facts::words::ReservationChange;
use leadhand_facts::{ItemKey, PlaceKey, Quantity};

/// Makes room for `going` of an item to leave what is usable at a bin: reservations there give
/// way, the least urgent first, and what their steps lose becomes a shortage. A step that is not
/// to be done any more loses without one. To be called before the goods go, so that the bin
/// bears its reservations at every moment.
pub(super) fn displace(
    session: &mut Session,
    item: &ItemKey,
    place: &PlaceKey,
    going: Quantity,
    touched: &mut Touched,
) -> Result<(), Refusal> {
    let hold = shelf::hold(session.state, item, place);
    let mut over = hold.reserved.0 - (shelf::usable(&hold).0 - going.0);
    if over <= 0 {
        return Ok(());
    }
    let there = shelf::reservations(session.state, item).filter(|row| row.place == *place);
    let there: Vec<ReservationRow> = there.cloned().collect();
    let there = urgency::sorted(session.state, there, shelf::wanter_of, |row| row.made_n)?;
    for row in there.iter().rev() {
        let by = Quantity(row.quantity.0.min(over));
        if !by.is_positive() {
            break;
        }
        over -= by.0;
        reduce(session, row, by, ReservationChange::Displaced)?;
        let wanter = shelf::wanter_of(row);
        if find::is_pending(session.state, row.job, &row.stage, row.step) {
            grow_shortage(session, &wanter, item, by, touched)?;
        }
        let Wanter { job, stage, step } = wanter;
        let unit = find::item(session.state, item)?.unit;
        session.notice(Notice::Displaced { job, stage, step, item: item.clone(), quantity: by, unit });
    }
    Ok(())
}
