//! How the journals of a plan, and of a correction that was asked for, were written.

use super::*;

/// Wrote `v1_plan.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_a_plan_pins_and_overtime() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let Made::Person(person) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    shop.must(AddBay { bay: "lift-1".into(), name: "One".into(), kind: BayKind::TwoPostLift, rated_kg: 3_000 });
    let job = shop.job(3, &[("strip", &[]), ("fit", &[])]);
    let at = |minutes: i64| Instant::parse("2026-05-04T09:00:00Z").unwrap().plus_minutes(minutes);
    shop.must(PinStage { job, stage: "fit".into(), bay: None, people: vec![person], from_at: Some(at(60)) });
    shop.must(PinStage { job, stage: "strip".into(), bay: None, people: vec![person], from_at: None });
    shop.must(UnpinStage { job, stage: "strip".into() });
    for from in [600, 1_440] {
        shop.must(OpenOvertime { person, from_at: at(from), until_at: at(from + 120) });
    }
    shop.must(CloseOvertime { person, at: at(1_500) });
    let stage = |stage: &str, from: i64, until: i64| leadhand_facts::plan::PlannedStage {
        job,
        stage: stage.into(),
        bay: None,
        people: vec![person],
        tools: vec![],
        from: at(from),
        until: at(until),
    };
    let (made_n, made_at) = (shop.state.head, shop.now);
    let ready = Some(at(90));
    let jobs = vec![leadhand_facts::plan::PlannedJob {
        job,
        ready,
        likely: ready,
        safe: Some(at(120)),
        nowhere: vec![],
        hangs_on: vec![],
    }];
    let visits = vec![leadhand_facts::plan::BayVisit { job, bay: "lift-1".into(), from: at(0), until: at(90) }];
    let stages = vec![stage("strip", 0, 60), stage("fit", 60, 90)];
    shop.must(AcceptPlan { made_n, made_at, stages, visits, jobs, even_if_outdated: false });
    shop.must(CancelJob { job, reason: "sold".into(), as_it_is: false });
    write(&shop, "v1_plan");
}

/// Wrote `v1_asked.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_corrections_that_were_asked_for() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let Made::Person(person) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    let job = shop.job(3, &[("strip", &[])]);
    shop.person = Some(person);
    shop.must(StartStage { job, stage: "strip".into(), override_reason: None });
    shop.now = shop.now.plus_minutes(60);
    shop.must(FinishStage { job, stage: "strip".into(), as_listed: true });
    shop.must(CancelJob { job, reason: "the part is dear".into(), as_it_is: true });
    shop.now = shop.now.plus_minutes(60);
    let row = shop.state.clockings.iter().next().unwrap().clone();
    let until_at = row.until_at.map(|until| until.plus_minutes(-20));
    let reason = || "I stopped earlier".to_owned();
    let ask = |withdraw: bool| AskCorrection {
        entry: row.on_n,
        from_at: None,
        until_at: until_at.filter(|_| !withdraw),
        job: None,
        stage: None,
        withdraw,
        reason: reason(),
    };
    let answer = |ask: i32, take: bool| DecideCorrection {
        job,
        ask: AskNo(ask),
        take,
        reason: "as asked".into(),
        override_reason: None,
    };
    for (withdraw, take) in [(true, false), (false, true)] {
        shop.role = Role::Technician;
        shop.must(ask(withdraw));
        shop.role = Role::Lead;
        shop.must(answer(if withdraw { 1 } else { 2 }, take));
    }
    write(&shop, "v1_asked");
}

/// Wrote `v1_yard.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_a_yard_and_what_has_no_place() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.must(SetYard { places_outside: Some(6), moving_minutes: None });
    shop.must(SetYard { places_outside: None, moving_minutes: Some(15) });
    let job = shop.job(3, &[("strip", &[])]);
    shop.must(AddStage {
        job,
        stage: Some("bleed".into()),
        title: "Bleed".into(),
        kind: StageKind::Work,
        minutes: Minutes { low: 20, likely: 30, high: 60 },
        bays: vec![],
        skills: vec!["brakes".into()],
        hands: 1,
        tools: vec![],
        after: vec![],
        after_last: true,
        before: vec![],
        may_leave: false,
        in_one_go: true,
        steps: vec![],
    });
    let (made_n, made_at) = (shop.state.head, shop.now);
    let nowhere = vec![leadhand_facts::plan::Nowhere { stage: "bleed".into(), why: words::NoPlace::TooFew }];
    let jobs = vec![leadhand_facts::plan::PlannedJob {
        job,
        ready: None,
        likely: None,
        safe: None,
        nowhere,
        hangs_on: vec![],
    }];
    shop.must(AcceptPlan { made_n, made_at, stages: vec![], visits: vec![], jobs, even_if_outdated: false });
    write(&shop, "v1_yard");
}
