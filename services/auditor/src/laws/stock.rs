//! The stock book.

use super::Found;
use crate::tables::Tables;
use leadhand_facts::rows::{
    BalanceRow, DemandRow, HoldRow, LotRow, MoveRow, PlaceRow, ReservationRow, Row, ShortageRow,
};
use leadhand_facts::words::MoveReason;
use leadhand_facts::{ItemKey, LotId, PlaceKey, Quantity};
use std::collections::BTreeMap;

/// Sums in more digits than a quantity has, so that adding up can't go wrong.
type Sums<K> = BTreeMap<K, i128>;

pub(super) fn check(tables: &Tables, found: &mut Found) {
    holds(tables, found);
    lots(tables, found);
    balances(tables, found);
    demands(tables, found);
    for row in tables.rows::<ShortageRow>() {
        let agrees = (row.quantity == Quantity::ZERO) == row.closed_n.is_some() && row.quantity.0 >= 0;
        found.law("shortage", row, agrees, || format!("{} is left and closed_n is {:?}", row.quantity, row.closed_n));
    }
}

fn summed<K: Ord>(lines: impl Iterator<Item = (K, Quantity)>) -> Sums<K> {
    let mut sums = Sums::new();
    for (key, quantity) in lines {
        *sums.entry(key).or_default() += i128::from(quantity.0);
    }
    sums
}

fn at<K: Ord>(sums: &Sums<K>, key: &K) -> i128 {
    sums.get(key).copied().unwrap_or(0)
}

fn is_expired(tables: &Tables, lot: LotId) -> bool {
    tables.get::<LotRow>(&(lot,)).is_some_and(|row| row.expired)
}

fn holds(tables: &Tables, found: &mut Found) {
    let held = || tables.rows::<BalanceRow>().filter(|row| row.held);
    let line = |row: &BalanceRow| ((row.item.clone(), row.place.clone()), row.quantity);
    let on_hand = summed(held().map(line));
    let expired = summed(held().filter(|row| is_expired(tables, row.lot)).map(line));
    let reserved =
        summed(tables.rows::<ReservationRow>().map(|row| ((row.item.clone(), row.place.clone()), row.quantity)));
    for row in tables.rows::<HoldRow>() {
        let (have, gone, kept) = (i128::from(row.on_hand.0), i128::from(row.expired.0), i128::from(row.reserved.0));
        let key = row.key();
        found.law("hold", row, have - gone >= kept && kept >= 0 && gone >= 0, || {
            format!("on hand {have}, expired {gone}, reserved {kept}")
        });
        found.law("on-hand", row, have == at(&on_hand, &key) && gone == at(&expired, &key), || {
            format!("on hand {have} and expired {gone}, balances {} and {}", at(&on_hand, &key), at(&expired, &key))
        });
        found.law("reserved", row, kept == at(&reserved, &key), || {
            format!("reserved {kept}, reservations {}", at(&reserved, &key))
        });
    }
    for row in held() {
        let kept = tables.get::<HoldRow>(&(row.item.clone(), row.place.clone())).is_some();
        found.law("on-hand", row, kept, || "its place has no row of what is on hand".to_owned());
    }
    for row in tables.rows::<ReservationRow>() {
        let kept = tables.get::<HoldRow>(&(row.item.clone(), row.place.clone())).is_some();
        found
            .law("reserved", row, kept && row.quantity.0 >= 0, || format!("{} at a place without stock", row.quantity));
    }
}

fn lots(tables: &Tables, found: &mut Found) {
    let sums = summed(tables.rows::<BalanceRow>().map(|row| (row.lot, row.quantity)));
    for row in tables.rows::<LotRow>() {
        let sum = at(&sums, &row.lot);
        found.law("lot-zero", row, sum == 0, || format!("it sums to {sum} over all places"));
    }
    for row in tables.rows::<MoveRow>() {
        found.law("lot-zero", row, row.quantity.is_positive(), || format!("a movement of {}", row.quantity));
    }
}

fn balances(tables: &Tables, found: &mut Found) {
    type Key = (ItemKey, LotId, PlaceKey);
    let mut moved: Sums<Key> = Sums::new();
    for row in tables.rows::<MoveRow>() {
        let quantity = i128::from(row.quantity.0);
        *moved.entry((row.item.clone(), row.lot, row.from_place.clone())).or_default() -= quantity;
        *moved.entry((row.item.clone(), row.lot, row.to_place.clone())).or_default() += quantity;
    }
    for row in tables.rows::<BalanceRow>() {
        let sum = moved.remove(&row.key()).unwrap_or(0);
        let quantity = i128::from(row.quantity.0);
        found.law("balance", row, quantity == sum, || format!("it is {quantity}, its movements add up to {sum}"));
        let held = tables.get::<PlaceRow>(&(row.place.clone(),)).map(|place| place.kind.is_held());
        found.law("balance", row, held == Some(row.held), || format!("held is {}, its place says {held:?}", row.held));
        found.law("balance", row, !row.held || quantity >= 0, || format!("a held place has {quantity}"));
    }
    for row in tables.rows::<MoveRow>() {
        let ends = [&row.from_place, &row.to_place];
        let lost = ends.into_iter().find(|place| moved.contains_key(&(row.item.clone(), row.lot, (*place).clone())));
        found.law("balance", row, lost.is_none(), || format!("place '{lost:?}' has no balance of the lot"));
    }
}

fn demands(tables: &Tables, found: &mut Found) {
    type Key = <DemandRow as Row>::Key;
    let reserved: Sums<Key> =
        summed(tables.rows::<ReservationRow>().map(|r| ((r.job, r.stage.clone(), r.step, r.item.clone()), r.quantity)));
    let short: Sums<Key> =
        summed(tables.rows::<ShortageRow>().map(|s| ((s.job, s.stage.clone(), s.step, s.item.clone()), s.quantity)));
    let issues = tables.rows::<MoveRow>().filter(|row| row.why == MoveReason::Issue);
    let issued: Sums<Key> = summed(
        issues.filter_map(|row| Some(((row.job?, row.stage.clone()?, row.step?, row.item.clone()), row.quantity))),
    );
    for row in tables.rows::<DemandRow>() {
        let key = row.key();
        let figure = |quantity: Quantity| i128::from(quantity.0);
        found.law("demand", row, figure(row.reserved) == at(&reserved, &key), || {
            format!("reserved {}, reservations {}", row.reserved, at(&reserved, &key))
        });
        found.law("demand", row, figure(row.short) == at(&short, &key), || {
            format!("short {}, shortages {}", row.short, at(&short, &key))
        });
        let within = row.issued.0 >= 0 && figure(row.issued) <= at(&issued, &key);
        found.law("demand", row, within, || format!("issued {}, movements {}", row.issued, at(&issued, &key)));
        let open = (figure(row.wanted) - figure(row.issued)).max(0);
        found.law("demand", row, figure(row.reserved) + figure(row.short) <= open, || {
            format!("reserved {} and short {} of {open} that are still wanted", row.reserved, row.short)
        });
    }
    let listed = |key: &Key| tables.get::<DemandRow>(key).is_some();
    for row in tables.rows::<ReservationRow>() {
        let key = (row.job, row.stage.clone(), row.step, row.item.clone());
        found.law("demand", row, listed(&key), || "its step has no demand of the item".to_owned());
    }
    for row in tables.rows::<ShortageRow>() {
        let key = (row.job, row.stage.clone(), row.step, row.item.clone());
        found.law("demand", row, listed(&key), || "its step has no demand of the item".to_owned());
    }
}
