//! Setting stock aside, and the shortages that are left.

use super::{find, shelf, urgency};
use crate::answer::Notice;
use crate::decide::flow;
use crate::refusal::Refusal;
use crate::session::Session;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{ReservationRow, ShortageRow};
use leadhand_facts::words::{JobState, ReservationChange};
use leadhand_facts::{Fact, ItemKey, JobNo, PlaceKey, Quantity, ReservationId, ShortageId};
use std::collections::BTreeSet;

/// Jobs whose shortages changed.
pub(super) type Touched = BTreeSet<JobNo>;

/// Lets the blockers of jobs follow their shortages, once a job.
pub(super) fn settle_blockers(session: &mut Session, touched: &Touched) -> Result<(), Refusal> {
    for job in touched {
        let open = session.state.jobs.get(&(*job,)).is_some_and(|row| row.state == JobState::Open);
        if open {
            flow::settle_blockers(session, *job)?;
        }
    }
    Ok(())
}

/// Covers shortages of an item as far as it goes, partly too.
pub(super) fn cover(session: &mut Session, item: &ItemKey, touched: &mut Touched) -> Result<(), Refusal> {
    if shelf::free_bins(session.state, item).is_empty() {
        return Ok(());
    }
    let open: Vec<ShortageRow> = shelf::shortages(session.state, item).cloned().collect();
    let open = urgency::sorted(session.state, open, shelf::wanter_of_shortage, |row| row.opened_n)?;
    for shortage in open {
        let places = shelf::from_bins(session.state, item, shortage.quantity);
        let covered = shelf::total(places.iter().map(|(_, quantity)| quantity));
        if !covered.is_positive() {
            break;
        }
        let wanter = shelf::wanter_of_shortage(&shortage);
        // The shortage shrinks first, so that nothing is counted twice in between.
        shrink_shortage(session, &shortage, covered, touched)?;
        set_aside(session, &wanter, item, &places)?;
        let Wanter { job, stage, step } = wanter;
        let unit = find::item(session.state, item)?.unit;
        session.notice(Notice::Covered { job, stage, step, item: item.clone(), quantity: covered, unit });
    }
    Ok(())
}

/// Sets quantities at bins aside for a step.
pub(super) fn set_aside(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    places: &[(PlaceKey, Quantity)],
) -> Result<(), Refusal> {
    for (place, quantity) in places {
        let open = shelf::reservations(session.state, item)
            .find(|row| row.place == *place && shelf::wanter_of(row) == *wanter)
            .map(|row| row.reservation);
        let reservation = open.unwrap_or_else(|| ReservationId(session.id()));
        session.emit(Fact::Reserved {
            reservation,
            wanter: wanter.clone(),
            item: item.clone(),
            place: place.clone(),
            quantity: *quantity,
        })?;
    }
    Ok(())
}

/// Makes a reservation smaller.
pub(super) fn reduce(
    session: &mut Session,
    row: &ReservationRow,
    by: Quantity,
    why: ReservationChange,
) -> Result<(), Refusal> {
    session.emit(Fact::ReservationReduced {
        reservation: row.reservation,
        wanter: shelf::wanter_of(row),
        item: row.item.clone(),
        place: row.place.clone(),
        left: Quantity(row.quantity.0 - by.0),
        why,
    })?;
    Ok(())
}

/// Opens a step's shortage, or makes the open one larger.
pub(super) fn grow_shortage(
    session: &mut Session,
    wanter: &Wanter,
    item: &ItemKey,
    by: Quantity,
    touched: &mut Touched,
) -> Result<(), Refusal> {
    let open = shelf::shortage_of(session.state, wanter, item).map(|row| (row.shortage, row.quantity));
    let (wanter, item) = (wanter.clone(), item.clone());
    touched.insert(wanter.job);
    let fact = match open {
        Some((shortage, quantity)) => {
            let left = quantity.plus(by).ok_or_else(|| Refusal::TooMuch { item: item.clone() })?;
            Fact::ShortageChanged { shortage, wanter, item, left }
        }
        None => Fact::ShortageOpened { shortage: ShortageId(session.id()), wanter, item, quantity: by },
    };
    session.emit(fact)?;
    Ok(())
}

/// Makes a shortage smaller; at 0 it is over.
pub(super) fn shrink_shortage(
    session: &mut Session,
    row: &ShortageRow,
    by: Quantity,
    touched: &mut Touched,
) -> Result<(), Refusal> {
    touched.insert(row.job);
    session.emit(Fact::ShortageChanged {
        shortage: row.shortage,
        wanter: shelf::wanter_of_shortage(row),
        item: row.item.clone(),
        left: Quantity(row.quantity.0 - by.0),
    })?;
    Ok(())
}
