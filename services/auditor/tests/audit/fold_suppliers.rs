//! Suppliers and what was told: what each fact makes of the rows, which facts can't be, and the laws with rows that
//! break them.

use crate::kit::{CUSTOMER, JOB, Journal, PERSON, all, gasket, minute, refused, text};
use crate::laws::{any, broken_by};
use leadhand_facts::fact::WantedTime;
use leadhand_facts::rows::{AskedRow, ItemRow, SupplierRow, ToldRow};
use leadhand_facts::supplier::Round;
use leadhand_facts::words::FluidKind;
use leadhand_facts::{AskNo, ClockingId, Fact, ItemFluid, JobNo, Measure, StageKey, ToldNo};

fn round(weekdays: &[i32], order_by_minute: i32, here_minute: i32, days_later: i32) -> Round {
    Round { weekdays: weekdays.to_vec(), order_by_minute, here_minute, days_later }
}

fn set(rounds: &[Round]) -> Fact {
    Fact::SupplierSet { supplier: "north".into(), name: "North Parts".into(), rounds: rounds.to_vec() }
}

fn comes_from(supplier: Option<&str>) -> Fact {
    Fact::ItemSupplierSet { item: gasket(), supplier: supplier.map(Into::into) }
}

fn told(told: i32, whom: bool, customer: bool, promised_minute: Option<i64>) -> Fact {
    Fact::SomebodyTold {
        job: JOB,
        told: ToldNo(told),
        person: Some(PERSON),
        customer: customer.then_some(CUSTOMER),
        whom: whom.then(|| text(110)),
        words: text(111),
        promised_at: promised_minute.map(minute),
    }
}

fn withdrawn(told: i32) -> Fact {
    Fact::ToldWithdrawn { job: JOB, told: ToldNo(told), reason: text(112) }
}

/// A journal with an item and a job, 8 facts, and then these, a minute apart.
fn after(facts: Vec<Fact>) -> Journal {
    let mut journal = Journal::working();
    for (minutes, fact) in (1..).zip(facts) {
        journal.at(minutes, fact);
    }
    journal
}

#[test]
fn the_last_word_about_a_supplier_holds() {
    let (first, second) = (round(&[1, 5], 630, 840, 0), round(&[1], 1_020, 480, 14));
    let books = after(vec![set(&[first]), comes_from(Some("north")), set(std::slice::from_ref(&second))]).books();
    let row = SupplierRow { supplier: "north".into(), name: "North Parts".into(), rounds: vec![second], set_n: 11 };
    assert_eq!(all::<SupplierRow>(&books), [row]);
    assert_eq!(all::<ItemRow>(&books)[0].supplier, Some("north".into()));
    let nobody = after(vec![set(&[]), comes_from(Some("north")), comes_from(None)]).books();
    assert_eq!(all::<ItemRow>(&nobody)[0].supplier, None);
}

/// The strength of a coolant is a share by volume. Arithmetic.
#[test]
fn the_last_word_about_a_fluid_holds_and_only_a_coolant_has_a_strength() {
    let is = |kind, millionths: Option<i64>| {
        let fluid = Some(ItemFluid { kind, strength: millionths.map(Measure) });
        Fact::ItemFluidSet { item: gasket(), fluid }
    };
    let half = is(FluidKind::Coolant, Some(50_000_000));
    let books = after(vec![is(FluidKind::Oil, None), half.clone()]).books();
    let strength = Some(Measure::whole(50));
    assert_eq!(all::<ItemRow>(&books)[0].fluid, Some(ItemFluid { kind: FluidKind::Coolant, strength }));
    let none = Fact::ItemFluidSet { item: gasket(), fluid: None };
    assert_eq!(all::<ItemRow>(&after(vec![half, none]).books())[0].fluid, None);
    for wrong in [(FluidKind::Oil, 1), (FluidKind::Coolant, 0), (FluidKind::Coolant, 100_000_001)] {
        refused(|| after(vec![]), 1, is(wrong.0, Some(wrong.1)), "item", "can't be");
    }
    refused(|| after(vec![]), 1, Fact::ItemFluidSet { item: "nothing".into(), fluid: None }, "item", "unknown");
}

#[test]
fn rounds_that_can_t_be_are_refused() {
    let none = || after(vec![]);
    for wrong in [
        round(&[], 630, 840, 0),
        round(&[0], 630, 840, 0),
        round(&[8], 630, 840, 0),
        round(&[2, 1], 630, 840, 0),
        round(&[1, 1], 630, 840, 0),
        round(&[1], -1, 840, 0),
        round(&[1], 1_440, 840, 1),
        round(&[1], 630, 1_440, 0),
        round(&[1], 630, 630, 0),
        round(&[1], 630, 840, -1),
        round(&[1], 630, 840, 15),
    ] {
        refused(none, 1, set(&[wrong]), "supplier", "can't be");
    }
    let twice = [round(&[1, 2], 630, 840, 0), round(&[2, 3], 630, 900, 0)];
    refused(none, 1, set(&twice), "supplier", "one cut-off");
    refused(none, 1, comes_from(Some("south")), "supplier", "unknown");
    let item = Fact::ItemSupplierSet { item: "nothing".into(), supplier: None };
    refused(none, 1, item, "item", "unknown");
}

#[test]
fn what_was_told_stays_until_it_is_withdrawn() {
    let books = after(vec![told(1, true, false, Some(90)), told(2, true, false, None), withdrawn(1)]).books();
    let rows = all::<ToldRow>(&books);
    let first = ToldRow {
        job: JOB,
        told: ToldNo(1),
        customer: None,
        whom: Some(text(110).id),
        words: text(111).id,
        promised_at: Some(minute(90)),
        told_at: minute(1),
        told_by: Some(PERSON),
        told_n: 9,
        withdrawn_n: Some(11),
        withdrawn_reason: Some(text(112).id),
    };
    assert_eq!(rows[0], first);
    assert_eq!((rows[1].told, rows[1].withdrawn_n), (ToldNo(2), None));
}

#[test]
fn what_can_t_have_been_told_is_refused() {
    let none = || after(vec![]);
    refused(none, 1, told(2, true, false, None), "job_told", "should be number 1");
    refused(none, 1, told(1, false, false, None), "job_told", "to nobody, or to two");
    refused(none, 1, told(1, false, true, None), "customer", "unknown");
    refused(none, 5, told(1, true, false, Some(5)), "job_told", "over when it was told");
    refused(none, 1, withdrawn(1), "job_told", "unknown");
    let once = || after(vec![told(1, true, false, None), withdrawn(1)]);
    refused(once, 3, withdrawn(1), "job_told", "withdrawn before");
    let mut early = after(vec![told(1, true, false, None)]);
    early.late(0, 2, withdrawn(1));
    assert!(early.fault().sentence.contains("before it was told"));
    let Fact::SomebodyTold { told, person, customer, whom, words, promised_at, .. } = told(1, true, false, None) else {
        unreachable!()
    };
    let nowhere = Fact::SomebodyTold { job: JobNo(9), told, person, customer, whom, words, promised_at };
    refused(none, 1, nowhere, "job", "unknown");
}

#[test]
fn an_item_names_a_supplier_that_is_there_and_what_was_told_is_whole() {
    assert_eq!(broken_by(any::<ItemRow>, |row| row.supplier = Some("nowhere".into())), ["supplier"]);
    assert_eq!(broken_by(any::<ToldRow>, |row| row.withdrawn_reason = None), ["told"]);
    assert_eq!(broken_by(any::<ToldRow>, |row| row.customer = Some(CUSTOMER)), ["told"]);
    assert_eq!(broken_by(any::<ToldRow>, |row| row.promised_at = Some(row.told_at)), ["told"]);
}

const WORK: ClockingId = ClockingId(uuid::Uuid::from_u128(0x53));

fn worked() -> Fact {
    let (person, stage, from_at, until_at) = (PERSON, StageKey::from("strip"), minute(0), minute(1));
    Fact::WorkRecorded { clocking: WORK, person, job: JOB, stage, from_at, until_at, overridden: None }
}

fn asked(ask: i32, entry: i64, wanted: Option<(i64, i64)>) -> Fact {
    let time = |(from, until)| WantedTime {
        job: JOB,
        stage: StageKey::from("strip"),
        from_at: minute(from),
        until_at: Some(minute(until)),
    };
    let wanted = wanted.map(time);
    Fact::CorrectionAsked {
        job: JOB,
        ask: AskNo(ask),
        clocking: WORK,
        entry,
        person: PERSON,
        wanted,
        reason: text(113),
    }
}

fn decided(ask: i32, taken: bool) -> Fact {
    Fact::CorrectionDecided { job: JOB, ask: AskNo(ask), by: Some(PERSON), taken, reason: text(114) }
}

#[test]
fn what_was_asked_for_can_be_meant_and_is_decided_once() {
    // A journal at work has 8 facts.
    let entry = 9;
    let work = || after(vec![worked()]);
    refused(work, 3, asked(2, entry, None), "asked_correction", "should be number 1");
    refused(work, 3, asked(1, entry + 1, None), "asked_correction", "is not about entry");
    refused(work, 3, asked(1, entry, Some((1, 1))), "asked_correction", "ends before it begins");
    refused(work, 3, decided(1, false), "asked_correction", "unknown");
    let once = || after(vec![worked(), asked(1, entry, Some((0, 2)))]);
    refused(once, 4, decided(1, true), "asked_correction", "the entry is as it was");
    let twice = || after(vec![worked(), asked(1, entry, None), decided(1, false)]);
    refused(twice, 5, decided(1, false), "asked_correction", "was decided before");
    let row = all::<AskedRow>(&twice().books()).remove(0);
    assert_eq!((row.taken, row.decided_by, row.answer), (Some(false), Some(PERSON), Some(text(114).id)));
}

#[test]
fn a_correction_that_was_asked_for_is_whole() {
    assert_eq!(broken_by(any::<AskedRow>, |row| row.taken = None), ["asked"]);
    assert_eq!(broken_by(any::<AskedRow>, |row| row.to_job = Some(JOB)), ["asked"]);
    assert_eq!(broken_by(any::<AskedRow>, |row| row.until_at = Some(minute(1))), ["asked"]);
}
