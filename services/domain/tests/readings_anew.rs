//! What a lead had repaired, or wants to be measured again, is measured when that is done, also long after its stage. The
//! rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::reading::read_measure;
use leadhand_facts::words::{Decision, Role, Verdict};

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
fn mending(decision: Decision) -> Bench {
    let mut bench = Bench::new(TEMPLATE);
    bench.acts(bench.flint, Role::Lead);
    bench.must(start("measure"));
    bench.must(record("1.4"));
    bench.must(decide(Decision::Repair));
    bench.must(finish("measure", true));
    bench.must(start("mend"));
    if decision != Decision::Repair {
        bench.must(decide(decision));
    }
    bench
}

fn record(figure: &str) -> RecordReading {
    let figures = vec![read_measure(figure).unwrap()];
    RecordReading { job: JOB, reading: "play".into(), figures, instrument: None, note: None, sure: false }
}

fn decide(decision: Decision) -> DecideReading {
    DecideReading { job: JOB, reading: "play".into(), decision, reason: "new bush".into() }
}

fn open(bench: &Bench) -> Vec<String> {
    lines(&bench.shop.state, JOB, bench.shop.now)
        .iter()
        .map(Line::key)
        .filter(|key| key.starts_with("reading"))
        .collect()
}

#[test]
fn after_a_repair_it_is_measured_where_the_work_is_by_now() {
    for decision in [Decision::Repair, Decision::Again] {
        let mut bench = mending(decision);
        let kind = if decision == Decision::Repair { "reading-out:play" } else { "reading-missing:play" };
        assert_eq!(open(&bench), [kind]);
        bench.must(record("1.2"));
        assert_eq!(open(&bench), ["reading-out:play"], "still too much, and nothing is held up that is over");
        assert!(bench.shop.state.blockers.iter().all(|row| row.cleared_at.is_some()));
        // It was measured, and nobody asked for it once more.
        assert_eq!(bench.refused(record("0.9")), "STAGE_STATE");
        bench.must(decide(Decision::Repair));
        bench.must(record("0.9"));
        assert_eq!(open(&bench), Vec::<String>::new());
        let row = bench.shop.state.readings.get(&(JOB, "play".into())).unwrap();
        assert_eq!((row.verdict, row.decision), (Some(Verdict::In), None));
        bench.must(finish("mend", true));
        bench.must(CompleteJob { job: JOB, override_reason: None, overrides: vec![] });
    }
}
