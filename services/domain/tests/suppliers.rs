//! Suppliers with their rounds, which item comes from whom, and what was told to whom: what is kept, and what is refused
//! with which sentence. The rules are the project's own; what the rounds say about cut-offs and arrivals is tested beside
//! `services/domain/src/supplier.rs`.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::supplier::order_of;
use leadhand_facts::rows::{SupplierRow, ToldRow};
use leadhand_facts::supplier::Round;
use leadhand_facts::*;
use stock_kit::{Shop, instant};

fn round(weekdays: &[i32], order_by_minute: i32, here_minute: i32, days_later: i32) -> Round {
    Round { weekdays: weekdays.to_vec(), order_by_minute, here_minute, days_later }
}

fn north(rounds: &[Round]) -> SetSupplier {
    SetSupplier { supplier: "north".into(), name: "North Parts".into(), rounds: rounds.to_vec() }
}

fn from(item: &str, supplier: Option<&str>) -> SetItemSupplier {
    SetItemSupplier { item: item.into(), supplier: supplier.map(Into::into) }
}

/// 2026-05-04 was a Monday (ISO 8601 week date 2026-W19-1).
fn shop() -> Shop {
    let mut shop = Shop::open("Europe/Berlin", "2026-05-04T08:05:00Z");
    shop.item("gasket");
    shop
}

fn rows(shop: &Shop) -> Vec<SupplierRow> {
    shop.state.suppliers.iter().cloned().collect()
}

#[test]
fn the_last_word_about_a_supplier_and_an_item_holds() {
    let mut shop = shop();
    shop.must(north(&[round(&[5, 1], 630, 840, 0)]));
    assert_eq!(rows(&shop)[0].rounds, [round(&[1, 5], 630, 840, 0)], "weekdays are kept in order");
    shop.must(from("gasket", Some("north")));
    let order = order_of(&shop.state, &"gasket".into(), shop.now).unwrap();
    let next = order.next.unwrap();
    // IANA time zone database: Berlin is at UTC+2 in May, so 10:30 there is 08:30 UTC.
    assert_eq!((order.name.as_str(), next.order_by), ("North Parts", instant("2026-05-04T08:30:00Z")));
    assert_eq!((next.here_at, next.today), (instant("2026-05-04T12:00:00Z"), true));
    shop.must(SetSupplier { name: "North Parts and Sons".into(), ..north(&[]) });
    let order = order_of(&shop.state, &"gasket".into(), shop.now).unwrap();
    assert_eq!((order.name.as_str(), order.next), ("North Parts and Sons", None));
    shop.must(from("gasket", None));
    assert_eq!(order_of(&shop.state, &"gasket".into(), shop.now), None, "nothing is said without a supplier");
    assert_eq!(rows(&shop).len(), 1);
}

#[test]
fn the_same_word_again_is_nothing_to_do() {
    let mut shop = shop();
    shop.must(north(&[round(&[1, 5], 630, 840, 0)]));
    assert_eq!(shop.refused(north(&[round(&[5, 1], 630, 840, 0)])).reason(), "NOTHING_TO_DO");
    assert_eq!(shop.refused(from("gasket", None)).reason(), "NOTHING_TO_DO");
    shop.must(from("gasket", Some("north")));
    assert_eq!(shop.refused(from("gasket", Some("north"))).reason(), "NOTHING_TO_DO");
}

#[test]
fn what_is_not_there_is_named() {
    let mut shop = shop();
    let refused = shop.refused(from("gasket", Some("south")));
    assert_eq!(refused.reason(), "NOT_FOUND");
    assert!(refused.to_string().starts_with("there is no supplier 'south'; "), "{refused}");
    let refused = shop.refused(from("seal", None));
    assert!(refused.to_string().starts_with("there is no item 'seal'; "), "{refused}");
}

#[test]
fn a_round_that_can_t_be_is_refused_with_its_field() {
    let mut shop = shop();
    let usual = || round(&[1], 630, 840, 0);
    let twenty_one: Vec<Round> = (0..21).map(|at| round(&[1], 600 + at, 840, 0)).collect();
    for (rounds, field, says) in [
        (vec![round(&[], 630, 840, 0)], "rounds[0].weekdays", "no weekday is said"),
        (vec![round(&[0], 630, 840, 0)], "rounds[0].weekdays", "0 is no weekday"),
        (vec![round(&[8], 630, 840, 0)], "rounds[0].weekdays", "8 is no weekday"),
        (vec![round(&[2, 2], 630, 840, 0)], "rounds[0].weekdays", "Tuesday is said twice"),
        (vec![round(&[1], -1, 840, 0)], "rounds[0].order_by_minute", "-1 is no minute of a day"),
        (vec![round(&[1], 1_440, 840, 1)], "rounds[0].order_by_minute", "1440 is no minute of a day"),
        (vec![round(&[1], 630, 1_440, 0)], "rounds[0].here_minute", "1440 is no minute of a day"),
        (vec![round(&[1], 630, 630, 0)], "rounds[0].here_minute", "10:30 is not after the cut-off at 10:30"),
        (vec![round(&[1], 630, 480, 0)], "rounds[0].here_minute", "8:00 is not after the cut-off at 10:30"),
        (vec![round(&[1], 630, 840, -1)], "rounds[0].days_later", "-1 days do not fit"),
        (vec![round(&[1], 630, 840, 15)], "rounds[0].days_later", "15 days do not fit"),
        (vec![usual(), round(&[5, 1], 630, 900, 0)], "rounds[1].weekdays", "Monday 10:30 is the cut-off of another"),
        (twenty_one, "rounds", "21 rounds and at most 20 fit"),
    ] {
        let refused = shop.refused(north(&rounds));
        assert_eq!(refused.field(), Some(format!("supplier.{field}").as_str()), "{refused}");
        assert!(refused.to_string().contains(says), "{refused}");
    }
    let twenty: Vec<Round> = (0..20).map(|at| round(&[1], 600 + at, 840, 14)).collect();
    shop.must(north(&twenty));
}

#[test]
fn a_supplier_has_a_key_and_a_name_and_there_are_two_hundred_at_most() {
    let mut shop = shop();
    for (supplier, name, field) in [
        ("no key", "North", "supplier.supplier"),
        ("none", "North", "supplier.supplier"),
        ("north", " ", "supplier.name"),
        ("north", &"n".repeat(201), "supplier.name"),
        ("north", "two\nlines", "supplier.name"),
    ] {
        let asked = SetSupplier { supplier: supplier.into(), name: name.into(), rounds: vec![] };
        assert_eq!(shop.refused(asked).field(), Some(field), "{supplier}");
    }
    let listed =
        |n: i32| SetSupplier { supplier: SupplierKey(format!("s-{n}")), name: "Some firm".into(), rounds: vec![] };
    for n in 0..200 {
        shop.must(listed(n));
    }
    assert_eq!(shop.refused(listed(200)).field(), Some("supplier.supplier"));
    shop.must(SetSupplier { name: "Another firm".into(), ..listed(7) });
}

fn tell(job: JobNo, whom: Option<&str>) -> RecordTold {
    RecordTold { job, whom: whom.map(str::to_owned), words: "two studs are broken".into(), promised_at: None }
}

fn told(shop: &Shop) -> Vec<ToldRow> {
    shop.state.told.iter().cloned().collect()
}

#[test]
fn what_was_told_stands_as_it_was_said() {
    let mut shop = shop();
    let job = shop.job(3, &[("strip", &[])]);
    let promised_at = Some(instant("2026-05-05T16:00:00Z"));
    let asked = RecordTold { promised_at, ..tell(job, Some("the driver")) };
    let earlier = shop.now.plus_minutes(-10);
    shop.now = shop.now.plus_minutes(30);
    let answer = shop.run_at(&asked.into(), shop.now.plus_minutes(-20)).unwrap();
    assert!(matches!(answer.made, Made::Told { told: ToldNo(1), .. }));
    let row = told(&shop).remove(0);
    assert_eq!((row.told_at, row.promised_at), (shop.now.plus_minutes(-20), promised_at), "entered late");
    assert_eq!((row.customer, row.whom.is_some()), (None, true));
    assert_eq!(shop.state.jobs.get(&(job,)).unwrap().promised_at, None, "telling it promises nothing by itself");
    let early = shop.run_at(&tell(job, Some("the driver")).into(), earlier).unwrap_err();
    assert_eq!(early.reason(), "TOO_EARLY", "before the job was opened");
    shop.must(WithdrawTold { job, told: ToldNo(1), reason: "it was another job".into() });
    assert!(told(&shop)[0].withdrawn_n.is_some());
    let twice = WithdrawTold { job, told: ToldNo(1), reason: "it was another job".into() };
    assert_eq!(shop.refused(twice).reason(), "NOTHING_TO_DO");
    assert!(matches!(shop.must(tell(job, Some("the driver"))).made, Made::Told { told: ToldNo(2), .. }));
}

#[test]
fn the_customer_is_told_where_there_is_one() {
    let mut shop = shop();
    let job = shop.job(3, &[("strip", &[])]);
    let refused = shop.refused(tell(job, None));
    assert_eq!(refused.reason(), "NOBODY_TO_TELL");
    assert!(refused.to_string().contains("nobody is named as the customer of job 1"), "{refused}");
    let Made::Customer(customer) = shop.must(AddCustomer { name: "Heather".into(), contact: None, note: None }).made
    else {
        panic!("no customer was added")
    };
    let vehicle = shop.state.vehicles.iter().next().unwrap().vehicle;
    let (plate, weight_kg, whose) = (Change::Keep, Change::Keep, Change::Set(customer));
    shop.must(EditVehicle { vehicle, label: None, plate, weight_kg, customer: whose, earlier_jobs: false });
    shop.must(tell(job, None));
    assert_eq!((told(&shop)[0].customer, told(&shop)[0].whom), (Some(customer), None));
}

#[test]
fn what_can_t_have_been_told_is_refused() {
    let mut shop = shop();
    let job = shop.job(3, &[("strip", &[])]);
    let over = RecordTold { promised_at: Some(shop.now), ..tell(job, Some("the driver")) };
    assert_eq!(shop.refused(over).field(), Some("promised_at"));
    let silent = RecordTold { words: " ".into(), ..tell(job, Some("the driver")) };
    assert_eq!(shop.refused(silent).field(), Some("words"));
    let long = RecordTold { words: "w".repeat(2_001), ..tell(job, Some("the driver")) };
    assert_eq!(shop.refused(long).field(), Some("words"));
    assert_eq!(shop.refused(tell(job, Some(&"d".repeat(201)))).field(), Some("whom"));
    let unknown = shop.refused(WithdrawTold { job, told: ToldNo(1), reason: "why not".into() });
    assert!(unknown.to_string().starts_with("there is no entry of what was told '1' of job '1'; "), "{unknown}");
    shop.must(tell(job, Some("the driver")));
    let early = WithdrawTold { job, told: ToldNo(1), reason: "why not".into() };
    shop.now = shop.now.plus_minutes(60);
    shop.must(tell(job, Some("the driver")));
    let late = shop.now;
    let second = WithdrawTold { told: ToldNo(2), ..early.clone() };
    assert_eq!(shop.run_at(&second.into(), late.plus_minutes(-30)).unwrap_err().reason(), "TOO_EARLY");
    shop.must(CancelJob { job, reason: "not today".into(), as_it_is: false });
    assert_eq!(shop.refused(tell(job, Some("the driver"))).reason(), "JOB_CLOSED");
    assert_eq!(shop.refused(early).reason(), "JOB_CLOSED");
    assert_eq!(shop.refused(tell(JobNo(9), Some("the driver"))).reason(), "NOT_FOUND");
}
