//! The rules of the parts room, one by one. Where no source is named, it is common practice in
//! parts rooms; promise 3 of the project says that nothing is promised twice.

mod stock_kit;

use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_facts::*;
use stock_kit::*;

const OPENED: &str = "2026-03-02T08:00:00Z";

fn shop() -> Shop {
    let mut shop = Shop::open("Europe/Lisbon", OPENED);
    shop.item("gasket");
    shop.bin("a");
    shop.bin("b");
    shop
}

#[test]
fn a_job_reserves_what_is_there_and_is_short_of_the_rest() {
    let mut shop = shop();
    shop.receive("gasket", "a", 3, None);
    let first = shop.job(2, &[("fit", &[("gasket", 2)])]);
    let second = shop.job(2, &[("fit", &[("gasket", 4)])]);
    assert_eq!(shop.reserve(first)[0].quantity, Quantity(2));
    let line = &shop.reserve(second)[0];
    assert_eq!((line.quantity, line.short), (Quantity(1), Quantity(3)));
    assert_eq!(line.held_by, [(first, Quantity(2))], "who holds the rest is told");
    assert_eq!(shop.hold("gasket", "a"), (3, 0, 3));
    assert_eq!(shop.blockers(second), 1, "the step that is next is held up");
    let again = &shop.reserve(second)[0];
    assert_eq!((again.quantity, again.short), (Quantity(0), Quantity(3)), "a repeat promises nothing twice");
    assert!(shop.facts.is_empty());
}

#[test]
fn the_fullest_bin_is_taken_first_then_by_key() {
    let mut shop = shop();
    shop.bin("c");
    shop.receive("gasket", "b", 5, None);
    shop.receive("gasket", "c", 2, None);
    shop.receive("gasket", "a", 2, None);
    let job = shop.job(2, &[("fit", &[("gasket", 6)])]);
    let line = &shop.reserve(job)[0];
    assert_eq!((line.quantity, &line.place), (Quantity(6), &None), "two bins, so none is named");
    assert_eq!(shop.hold("gasket", "b").2, 5);
    assert_eq!(shop.hold("gasket", "a").2, 1);
    assert_eq!(shop.hold("gasket", "c").2, 0);
}

#[test]
fn a_receipt_covers_shortages_by_priority_then_promise_then_number() {
    let mut shop = shop();
    let late = shop.job(3, &[("fit", &[("gasket", 2)])]);
    let early = shop.job(1, &[("fit", &[("gasket", 2)])]);
    let promised = shop.job(3, &[("fit", &[("gasket", 2)])]);
    let promised_at = Some(shop.now.plus_minutes(600));
    shop.must(PromiseJob { job: promised, priority: None, promised_at, withdraw_promise: false });
    for job in [late, early, promised] {
        shop.reserve(job);
    }
    let answer = shop.must(receive("gasket", "a", 5, None));
    assert_eq!(covered(&answer), [(early, 2), (promised, 2), (late, 1)]);
    assert_eq!((shop.blockers(early), shop.blockers(late)), (0, 1), "a part of it does not end the blocker");
    assert_eq!(covered(&shop.must(receive("gasket", "a", 5, None))), [(late, 1)]);
    assert_eq!(shop.blockers(late), 0, "the blocker ends by itself");
    assert_eq!(shop.hold("gasket", "a"), (10, 0, 6));
}

/// First expiring first out, as in the World Health Organization's guide to good storage
/// practices; then first received.
#[test]
fn lots_that_expire_first_are_issued_first() {
    let mut shop = shop();
    let never = shop.receive("gasket", "a", 2, None);
    let later = shop.receive("gasket", "a", 2, Some("2026-09-01"));
    let sooner = shop.receive("gasket", "a", 2, Some("2026-06-01"));
    let sooner_too = shop.receive("gasket", "a", 2, Some("2026-06-01"));
    let job = shop.job(2, &[("fit", &[("gasket", 7)])]);
    shop.reserve(job);
    shop.must(IssueStock { job, stage: None, item: None, quantity: None });
    assert_eq!(shop.moved(), [(sooner, 2), (sooner_too, 2), (later, 2), (never, 1)]);
    assert_eq!(shop.demand(job, "fit", 1, "gasket"), (7, 0, 7, 0));
    // What was received last comes back first.
    shop.must(take_back(job, "gasket", 3, "b"));
    assert_eq!(shop.moved(), [(sooner_too, 2), (sooner, 1)]);
    assert_eq!(shop.hold("gasket", "b"), (3, 0, 0));
}

#[test]
fn an_expired_lot_is_neither_counted_on_nor_issued() {
    let mut shop = shop();
    let good = shop.receive("gasket", "a", 2, None);
    shop.receive("gasket", "a", 5, Some("2026-03-02"));
    let job = shop.job(2, &[("fit", &[("gasket", 4)])]);
    shop.reserve(job);
    assert_eq!(shop.hold("gasket", "a"), (7, 0, 4), "the last good day is still good");
    shop.now = Instant::parse("2026-03-03T00:00:00Z").unwrap();
    let answer = shop.must(Tick {});
    assert_eq!(displaced(&answer), [(job, 2)]);
    assert_eq!(shop.hold("gasket", "a"), (7, 5, 2));
    assert_eq!(shop.short(job), 2);
    let refusal = shop.refused(issue(job, "gasket", 3));
    assert_eq!(refusal.reason(), "NOT_ENOUGH");
    shop.issue(job, "gasket", 2);
    assert_eq!(shop.moved(), [(good, 2)]);
}

#[test]
fn a_command_marks_overdue_lots_by_itself() {
    let mut shop = shop();
    shop.receive("gasket", "a", 5, Some("2026-03-02"));
    let job = shop.job(2, &[("fit", &[("gasket", 4)])]);
    shop.reserve(job);
    shop.now = Instant::parse("2026-03-03T00:00:00Z").unwrap();
    // No timer has run; still nothing expired is issued, and the refusal leaves no trace.
    assert_eq!(shop.refused(issue(job, "gasket", 1)).reason(), "NOT_ENOUGH");
    let answer = shop.must(receive("gasket", "b", 1, None));
    assert_eq!((displaced(&answer), covered(&answer)), (vec![(job, 4)], vec![(job, 1)]));
}

#[test]
fn a_count_that_misses_goods_displaces_the_least_urgent_first() {
    let mut shop = shop();
    shop.receive("gasket", "a", 6, None);
    let urgent = shop.job(1, &[("fit", &[("gasket", 2)])]);
    let usual = shop.job(3, &[("fit", &[("gasket", 2)])]);
    let patient = shop.job(5, &[("fit", &[("gasket", 2)])]);
    for job in [patient, usual, urgent] {
        shop.reserve(job);
    }
    let answer = shop.count("gasket", "a", 3);
    assert_eq!(displaced(&answer), [(patient, 2), (usual, 1)]);
    assert_eq!(shop.hold("gasket", "a"), (3, 0, 3));
    assert_eq!((shop.short(urgent), shop.short(usual), shop.short(patient)), (0, 1, 2));
    assert_eq!(shop.blockers(patient), 1, "in the same commit");
    // What a later count finds goes to the more urgent of them.
    assert_eq!(covered(&shop.count("gasket", "a", 5)), [(usual, 1), (patient, 1)]);
}

#[test]
fn what_is_displaced_is_covered_from_another_bin() {
    let mut shop = shop();
    shop.receive("gasket", "a", 4, None);
    let job = shop.job(1, &[("fit", &[("gasket", 4)])]);
    shop.reserve(job);
    shop.receive("gasket", "b", 3, None);
    let answer = shop.must(scrap("gasket", "a", 2));
    assert_eq!((displaced(&answer), covered(&answer)), (vec![(job, 2)], vec![(job, 2)]));
    assert_eq!((shop.hold("gasket", "a"), shop.hold("gasket", "b")), ((2, 0, 2), (3, 0, 2)));
    assert_eq!((shop.short(job), shop.blockers(job)), (0, 0));
}

#[test]
fn a_count_that_agrees_makes_no_fact_and_a_surplus_is_a_lot_of_its_own() {
    let mut shop = shop();
    shop.receive("gasket", "a", 4, Some("2026-12-31"));
    shop.count("gasket", "a", 4);
    assert!(shop.facts.is_empty());
    shop.count("gasket", "a", 5);
    assert_eq!(shop.state.lots.len(), 2);
    assert!(shop.state.lots.iter().any(|lot| lot.expires_on.is_none()));
    shop.count("gasket", "a", 0);
    assert_eq!(shop.hold("gasket", "a"), (0, 0, 0));
    assert_eq!(shop.refused(scrap("gasket", "a", 1)).reason(), "NOT_ENOUGH");
    assert_eq!(shop.refused(count("gasket", "a", -1)).field(), Some("counted"));
}

#[test]
fn exactly_so_much_is_issued_from_reservations_first_then_free_stock() {
    let mut shop = shop();
    shop.receive("gasket", "a", 10, None);
    let other = shop.job(1, &[("fit", &[("gasket", 4)])]);
    let job = shop.job(2, &[("fit", &[("gasket", 2)]), ("test", &[("gasket", 1)])]);
    shop.reserve(other);
    shop.must(ReserveStock { job, stage: Some("fit".into()) });
    let refusal = shop.refused(issue(job, "gasket", 7));
    assert_eq!(refusal.reason(), "NOT_ENOUGH");
    assert!(refusal.to_string().contains("6 are free (job 1 holds 4)"), "{refusal}");
    shop.issue(job, "gasket", 4);
    assert_eq!(shop.demand(job, "fit", 1, "gasket"), (3, 0, 3, 0), "what goes beyond the need is wanted then");
    assert_eq!(shop.demand(job, "test", 1, "gasket"), (1, 0, 1, 0));
    shop.must(take_back(job, "gasket", 2, "a"));
    assert_eq!(shop.demand(job, "test", 1, "gasket"), (1, 0, 0, 0), "from the last step first");
    assert_eq!(shop.demand(job, "fit", 1, "gasket"), (2, 0, 2, 0), "the need is as written again");
    assert_eq!(shop.refused(take_back(job, "gasket", 3, "a")).reason(), "NOT_AT_JOB");
    assert_eq!(shop.hold("gasket", &format!("job-{job}")), (2, 0, 0));
}

#[test]
fn goods_that_no_step_asks_for_need_a_stage() {
    let mut shop = shop();
    shop.item("rag");
    shop.receive("rag", "a", 5, None);
    let job = shop.job(2, &[("fit", &[("gasket", 1)])]);
    assert_eq!(shop.refused(issue(job, "rag", 2)).field(), Some("stage"));
    let stage = Some(StageKey::from("fit"));
    shop.must(IssueStock { job, stage: stage.clone(), item: Some("rag".into()), quantity: Some(Quantity(2)) });
    assert_eq!(shop.demand(job, "fit", 1, "rag"), (2, 0, 2, 0));
    let none = IssueStock { job, stage: None, item: None, quantity: None };
    assert_eq!(shop.refused(none).reason(), "NOTHING_TO_DO");
    let no_item = IssueStock { job, stage, item: None, quantity: Some(Quantity(1)) };
    assert_eq!(shop.refused(no_item).field(), Some("item"));
}

#[test]
fn what_is_released_or_returned_goes_to_who_is_short() {
    let mut shop = shop();
    shop.receive("gasket", "a", 4, None);
    let first = shop.job(3, &[("fit", &[("gasket", 4)])]);
    let second = shop.job(3, &[("fit", &[("gasket", 3)])]);
    shop.reserve(first);
    shop.issue(first, "gasket", 2);
    shop.reserve(second);
    assert_eq!(shop.short(second), 3);
    let answer = shop.must(ReleaseStock { job: first, stage: None, item: None });
    assert_eq!(covered(&answer), [(second, 2)]);
    assert_eq!(covered(&shop.must(take_back(first, "gasket", 2, "b"))), [(second, 1)]);
    assert_eq!(shop.blockers(second), 0);
    assert_eq!((shop.hold("gasket", "a"), shop.hold("gasket", "b")), ((2, 0, 2), (2, 0, 1)));
    let nothing = ReleaseStock { job: first, stage: None, item: None };
    assert_eq!(shop.refused(nothing).reason(), "NOTHING_TO_DO");
}

#[test]
fn a_skipped_step_gives_up_and_a_step_that_was_done_keeps() {
    let mut shop = shop();
    shop.receive("gasket", "a", 4, None);
    let job = shop.job(3, &[("fit", &[("gasket", 2), ("gasket", 3)])]);
    let other = shop.job(3, &[("fit", &[("gasket", 1)])]);
    shop.reserve(job);
    shop.reserve(other);
    shop.must(StartStage { job, stage: "fit".into(), override_reason: None });
    assert_eq!((shop.short(job), shop.short(other)), (1, 1));
    shop.must(TickSteps { job, stage: "fit".into(), steps: vec![StepNo(1)], override_reason: None });
    assert_eq!(shop.demand(job, "fit", 1, "gasket"), (2, 2, 0, 0));
    assert_eq!(shop.blockers(job), 1, "the next step is short");
    shop.must(SkipStep { job, stage: "fit".into(), step: StepNo(2), reason: "not there".into() });
    assert_eq!(shop.demand(job, "fit", 2, "gasket"), (3, 0, 0, 0));
    assert_eq!((shop.short(job), shop.short(other), shop.blockers(job), shop.blockers(other)), (0, 0, 0, 0));
    // A reservation of a step that is over leaves no shortage when it is displaced.
    shop.count("gasket", "a", 0);
    assert_eq!((shop.short(job), shop.short(other)), (0, 1));
}

#[test]
fn a_job_called_off_gives_everything_up_and_writes_off_what_it_has() {
    let mut shop = shop();
    shop.receive("gasket", "a", 4, None);
    let job = shop.job(3, &[("fit", &[("gasket", 4)])]);
    let other = shop.job(3, &[("fit", &[("gasket", 2)])]);
    shop.reserve(job);
    shop.reserve(other);
    shop.issue(job, "gasket", 1);
    let answer = shop.must(CancelJob { job, reason: "called off".into(), as_it_is: false });
    assert!(answer.notices.contains(&Notice::WrittenToUsed {
        item: "gasket".into(),
        quantity: Quantity(1),
        unit: Unit::Piece
    }));
    assert_eq!(covered(&answer), [(other, 2)]);
    assert_eq!(shop.hold("gasket", "a"), (3, 0, 2));
    assert_eq!(shop.refused(ReserveStock { job, stage: None }).reason(), "JOB_CLOSED");
    assert_eq!(shop.refused(take_back(job, "gasket", 1, "a")).reason(), "JOB_CLOSED");
}

#[test]
fn fields_and_names_are_checked() {
    let mut shop = shop();
    let job = shop.job(3, &[("fit", &[])]);
    for (command, reason, field) in [
        (Command::from(receive("gasket", "a", 0, None)), "INVALID_FIELD", Some("quantity")),
        (receive("gasket", "a", 1, Some("2026-03-01")).into(), "INVALID_FIELD", Some("expires_on")),
        (receive("gasket", "a", 1, Some("soon")).into(), "INVALID_FIELD", Some("expires_on")),
        (receive("gasket", "supplier", 1, None).into(), "NOT_A_BIN", None),
        (receive("gasket", "job-1", 1, None).into(), "NOT_A_BIN", None),
        (receive("gasket", "z", 1, None).into(), "NOT_FOUND", None),
        (receive("nut", "a", 1, None).into(), "NOT_FOUND", None),
        (
            AddItem { item: "gasket".into(), name: "again".into(), unit: Unit::Gram, fluid: None }.into(),
            "ALREADY_EXISTS",
            None,
        ),
        (
            AddItem { item: "two words".into(), name: "x".into(), unit: Unit::Gram, fluid: None }.into(),
            "INVALID_FIELD",
            Some("item"),
        ),
        (AddPlace { place: "job-9".into(), name: "x".into() }.into(), "INVALID_FIELD", Some("place")),
        (AddPlace { place: "Used".into(), name: "x".into() }.into(), "INVALID_FIELD", Some("place")),
        (AddPlace { place: "a".into(), name: "x".into() }.into(), "ALREADY_EXISTS", None),
        (ReserveStock { job, stage: None }.into(), "NOTHING_TO_DO", None),
        (ReserveStock { job, stage: Some("none".into()) }.into(), "NOT_FOUND", None),
        (ReserveStock { job: JobNo(99), stage: None }.into(), "NOT_FOUND", None),
    ] {
        let refusal = shop.refused(command.clone());
        assert_eq!((refusal.reason(), refusal.field()), (reason, field), "{command:?}: {refusal}");
    }
    let mut no_reason = count("gasket", "a", 1);
    no_reason.reason = " ".into();
    assert_eq!(shop.refused(no_reason).field(), Some("reason"));
}

#[test]
fn a_receipt_entered_late_ends_a_blocker_no_earlier_than_it_began() {
    let mut shop = shop();
    let job = shop.job(3, &[("fit", &[("gasket", 1)])]);
    let before = shop.now;
    shop.now = shop.now.plus_minutes(10);
    shop.reserve(job);
    shop.run_at(&receive("gasket", "a", 1, None).into(), before).unwrap();
    assert_eq!(shop.blockers(job), 0);
    let row = shop.state.blockers.iter().next().unwrap();
    assert_eq!(row.cleared_at, Some(row.since));
}
