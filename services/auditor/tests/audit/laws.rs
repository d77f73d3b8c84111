//! Each law of stock, time and persons with rows that break it, and nothing else.

use crate::kit::{CUSTOMER, text};
use crate::sample;
use leadhand_auditor::laws::LAWS;
use leadhand_auditor::{Books, Kept, check_books};
use leadhand_facts::rows::{
    BalanceRow, BayRow, ClockingRow, DemandRow, HoldRow, JobRow, LotRow, MoveRow, OpenWindowRow, PersonRow,
    ReservationRow, ShiftWindowRow, ShortageRow, StayRow, TextRow, VehicleRow,
};
use leadhand_facts::words::{BayKind, JobState};
use leadhand_facts::{BayKey, ClockingId, Instant, PersonId, Quantity, StayId, VehicleId};

/// Laws broken, each once, after the sample's books were changed.
pub fn broken(change: impl Fn(&mut Books)) -> Vec<&'static str> {
    let mut books = sample::journal().books();
    change(&mut books);
    let mut laws: Vec<&str> = check_books(&books).into_iter().map(|violation| violation.law).collect();
    laws.dedup();
    for law in &laws {
        assert!(LAWS.iter().any(|(name, _)| name == law));
    }
    laws
}

/// Changes the first row of a table for which `which` holds.
pub fn edit<R: Kept>(books: &mut Books, which: impl Fn(&R) -> bool, change: impl Fn(&mut R)) {
    let row = books.rows::<R>().find(|row| which(row)).cloned().expect("the sample has such a row");
    let mut other = row.clone();
    change(&mut other);
    books.tables_mut().remove::<R>(&row.key());
    books.tables_mut().put(other);
}

/// Laws broken after the first row of a table was changed.
pub fn broken_by<R: Kept>(which: impl Fn(&R) -> bool, change: impl Fn(&mut R)) -> Vec<&'static str> {
    broken(|books| edit(books, &which, &change))
}

pub fn any<R>(_: &R) -> bool {
    true
}

#[test]
fn held_stock_covers_what_is_reserved() {
    // The bin has 6, all expired.
    let in_bin = |row: &HoldRow| row.place.as_str() == "bin-a";
    assert_eq!(broken_by(in_bin, |row| row.reserved = Quantity(1)), ["hold", "reserved"]);
    assert_eq!(broken_by(in_bin, |row| row.reserved = Quantity(-1)), ["hold", "reserved"]);
    assert_eq!(broken_by(in_bin, |row| row.expired = Quantity(5)), ["on-hand"]);
    assert_eq!(broken_by(in_bin, |row| row.on_hand = Quantity(7)), ["on-hand"]);
    assert_eq!(broken_by(in_bin, |row| row.on_hand = Quantity(5)), ["hold", "on-hand"]);
    let gone = broken(|books| edit::<HoldRow>(books, in_bin, |row| row.place = "bin-z".into()));
    assert_eq!(gone, ["on-hand", "reserved"]);
    let freed = broken_by(any::<LotRow>, |row| row.expired = false);
    assert_eq!(freed, ["on-hand"]);
}

#[test]
fn lots_and_movements_add_up() {
    let at_supplier = |row: &BalanceRow| row.place.as_str() == "supplier";
    assert_eq!(broken_by(at_supplier, |row| row.quantity = Quantity(-9)), ["lot-zero", "balance"]);
    assert_eq!(broken_by(at_supplier, |row| row.held = true), ["on-hand", "balance"]);
    assert_eq!(broken_by(at_supplier, |row| row.place = "count".into()), ["balance"]);
    let at_job = |row: &BalanceRow| row.place.as_str() == "job-1";
    let below = broken(|books| {
        edit::<BalanceRow>(books, at_job, |row| row.quantity = Quantity(-3));
        edit::<BalanceRow>(books, at_supplier, |row| row.quantity = Quantity(-4));
        edit::<HoldRow>(books, |row| row.place.as_str() == "job-1", |row| row.on_hand = Quantity(-3));
    });
    assert!(below.contains(&"balance") && below.contains(&"hold"), "{below:?}");
    let nothing = broken_by(any::<MoveRow>, |row| row.quantity = Quantity(0));
    assert_eq!(nothing, ["lot-zero", "balance"]);
}

#[test]
fn demands_agree_with_reservations_shortages_and_issues() {
    // Wanted 12, issued 4, short 1, reserved 0.
    assert_eq!(broken_by(any::<DemandRow>, |row| row.reserved = Quantity(1)), ["demand"]);
    assert_eq!(broken_by(any::<DemandRow>, |row| row.short = Quantity(2)), ["demand"]);
    assert_eq!(broken_by(any::<DemandRow>, |row| row.issued = Quantity(5)), ["demand"]);
    assert_eq!(broken_by(any::<DemandRow>, |row| row.issued = Quantity(-1)), ["demand"]);
    assert_eq!(broken_by(any::<DemandRow>, |row| row.wanted = Quantity(4)), ["demand"], "1 short of 0 wanted");
    assert_eq!(broken_by(any::<DemandRow>, |row| row.wanted = Quantity(5)), Vec::<&str>::new());
    assert_eq!(broken_by(any::<DemandRow>, |row| row.item = "oil".into()), ["demand"]);
    let reservation = broken_by(any::<ReservationRow>, |row| row.quantity = Quantity(1));
    assert_eq!(reservation, ["reserved", "demand"]);
    assert_eq!(broken_by(any::<ShortageRow>, |row| row.closed_n = Some(9)), ["shortage"]);
    assert_eq!(broken_by(any::<ShortageRow>, |row| row.quantity = Quantity(0)), ["demand", "shortage"]);
}

#[test]
fn a_bay_holds_one_vehicle_and_a_vehicle_one_bay() {
    let again = |bay: &str, vehicle: u128, until: Option<i64>| {
        broken(|books| {
            let row = books.rows::<StayRow>().next().unwrap().clone();
            let from_at = row.until_at.unwrap().plus_us(-1);
            let until_at = until.map(Instant);
            let (stay, bay) = (StayId(crate::kit::id(0x99)), BayKey::from(bay));
            let vehicle = VehicleId(crate::kit::id(vehicle));
            let (why_left, until_n) = (until_at.and(row.why_left), until_at.and(row.until_n));
            books.tables_mut().put(StayRow { stay, bay, vehicle, from_at, until_at, why_left, until_n, ..row });
        })
    };
    assert_eq!(again("b1", 0x99, None), ["stay"], "same bay");
    assert_eq!(again("b2", 0x21, None), ["stay"], "same vehicle");
    assert_eq!(again("b2", 0x99, None), Vec::<&str>::new());
    assert_eq!(again("b2", 0x99, Some(0)), ["stay"], "reversed");
    let touching = broken(|books| {
        let row = books.rows::<StayRow>().next().unwrap().clone();
        let (stay, from_at) = (StayId(crate::kit::id(0x99)), row.until_at.unwrap());
        books.tables_mut().put(StayRow { stay, from_at, until_at: None, why_left: None, until_n: None, ..row });
    });
    assert_eq!(touching, Vec::<&str>::new(), "one leaves as the next comes");
    assert_eq!(broken_by(any::<StayRow>, |row| row.until_at = Some(row.from_at)), ["stay", "place"], "empty");
    assert_eq!(broken_by(any::<StayRow>, |row| row.until_at = None), ["stay"], "left, with no end");
}

#[test]
fn a_person_is_clocked_on_once() {
    let again = |person: PersonId| {
        broken(|books| {
            let row = books.rows::<ClockingRow>().next().unwrap().clone();
            let (clocking, from_at) = (ClockingId(crate::kit::id(0x99)), row.from_at.plus_us(1));
            books.tables_mut().put(ClockingRow { clocking, person, from_at, ..row });
        })
    };
    assert_eq!(again(crate::kit::PERSON), ["clocking"]);
    assert_eq!(again(crate::kit::OTHER), Vec::<&str>::new());
    assert_eq!(broken_by(any::<ClockingRow>, |row| row.until_at = Some(row.from_at)), ["clocking"]);
    assert_eq!(broken_by(any::<ClockingRow>, |row| row.off_n = None), ["clocking"]);
    let open = |row: &mut ClockingRow| {
        row.until_at = None;
        row.off_n = None;
    };
    assert_eq!(broken_by(any::<ClockingRow>, open), ["clocking", "place"], "its stage has ended");
}

/// `strip` asks for a two-post lift; the vehicle was in b1, which is one, from minute 10 to 23. Work
/// was from 14 to 19, and from 10 to 13.
#[test]
fn work_lies_within_stays_in_fitting_bays() {
    use crate::kit::minute;
    let second = |row: &ClockingRow| row.from_at == minute(10);
    assert_eq!(broken_by(second, |row| row.from_at = minute(9)), ["place"], "before it came");
    let stay = |from: i64, until: i64| {
        broken_by(any::<StayRow>, move |row: &mut StayRow| {
            row.from_at = minute(from);
            row.until_at = Some(minute(until));
        })
    };
    assert_eq!(stay(10, 19), Vec::<&str>::new());
    assert_eq!(stay(10, 18), ["place"], "after it left");
    let other_kind = |row: &mut BayRow| row.kind = BayKind::Pit;
    assert_eq!(broken_by(any::<BayRow>, other_kind), ["place"], "in a bay that does not fit");
    let moved = |gap: i64| {
        broken(|books| {
            let row = books.rows::<StayRow>().next().unwrap().clone();
            edit::<StayRow>(books, any, |row| row.until_at = Some(minute(16)));
            let (stay, from_at) = (StayId(crate::kit::id(0x99)), minute(16).plus_us(gap));
            books.tables_mut().put(StayRow { stay, from_at, ..row });
        })
    };
    assert_eq!(moved(0), Vec::<&str>::new(), "one stay follows the other");
    assert_eq!(moved(1), ["place"], "with a gap");
}

#[test]
fn windows_do_not_overlap() {
    let more = |books: &mut Books, from: i64| {
        let row = books.rows::<OpenWindowRow>().next().unwrap().clone();
        let from_at = row.until_at.plus_us(from);
        books.tables_mut().put(OpenWindowRow { from_at, until_at: from_at.plus_us(5), ..row });
    };
    assert_eq!(broken(|books| more(books, -1)), ["windows"]);
    assert_eq!(broken(|books| more(books, 0)), Vec::<&str>::new());
    assert_eq!(broken_by(any::<OpenWindowRow>, |row| row.until_at = row.from_at), ["windows"]);
    let shift = broken(|books| {
        let row = books.rows::<ShiftWindowRow>().next().unwrap().clone();
        let from_at = row.from_at.plus_us(1);
        books.tables_mut().put(ShiftWindowRow { from_at, ..row.clone() });
        books.tables_mut().put(ShiftWindowRow { person: crate::kit::OTHER, ..row });
    });
    assert_eq!(shift, ["windows"]);
}

#[test]
fn a_forgotten_person_has_no_name() {
    assert_eq!(broken_by(|row: &TextRow| row.text == text(3).id, |row| row.erased_n = None), ["forgotten"]);
    assert_eq!(broken_by(|row: &PersonRow| !row.forgotten, |row| row.forgotten = true), ["forgotten"]);
}

#[test]
fn a_forgotten_customer_has_no_words_no_vehicle_and_no_open_job() {
    let erased = |row: &TextRow| row.erased_n.is_some() && row.text == text(80).id;
    assert_eq!(broken_by(erased, |row| row.erased_n = None), ["forgotten"]);
    assert_eq!(broken_by(any::<VehicleRow>, |row| row.customer = Some(CUSTOMER)), ["forgotten"]);
    let open = |row: &JobRow| row.state == JobState::Open;
    assert_eq!(broken_by(open, |row| row.customer = Some(CUSTOMER)), ["forgotten"]);
}

#[test]
fn a_violation_says_which_law_where_and_why() {
    let mut books = sample::journal().books();
    let open = |row: &JobRow| row.state == JobState::Open;
    edit(&mut books, open, |row| row.opened_at = Instant(0));
    assert_eq!(check_books(&books), []);
    edit(&mut books, open, |row| row.state = JobState::Cancelled);
    let shown = check_books(&books)[0].to_string();
    assert_eq!(shown, "law 'job-state' is broken in table 'job' by [1]: it is cancelled, its end says otherwise");
}
