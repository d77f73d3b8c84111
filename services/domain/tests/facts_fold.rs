//! What single facts do to the rows, beside the auditor's own fold of the same facts.

mod by_hand;

use by_hand::{ANN, Hand, JOB, at, calendar, id, moved, stage, text, wanter};
use leadhand_facts::words::{MoveReason, ReservationChange, StageKind, StageState};
use leadhand_facts::*;

fn hours(hand: &Hand) -> Vec<(Instant, Instant, i64)> {
    hand.state.open_windows.iter().map(|row| (row.from_at, row.until_at, row.set_n)).collect()
}

fn window(from: i64, until: i64) -> Window {
    Window { from: at(from), until: at(until) }
}

/// New hours from Tuesday 10:00 to Wednesday 12:00 cut both days; what is left of them keeps
/// the fact that set it.
#[test]
fn new_hours_cut_the_old_ones() {
    let mut hand = Hand::shop();
    let day = 1440;
    let set = hand.state.open_windows.iter().next().expect("hours").set_n;
    let fact = calendar(2, None, (at(day + 120), at(2 * day + 240)), vec![window(day + 180, day + 300)]);
    let n = hand.fact(0, fact);
    assert_eq!(
        hours(&hand),
        [
            (at(0), at(540), set),
            (at(day), at(day + 120), set),
            (at(day + 180), at(day + 300), n),
            (at(2 * day + 240), at(2 * day + 540), set),
            (at(3 * day), at(3 * day + 540), set),
            (at(4 * day), at(4 * day + 540), set),
        ]
    );
    assert_eq!(hand.state.shop.get(&()).map(|shop| shop.calendar_revision), Some(2));
    hand.agrees_with_the_auditor();
}

#[test]
fn a_shift_cuts_nobody_elses() {
    let mut hand = Hand::shop();
    let before = hours(&hand);
    hand.fact(0, calendar(2, Some(ANN), (at(0), at(1440)), vec![window(0, 240)]));
    hand.fact(0, calendar(3, Some(by_hand::BOB), (at(0), at(1440)), vec![window(60, 300)]));
    assert_eq!(hours(&hand), before);
    assert_eq!(hand.state.shift_windows.len(), 2);
    hand.agrees_with_the_auditor();
}

#[test]
fn a_job_brings_place_stages_steps_and_texts() {
    let hand = Hand::with_job(None);
    let job = hand.state.jobs.get(&(JOB,)).expect("the job");
    assert_eq!((job.last_stage, job.last_blocker, job.version), (4, 0, hand.state.head));
    assert_eq!(hand.state.places.get(&("job-1".into(),)).and_then(|place| place.job), Some(JOB));
    assert_eq!((hand.state.stages.len(), hand.state.afters.len(), hand.state.steps.len()), (4, 3, 3));
    assert!(hand.state.texts.get(&(job.title_text.expect("a typed title"),)).is_some());
    assert_eq!(hand.state.shop.get(&()).map(|shop| shop.last_job), Some(1));
    hand.agrees_with_the_auditor();
}

/// A stage in front of another: the other comes after it from now on and is held.
#[test]
fn a_stage_in_front_of_another() {
    let mut hand = Hand::with_job(None);
    let added = stage("wash", 5, StageKind::Work, (5, 10, 20), &[]);
    hand.fact(3, Fact::StageAdded { job: JOB, stage: added, before: vec!["drain".into()] });
    let held = hand.fact(3, Fact::StageHeld { job: JOB, stage: "drain".into() });
    let drain = hand.state.stages.get(&(JOB, "drain".into())).expect("the stage");
    assert_eq!((drain.ready_at, drain.ready_n, drain.state), (None, None, StageState::Pending));
    let after = hand.state.afters.get(&(JOB, "drain".into(), "wash".into())).expect("the new predecessor");
    assert_eq!(after.wait_minutes, 0);
    let job = hand.state.jobs.get(&(JOB,)).expect("the job");
    assert_eq!((job.last_stage, job.version), (5, held));
    hand.agrees_with_the_auditor();
}

#[test]
fn when_a_stage_became_ready_outlives_its_end() {
    let mut hand = Hand::with_job(None);
    let started = hand.start(5, "drain");
    let ended = hand.finish(25, "drain");
    let drain = hand.state.stages.get(&(JOB, "drain".into())).expect("the stage");
    assert_eq!((drain.ready_at, drain.started_at, drain.ended_at), (Some(at(0)), Some(at(5)), Some(at(25))));
    assert_eq!((drain.started_n, drain.ended_n), (Some(started), Some(ended)));
    hand.agrees_with_the_auditor();
}

fn lot(hand: &mut Hand, lot: u128, quantity: i64) {
    hand.fact(0, Fact::LotMade { lot: LotId(id(lot)), item: "gasket".into(), expires_on: None });
    hand.moved(0, lot, ("supplier", "bin-a1"), quantity, MoveReason::Receipt);
}

/// On hand, expired, reserved.
fn hold(hand: &Hand, place: &str) -> (i64, i64, i64) {
    let row = hand.state.holds.get(&("gasket".into(), place.into())).expect("the sums");
    (row.on_hand.0, row.expired.0, row.reserved.0)
}

/// Wanted, reserved, issued, short.
fn demand(hand: &Hand) -> (i64, i64, i64, i64) {
    let row = hand.state.demands.get(&(JOB, "strip".into(), StepNo(1), "gasket".into())).expect("the demand");
    (row.wanted.0, row.reserved.0, row.issued.0, row.short.0)
}

fn balance(hand: &Hand, lot: u128, place: &str) -> Option<i64> {
    hand.state.balances.get(&("gasket".into(), LotId(id(lot)), place.into())).map(|row| row.quantity.0)
}

fn reserved(quantity: i64) -> Fact {
    let (reservation, quantity) = (ReservationId(id(0x4e5)), Quantity(quantity));
    Fact::Reserved { reservation, wanter: wanter("strip"), item: "gasket".into(), place: "bin-a1".into(), quantity }
}

fn reduced(left: i64, why: ReservationChange) -> Fact {
    let (reservation, left) = (ReservationId(id(0x4e5)), Quantity(left));
    let (item, place) = ("gasket".into(), "bin-a1".into());
    Fact::ReservationReduced { reservation, wanter: wanter("strip"), item, place, left, why }
}

/// Double entry: what leaves one place arrives at another, lot by lot, and each sum follows.
#[test]
fn stock_from_the_supplier_to_the_job_and_back() {
    let mut hand = Hand::with_job(None);
    lot(&mut hand, 1, 10);
    assert_eq!((balance(&hand, 1, "supplier"), balance(&hand, 1, "bin-a1")), (Some(-10), Some(10)));
    let (item, wanted) = (ItemKey::from("gasket"), Quantity(6));
    hand.fact(1, Fact::DemandSet { wanter: wanter("strip"), item: item.clone(), wanted });
    hand.fact(1, reserved(3));
    hand.fact(1, reserved(2));
    let shortage = ShortageId(id(0x50));
    let quantity = Quantity(1);
    hand.fact(1, Fact::ShortageOpened { shortage, wanter: wanter("strip"), item: item.clone(), quantity });
    assert_eq!((hold(&hand, "bin-a1"), demand(&hand)), ((10, 0, 5), (6, 5, 0, 1)));
    hand.fact(2, reduced(1, ReservationChange::Issued));
    let n = hand.fact(2, moved(1, ("bin-a1", "job-1"), 4, MoveReason::Issue, Some(wanter("strip"))));
    assert_eq!((hold(&hand, "bin-a1"), hold(&hand, "job-1"), demand(&hand)), ((6, 0, 1), (4, 0, 0), (6, 1, 4, 1)));
    hand.fact(3, moved(1, ("job-1", "bin-a1"), 4, MoveReason::Return, Some(wanter("strip"))));
    assert_eq!((demand(&hand), balance(&hand, 1, "job-1")), ((6, 1, 0, 1), Some(0)), "the row stays at nothing");
    let closed = hand.fact(3, Fact::ShortageChanged { shortage, wanter: wanter("strip"), item, left: Quantity(0) });
    let row = hand.state.shortages.get(&(shortage,)).expect("the shortage");
    assert_eq!((row.quantity, row.closed_n, demand(&hand).3), (Quantity(0), Some(closed), 0));
    assert!(hand.state.moves.get(&(n,)).is_some_and(|row| row.step == Some(StepNo(1))));
    let sum: i64 = hand.state.balances.iter().map(|row| row.quantity.0).sum();
    assert_eq!(sum, 0, "nothing appears or vanishes");
    hand.agrees_with_the_auditor();
}

/// What is left of an expired lot is counted wherever it is held, and follows it when it moves.
#[test]
fn an_expired_lot_is_counted_where_it_lies() {
    let mut hand = Hand::with_job(None);
    lot(&mut hand, 1, 10);
    lot(&mut hand, 2, 5);
    hand.moved(1, 1, ("bin-a1", "job-1"), 4, MoveReason::Issue);
    hand.fact(2, Fact::LotExpired { lot: LotId(id(1)), item: "gasket".into() });
    assert_eq!((hold(&hand, "bin-a1"), hold(&hand, "job-1")), ((11, 6, 0), (4, 4, 0)));
    hand.moved(3, 1, ("bin-a1", "scrap"), 6, MoveReason::Scrap);
    assert_eq!((hold(&hand, "bin-a1"), balance(&hand, 1, "scrap")), ((5, 0, 0), Some(6)));
    hand.agrees_with_the_auditor();
}

/// Each misfit says in a sentence what does not fit, and nothing of it stays.
#[test]
fn facts_that_do_not_fit() {
    let mut hand = Hand::with_job(None);
    lot(&mut hand, 1, 10);
    let before = format!("{:?}", hand.state.balances.iter().collect::<Vec<_>>());
    let gone = hand.misfit(1, moved(1, ("bin-a1", "scrap"), 11, MoveReason::Scrap, None));
    assert_eq!(gone.number, hand.state.head + 1);
    assert!(gone.to_string().contains("place 'bin-a1' would hold -1"), "{gone}");
    let nowhere = hand.misfit(1, moved(1, ("bin-a1", "bin-z9"), 1, MoveReason::Issue, None));
    assert!(nowhere.why.contains("table 'place' has no row"), "{nowhere}");
    let unwanted = hand.misfit(1, reserved(1));
    assert!(unwanted.why.contains("table 'demand' has no row"), "{unwanted}");
    let unknown = hand.misfit(1, Fact::JobCompleted { job: JobNo(9), overridden: None, lines: vec![] });
    assert!(unknown.why.contains("table 'job' has no row"), "{unknown}");
    let twice = hand.misfit(1, Fact::PersonAdded { person: ANN, name: text(9), skills: vec![] });
    assert!(twice.why.contains("already"), "{twice}");
    let much = hand.misfit(1, moved(1, ("supplier", "bin-a1"), i64::MAX, MoveReason::Receipt, None));
    assert!(much.why.contains("leaves the range of numbers"), "{much}");
    assert_eq!(format!("{:?}", hand.state.balances.iter().collect::<Vec<_>>()), before);
    assert_eq!(hand.state.texts.get(&(text(9).id,)), None, "the refused person's name is not noted");
    hand.agrees_with_the_auditor();
}

#[test]
fn a_gap_in_the_numbers_does_not_fit() {
    let mut hand = Hand::shop();
    let mut entry = hand.entries.last().expect("entries").clone();
    entry.number += 5;
    let broken = leadhand_domain::apply::apply(&mut hand.state, &entry).expect_err("a gap");
    assert!(broken.why.contains(&format!("number {}", hand.state.head + 1)), "{broken}");
    hand.agrees_with_the_auditor();
}

#[test]
fn a_forgotten_person_keeps_the_id_only() {
    let mut hand = Hand::shop();
    let n = hand.fact(5, Fact::PersonForgotten { person: ANN, texts: vec![text(2).id] });
    assert!(hand.state.persons.get(&(ANN,)).is_some_and(|row| row.forgotten));
    assert_eq!(hand.state.texts.get(&(text(2).id,)).and_then(|row| row.erased_n), Some(n));
    assert_eq!(hand.state.texts.get(&(text(3).id,)).and_then(|row| row.erased_n), None);
    hand.agrees_with_the_auditor();
}
