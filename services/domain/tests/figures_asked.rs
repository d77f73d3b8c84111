//! Figures and fluids that can't be what they say are asked about. That a held pressure does not rise, that torque and
//! run-out have no sign, and that a system takes no more than it holds is common practice, no source.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::lines;
use leadhand_domain::reading::read_measure;

const TEMPLATE: &str = r#"
key = "coolant"
title = "Coolant"

[[stage]]
key = "strip"
title = "Strip"
minutes = [5, 10, 20]

[[stage.step]]
do = "Drain"
state = { sets = ["coolant drained"] }
fluid = [{ key = "coolant", what = "Coolant", expected = "6 L", back = "strip" }]


[[stage.step]]
do = "Measure"

[[stage.step.reading]]
key = "thickness"
what = "Thickness of the disc"
kind = "other"
unit = "mm"
low = 22

[[stage.step.reading]]
key = "held"
what = "System under pressure"
kind = "pressure-held"
unit = "bar"
drop = "0.05"
minutes = 10

[[stage.step.reading]]
key = "run-out"
what = "Run-out"
kind = "run-out"
unit = "mm"
high = "0.05"

[[stage.step.reading]]
key = "cold"
what = "Freezing point"
kind = "other"
unit = "Cel"
high = -25
"#;

fn begun() -> Bench {
    Bench::begun(TEMPLATE, "strip")
}

fn record(reading: &str, figures: &[&str]) -> RecordReading {
    let figures = figures.iter().map(|figure| read_measure(figure).unwrap()).collect();
    RecordReading { job: JOB, reading: reading.into(), figures, instrument: None, note: None, sure: false }
}

fn fluid(fluid: &str, drained_ml: i64, filled_ml: i64) -> RecordFluid {
    RecordFluid { job: JOB, fluid: fluid.into(), drained_ml, filled_ml, note: None, unlisted: false }
}

fn open(bench: &Bench) -> Vec<String> {
    lines(&bench.shop.state, JOB, bench.shop.now)
        .iter()
        .filter(|line| line.kind().starts_with("fluid"))
        .map(leadhand_domain::hand_over::Line::key)
        .collect()
}

#[test]
fn nothing_is_less_than_nothing() {
    let mut bench = begun();
    for (reading, figure) in [("thickness", "-22.4"), ("run-out", "-0.01")] {
        let told = bench.refusal(record(reading, &[figure]));
        assert_eq!(told.reason(), "INVALID_FIELD", "{told}");
        assert!(told.to_string().contains("below 0"), "{told}");
    }
    let sure = |reading: &str, figure: &str| RecordReading { sure: true, ..record(reading, &[figure]) };
    assert_eq!(bench.refused(sure("run-out", "-0.01")), "INVALID_FIELD", "nobody is sure of that");
    // Of what is neither pressure nor torque nor run-out the template may not know that it has a sign.
    bench.must(sure("thickness", "-0.1"));
    bench.must(record("cold", &["-31"]));
}

#[test]
fn what_is_held_does_not_rise() {
    let mut bench = begun();
    let told = bench.refusal(record("held", &["1.0", "1.2", "10"]));
    assert_eq!(told.reason(), "PRESSURE_ROSE");
    assert!(told.to_string().contains("begins at 1 bar and ends at 1.2 bar"), "{told}");
    bench.must(RecordReading { sure: true, ..record("held", &["1.0", "1.2", "10"]) });
    // As little as it may fall is no more than a gauge shows.
    bench.must(record("held", &["1.2", "1.25", "10"]));
    bench.must(record("held", &["1.2", "1.18", "10"]));
}

#[test]
fn a_slip_of_the_keys_is_no_new_fluid() {
    let mut bench = begun();
    let told = bench.refusal(fluid("cooolant", 5_500, 0));
    assert_eq!(told.reason(), "FLUID_UNLISTED");
    assert!(told.to_string().contains("job 1 has 'coolant', and no 'cooolant'"), "{told}");
    bench.must(fluid("coolant", 5_500, 0));
    bench.must(RecordFluid { unlisted: true, ..fluid("washer", 200, 0) });
    // Once it was said it is known.
    bench.must(fluid("washer", 0, 200));
}

#[test]
fn more_than_it_holds_is_a_line_of_the_hand_over() {
    let mut bench = begun();
    bench.must(fluid("coolant", 5_500, 0));
    assert_eq!(open(&bench), ["fluid:coolant"]);
    bench.must(fluid("coolant", 0, 6_000));
    assert!(open(&bench).is_empty(), "it holds 6 L");
    // It may have come a little low.
    bench.must(fluid("coolant", 0, 100));
    assert!(open(&bench).is_empty());
    bench.must(fluid("coolant", 0, 200));
    assert_eq!(open(&bench), ["fluid-over:coolant"]);
    let told = lines(&bench.shop.state, JOB, bench.shop.now)
        .iter()
        .find(|line| line.kind() == "fluid-over")
        .unwrap()
        .to_string();
    assert!(told.contains("6.3 L went in, and 6 L should have at most"), "{told}");
    // The surplus is let out, and no more has to be.
    bench.must(fluid("coolant", 300, 0));
    assert!(open(&bench).is_empty());
    // Flushed: as much comes out again as went in.
    let mut bench = begun();
    bench.must(fluid("coolant", 5_500, 0));
    bench.must(fluid("coolant", 0, 6_000));
    bench.must(RecordFluid { note: Some("flushed".into()), ..fluid("coolant", 6_000, 6_000) });
    assert!(open(&bench).is_empty());
}
