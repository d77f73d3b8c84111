//! The board on a shop made by hand. Expected finishes are added up beside each check.

mod by_hand;

use by_hand::{ANN, BOB, Hand, JOB, at, id, stage, text, wanter};
use leadhand_domain::view::board::{Board, JobCard, Promise, Standing, board, changed};
use leadhand_domain::view::job::job_view;
use leadhand_facts::words::{Cause, LeaveReason, StageKind};
use leadhand_facts::*;

/// Whether strip is held up, and until when.
enum HeldUp {
    No,
    Until(i64),
    NobodyKnows,
}

fn promise_of(promised_minutes: i64, held_up: &HeldUp) -> Promise {
    card_of(promised_minutes, held_up).promise
}

fn card_of(promised_minutes: i64, held_up: &HeldUp) -> JobCard {
    let mut hand = Hand::with_job(Some(at(promised_minutes)));
    hand.start(0, "drain");
    hand.on(0, 0xc1, ANN, "drain");
    match held_up {
        HeldUp::No => {}
        HeldUp::Until(minutes) => raise(&mut hand, 5, "strip", Some(at(*minutes))),
        HeldUp::NobodyKnows => raise(&mut hand, 5, "strip", None),
    }
    board(&hand.state, at(10)).outside.remove(0)
}

fn raise(hand: &mut Hand, minutes: i64, key: &str, expected_at: Option<Instant>) {
    let fact = Fact::BlockerRaised {
        job: JOB,
        blocker: BlockerNo(1),
        stage: key.into(),
        cause: Cause::Seized,
        owner: Some(BOB),
        expected_at,
        note: Some(text(0x50)),
        step: None,
        item: None,
        reading: None,
        tool: None,
    };
    hand.fact(minutes, fact);
}

/// Fill alone lacks something, and the supplier's round brings it that day at this minute.
fn lacks(here_minute: i32) -> Hand {
    let mut hand = Hand::with_job(Some(at(400)));
    let rounds =
        vec![supplier::Round { weekdays: vec![1, 2, 3, 4, 5, 6, 7], order_by_minute: 600, here_minute, days_later: 0 }];
    let (item, supplier) = (ItemKey::from("gasket"), SupplierKey::from("north"));
    hand.fact(1, Fact::SupplierSet { supplier: supplier.clone(), name: "North".into(), rounds });
    hand.fact(1, Fact::ItemSupplierSet { item: item.clone(), supplier: Some(supplier) });
    let quantity = Quantity(1);
    hand.fact(2, Fact::DemandSet { wanter: wanter("fill"), item: item.clone(), wanted: quantity });
    hand.fact(2, Fact::ShortageOpened { shortage: ShortageId(id(0x51)), wanter: wanter("fill"), item, quantity });
    hand
}

/// Without it the way is drain 20, strip 90, cure 60, the wait of 15, fill 30: from 08:10 that is 11:45, and 14:35 if it goes
/// badly, so 14:40 holds. Fill's 30 minutes begin at 16:00 when what it lacks comes then.
#[test]
fn a_stage_goes_on_no_sooner_than_what_is_short_for_it_arrives() {
    let card = |hand: &Hand| board(&hand.state, at(10)).outside[0].clone();
    let plain = card(&Hand::with_job(Some(at(400))));
    assert_eq!((plain.expected_at, plain.promise), (Some(at(225)), Promise::Holds));
    let late = lacks(960);
    assert_eq!((card(&late).expected_at, card(&late).promise), (Some(at(510)), Promise::Late));
    let shown = job_view(&late.state, JOB, at(10)).expect("it is loaded").card;
    assert_eq!(shown.expected_at, Some(at(510)), "the job says the same");
    // What comes before fill is ready costs nothing.
    assert_eq!(card(&lacks(660)).expected_at, Some(at(225)));
}

/// At 08:10, ten minutes into drain: 10 more, strip 90, cure 60, the wait of 15, fill 30: 11:35.
#[test]
fn the_likely_finish_is_the_longest_way_through_what_is_left() {
    let mut hand = Hand::with_job(None);
    hand.place(0, JOB, "lift-1");
    hand.start(0, "drain");
    hand.on(0, 0xc1, ANN, "drain");
    let board = board(&hand.state, at(10));
    let bays: Vec<&str> = board.bays.iter().map(|line| line.bay.as_str()).collect();
    assert_eq!(bays, ["floor", "lift-1", "lift-2"], "every bay, by key");
    assert_eq!(board.bays[0].card, None);
    let card = board.bays[1].card.as_ref().expect("the job is in the bay");
    assert_eq!(board.bays[1].since, Some(at(0)));
    assert_eq!(card.expected_at, Some(at(215)));
    assert_eq!(card.promise, Promise::None);
    assert_eq!((card.under_way.len(), card.next.len()), (1, 3));
    let drain = &card.under_way[0];
    assert_eq!((drain.place, card.stages_all, card.stages_done), (1, 4, 0));
    assert_eq!(drain.standing, Standing::UnderWay(at(0)));
    assert_eq!((drain.persons[0].person, drain.persons[0].since), (ANN, at(0)));
    assert_eq!(card.next[0].standing, Standing::Later);
    assert!(board.text_ids().contains(&text(2).id), "the name of who is on it is looked up");
    assert!(board.text_ids().contains(&card.vehicle_label.expect("a label")));
}

/// At 16:30 on Monday: drain until 16:40, 20 minutes of strip until closing at 17:00, the other
/// 70 from 08:00 on Tuesday to 09:10, cure to 10:10, wait to 10:25, fill to 10:55.
#[test]
fn work_passes_in_shop_hours_only() {
    let mut hand = Hand::with_job(None);
    hand.start(500, "drain");
    hand.on(500, 0xc1, ANN, "drain");
    let card = board(&hand.state, at(510)).outside.remove(0);
    assert_eq!(card.expected_at, Some(at(1440 + 175)));
}

/// Cure, a wait, passes at night as well: strip done on Monday at 16:50, cure until 17:50, then
/// the wait; fill is done from 08:00 to 08:30 on Tuesday.
#[test]
fn waits_pass_on_any_clock() {
    let mut hand = Hand::with_job(None);
    for (key, from, until) in [("drain", 0, 20), ("strip", 20, 530)] {
        hand.start(from, key);
        hand.finish(until, key);
    }
    hand.fact(530, Fact::StageReady { job: JOB, stage: "cure".into(), ready_at: at(530), waits: false });
    hand.start(530, "cure");
    let card = board(&hand.state, at(535)).outside.remove(0);
    assert_eq!(card.expected_at, Some(at(1440 + 30)));
}

/// No hours are known after Friday: a fortnight of work has no expected finish.
#[test]
fn without_hours_so_far_ahead_nothing_is_promised() {
    let mut hand = Hand::with_job(Some(at(10_000)));
    let long = stage("long", 5, StageKind::Work, (3_000, 5_000, 9_000), &[("drain", 0)]);
    hand.fact(0, Fact::StageAdded { job: JOB, stage: long, before: vec![] });
    let card = board(&hand.state, at(0)).outside.remove(0);
    assert_eq!((card.expected_at, card.promise), (None, Promise::Unknown));
}

/// Likely finish 215 minutes after opening (see above). If it goes badly: drain 30 more, strip
/// 180, cure 90, wait 15, fill 60: 385.
#[test]
fn whether_a_promise_holds_in_words() {
    assert_eq!(promise_of(390, &HeldUp::No), Promise::Holds);
    assert_eq!(promise_of(380, &HeldUp::No), Promise::AtRisk);
    assert_eq!(promise_of(210, &HeldUp::No), Promise::Late);
    assert_eq!(promise_of(5, &HeldUp::No), Promise::Late, "the time has passed");
    assert_eq!(promise_of(390, &HeldUp::NobodyKnows), Promise::AtRisk, "nobody knows how long it is held up");
    assert_eq!(
        promise_of(390, &HeldUp::Until(30)),
        Promise::Holds,
        "strip goes on at 30; drain takes until 40 at worst"
    );
    assert_eq!(promise_of(390, &HeldUp::Until(300)), Promise::Late, "strip begins at 300 and 195 more follow");
    let badly = |held: &HeldUp| card_of(390, held).if_badly_at;
    assert_eq!(badly(&HeldUp::No), Some(at(385)), "by the sum above");
    assert_eq!(badly(&HeldUp::NobodyKnows), None, "nobody knows until when");
    let words = [Promise::None, Promise::Holds, Promise::AtRisk, Promise::Late].map(Promise::words);
    assert_eq!(words, ["no promise", "holds", "at risk", "late, or likely late"]);
}

/// Drain takes 40 minutes if it goes badly: what is left of it after that nobody knows. The same goes for what is short as
/// long as no supplier brings it.
#[test]
fn no_moment_is_told_while_nobody_knows() {
    let mut hand = Hand::with_job(Some(at(1_000)));
    hand.start(0, "drain");
    hand.on(0, 0xc1, ANN, "drain");
    let card = |hand: &Hand, now: i64| board(&hand.state, at(now)).outside.remove(0);
    assert_eq!(card(&hand, 40).if_badly_at, Some(at(385)), "by the sum above");
    assert_eq!((card(&hand, 41).if_badly_at, card(&hand, 41).promise), (None, Promise::AtRisk));
    let (quantity, item) = (Quantity(2), ItemKey::from("gasket"));
    hand.fact(6, Fact::DemandSet { wanter: wanter("fill"), item: item.clone(), wanted: quantity });
    hand.fact(6, Fact::ShortageOpened { shortage: ShortageId(id(0x51)), wanter: wanter("fill"), item, quantity });
    assert_eq!((card(&hand, 10).if_badly_at, card(&hand, 10).promise), (None, Promise::AtRisk));
    assert!(card(&hand, 10).expected_at.is_some(), "as far as anybody knows");
}

/// Likely finish 215 minutes after opening, so a promise of 210 won't be kept; but it has not passed before 210.
#[test]
fn a_promise_has_passed_only_once_its_moment_is_over() {
    let hand = Hand::with_job(Some(at(210)));
    let card = |now: i64| board(&hand.state, at(now)).outside.remove(0);
    let told = [0, 210, 211].map(|now| (card(now).promise, card(now).promise_passed));
    assert_eq!(told, [(Promise::Late, false), (Promise::Late, false), (Promise::Late, true)]);
}

#[test]
fn blockers_and_missing_items_stand_on_the_card() {
    let mut hand = Hand::with_job(None);
    raise(&mut hand, 5, "drain", Some(at(90)));
    let (quantity, item) = (Quantity(2), ItemKey::from("gasket"));
    for (key, shortage) in [("strip", 0x51), ("fill", 0x52)] {
        hand.fact(6, Fact::DemandSet { wanter: wanter(key), item: item.clone(), wanted: quantity });
        let shortage = ShortageId(id(shortage));
        hand.fact(6, Fact::ShortageOpened { shortage, wanter: wanter(key), item: item.clone(), quantity });
    }
    hand.agrees_with_the_auditor();
    let board = board(&hand.state, at(10));
    let card = &board.outside[0];
    let blocker = &card.blockers[0];
    assert_eq!((blocker.stage.as_str(), blocker.cause, blocker.owner), ("drain", Cause::Seized, Some(BOB)));
    assert_eq!((blocker.since, blocker.expected_at, blocker.note), (at(5), Some(at(90)), Some(text(0x50).id)));
    let missing: Vec<&str> = card.missing.iter().map(|line| line.stage.as_str()).collect();
    assert_eq!(missing, ["strip"], "fill is not among the next three");
    assert_eq!(card.missing[0].name.as_deref(), Some("The gasket"));
    assert_eq!(board.shortages.len(), 2, "the list has all of them");
    let job = job_view(&hand.state, JOB, at(10)).expect("the job is loaded");
    assert_eq!(job.stages[1].steps[0].demand[0].short, quantity);
    assert_eq!(job.stages[1].waits_for, ["drain".into()]);
    assert!(job.text_ids().contains(&text(0x50).id) && job.items().contains(&item));
}

#[test]
fn only_bays_whose_value_differs_are_sent_again() {
    let mut hand = Hand::with_job(None);
    hand.open_job(JobNo(2), 2, None);
    hand.place(0, JOB, "lift-1");
    hand.place(0, JobNo(2), "lift-2");
    let look = |hand: &Hand, minutes: i64| -> Board { board(&hand.state, at(minutes)) };
    let first = look(&hand, 10);
    assert!(changed(&first, &look(&hand, 10)).is_empty());
    hand.on(10, 0xc1, ANN, "drain");
    let second = look(&hand, 10);
    assert_eq!(changed(&first, &second).bays, ["lift-1".into()]);
    let stay = hand.state.stays.iter().find(|stay| stay.job == JobNo(2)).expect("a stay").clone();
    let (bay, vehicle, job) = (stay.bay, stay.vehicle, stay.job);
    hand.fact(
        10,
        Fact::VehicleLeft { stay: stay.stay, bay, vehicle, job, why: LeaveReason::RolledOut, overridden: None },
    );
    hand.agrees_with_the_auditor();
    let third = changed(&second, &look(&hand, 10));
    assert_eq!((third.bays, third.outside, third.shortages), (vec!["lift-2".into()], true, false));
}
