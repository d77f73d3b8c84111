//! What a plan is made from: each thing that binds the shop is found in its rows. The shop and the rules are the project's
//! own; the calendar is ISO 8601's (2026-05-04 was a Monday).
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, extra, finish, skip, start};
use leadhand_domain::command::*;
use leadhand_domain::plan::input::minute_of;
use leadhand_domain::plan::{plan_input, what_if, words};
use leadhand_domain::view::board::{Promise, board};
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::plan::{PlanInput, PlanStage, StageNow, VehicleNow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::supplier::Round;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{Cause, NoPlace, Role, StageKind};
use leadhand_facts::*;

/// 08:00 to 17:00, Monday to Friday.
fn week() -> Week {
    let day = || vec![DayHours { from_minute: 480, until_minute: 1_020 }];
    Week([day(), day(), day(), day(), day(), vec![], vec![]])
}

fn open() -> Floor {
    let mut floor = Floor::open();
    floor.acts(None, Role::Lead);
    floor.at("08:11", SetHours { from_day: "2026-05-04".into(), week: week() }).unwrap();
    floor
}

fn input(floor: &Floor) -> PlanInput {
    plan_input(&floor.shop.state, floor.shop.now, &|_| "somebody".to_owned())
}

fn stage<'a>(input: &'a PlanInput, stage: &str) -> &'a PlanStage {
    input.jobs[0].stages.iter().find(|row| row.stage.as_str() == stage).unwrap()
}

#[test]
fn a_job_brings_its_stages_its_vehicle_and_its_urgency() {
    let mut floor = open();
    floor
        .at(
            "08:12",
            PromiseJob { job: JOB, priority: Some(1), promised_at: Some(at("16:00")), withdraw_promise: false },
        )
        .unwrap();
    let found = input(&floor);
    assert_eq!((found.number, found.at), (floor.shop.state.head, minute_of(floor.shop.now)));
    assert_eq!(found.shift_end, at("17:00"));
    let job = &found.jobs[0];
    assert_eq!((job.vehicle.clone(), job.kg), (VehicleNow::Bay("lift-1".into()), 1_500));
    assert_eq!((job.promised, job.weight), (Some(at("16:00")), 16), "priority 1 weighs sixteen times priority 5");
    assert_eq!(stage(&found, "book-in").now, StageNow::Ended { at: at("08:10") });
    let strip = stage(&found, "strip");
    assert_eq!((strip.in_bay, strip.skills.as_slice(), strip.hands), (true, &["engine".to_owned()][..], 1));
    assert_eq!(strip.minutes, Minutes { low: 20, likely: 30, high: 60 });
    assert!(!stage(&found, "refit").in_bay, "it is done anywhere");
    let after: Vec<(&str, i32)> =
        stage(&found, "refit").after.iter().map(|after| (after.stage.as_str(), after.wait_minutes)).collect();
    assert_eq!(after, [("strip", 30)]);
}

#[test]
fn whoever_has_a_skill_or_a_shift_is_planned_in_the_own_hours() {
    let mut floor = open();
    let shop = |found: &PlanInput| found.shop.clone();
    let found = input(&floor);
    let people: Vec<PersonId> = found.technicians.iter().map(|one| one.person).collect();
    assert_eq!(people, [floor.flint], "Moss has neither");
    assert_eq!(found.technicians[0].shifts, shop(&found), "nobody said a shift of Flint, so it is the shop's hours");
    let early = || vec![DayHours { from_minute: 480, until_minute: 720 }];
    let week = Week([early(), early(), early(), early(), early(), vec![], vec![]]);
    floor.at("08:12", SetShift { person: floor.moss, from_day: "2026-05-04".into(), week }).unwrap();
    floor.at("08:13", OpenOvertime { person: floor.moss, from_at: at("18:00"), until_at: at("20:00") }).unwrap();
    let found = input(&floor);
    let moss = found.technicians.iter().find(|one| one.person == floor.moss).unwrap();
    assert_eq!(moss.shifts[0], Window { from: at("08:00"), until: at("12:00") });
    assert_eq!(moss.overtime, [Window { from: at("18:00"), until: at("20:00") }]);
    floor.at("08:14", CloseOvertime { person: floor.moss, at: at("19:00") }).unwrap();
    assert!(input(&floor).technicians.iter().all(|one| one.overtime.is_empty()));
}

#[test]
fn a_stage_that_was_started_has_what_is_left_of_it_and_its_people() {
    let mut floor = open();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    floor.shop.now = at("08:45");
    let found = input(&floor);
    assert_eq!(stage(&found, "strip").now, StageNow::Started { people: vec![floor.flint] });
    assert_eq!(
        stage(&found, "strip").minutes,
        Minutes { low: 1, likely: 5, high: 35 },
        "25 min were worked, and one is left"
    );
    floor.at("08:50", ClockOff {}).unwrap();
    floor.shop.now = at("12:00");
    let found = input(&floor);
    assert_eq!(stage(&found, "strip").now, StageNow::Started { people: vec![floor.flint] }, "who was on it last");
    assert_eq!(
        stage(&found, "strip").minutes,
        Minutes { low: 1, likely: 1, high: 30 },
        "only what was worked has passed"
    );
    let then = plan_input(&floor.shop.state, at("08:30"), &|_| String::new());
    assert_eq!(stage(&then, "strip").minutes, Minutes { low: 10, likely: 20, high: 50 }, "of an earlier moment");
}

#[test]
fn a_stage_that_is_left_out_passes_on_what_came_before_it() {
    let mut floor = open();
    floor.at("08:12", extra("strip")).unwrap();
    floor.at("08:13", skip("strip")).unwrap();
    let found = input(&floor);
    let after: Vec<&str> = stage(&found, "extra").after.iter().map(|after| after.stage.as_str()).collect();
    assert_eq!(after, ["book-in", "strip"]);
    assert!(matches!(stage(&found, "strip").now, StageNow::LeftOut { .. }), "nothing of it keeps the vehicle");
}

fn blocker(stage: &str, expected_at: Option<Instant>) -> RaiseBlocker {
    RaiseBlocker { job: JOB, stage: stage.into(), cause: Cause::Customer, owner: None, expected_at, note: None }
}

#[test]
fn a_blocker_ends_when_it_is_expected_to_and_otherwise_nobody_knows() {
    let mut floor = open();
    floor.at("08:12", blocker("wash", Some(at("10:00")))).unwrap();
    let found = input(&floor);
    assert_eq!(stage(&found, "wash").blocker.as_ref().unwrap().until, Some(at("10:00")));
    floor.shop.now = at("10:30");
    let overdue = input(&floor);
    let overdue = stage(&overdue, "wash").blocker.clone().unwrap();
    assert_eq!((overdue.until, overdue.cause.as_str()), (None, "customer, which was to be over by now"));
    floor.at("10:31", blocker("wash", None)).unwrap();
    assert_eq!(stage(&input(&floor), "wash").blocker.as_ref().unwrap().until, None);
}

/// Whichever of two blockers was raised first: one end that nobody knows makes the whole unknown, and the one that is known
/// binds all the same, by its own name.
#[test]
fn of_two_blockers_the_unknown_end_counts_and_the_known_one_binds() {
    for unknown_first in [true, false] {
        let mut floor = open();
        let other = RaiseBlocker { cause: Cause::Tool, ..blocker("wash", None) };
        let known = blocker("wash", Some(at("10:00")));
        let (first, second) = if unknown_first { (other, known) } else { (known, other) };
        floor.at("08:12", first).unwrap();
        floor.at("08:13", second).unwrap();
        let found = input(&floor);
        let wash = stage(&found, "wash");
        let blocker = wash.blocker.as_ref().unwrap();
        assert_eq!((blocker.until, blocker.cause.as_str(), wash.parts_from), (None, "tool", None));
        assert_eq!(blocker.known(), Some(("customer", at("10:00"))));
    }
}

/// 2026-05-06 is a Wednesday: until then Moss, who has a skill now, works in the shop's hours, and never outside of them.
#[test]
fn a_shift_that_begins_later_takes_nobody_away_before_it_and_lies_in_the_shops_hours() {
    let mut floor = open();
    let late = || vec![DayHours { from_minute: 720, until_minute: 1_320 }];
    let week = Week([late(), late(), late(), late(), late(), late(), vec![]]);
    floor.at("08:12", SetShift { person: floor.moss, from_day: "2026-05-06".into(), week }).unwrap();
    floor.at("08:13", SetDay { day: "2026-05-07".into(), hours: vec![], reason: None }).unwrap();
    let found = input(&floor);
    let moss = found.technicians.iter().find(|one| one.person == floor.moss).unwrap();
    let told: Vec<(String, String)> =
        moss.shifts.iter().take(4).map(|window| (window.from.to_string(), window.until.to_string())).collect();
    let day =
        |day: u32, from: u32| (format!("2026-05-{day:02}T{from:02}:00:00Z"), format!("2026-05-{day:02}T17:00:00Z"));
    // Thursday is a holiday, and on Saturday the shop is closed.
    assert_eq!(told, [day(4, 8), day(5, 8), day(6, 12), day(8, 12)]);
    assert!(moss.shifts.iter().all(|window| found.shop.iter().any(|shop| shop.common(*window) == Some(*window))));
}

/// What nobody set aside and stages want: it matters when it comes where too little was, and when it goes where too little is.
#[test]
fn stock_makes_a_plan_stale_only_where_too_little_of_it_is_free() {
    let mut floor = open();
    floor.shop.item("gasket");
    floor.shop.bin("b1");
    floor.shop.job(1, &[("fit", &[("gasket", 2)])]);
    let told = |floor: &mut Floor, command: Command| {
        let before = floor.shop.journal.len();
        floor.now(command).unwrap();
        let entries = &floor.shop.journal[before..];
        let moved =
            entries.iter().filter_map(|entry| leadhand_domain::plan::moved::moved(&floor.shop.state, entry, true));
        moved.collect::<Vec<String>>()
    };
    let receive = |many| stock_kit::receive("gasket", "b1", many, None).into();
    assert_eq!(told(&mut floor, receive(2)), ["'gasket' came in, which stages want"]);
    assert_eq!(told(&mut floor, receive(5)), Vec::<String>::new(), "two were there for two");
    let count = |counted| stock_kit::count("gasket", "b1", counted);
    assert_eq!(told(&mut floor, count(3).into()), Vec::<String>::new(), "three are left for two");
    assert_eq!(told(&mut floor, count(1).into()), ["'gasket' left the shelf, which stages want"]);
}

#[test]
fn a_started_stage_that_is_held_up_waits_where_it_is() {
    let mut floor = open();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    floor.at("08:30", blocker("strip", Some(at("11:00")))).unwrap();
    let found = input(&floor);
    let strip = stage(&found, "strip");
    assert_eq!(strip.now, StageNow::Open, "it can't go on before it is over");
    assert_eq!((strip.pin.bay.clone(), strip.pin.people.as_slice()), (Some("lift-1".into()), &[floor.flint][..]));
    assert!(strip.begun, "the vehicle is open, and stays");
}

#[test]
fn what_is_short_comes_with_the_next_delivery_of_its_supplier() {
    let mut floor = open();
    floor.shop.item("gasket");
    let needs = vec![template::Need { item: "gasket".into(), quantity: Quantity(2), unit: Unit::Piece }];
    let (instruction, stage_key) = ("Fit".to_owned(), StageKey::from("refit"));
    let step = AddStep {
        job: JOB,
        stage: stage_key,
        instruction,
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs,
        follow_up: None,
        safety: StepSafety::default(),
    };
    floor.at("08:12", step).unwrap();
    floor.at("08:13", ReserveStock { job: JOB, stage: None }).unwrap();
    let unknown = input(&floor);
    let refit = stage(&unknown, "refit");
    assert_eq!(refit.blocker.as_ref().unwrap().cause, "missing 'gasket'");
    assert_eq!((refit.parts_from, refit.blocker.as_ref().unwrap().until), (None, None));
    let rounds = vec![Round { weekdays: vec![1], order_by_minute: 630, here_minute: 840, days_later: 0 }];
    floor.at("08:14", SetSupplier { supplier: "north".into(), name: "North".into(), rounds }).unwrap();
    floor.at("08:15", SetItemSupplier { item: "gasket".into(), supplier: Some("north".into()) }).unwrap();
    let found = input(&floor);
    assert_eq!((stage(&found, "refit").parts_from, &stage(&found, "refit").blocker), (Some(at("14:00")), &None));
}

#[test]
fn a_shared_tool_that_somebody_has_is_back_by_the_end_of_the_shift() {
    let mut floor = open();
    let add = AddTool { tool: "lock".into(), name: "Lock".into(), what: None, calibration_due: None };
    floor.at("08:12", add).unwrap();
    let lend =
        |person, job| LendTool { tool: "lock".into(), job, stage: None, bay: None, person, hand_on: job.is_some() };
    floor.at("08:13", lend(Some(floor.flint), None)).unwrap();
    let found = input(&floor).tools.remove(0);
    assert_eq!((found.away, found.with), (vec![Window { from: at("08:13"), until: at("17:00") }], Some(floor.flint)));
    floor.at("08:14", lend(None, Some(JOB))).unwrap();
    let found = input(&floor).tools.remove(0);
    assert_eq!((found.away, found.with), (vec![], None), "a job hands it on");
    // A stage that was added with it, by its name, holds it as one of a template does.
    floor.at("08:15", AddStage { tools: vec!["Lock".to_owned()], ..extra("strip") }).unwrap();
    assert_eq!(stage(&input(&floor), "extra").tools, [ToolKey::from("lock")]);
}

#[test]
fn pins_and_the_accepted_plan_are_what_a_new_one_starts_from() {
    let mut floor = open();
    let flint = floor.flint;
    let pin = |bay: Option<&str>, people, from_at| PinStage {
        job: JOB,
        stage: "strip".into(),
        bay: bay.map(BayKey::from),
        people,
        from_at,
    };
    floor.at("08:12", pin(Some("lift-1"), vec![flint], Some(at("09:00")))).unwrap();
    let planned = plan::PlannedStage {
        job: JOB,
        stage: "strip".into(),
        bay: Some("lift-1".into()),
        people: vec![flint],
        tools: vec![],
        from: at("09:00"),
        until: at("09:30"),
    };
    let visit = plan::BayVisit { job: JOB, bay: "lift-1".into(), from: at("08:12"), until: at("10:00") };
    let accept = AcceptPlan {
        made_n: floor.shop.state.head,
        made_at: at("08:12"),
        stages: vec![planned.clone()],
        visits: vec![visit],
        jobs: vec![],
        even_if_outdated: false,
    };
    floor.at("08:13", accept).unwrap();
    let found = input(&floor);
    let pin = &stage(&found, "strip").pin;
    assert_eq!(
        (pin.bay.clone(), pin.people.as_slice(), pin.from),
        (Some("lift-1".into()), &[flint][..], Some(at("09:00")))
    );
    assert_eq!(found.accepted, [planned]);
    floor.acts(Some(flint), Role::Technician);
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:20", finish("strip")).unwrap();
    assert_eq!(input(&floor).accepted, [], "what is over is not planned");
}

/// Started early, it is not held to when the lead said that it begins, and whoever is clocked on is at it.
#[test]
fn a_stage_that_was_started_is_no_longer_pinned_to_a_time() {
    let mut floor = open();
    let flint = floor.flint;
    let pin = PinStage { job: JOB, stage: "strip".into(), bay: None, people: vec![flint], from_at: Some(at("09:00")) };
    floor.at("08:12", pin).unwrap();
    assert!(!stage(&input(&floor), "strip").on);
    floor.acts(Some(flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    let found = input(&floor);
    let strip = stage(&found, "strip");
    assert_eq!((strip.pin.from, strip.pin.people.as_slice(), strip.on), (None, &[flint][..], true));
    floor.at("08:30", ClockOff {}).unwrap();
    assert!(!stage(&input(&floor), "strip").on, "nobody is on it, though it has started");
}

#[test]
fn minutes_that_nobody_said_are_taken_for_an_hour() {
    let mut floor = open();
    let unsaid = AddStage { minutes: Minutes { low: 0, likely: 0, high: 0 }, ..extra("strip") };
    floor.at("08:12", unsaid).unwrap();
    assert_eq!(stage(&input(&floor), "extra").minutes, Minutes { low: 30, likely: 60, high: 120 });
}

#[test]
fn what_if_changes_one_thing_and_refuses_what_names_nothing() {
    let floor = open();
    let window = Window { from: at("09:00"), until: at("12:00") };
    let changed = |change| {
        let mut found = input(&floor);
        what_if::change(&mut found, &[change]).map(|()| found)
    };
    let found = changed(what_if::Change::Away { person: floor.flint, window }).unwrap();
    let first: Vec<Window> = found.technicians[0].shifts.iter().copied().take(2).collect();
    let left = [Window { from: at("08:00"), until: at("09:00") }, Window { from: at("12:00"), until: at("17:00") }];
    assert_eq!(first, left);
    let found = changed(what_if::Change::OneMoreHand { like: floor.flint, window }).unwrap();
    assert_eq!(
        (found.technicians[1].skills.as_slice(), found.technicians[1].shifts[0]),
        (&["engine".to_owned()][..], window)
    );
    let found = changed(what_if::Change::Without { job: JOB }).unwrap();
    assert!(found.jobs.is_empty());
    let found = changed(what_if::Change::PartsFrom { job: JOB, stage: "refit".into(), at: Some(at("15:00")) }).unwrap();
    assert_eq!(stage(&found, "refit").parts_from, Some(at("15:00")));
    let reason = |change| changed(change).unwrap_err().reason();
    assert_eq!(reason(what_if::Change::Without { job: JobNo(9) }), "NOT_FOUND");
    assert_eq!(reason(what_if::Change::BayClosed { bay: "none".into(), window }), "NOT_FOUND");
    assert_eq!(reason(what_if::Change::Away { person: floor.moss, window }), "NOT_FOUND", "Moss is no technician");
    assert_eq!(
        reason(what_if::Change::BlockerEnds { job: JOB, stage: "strip".into(), at: Some(at("09:00")) }),
        "NOTHING_TO_DO"
    );
    assert_eq!(
        reason(what_if::Change::BlockerEnds { job: JOB, stage: "strip".into(), at: None }),
        "NOTHING_TO_DO",
        "nothing holds it up"
    );
    let found = changed(what_if::Change::RollOut { job: JOB }).unwrap();
    assert!(found.jobs[0].stages.iter().all(|stage| stage.may_leave));
    assert_eq!(found.places_outside, input(&floor).places_outside, "the yard has the room that it has");
    let backwards = Window { from: at("12:00"), until: at("12:00") };
    let refused = changed(what_if::Change::BayClosed { bay: "lift-1".into(), window: backwards }).unwrap_err();
    assert_eq!(refused.field(), Some("changes[0].until_at"));
    let refused = changed(what_if::Change::Priority { job: JOB, priority: 6 }).unwrap_err();
    assert_eq!(refused.field(), Some("changes[0].priority"));
}

#[test]
fn the_board_expects_a_job_when_the_plan_has_it_and_no_earlier_than_its_stages_let_it() {
    let mut floor = open();
    let expected = |floor: &Floor| {
        let board = board(&floor.shop.state, floor.shop.now);
        board.bays.iter().find_map(|line| line.card.as_ref()).unwrap().expected_at
    };
    let by_path = expected(&floor).unwrap();
    let accept = |floor: &Floor, likely: Instant| {
        let (ready, likely, safe) = (None, Some(likely), Some(at("16:00")));
        let job = plan::PlannedJob { job: JOB, ready, likely, safe, nowhere: vec![], hangs_on: vec![] };
        let (made_n, made_at) = (floor.shop.state.head, floor.shop.now);
        AcceptPlan { made_n, made_at, stages: vec![], visits: vec![], jobs: vec![job], even_if_outdated: false }
    };
    let later = accept(&floor, at("15:30"));
    floor.now(later).unwrap();
    assert_eq!(expected(&floor), Some(at("15:30")));
    let sooner = accept(&floor, at("08:30"));
    floor.now(sooner).unwrap();
    assert_eq!(expected(&floor), Some(by_path), "what is left takes its time");
    floor
        .at("08:12", PromiseJob { job: JOB, priority: None, promised_at: Some(at("15:45")), withdraw_promise: false })
        .unwrap();
    let board = board(&floor.shop.state, floor.shop.now);
    let card = board.bays.iter().find_map(|line| line.card.as_ref()).unwrap();
    assert_eq!(card.promise, Promise::AtRisk, "safe is 16:00, and promised 15:45");
}

#[test]
fn what_is_done_in_one_go_does_not_pause() {
    let mut floor = open();
    floor.at("08:12", AddStage { in_one_go: true, ..extra("strip") }).unwrap();
    let found = input(&floor);
    assert!(!stage(&found, "extra").may_pause);
    assert!(stage(&found, "strip").may_pause, "what says nothing may");
    let wait =
        AddStage { kind: StageKind::Wait, hands: 0, in_one_go: true, stage: Some("dry".into()), ..extra("strip") };
    let refused = floor.at("08:13", wait).unwrap_err();
    assert_eq!(refused.field(), Some("in_one_go"), "a wait goes on by itself");
    let free = AddStage { in_one_go: true, after: vec![], stage: Some("bleed".into()), ..extra("strip") };
    floor.at("08:14", free).unwrap();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("bleed")).unwrap();
    assert!(stage(&input(&floor), "bleed").may_pause, "what was begun goes on, whatever it takes");
}

/// Two jobs want two each, and three lie on the shelf: the more urgent one finds its own, and the other waits for the delivery,
/// though nobody has set anything aside.
#[test]
fn parts_that_nobody_asked_for_yet_are_there_for_the_most_urgent_job_only() {
    let mut floor = open();
    floor.shop.item("gasket");
    floor.shop.bin("b1");
    floor.now(stock_kit::receive("gasket", "b1", 3, None)).unwrap();
    let other = floor.shop.job(1, &[("fit", &[("gasket", 2)])]);
    let needs = vec![template::Need { item: "gasket".into(), quantity: Quantity(2), unit: Unit::Piece }];
    let step = AddStep {
        job: JOB,
        stage: "refit".into(),
        instruction: "Fit".into(),
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs,
        follow_up: None,
        safety: StepSafety::default(),
    };
    floor.now(step).unwrap();
    assert!(floor.shop.state.shortages.is_empty(), "nobody asked");
    let of = |floor: &Floor, job: JobNo, key: &str| {
        let found = input(floor);
        let row = found.jobs.iter().find(|row| row.job == job).unwrap();
        let stage = row.stages.iter().find(|row| row.stage.as_str() == key).unwrap();
        (stage.parts_from, stage.blocker.as_ref().map(|blocker| blocker.cause.clone()))
    };
    let unknown = "missing 'gasket'".to_owned();
    assert_eq!(of(&floor, other, "fit"), (None, None), "urgency 1 goes first");
    assert_eq!(of(&floor, JOB, "refit"), (None, Some(unknown)));
    let rounds = vec![Round { weekdays: vec![1], order_by_minute: 630, here_minute: 840, days_later: 0 }];
    floor.now(SetSupplier { supplier: "north".into(), name: "North".into(), rounds }).unwrap();
    floor.now(SetItemSupplier { item: "gasket".into(), supplier: Some("north".into()) }).unwrap();
    assert_eq!(of(&floor, JOB, "refit"), (Some(at("14:00")), None));
    // Set aside, it is the other's no longer.
    floor
        .now(PromiseJob { job: JOB, priority: Some(1), promised_at: Some(at("16:00")), withdraw_promise: false })
        .unwrap();
    assert_eq!((of(&floor, JOB, "refit").0, of(&floor, other, "fit").0), (None, Some(at("14:00"))));
    floor.now(ReserveStock { job: other, stage: None }).unwrap();
    assert_eq!((of(&floor, JOB, "refit").0, of(&floor, other, "fit").0), (Some(at("14:00")), None));
}

/// The word that an accepted plan kept, told with the figures of now: as exactly as when it was proposed.
#[test]
fn what_has_no_place_in_the_accepted_plan_is_told_with_figures() {
    let mut floor = open();
    floor.at("08:12", AddStage { in_one_go: true, ..extra("strip") }).unwrap();
    let found = input(&floor);
    let nowhere = [StageKey::from("strip"), StageKey::from("refit")];
    let told = |why, stage: &str| words::no_place(why, &found, JOB, &stage.into(), &nowhere);
    let of = |title: &str, because: &str| format!("{title} of job 1 has no place: {because}.");
    assert_eq!(told(NoPlace::Behind, "refit"), of("Refit", "it comes after Strip, which has no place"));
    let few = "it takes 1 at a time with the skill engine, and the shop has 1; name somebody with its skills, or ask for fewer hands";
    assert_eq!(told(NoPlace::TooFew, "strip"), of("Strip", few));
    assert_eq!(told(NoPlace::NoBay, "wash"), of("Wash", "no floor of the shop bears the vehicle's 1500 kg"));
    let mut bare = found.clone();
    (bare.bays, bare.technicians) = (Vec::new(), Vec::new());
    let none = |why, stage: &str| words::no_place(why, &bare, JOB, &stage.into(), &nowhere);
    let floor_less = "the shop has no floor; add one, or let it be done in another kind of bay";
    assert_eq!(none(NoPlace::NoBay, "wash"), of("Wash", floor_less));
    let nobody = "nobody in the shop has the skill engine; give it to somebody";
    assert_eq!(none(NoPlace::TooFew, "strip"), of("Strip", nobody));
    assert!(told(NoPlace::NoTime, "extra").contains("so much time at a stretch before the calendars end"));
    assert!(told(NoPlace::NoTime, "strip").contains("so much time before the calendars end"));
    assert_eq!(told(NoPlace::Ring, "gone"), of("gone", "it waits for itself; change what it comes after"));
}
