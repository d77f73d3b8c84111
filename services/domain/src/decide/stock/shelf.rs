//! Reading the shelves: what is free where, and which lots to take.

use crate::refusal::Refusal;
use crate::state::State;
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{BalanceRow, DemandRow, HoldRow, LotRow, ReservationRow, ShortageRow};
use leadhand_facts::words::PlaceKind;
use leadhand_facts::{ItemKey, JobNo, LotId, PlaceKey, Quantity};
use std::cmp::Reverse;

/// Goods of one lot.
pub(super) type Portion = (LotId, Quantity);

/// Goods at one place.
pub(super) type AtPlace = (PlaceKey, Quantity);

pub(super) fn holds<'s>(state: &'s State, item: &'s ItemKey) -> impl Iterator<Item = &'s HoldRow> {
    let first = (item.clone(), PlaceKey(String::new()));
    state.holds.from_key(first).take_while(move |row| row.item == *item)
}

/// What a held place has of an item; nothing when it never had any.
pub(super) fn hold(state: &State, item: &ItemKey, place: &PlaceKey) -> HoldRow {
    let none = Quantity::ZERO;
    state.holds.get(&(item.clone(), place.clone())).cloned().unwrap_or_else(|| HoldRow {
        item: item.clone(),
        place: place.clone(),
        on_hand: none,
        expired: none,
        reserved: none,
    })
}

pub(super) fn usable(hold: &HoldRow) -> Quantity {
    Quantity(hold.on_hand.0 - hold.expired.0)
}

fn is_bin(state: &State, place: &PlaceKey) -> bool {
    state.places.get(&(place.clone(),)).is_some_and(|row| row.kind == PlaceKind::Bin)
}

/// Bins with something free of an item: most first, then by key.
pub(super) fn free_bins(state: &State, item: &ItemKey) -> Vec<AtPlace> {
    let bins = holds(state, item).filter(|hold| is_bin(state, &hold.place));
    let free = bins.map(|hold| (hold.place.clone(), Quantity(usable(hold).0 - hold.reserved.0)));
    let mut free: Vec<AtPlace> = free.filter(|(_, free)| free.is_positive()).collect();
    free.sort_by_key(|(place, free)| (Reverse(*free), place.clone()));
    free
}

/// From which bins a quantity comes; less than that when less is free.
pub(super) fn from_bins(state: &State, item: &ItemKey, wanted: Quantity) -> Vec<AtPlace> {
    let mut left = wanted.0;
    let mut taken = Vec::new();
    for (place, free) in free_bins(state, item) {
        let take = free.0.min(left);
        if take > 0 {
            taken.push((place, Quantity(take)));
            left -= take;
        }
    }
    taken
}

pub(super) fn total<'a>(quantities: impl IntoIterator<Item = &'a Quantity>) -> Quantity {
    Quantity(quantities.into_iter().fold(0_i64, |sum, quantity| sum.saturating_add(quantity.0)))
}

/// In which order lots are taken.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// First expiring first out (as in the World Health Organization's guide to good storage
    /// practices for pharmaceuticals), then first received; expired lots are left.
    Fefo,
    /// The same, and expired lots go first of all: so reservations are disturbed least.
    ExpiredFirst,
    /// What was received last.
    LatestFirst,
}

/// Which lots at a place make up a quantity.
pub(super) fn portions(
    state: &State,
    item: &ItemKey,
    place: &PlaceKey,
    quantity: Quantity,
    order: Order,
) -> Result<Vec<Portion>, Refusal> {
    let mut left = quantity.0;
    let mut taken = Vec::new();
    for (lot, there) in lots_at(state, item, place, order) {
        let take = there.0.min(left);
        if take > 0 {
            taken.push((lot.lot, Quantity(take)));
            left -= take;
        }
    }
    if left > 0 {
        let why = format!("the lots of '{item}' at '{place}' are {left} less than the sums say");
        return Err(Refusal::Defect { why });
    }
    Ok(taken)
}

fn lots_at<'s>(state: &'s State, item: &'s ItemKey, place: &PlaceKey, order: Order) -> Vec<(&'s LotRow, Quantity)> {
    let there = balances(state, item).filter(|row| row.place == *place && row.quantity.is_positive());
    let lots = there.filter_map(|row| Some((state.lots.get(&(row.lot,))?, row.quantity)));
    let mut lots: Vec<(&LotRow, Quantity)> = lots.filter(|(lot, _)| order != Order::Fefo || !lot.expired).collect();
    lots.sort_by(|(one, _), (other, _)| match order {
        Order::LatestFirst => (other.received_at, other.made_n).cmp(&(one.received_at, one.made_n)),
        _ => fefo_key(one).cmp(&fefo_key(other)),
    });
    lots
}

/// What has no last good day goes last.
fn fefo_key(lot: &LotRow) -> (bool, bool, Option<&String>, leadhand_facts::Instant, i64) {
    (!lot.expired, lot.expires_on.is_none(), lot.expires_on.as_ref(), lot.received_at, lot.made_n)
}

pub(super) fn balances<'s>(state: &'s State, item: &'s ItemKey) -> impl Iterator<Item = &'s BalanceRow> {
    let first = (item.clone(), LotId(uuid::Uuid::nil()), PlaceKey(String::new()));
    state.balances.from_key(first).take_while(move |row| row.item == *item)
}

/// How much of a quantity is not expired.
pub(super) fn usable_part(state: &State, portions: &[Portion]) -> Quantity {
    let good = |lot: &LotId| state.lots.get(&(*lot,)).is_some_and(|lot| !lot.expired);
    total(portions.iter().filter(|(lot, _)| good(lot)).map(|(_, quantity)| quantity))
}

pub(super) fn wanter_of(row: &ReservationRow) -> Wanter {
    Wanter { job: row.job, stage: row.stage.clone(), step: row.step }
}

pub(super) fn wanter_of_shortage(row: &ShortageRow) -> Wanter {
    Wanter { job: row.job, stage: row.stage.clone(), step: row.step }
}

/// Open reservations of an item.
pub(super) fn reservations<'s>(state: &'s State, item: &'s ItemKey) -> impl Iterator<Item = &'s ReservationRow> {
    state.reservations.iter().filter(move |row| row.item == *item && row.quantity.is_positive())
}

/// Open shortages of an item.
pub(super) fn shortages<'s>(state: &'s State, item: &'s ItemKey) -> impl Iterator<Item = &'s ShortageRow> {
    state.shortages.iter().filter(move |row| row.item == *item && row.closed_n.is_none())
}

/// The open shortage of a step.
pub(super) fn shortage_of<'s>(state: &'s State, wanter: &Wanter, item: &'s ItemKey) -> Option<&'s ShortageRow> {
    shortages(state, item).find(|row| wanter_of_shortage(row) == *wanter)
}

pub(super) fn demand(state: &State, wanter: &Wanter, item: &ItemKey) -> Option<DemandRow> {
    state.demands.get(&(wanter.job, wanter.stage.clone(), wanter.step, item.clone())).cloned()
}

/// What a job's steps have on the list.
pub(super) fn demands(state: &State, job: JobNo) -> impl Iterator<Item = &DemandRow> {
    let first =
        (job, leadhand_facts::StageKey(String::new()), leadhand_facts::StepNo(i32::MIN), ItemKey(String::new()));
    state.demands.from_key(first).take_while(move |row| row.job == job)
}

/// Who else has an item set aside, and how much.
pub(super) fn held_by(state: &State, item: &ItemKey, not: JobNo) -> Vec<(JobNo, Quantity)> {
    let mut held = std::collections::BTreeMap::<JobNo, i64>::new();
    for row in reservations(state, item).filter(|row| row.job != not) {
        *held.entry(row.job).or_default() += row.quantity.0;
    }
    held.into_iter().map(|(job, quantity)| (job, Quantity(quantity))).collect()
}
