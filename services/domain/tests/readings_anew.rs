//! What a lead had repaired, or wants to be measured again, is measured when that is done, also long after its stage. The
//! rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::reading::read_measure;
use leadhand_facts::words::{Decision, Verdict};
use leadhand_facts::*;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);

const TEMPLATE: &str = r#"
key = "check"
title = "Check"

[[stage]]
key = "measure"
title = "Measure"
minutes = [10, 20, 30]

[[stage.step]]
do = "Measure"
[[stage.step.reading]]
key = "play"
what = "Play"
kind = "other"
unit = "mm"
high = 1

[[stage]]
key = "mend"
title = "Mend"
minutes = [10, 20, 30]
after = ["measure"]

[[stage.step]]
do = "Mend"
"#;

/// The play was too much, and the lead had it decided so; measuring is over and mending has begun.
fn mending(decision: Decision) -> Shop {
    let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
    let Made::Person(wren) = shop.must(AddPerson { name: "Wren".into(), skills: vec![] }).made else { panic!() };
    shop.person = Some(wren);
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    shop.must(OpenJob {
        template: Some("check".into()),
        revision: None,
        title: None,
        vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
        priority: 3,
        promised_at: None,
        with: vec![],
        without: vec![],
    });
    shop.must(StartStage { job: JOB, stage: "measure".into(), override_reason: None });
    shop.must(record("1.4"));
    shop.must(decide(Decision::Repair));
    shop.must(FinishStage { job: JOB, stage: "measure".into(), as_listed: true });
    shop.must(StartStage { job: JOB, stage: "mend".into(), override_reason: None });
    if decision != Decision::Repair {
        shop.must(decide(decision));
    }
    shop
}

fn record(figure: &str) -> RecordReading {
    let figures = vec![read_measure(figure).unwrap()];
    RecordReading { job: JOB, reading: "play".into(), figures, instrument: None, note: None }
}

fn decide(decision: Decision) -> DecideReading {
    DecideReading { job: JOB, reading: "play".into(), decision, reason: "new bush".into() }
}

fn open(shop: &Shop) -> Vec<String> {
    lines(&shop.state, JOB).iter().map(Line::key).filter(|key| key.starts_with("reading")).collect()
}

#[test]
fn after_a_repair_it_is_measured_where_the_work_is_by_now() {
    for decision in [Decision::Repair, Decision::Again] {
        let mut shop = mending(decision);
        let kind = if decision == Decision::Repair { "reading-out:play" } else { "reading-missing:play" };
        assert_eq!(open(&shop), [kind]);
        shop.must(record("1.2"));
        assert_eq!(open(&shop), ["reading-out:play"], "still too much, and nothing is held up that is over");
        assert!(shop.state.blockers.iter().all(|row| row.cleared_at.is_some()));
        // It was measured, and nobody asked for it once more.
        assert_eq!(shop.refused(record("0.9")).reason(), "STAGE_STATE");
        shop.must(decide(Decision::Repair));
        shop.must(record("0.9"));
        assert_eq!(open(&shop), Vec::<String>::new());
        let row = shop.state.readings.get(&(JOB, "play".into())).unwrap();
        assert_eq!((row.verdict, row.decision), (Some(Verdict::In), None));
        shop.must(FinishStage { job: JOB, stage: "mend".into(), as_listed: true });
        shop.must(CompleteJob { job: JOB, override_reason: None, overrides: vec![] });
    }
}
