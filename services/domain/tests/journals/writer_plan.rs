//! How the journal of a plan was written.

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
    let jobs = vec![leadhand_facts::plan::PlannedJob { job, ready, likely: ready, safe: Some(at(120)), nowhere: vec![] }];
    let visits = vec![leadhand_facts::plan::BayVisit { job, bay: "lift-1".into(), from: at(0), until: at(90) }];
    let stages = vec![stage("strip", 0, 60), stage("fit", 60, 90)];
    shop.must(AcceptPlan { made_n, made_at, stages, visits, jobs, even_if_outdated: false });
    shop.must(CancelJob { job, reason: "sold".into(), as_it_is: false });
    write(&shop, "v1_plan");
}
