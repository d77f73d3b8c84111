//! What a lead may accept, pin and open. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, extra, finish, skip, start};
use leadhand_domain::command::*;
use leadhand_domain::plan::moved::moved;
use leadhand_domain::plan::{plan_input, words};
use leadhand_domain::view::board::{Promise, board};
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::plan::{BayVisit, HangsOn, Nowhere, PlanInput, PlannedJob, PlannedStage};
use leadhand_facts::words::{NoPlace, Role};
use leadhand_facts::*;

fn open() -> Floor {
    let mut floor = Floor::open();
    floor.acts(None, Role::Lead);
    floor
}

fn planned(stage: &str, bay: Option<&str>, people: &[PersonId], from: &str, until: &str) -> PlannedStage {
    PlannedStage {
        job: JOB,
        stage: stage.into(),
        bay: bay.map(BayKey::from),
        people: people.to_vec(),
        tools: vec![],
        from: at(from),
        until: at(until),
    }
}

fn visit(bay: &str, from: &str, until: &str) -> BayVisit {
    BayVisit { job: JOB, bay: bay.into(), from: at(from), until: at(until) }
}

/// Strip on lift-1 by Flint from nine to ten, refit from eleven to twelve by Moss.
fn plan(floor: &Floor) -> AcceptPlan {
    let stages = vec![
        planned("strip", Some("lift-1"), &[floor.flint], "09:00", "10:00"),
        planned("refit", None, &[floor.moss], "11:00", "12:00"),
    ];
    let ready = Some(at("12:00"));
    AcceptPlan {
        made_n: floor.shop.state.head,
        made_at: floor.shop.now,
        stages,
        visits: vec![visit("lift-1", "08:00", "10:00")],
        jobs: vec![PlannedJob {
            job: JOB,
            ready,
            likely: ready,
            safe: Some(at("13:00")),
            nowhere: vec![],
            hangs_on: vec![],
        }],
        even_if_outdated: false,
    }
}

fn with(floor: &mut Floor, change: impl FnOnce(&mut AcceptPlan)) -> &'static str {
    let mut plan = plan(floor);
    change(&mut plan);
    code(floor.now(plan))
}

#[test]
fn an_accepted_plan_takes_the_place_of_the_one_before_and_goes_with_its_jobs() {
    let mut floor = open();
    let first = plan(&floor);
    floor.now(first).unwrap();
    assert_eq!(floor.shop.state.plan_stages.len(), 2);
    let mut second = plan(&floor);
    second.stages.truncate(1);
    second.jobs.clear();
    floor.now(second).unwrap();
    let rows = &floor.shop.state;
    assert_eq!((rows.plan_stages.len(), rows.plan_visits.len(), rows.plan_jobs.len()), (1, 1, 0));
    assert_eq!(rows.plan.get(&()).unwrap().accepted_n, rows.head);
    floor
        .now(PinStage { job: JOB, stage: "refit".into(), bay: None, people: vec![], from_at: Some(at("12:00")) })
        .unwrap();
    floor.now(CancelJob { job: JOB, reason: "sold".into(), as_it_is: false }).unwrap();
    let rows = &floor.shop.state;
    assert_eq!((rows.plan_stages.len(), rows.plan_visits.len(), rows.stage_pins.len()), (0, 0, 0));
    assert!(rows.plan.get(&()).is_some(), "that there was one stays");
}

#[test]
fn a_plan_that_can_not_be_done_is_refused() {
    let mut floor = open();
    assert_eq!(with(&mut floor, |plan| plan.stages[0].bay = None), "PLAN_WITHOUT_BAY");
    assert_eq!(with(&mut floor, |plan| plan.stages[1].bay = Some("lift-1".into())), "PLAN_NOT_HELD");
    assert_eq!(with(&mut floor, |plan| plan.visits.clear()), "PLAN_NOT_HELD");
    assert_eq!(
        with(&mut floor, |plan| {
            plan.stages[0].bay = Some("floor-1".into());
            plan.visits[0].bay = "floor-1".into();
        }),
        "WRONG_BAY"
    );
    let moss = floor.moss;
    assert_eq!(with(&mut floor, |plan| plan.stages[0].people = vec![moss]), "PLAN_SKILL_MISSING");
    assert_eq!(with(&mut floor, |plan| plan.stages[1].people.clear()), "PLAN_HANDS");
    let flint = floor.flint;
    assert_eq!(
        with(&mut floor, |plan| {
            plan.stages[1].people = vec![flint];
            plan.stages[1].from = at("09:59");
        }),
        "PLAN_PERSON_TWICE"
    );
    assert_eq!(with(&mut floor, |plan| plan.visits.push(visit("lift-2", "09:00", "11:00"))), "PLAN_TWO_PLACES");
    assert_eq!(with(&mut floor, |plan| plan.stages[0].stage = "book-in".into()), "PLAN_STAGE_OVER");
    assert_eq!(with(&mut floor, |plan| plan.stages[0].job = JobNo(9)), "NOT_FOUND");
    assert_eq!(with(&mut floor, |plan| plan.stages[0].people = vec![PersonId(uuid::Uuid::nil())]), "NOT_FOUND");
    for wrong in [
        |plan: &mut AcceptPlan| plan.made_n = 0,
        |plan: &mut AcceptPlan| plan.made_n += 1,
        |plan: &mut AcceptPlan| plan.made_at = at("23:00"),
        |plan: &mut AcceptPlan| plan.stages[0].until = at("08:59"),
        |plan: &mut AcceptPlan| plan.visits[0].until = at("07:59"),
        |plan: &mut AcceptPlan| plan.jobs[0].ready = Some(at("11:59")),
        |plan: &mut AcceptPlan| plan.jobs[0].safe = Some(at("11:59")),
        |plan: &mut AcceptPlan| plan.jobs.push(plan.jobs[0].clone()),
    ] {
        assert_eq!(with(&mut floor, wrong), "INVALID_FIELD");
    }
    assert!(floor.shop.state.plan.get(&()).is_none());
}

/// Said twice it is true once; with anything in it otherwise it is another plan.
#[test]
fn the_accepted_plan_is_not_accepted_again() {
    let mut floor = open();
    let first = plan(&floor);
    floor.now(first.clone()).unwrap();
    let head = floor.shop.state.head;
    let again = floor.now(first.clone()).unwrap();
    assert_eq!((again.number, again.recorded_at, floor.shop.state.head), (head, None, head), "nothing was recorded");
    let mut less = first.clone();
    less.stages.truncate(1);
    less.jobs.clear();
    floor.now(less).unwrap();
    assert_eq!(floor.shop.state.head, head + 1);
    floor.now(first).unwrap();
    assert_eq!(floor.shop.state.head, head + 2);
}

/// Also where it is wanted though it is outdated: once is enough, whatever has ended since; and that it was accepted makes it
/// no older.
#[test]
fn an_outdated_plan_is_accepted_once() {
    let mut floor = open();
    let mut first = plan(&floor);
    first.even_if_outdated = true;
    floor.now(first.clone()).unwrap();
    let head = floor.shop.state.head;
    assert_eq!(floor.now(first.clone()).unwrap().number, head);
    assert_eq!(floor.shop.state.head, head, "nothing was recorded");
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    floor.at("08:40", finish("strip")).unwrap();
    floor.acts(None, Role::Lead);
    let head = floor.shop.state.head;
    floor.now(first.clone()).unwrap();
    assert_eq!(floor.shop.state.head, head, "what is over was left out of it anyway");
    let mut other = first;
    other.stages[1].until = at("12:10");
    other.jobs.clear();
    floor.now(other).unwrap();
    assert_eq!(floor.shop.state.head, head + 1, "another plan is another");
    let accepted: Vec<&Entry> =
        floor.shop.journal.iter().filter(|entry| matches!(entry.fact, Fact::PlanAccepted { .. })).collect();
    assert_eq!(accepted.len(), 2);
    for entry in accepted {
        assert_eq!(moved(&floor.shop.state, entry, true), None, "of the same number and moment");
    }
    let mut later = plan(&floor);
    later.stages.remove(0);
    later.visits.clear();
    floor.now(later).unwrap();
    let entry = floor.shop.journal.iter().find(|entry| matches!(entry.fact, Fact::PlanAccepted { .. })).unwrap();
    assert_eq!(moved(&floor.shop.state, entry, true).as_deref(), Some("another plan was accepted"));
}

#[test]
fn two_vehicles_are_not_planned_in_one_bay() {
    let mut floor = open();
    let other = floor.now(floor_kit::open_job()).unwrap().made;
    let leadhand_domain::answer::Made::Job { job, .. } = other else { panic!() };
    let stay = BayVisit { job, bay: "lift-1".into(), from: at("09:30"), until: at("11:00") };
    assert_eq!(with(&mut floor, |plan| plan.visits.push(stay)), "PLAN_BAY_TAKEN");
}

#[test]
fn a_stage_that_was_started_keeps_its_people_and_its_bay() {
    let mut floor = open();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    floor.acts(None, Role::Lead);
    let moss = floor.moss;
    assert_eq!(with(&mut floor, |plan| plan.stages[0].people = vec![moss]), "PLAN_STARTED");
    assert_eq!(
        with(&mut floor, |plan| {
            plan.stages[0].bay = Some("lift-2".into());
            plan.visits[0].bay = "lift-2".into();
        }),
        "PLAN_STARTED"
    );
    let as_it_is = plan(&floor);
    floor.now(as_it_is).unwrap();
}

#[test]
fn what_is_over_is_left_out_only_where_that_was_asked_for() {
    let mut floor = open();
    let mut plan = plan(&floor);
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("08:20", start("strip")).unwrap();
    floor.at("08:40", finish("strip")).unwrap();
    floor.acts(None, Role::Lead);
    assert_eq!(code(floor.now(plan.clone())), "PLAN_STAGE_OVER");
    plan.even_if_outdated = true;
    let answer = floor.now(plan).unwrap();
    assert_eq!(answer.notices.len(), 1);
    assert_eq!(floor.shop.state.plan_stages.len(), 1);
}

fn pin(stage: &str, bay: Option<&str>, people: Vec<PersonId>) -> PinStage {
    PinStage { job: JOB, stage: stage.into(), bay: bay.map(BayKey::from), people, from_at: None }
}

#[test]
fn a_pin_is_kept_by_every_plan() {
    let mut floor = open();
    let (flint, moss) = (floor.flint, floor.moss);
    floor.now(pin("strip", Some("lift-2"), vec![])).unwrap();
    assert_eq!(with(&mut floor, |_| ()), "PLAN_PINNED");
    floor.now(pin("strip", Some("lift-1"), vec![])).unwrap();
    floor.now(pin("refit", None, vec![flint])).unwrap();
    assert_eq!(with(&mut floor, |_| ()), "PLAN_PINNED");
    floor.now(UnpinStage { job: JOB, stage: "refit".into() }).unwrap();
    assert_eq!(code(floor.now(UnpinStage { job: JOB, stage: "refit".into() })), "NOTHING_TO_DO");
    let later = PinStage { from_at: Some(at("11:30")), ..pin("refit", None, vec![]) };
    floor.now(later).unwrap();
    assert_eq!(with(&mut floor, |_| ()), "PLAN_PINNED");
    floor.now(pin("refit", None, vec![moss])).unwrap();
    let kept = plan(&floor);
    floor.now(kept).unwrap();
}

#[test]
fn a_pin_says_something_that_can_be() {
    let mut floor = open();
    let (flint, moss) = (floor.flint, floor.moss);
    let mut refused = |pin: PinStage| code(floor.now(pin));
    assert_eq!(refused(pin("strip", None, vec![])), "INVALID_FIELD");
    assert_eq!(refused(pin("strip", None, vec![flint, flint])), "INVALID_FIELD");
    assert_eq!(refused(pin("strip", Some("floor-1"), vec![])), "UNFIT_BAY");
    assert_eq!(refused(pin("refit", Some("lift-1"), vec![])), "PLAN_NO_BAY_NEEDED");
    assert_eq!(refused(pin("strip", None, vec![moss])), "PLAN_SKILL_MISSING", "a pin has no override to offer");
    let past = PinStage { from_at: Some(at("07:59")), ..pin("strip", None, vec![]) };
    assert_eq!(refused(past), "INVALID_FIELD", "nothing begins in the past");
    assert_eq!(refused(pin("book-in", None, vec![moss])), "STAGE_STATE");
    assert_eq!(refused(pin("nowhere", None, vec![moss])), "NOT_FOUND");
    assert_eq!(refused(PinStage { job: JobNo(9), ..pin("strip", None, vec![flint]) }), "NOT_FOUND");
    floor.now(extra("strip")).unwrap();
    // Where no skill is asked for, somebody has to be known all the same.
    let nobody = PersonId(uuid::Uuid::from_u128(1));
    assert_eq!(code(floor.now(pin("extra", None, vec![nobody]))), "NOT_FOUND");
    floor.now(pin("extra", None, vec![moss])).unwrap();
}

#[test]
fn overtime_is_opened_ahead_and_never_twice() {
    let mut floor = open();
    let (flint, now) = (floor.flint, floor.shop.now);
    let overtime =
        |from_at: Instant, minutes| OpenOvertime { person: flint, from_at, until_at: from_at.plus_minutes(minutes) };
    assert_eq!(code(floor.now(overtime(now.plus_minutes(-1), 60))), "INVALID_FIELD");
    assert_eq!(code(floor.now(overtime(at("18:00"), 0))), "INVALID_FIELD");
    assert_eq!(code(floor.now(overtime(at("18:00"), 1_441))), "INVALID_FIELD");
    floor.now(overtime(at("18:00"), 120)).unwrap();
    assert_eq!(code(floor.now(overtime(at("19:00"), 120))), "OVERTIME_OPEN");
    floor.now(overtime(at("20:00"), 60)).unwrap();
    let close = |time: &str| CloseOvertime { person: flint, at: at(time) };
    assert_eq!(code(floor.now(close("21:00"))), "NOTHING_TO_DO");
    floor.now(close("20:30")).unwrap();
    assert_eq!(floor.shop.state.overtime.len(), 1, "what had not begun is gone");
    floor.at("18:30", close("18:15")).unwrap();
    let row = floor.shop.state.overtime.iter().next().unwrap();
    assert_eq!((row.from_at, row.until_at), (at("18:00"), at("18:30")), "what had begun ends now");
}

#[test]
fn what_has_no_place_is_kept_with_the_plan_and_told_on_the_board() {
    let mut floor = open();
    let day = || vec![DayHours { from_minute: 0, until_minute: 1_440 }];
    let week = Week([day(), day(), day(), day(), day(), day(), day()]);
    floor.now(SetHours { from_day: "2026-05-04".into(), week }).unwrap();
    let refused = |floor: &mut Floor, change: &dyn Fn(&mut AcceptPlan)| {
        let mut wrong = plan(floor);
        change(&mut wrong);
        floor.now(wrong).unwrap_err().field().unwrap().to_owned()
    };
    let one = |stage: &str| Nowhere { stage: stage.into(), why: NoPlace::TooFew };
    let twice = |plan: &mut AcceptPlan| {
        (plan.jobs[0].ready, plan.jobs[0].nowhere) = (None, vec![one("wash"), one("wash")]);
    };
    assert_eq!(refused(&mut floor, &twice), "plan.jobs[0].nowhere");
    let placed = |plan: &mut AcceptPlan| (plan.jobs[0].ready, plan.jobs[0].nowhere) = (None, vec![one("refit")]);
    assert_eq!(refused(&mut floor, &placed), "plan.jobs[0].nowhere");
    let ready = |plan: &mut AcceptPlan| plan.jobs[0].nowhere = vec![one("wash")];
    assert_eq!(refused(&mut floor, &ready), "plan.jobs[0].ready_at");
    assert_eq!(
        with(&mut floor, |plan| (plan.jobs[0].ready, plan.jobs[0].nowhere) = (None, vec![one("paint")])),
        "NOT_FOUND"
    );

    let card = |floor: &Floor| {
        let board = board(&floor.shop.state, floor.shop.now);
        let card = board.bays.iter().find_map(|line| line.card.clone()).unwrap();
        (card.expected_at.is_some(), card.promise)
    };
    assert_eq!(card(&floor), (true, Promise::None));
    let mut kept = plan(&floor);
    kept.stages.pop();
    let nobody = PlannedJob {
        job: JOB,
        ready: None,
        likely: None,
        safe: None,
        nowhere: vec![one("refit"), one("wash")],
        hangs_on: vec![],
    };
    kept.jobs = vec![nobody];
    floor.now(kept).unwrap();
    assert_eq!(floor.shop.state.plan_jobs.get(&(JOB,)).unwrap().nowhere, [one("refit"), one("wash")]);
    assert_eq!(card(&floor), (false, Promise::NoPlace), "the board says so, and gives no time");
    for stage in ["refit", "wash"] {
        floor.now(skip(stage)).unwrap();
    }
    assert_eq!(card(&floor), (true, Promise::None), "what is over asks for no place");
}

#[test]
fn what_a_plan_hangs_on_is_kept_with_it() {
    let mut floor = open();
    let on = |stage: &str| HangsOn { job: JOB, stage: stage.into() };
    let hangs = |floor: &mut Floor, on: Vec<HangsOn>| {
        let mut asked = plan(floor);
        asked.jobs[0].hangs_on = on;
        floor.now(asked)
    };
    let twice = hangs(&mut floor, vec![on("wash"), on("wash")]).unwrap_err();
    assert_eq!(twice.field().unwrap(), "plan.jobs[0].hangs_on");
    assert!(hangs(&mut floor, vec![on("paint")]).is_err(), "there is no such stage");
    hangs(&mut floor, vec![on("refit"), on("wash")]).unwrap();
    assert_eq!(floor.shop.state.plan_jobs.get(&(JOB,)).unwrap().hangs_on, [on("refit"), on("wash")]);
    // An outdated plan is taken as far as it goes: what is over holds up nothing.
    let mut outdated = plan(&floor);
    outdated.jobs[0].hangs_on = vec![on("wash"), on("refit")];
    floor.now(skip("wash")).unwrap();
    outdated.even_if_outdated = true;
    outdated.stages.retain(|row| row.stage.as_str() != "wash");
    floor.now(outdated).unwrap();
    assert_eq!(floor.shop.state.plan_jobs.get(&(JOB,)).unwrap().hangs_on, [on("refit")]);
}

#[test]
fn the_yard_is_as_large_as_was_said_last() {
    let mut floor = open();
    let yard = |floor: &Floor| {
        let shop = floor.shop.state.shop.get(&()).unwrap();
        let input = plan_input(&floor.shop.state, floor.shop.now, &|_| String::new());
        assert_eq!((input.places_outside, input.jobs[0].moving_minutes), (shop.places_outside, shop.moving_minutes));
        (shop.places_outside, shop.moving_minutes)
    };
    assert_eq!(yard(&floor), (4, 10), "common practice, until somebody says otherwise");
    floor.now(SetYard { places_outside: Some(0), moving_minutes: None }).unwrap();
    assert_eq!(yard(&floor), (0, 10));
    floor.now(SetYard { places_outside: None, moving_minutes: Some(25) }).unwrap();
    assert_eq!(yard(&floor), (0, 25));
    let mut field = |places_outside, moving_minutes| {
        floor.now(SetYard { places_outside, moving_minutes }).unwrap_err().field().unwrap().to_owned()
    };
    assert_eq!(field(None, None), "places_outside");
    assert_eq!(field(Some(-1), Some(5)), "places_outside");
    assert_eq!(field(Some(1_001), None), "places_outside");
    assert_eq!(field(Some(2), Some(1_441)), "moving_minutes");
    let much = floor.now(SetYard { places_outside: Some(1_001), moving_minutes: None }).unwrap_err().to_string();
    assert!(much.ends_with("a yard has from 0 to 1000 places outside; give such a number"), "{much}");
    assert_eq!(yard(&floor), (0, 25));
}

/// A stage that the lead put behind all that is planned is not told to want for hands.
#[test]
fn what_lies_behind_the_calendars_is_told_as_such() {
    let floor = open();
    let mut input = plan_input(&floor.shop.state, floor.shop.now, &|_| String::new());
    let strip: StageKey = "strip".into();
    let told = |input: &PlanInput| words::no_place(NoPlace::NoTime, input, JOB, &strip, &[]);
    assert!(told(&input).contains("so much time before the calendars end"), "{}", told(&input));
    let until = input.until;
    let row = input.jobs[0].stages.iter_mut().find(|row| row.stage == strip).unwrap();
    row.pin.from = Some(until);
    let beyond = "what it waits for lies behind the end of the calendars; it is planned once they reach so far";
    assert!(told(&input).ends_with(&format!("has no place: {beyond}.")), "{}", told(&input));
}
