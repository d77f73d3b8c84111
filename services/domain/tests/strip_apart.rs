//! A vehicle that is apart: its job is called off with open eyes alone, what went back on top comes off first, and what was
//! forgotten on the way is told. Common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Remedy, lines};
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::hand_over::{loose_ends, sheet};
use leadhand_facts::words::{Role, StageState, Tightness, VehicleState};
use leadhand_facts::{FluidKey, Quantity, StepNo, Unit};

const TEMPLATE: &str = r#"
key = "hub"
title = "Hub"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Battery off"
state = { sets = ["battery isolated"] }

[[stage.step]]
do = "Wheel off"

[[stage.step.off]]
key = "bolts"
what = "Wheel bolts"
kind = "fastener"
count = 5
back = "refit"

[[stage.step.off]]
key = "wheel"
what = "Wheel"
behind = ["bolts"]
back = "refit"

[[stage]]
key = "drain"
title = "Drain"
minutes = [5, 10, 20]
after = ["strip"]

[[stage.step]]
do = "Drain"
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "refit" }]
state = { sets = ["coolant drained"] }

[[stage]]
key = "look"
title = "Look at it"
minutes = [5, 10, 20]
after = ["drain"]

[[stage.step]]
do = "Look"
hold = "hub clean"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["look"]

[[stage.step]]
do = "Back with new grease"
needs = [{ item = "nut-8", quantity = 2 }]
state = { sets = ["coolant full", "battery connected"] }
"#;

/// Flint has begun, and the shop keeps nuts.
fn begun() -> Bench {
    let mut bench = Bench::prepared(TEMPLATE, |shop, _| {
        let (item, unit) = ("nut-8".into(), Unit::Piece);
        shop.must(AddItem { item, name: "Nut".into(), unit });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench
}

/// The wheel is off and the strip is over.
fn stripped() -> Bench {
    let mut bench = begun();
    bench.must(finish("strip", true));
    bench
}

/// What was drained is said, and the refit is under way.
fn refitting() -> Bench {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(tick("drain", &[1]));
    bench.must(finish("drain", false));
    bench.must(start("look"));
    bench.must(tick("look", &[1]));
    bench.must(finish("look", false));
    bench.must(start("refit"));
    bench
}

fn fluid(drained_ml: i64, filled_ml: i64) -> RecordFluid {
    let fluid = FluidKey::from("coolant");
    RecordFluid { job: JOB, fluid, drained_ml, filled_ml, note: None, unlisted: false }
}

fn cancel(as_it_is: bool) -> CancelJob {
    CancelJob { job: JOB, reason: "the customer sells it".into(), as_it_is }
}

fn reopen(position: &str) -> ReopenPosition {
    ReopenPosition { job: JOB, position: position.into(), reason: "it wobbles".into() }
}

#[test]
fn a_job_whose_vehicle_is_apart_is_called_off_with_open_eyes_alone() {
    let mut bench = stripped();
    bench.acts(bench.moss, Role::Lead);
    let Refusal::GoesApart { lines: told, .. } = bench.refusal(cancel(false)) else { panic!("it went apart") };
    let told: Vec<String> = told.iter().map(|line| line.key()).collect();
    assert!(told.contains(&"places:wheel".to_owned()) && told.contains(&"state:battery".to_owned()), "{told:?}");
    let notices = bench.must(cancel(true)).notices;
    assert!(notices.iter().any(|one| matches!(one, Notice::LeftOpen { position } if position.as_str() == "wheel")));
    // What nobody has touched goes without a word.
    let mut bench = begun();
    bench.acts(bench.moss, Role::Lead);
    bench.must(cancel(false));
}

#[test]
fn what_went_back_on_top_is_taken_back_first() {
    let mut bench = refitting();
    bench.must(back(vec![put("wheel"), put("bolts")]));
    assert_eq!(bench.row("bolts").tightness, Some(Tightness::Final));
    let told = bench.refusal(reopen("wheel"));
    assert_eq!(told.reason(), "ON_TOP");
    assert!(told.to_string().contains("'bolts' went back after it"), "{told}");
    bench.must(reopen("bolts"));
    bench.must(reopen("wheel"));
    let open: Vec<String> = lines(&bench.shop.state, JOB).iter().map(|line| line.key()).collect();
    assert!(open.contains(&"places:bolts".to_owned()) && open.contains(&"places:wheel".to_owned()), "{open:?}");
}

/// Whoever ticks is told of what came from nowhere; nothing is said of what was set aside or given out.
#[test]
fn a_tick_tells_what_was_never_taken_from_stock() {
    let mut bench = refitting();
    bench.must(fluid(0, 5_500));
    bench.must(back(vec![put("wheel"), put("bolts")]));
    let told = bench.must(tick("refit", &[1])).notices;
    let item = "nut-8".into();
    let without = |quantity| Notice::TickedWithout {
        stage: "refit".into(),
        step: StepNo(1),
        item,
        quantity: Quantity(quantity),
        unit: Unit::Piece,
    };
    assert!(told.contains(&without(2)), "{told:?}");
}

#[test]
fn a_hold_point_that_was_left_out_is_not_to_be_ticked() {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(finish("drain", true));
    bench.acts(bench.moss, Role::Lead);
    bench.must(SkipStage { job: JOB, stage: "look".into(), reason: "seen while stripping".into() });
    let open = lines(&bench.shop.state, JOB);
    let hold = open.iter().find(|line| line.kind() == "hold").unwrap();
    assert!(hold.open().contains("left out") && hold.todo().contains("`stage reopen`"), "{hold}: {}", hold.todo());
    assert_eq!(hold.remedy(), Remedy::Lead);
}

#[test]
fn who_starts_late_hears_behind_what_it_comes() {
    let mut bench = stripped();
    let early = bench.shop.now.plus_minutes(-1);
    let start = Command::from(start("drain"));
    let told = bench.shop.run_at(&start, early).unwrap_err();
    assert_eq!(told.reason(), "TOO_EARLY");
    assert!(told.to_string().contains("which comes after 'strip'"), "{told}");
}

#[test]
fn the_sheet_tells_what_came_out_and_went_in() {
    let mut bench = refitting();
    bench.must(fluid(0, 5_000));
    let told = sheet(&bench.shop.state, JOB).unwrap().fluids;
    let told: Vec<(&str, i64, i64)> =
        told.iter().map(|row| (row.fluid.as_str(), row.drained_ml, row.filled_ml)).collect();
    assert_eq!(told, [("coolant", 5_500, 5_000)]);
}

/// What is still in is news where the circuit is opened or filled, and nowhere else.
#[test]
fn what_did_not_come_out_is_told_where_it_matters() {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(finish("drain", true));
    let left = |told: &[Notice]| told.iter().any(|one| matches!(one, Notice::FluidLeft { .. }));
    assert!(!left(&bench.must(start("look")).notices));
    bench.must(tick("look", &[1]));
    bench.must(finish("look", false));
    assert!(left(&bench.must(start("refit")).notices));
    assert_eq!(bench.shop.state.stages.get(&(JOB, "refit".into())).unwrap().state, StageState::Active);
}

#[test]
fn the_end_of_a_shift_tells_ways_that_wait_for_the_lead() {
    let mut bench = refitting();
    let (stage, step) = ("refit".into(), StepNo(1));
    let (way, reason) = ("paste instead of grease".to_owned(), "grease runs out here".to_owned());
    bench.must(ProposeWay { job: JOB, stage, step, way, reason });
    let ends = loose_ends(&bench.shop.state, Some(JOB));
    assert_eq!(ends[0].ways.len(), 1);
    assert!(ends[0].text_ids().contains(&ends[0].ways[0].note));
    bench.acts(bench.moss, Role::Lead);
    bench.must(DecideWay { job: JOB, stage: "refit".into(), step: StepNo(1), approved: true, note: None });
    assert!(loose_ends(&bench.shop.state, Some(JOB))[0].ways.is_empty());
    assert!(loose_ends(&bench.shop.state, Some(JOB))[0].states.contains(&VehicleState::BatteryIsolated));
}
