//! Facts about items, places, lots, movements, and what steps want of them.

use crate::kit::{JOB, Journal, LOT, all, bin, gasket, id, minute, moved, one, refused, strip, text, wanter};
use leadhand_facts::fact::Wanter;
use leadhand_facts::rows::{
    BalanceRow, DemandRow, HoldRow, ItemRow, JobRow, LotRow, MoveRow, PlaceRow, ReservationRow, ShortageRow,
};
use leadhand_facts::words::{MoveReason, PlaceKind, ReservationChange};
use leadhand_facts::{Fact, LotId, PlaceKey, Quantity, ReservationId, ShortageId, StepNo, Unit};

fn balance(place: &str, quantity: i64, held: bool) -> BalanceRow {
    BalanceRow { item: gasket(), lot: LOT, place: place.into(), quantity: Quantity(quantity), held }
}

fn hold(place: &str, on_hand: i64, expired: i64, reserved: i64) -> HoldRow {
    let (on_hand, expired, reserved) = (Quantity(on_hand), Quantity(expired), Quantity(reserved));
    HoldRow { item: gasket(), place: place.into(), on_hand, expired, reserved }
}

fn demand(wanted: i64, reserved: i64, issued: i64, short: i64) -> DemandRow {
    DemandRow {
        job: JOB,
        stage: strip(),
        step: StepNo(1),
        item: gasket(),
        wanted: Quantity(wanted),
        reserved: Quantity(reserved),
        issued: Quantity(issued),
        short: Quantity(short),
    }
}

fn issue(quantity: i64) -> Fact {
    moved("bin-a", "job-1", quantity, MoveReason::Issue, Some(wanter()))
}

fn wants(wanted: i64) -> Fact {
    Fact::DemandSet { wanter: wanter(), item: gasket(), wanted: Quantity(wanted) }
}

fn reserve(number: u128, quantity: i64) -> Fact {
    let reservation = ReservationId(id(number));
    Fact::Reserved { reservation, wanter: wanter(), item: gasket(), place: bin(), quantity: Quantity(quantity) }
}

fn reduce(number: u128, left: i64) -> Fact {
    Fact::ReservationReduced {
        reservation: ReservationId(id(number)),
        wanter: wanter(),
        item: gasket(),
        place: bin(),
        left: Quantity(left),
        why: ReservationChange::Released,
    }
}

fn after(facts: Vec<Fact>) -> Journal {
    let mut journal = Journal::stocked();
    for (minutes, fact) in (1..).zip(facts) {
        journal.at(minutes, fact);
    }
    journal
}

#[test]
fn items_places_and_lots_are_listed() {
    let books = Journal::stocked().books();
    let item = ItemRow {
        item: gasket(),
        name: "Gasket set".to_owned(),
        unit: Unit::Piece,
        added_n: 6,
        supplier: None,
        fluid: None,
    };
    assert_eq!(all::<ItemRow>(&books), [item]);
    let place = PlaceRow { place: bin(), kind: PlaceKind::Bin, name: "Bin A".to_owned(), job: None, added_n: 7 };
    assert_eq!(one::<PlaceRow>(&books, &(bin(),)), place);
    let expires_on = Some("2026-03-02".to_owned());
    let lot = LotRow { lot: LOT, item: gasket(), received_at: minute(0), expires_on, expired: false, made_n: 9 };
    assert_eq!(all::<LotRow>(&books), [lot]);
    let other = Fact::LotMade { lot: LotId(id(2)), item: "oil".into(), expires_on: None };
    refused(Journal::stocked, 1, other, "item", "unknown");
}

#[test]
fn a_movement_changes_both_places() {
    let books = Journal::stocked().books();
    assert_eq!(all::<BalanceRow>(&books), [balance("bin-a", 10, true), balance("supplier", -10, false)]);
    assert_eq!(all::<HoldRow>(&books), [hold("bin-a", 10, 0, 0)]);
    let receipt = MoveRow {
        n: 10,
        item: gasket(),
        lot: LOT,
        from_place: "supplier".into(),
        to_place: bin(),
        quantity: Quantity(10),
        why: MoveReason::Receipt,
        job: None,
        stage: None,
        step: None,
        at: minute(0),
        reason: None,
    };
    assert_eq!(all::<MoveRow>(&books), [receipt]);

    let mut journal = Journal::stocked();
    let Fact::Moved { item, lot, from_place, to_place, quantity, why, wanter, .. } = issue(10) else { unreachable!() };
    let reason = Some(text(8));
    journal.late(2, 3, Fact::Moved { item, lot, from_place, to_place, quantity, why, wanter, reason });
    let books = journal.books();
    let rows = [balance("bin-a", 0, true), balance("job-1", 10, true), balance("supplier", -10, false)];
    assert_eq!(all::<BalanceRow>(&books), rows);
    assert_eq!(all::<HoldRow>(&books), [hold("bin-a", 0, 0, 0), hold("job-1", 10, 0, 0)]);
    let row: MoveRow = one(&books, &(11,));
    assert_eq!((row.job, row.stage, row.step, row.at), (Some(JOB), Some(strip()), Some(StepNo(1)), minute(2)));
    assert_eq!((row.why, row.reason), (MoveReason::Issue, Some(text(8).id)));
    assert_eq!(one::<JobRow>(&books, &(JOB,)).version, 11);
    assert_eq!(all::<DemandRow>(&books), [], "an issue beyond any list makes no demand");
}

#[test]
fn what_expires_is_counted_where_it_lies_and_where_it_goes() {
    let expire = Fact::LotExpired { lot: LOT, item: gasket() };
    let facts = vec![issue(4), expire.clone(), moved("bin-a", "scrap", 5, MoveReason::Scrap, None)];
    let books = after(facts.clone()).books();
    assert!(one::<LotRow>(&books, &(LOT,)).expired);
    assert_eq!(all::<HoldRow>(&books), [hold("bin-a", 1, 1, 0), hold("job-1", 4, 4, 0)]);
    refused(|| after(facts.clone()), 9, expire, "lot", "expired before");
    let other = Fact::LotExpired { lot: LOT, item: "oil".into() };
    refused(Journal::stocked, 9, other, "lot", "is of item 'gasket'");
}

#[test]
fn movements_that_can_t_be_are_refused() {
    let go = |from: &str, to: &str, quantity| moved(from, to, quantity, MoveReason::Count, None);
    refused(Journal::stocked, 1, go("bin-a", "count", 11), "balance", "would become -1");
    refused(Journal::stocked, 1, go("bin-a", "count", 0), "stock_move", "not above zero");
    refused(Journal::stocked, 1, go("bin-a", "count", -1), "stock_move", "not above zero");
    refused(Journal::stocked, 1, go("bin-a", "bin-a", 1), "stock_move", "goes nowhere");
    refused(Journal::stocked, 1, go("bin-z", "count", 1), "place", "unknown");
    refused(Journal::working, 1, go("supplier", "bin-a", 1), "lot", "unknown");
    refused(Journal::stocked, 1, go("supplier", "bin-a", i64::MAX), "balance", "too large");
    let nobody = Wanter { step: StepNo(9), ..wanter() };
    let to_nobody = moved("bin-a", "job-1", 1, MoveReason::Issue, Some(nobody));
    refused(Journal::stocked, 1, to_nobody, "step", "unknown");
}

#[test]
fn demands_count_what_is_wanted_issued_and_returned() {
    assert_eq!(all::<DemandRow>(&after(vec![wants(4)]).books()), [demand(4, 0, 0, 0)]);
    let back = moved("job-1", "bin-a", 1, MoveReason::Return, Some(wanter()));
    let used = moved("job-1", "used", 2, MoveReason::Used, Some(wanter()));
    let books = after(vec![wants(4), issue(3), back.clone(), used, wants(5)]).books();
    assert_eq!(all::<DemandRow>(&books), [demand(5, 0, 2, 0)]);
    assert_eq!(one::<JobRow>(&books, &(JOB,)).version, 15);
    refused(|| after(vec![issue(1), wants(1)]), 9, back, "demand", "would become -1");
    refused(Journal::stocked, 1, wants(-1), "demand", "below zero");
}

#[test]
fn reservations_grow_and_shrink_with_hold_and_demand() {
    let facts = vec![wants(6), reserve(1, 2), reserve(1, 3)];
    let books = after(facts.clone()).books();
    let row = ReservationRow {
        reservation: ReservationId(id(1)),
        job: JOB,
        stage: strip(),
        step: StepNo(1),
        item: gasket(),
        place: bin(),
        quantity: Quantity(5),
        made_n: 12,
    };
    assert_eq!(all::<ReservationRow>(&books), std::slice::from_ref(&row));
    assert_eq!(all::<HoldRow>(&books), [hold("bin-a", 10, 0, 5)]);
    assert_eq!(all::<DemandRow>(&books), [demand(6, 5, 0, 0)]);
    let less = || after([facts.clone(), vec![reduce(1, 0)]].concat());
    let books = less().books();
    assert_eq!(all::<ReservationRow>(&books), [ReservationRow { quantity: Quantity(0), ..row }]);
    assert_eq!(all::<HoldRow>(&books), [hold("bin-a", 10, 0, 0)]);
    assert_eq!(all::<DemandRow>(&books), [demand(6, 0, 0, 0)]);
    assert_eq!(one::<JobRow>(&books, &(JOB,)).version, 14);

    refused(less, 9, reduce(1, 0), "reservation", "does not shrink");
    refused(|| after(facts.clone()), 9, reduce(1, 5), "reservation", "does not shrink");
    refused(|| after(facts.clone()), 9, reduce(1, -1), "reservation", "does not shrink");
    refused(|| after(facts.clone()), 9, reserve(1, 0), "reservation", "not above zero");
    refused(Journal::stocked, 9, reduce(1, 0), "reservation", "unknown");
    refused(Journal::stocked, 9, reserve(1, 1), "demand", "unknown");
}

#[test]
fn a_reservation_keeps_its_step_and_lies_at_a_held_place() {
    let at_place = |place: &str| Fact::Reserved {
        reservation: ReservationId(id(1)),
        wanter: wanter(),
        item: gasket(),
        place: PlaceKey::from(place),
        quantity: Quantity(1),
    };
    refused(|| after(vec![wants(6)]), 9, at_place("supplier"), "reservation", "holds no stock");
    refused(|| after(vec![wants(6), reserve(1, 1)]), 9, at_place("job-1"), "reservation", "another step or place");
    let moved_away = Fact::ReservationReduced {
        reservation: ReservationId(id(1)),
        wanter: Wanter { step: StepNo(2), ..wanter() },
        item: gasket(),
        place: bin(),
        left: Quantity(0),
        why: ReservationChange::Issued,
    };
    refused(|| after(vec![wants(6), reserve(1, 1)]), 9, moved_away, "reservation", "another step or place");
}

#[test]
fn shortages_open_change_and_are_over_at_nothing() {
    let shortage = ShortageId(id(1));
    let open = Fact::ShortageOpened { shortage, wanter: wanter(), item: gasket(), quantity: Quantity(4) };
    let change = |left| Fact::ShortageChanged { shortage, wanter: wanter(), item: gasket(), left: Quantity(left) };
    let row = ShortageRow {
        shortage,
        job: JOB,
        stage: strip(),
        step: StepNo(1),
        item: gasket(),
        quantity: Quantity(4),
        since: minute(2),
        opened_n: 12,
        closed_n: None,
    };
    let opened = || after(vec![wants(6), open.clone()]);
    assert_eq!(all::<ShortageRow>(&opened().books()), std::slice::from_ref(&row));
    assert_eq!(all::<DemandRow>(&opened().books()), [demand(6, 0, 0, 4)]);
    let less = after(vec![wants(6), open.clone(), change(1)]).books();
    assert_eq!(all::<ShortageRow>(&less), [ShortageRow { quantity: Quantity(1), ..row.clone() }]);
    assert_eq!(all::<DemandRow>(&less), [demand(6, 0, 0, 1)]);
    let over = || after(vec![wants(6), open.clone(), change(1), change(0)]);
    let closed = ShortageRow { quantity: Quantity(0), closed_n: Some(14), ..row };
    assert_eq!(all::<ShortageRow>(&over().books()), [closed]);
    assert_eq!(all::<DemandRow>(&over().books()), [demand(6, 0, 0, 0)]);
    assert_eq!(one::<JobRow>(&over().books(), &(JOB,)).version, 14);

    refused(over, 9, change(1), "shortage", "was over before");
    refused(opened, 9, change(-1), "shortage", "can't become -1");
    refused(opened, 9, open.clone(), "shortage", "there already");
    refused(Journal::stocked, 9, open.clone(), "demand", "unknown");
    let other = Wanter { step: StepNo(2), ..wanter() };
    let astray = Fact::ShortageChanged { shortage, wanter: other, item: gasket(), left: Quantity(0) };
    refused(opened, 9, astray, "shortage", "for another step");
}
