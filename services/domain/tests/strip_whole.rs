//! A tick guesses nothing, and nothing comes to life while it is open: what a step takes off is said before it is ticked,
//! what was put in is out before it is built in, and what is still off, in or loose stands against battery, pressure,
//! fluids, running and wheels. Which states count is common practice, no source; the rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::{Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::words::{Manner, Role, StepState, Tightness, VehicleState};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "inlet"
title = "Inlet"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Battery off, coolant out"
state = { sets = ["battery isolated", "coolant drained"] }
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "refit" }]

[[stage.step]]
do = "Take the rail off"

[[stage.step.off]]
key = "rail"
what = "Rail"
back = "refit"

[[stage.step.off]]
key = "rail-bolts"
what = "Bolts of the rail"
kind = "fastener"
count = 4
on = "rail"
back = "refit"
tighten = ["10 N.m"]

[[stage.step]]
do = "Take the manifold off and cover the ports"
state = { needs = ["coolant drained"], sets = ["ports covered"] }

[[stage.step.off]]
key = "manifold"
what = "Manifold"
behind = ["rail"]
back = "refit"

[[stage.step.off]]
key = "gasket"
what = "Gasket"
behind = ["manifold"]
back = "refit"

[[stage.step.in]]
key = "covers"
what = "Port covers"
count = 4
behind = ["manifold"]
back = "refit"

[[stage.step]]
do = "Down on its wheels, out of the bay"
state = { sets = ["support wheels"] }

[[stage.step.off]]
key = "undertray"
what = "Undertray"
back = "close"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Everything back"
state = { sets = ["ports closed"] }

[[stage.step]]
do = "Battery on"
state = { sets = ["battery connected"] }

[[stage.step]]
do = "Pressure on"
state = { needs = ["battery connected"], sets = ["fuel-pressure live", "coolant full"] }

[[stage]]
key = "close"
title = "Close up"
minutes = [5, 10, 20]
after = ["refit"]
"#;

/// The strip is under way, and the coolant is said to be out.
fn begun() -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(coolant(7_000, 0));
    bench
}

fn coolant(drained_ml: i64, filled_ml: i64) -> RecordFluid {
    RecordFluid { job: JOB, fluid: "coolant".into(), drained_ml, filled_ml, note: None, unlisted: false }
}

fn of_step(step: i32) -> TakeOff {
    TakeOff { step: Some(StepNo(step)), ..off(vec![], true) }
}

/// All off as listed, the refit under way.
fn stripped() -> Bench {
    let mut bench = begun();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(coolant(0, 7_000));
    bench
}

/// All of it is back, as tight as this.
fn whole(tightness: Option<Tightness>) -> Vec<BackLine> {
    let tight = |position: &str| BackLine { tightness, ..put(position) };
    vec![put("covers"), put("gasket"), put("manifold"), put("rail"), tight("rail-bolts")]
}

#[test]
fn a_step_is_ticked_only_when_what_it_takes_off_was_said() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    let told = bench.refusal(tick("strip", &[2]));
    assert_eq!(told.reason(), "STEP_UNSAID");
    assert!(told.to_string().contains("'rail' and 'rail-bolts'"), "{told}");
    assert!(told.to_string().contains("`leadhand strip off 1 strip --as-listed --step 2`"), "{told}");
    assert_eq!(bench.refused(tick("strip", &[])), "STEP_UNSAID", "all that is left is no way round");
    // Said part by part, the rest is named; and a lead's word makes no entry in a book.
    bench.must(off(vec![line("rail"), line("rail-bolts")], false));
    bench.must(tick("strip", &[2]));
    bench.must(off(vec![line("manifold"), line("gasket")], false));
    bench.acts(bench.flint, Role::Lead);
    let why = Some("I saw them".to_owned());
    let told = bench.refusal(TickSteps { override_reason: why, ..tick("strip", &[3]) });
    assert!(told.to_string().contains("takes off or puts in 'covers'"), "{told}");
    assert_eq!(bench.step("strip", 3).state, StepState::Pending);
}

/// What comes off with a step comes off before the step is ticked, in the states that the steps before it brought about.
#[test]
fn as_listed_says_the_positions_and_then_ticks() {
    let mut bench = begun();
    bench.must(finish("strip", true));
    let rows: Vec<(i64, i64)> = [("rail", 2), ("manifold", 3), ("covers", 3)]
        .map(|(position, step)| (bench.row(position).off_n.unwrap(), bench.step("strip", step).done_n.unwrap()))
        .to_vec();
    assert!(rows.iter().all(|(off, ticked)| off < ticked), "{rows:?}");
    // And back, before what brings it to life: the refit can be ended in one touch.
    bench.must(start("refit"));
    bench.must(coolant(0, 7_000));
    bench.must(finish("refit", true));
    assert!(bench.row("rail-bolts").back_n < bench.step("refit", 2).done_n);
    assert_eq!(bench.row("rail-bolts").tightness, Some(Tightness::Final), "as listed is as tight as listed");
}

#[test]
fn nothing_comes_to_life_while_it_is_open_unless_a_named_lead_says_so() {
    let mut bench = stripped();
    bench.must(tick("refit", &[1]));
    let told = bench.refusal(tick("refit", &[2]));
    assert_eq!(told.reason(), "WAKES_OPEN");
    assert!(told.to_string().contains("leaves the vehicle 'battery connected'"), "{told}");
    assert!(
        told.to_string().contains("not back: 'gasket', 'manifold', 'rail', 'rail-bolts'; still in: 'covers'"),
        "{told}"
    );
    assert!(!told.to_string().contains("undertray"), "that goes back in a later stage: {told}");
    let because =
        |steps: &[i32]| TickSteps { override_reason: Some("the window has to go up".into()), ..tick("refit", steps) };
    assert_eq!(bench.refused(because(&[2])), "LEAD_ONLY");
    bench.device(Role::Lead);
    assert_eq!(bench.refused(because(&[2])), "SIGN_IN_FIRST");
    bench.acts(bench.moss, Role::Lead);
    bench.must(because(&[2]));
    assert!(bench.step("refit", 2).overridden.is_some());
    // Both that the state is missing and that it is open are told before the one reason that overrules both.
    bench.must(set(VehicleState::BatteryIsolated));
    let told = bench.refusal(tick("refit", &[3]));
    assert_eq!(told.reason(), "OBJECTIONS");
    assert!(told.to_string().contains("needs 'battery connected'") && told.to_string().contains("'covers'"), "{told}");
}

#[test]
fn what_is_back_and_loose_stands_against_pressure_and_not_against_the_battery() {
    let mut bench = stripped();
    bench.must(back(whole(None)));
    assert_eq!(bench.row("rail-bolts").tightness, Some(Tightness::Finger), "nobody said that it is torqued");
    bench.must(tick("refit", &[1, 2]));
    let told = bench.refusal(tick("refit", &[3]));
    assert!(told.to_string().contains("'fuel-pressure live' and 'coolant full'"), "{told}");
    assert!(told.to_string().contains("not tight: 'rail-bolts'"), "{told}");
    let tighten = |tightness| TightenPositions { job: JOB, positions: vec!["rail-bolts".into()], tightness };
    bench.must(tighten(Tightness::Final));
    bench.must(tick("refit", &[3]));
}

/// Somebody met a hose and did not say when it goes back: then before anything comes to life. A cloth that nobody listed
/// is in the way of everything that came off before it.
#[test]
fn what_nobody_listed_counts_as_well() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.must(of_step(2));
    let Made::Position { position: hose, .. } = bench.must(met("hose")).made else { panic!() };
    let cloth = AddPosition { manner: Manner::In, ..met("cloth in the hose") };
    let Made::Position { position: cloth, .. } = bench.must(cloth).made else { panic!() };
    // The vehicle may be lowered in the stage that takes it apart.
    bench.must(off(vec![], true));
    bench.must(tick("strip", &[2, 3, 4]));
    bench.must(finish("strip", false));
    bench.must(start("refit"));
    bench.must(back(vec![put("covers"), put("gasket"), put("manifold")]));
    let told = bench.refusal(back(vec![put("rail")])).to_string();
    assert!(told.contains(&format!("'rail' can't go back over '{cloth}'")), "{told}");
    bench.must(back(vec![put(cloth.as_str())]));
    let told = bench.refusal(back(vec![put("rail")])).to_string();
    assert!(told.contains(&format!("'{hose}' has to be back before it")), "{told}");
    let line = BackLine { left_out: 1, reason: Some("it is on order".into()), ..put(hose.as_str()) };
    bench.must(ReopenPosition { job: JOB, position: cloth.clone(), reason: "it slipped back in".into() });
    bench.must(back(vec![line, put("rail"), put("rail-bolts"), put(cloth.as_str())]));
    bench.must(tick("refit", &[1, 2]));
}

/// Covers first: the refit has them before what is built over them, and the step that goes wrong is refused.
#[test]
fn what_was_put_in_comes_out_before_what_covers_it_goes_back() {
    let mut bench = stripped();
    let order = strip_view(&bench.shop.state, JOB).refit;
    let place = |key: &str| order.iter().position(|line| line.position.as_str() == key).unwrap();
    assert!(place("covers") < place("manifold"), "{order:?}");
    assert!(order[place("manifold")].after.contains(&"covers".into()));
    let told = bench.refusal(back(vec![put("gasket"), put("manifold")]));
    assert_eq!(told.reason(), "STILL_INSIDE");
    assert!(told.to_string().contains("'manifold' can't go back over 'covers'"), "{told}");
    bench.must(back(vec![BackLine { refitted: Some(3), ..put("covers") }, put("gasket")]));
    assert_eq!(bench.refused(back(vec![put("manifold")])), "STILL_INSIDE", "one is still in");
    bench.must(back(vec![put("covers"), put("manifold")]));
}

#[test]
fn a_put_in_says_behind_what_or_that_it_stands_alone() {
    let mut bench = begun();
    bench.acts(bench.flint, Role::Lead);
    let covers =
        |behind: &str| TEMPLATE.replace("count = 4\nbehind = [\"manifold\"]\n", &format!("count = 4\n{behind}"));
    let told = bench.refusal(PublishTemplate { source: covers("") });
    assert_eq!(told.reason(), "TEMPLATE_FAULTS");
    assert!(told.to_string().contains("position 'covers' is put in and says not behind what"), "{told}");
    bench.must(PublishTemplate { source: covers("behind = []\n") });
}

#[test]
fn what_did_not_come_out_is_told_at_the_tick_and_where_it_runs_out() {
    let left = |millilitres| Notice::FluidLeft { fluid: "coolant".into(), millilitres };
    let unsaid = Notice::FluidUnsaid { fluid: "coolant".into(), millilitres: 7_000 };
    let mut bench = Bench::begun(TEMPLATE, "strip");
    let told = bench.refusal(tick("strip", &[1]));
    assert_eq!(told.reason(), "FLUID_NOT_OUT");
    assert!(told.to_string().contains("drains 'coolant', 7 L of it should come out"), "{told}");
    let overruling = TickSteps { override_reason: Some("it ran out on the road".into()), ..tick("strip", &[1]) };
    assert_eq!(bench.refused(overruling.clone()), "LEAD_ONLY");
    bench.acts(bench.flint, Role::Lead);
    assert_eq!(bench.must(overruling).notices, [unsaid], "drained, and nobody said how much");
    assert!(bench.step("strip", 1).overridden.is_some());
    assert_eq!(bench.must(of_step(2)).notices, [], "the rail is not of that circuit");
    bench.must(coolant(5_200, 0));
    let told = bench.must(off(vec![line("manifold")], false)).notices;
    assert_eq!(told, [left(1_800)], "its step needs it drained");
    // Behind the manifold, and nobody had listed it.
    let pipe = AddPosition { behind: Some(vec!["manifold".into()]), ..met("pipe behind the manifold") };
    assert_eq!(bench.must(pipe).notices, [left(1_800)]);
    bench.must(coolant(1_800, 0));
    assert_eq!(bench.must(off(vec![line("gasket")], false)).notices, [], "now it is out");
    // A drain that is entered first is told at the tick only as far as something is left.
    // One that had lost all of it is drained with nothing, and somebody says why.
    let mut bench = Bench::begun(TEMPLATE, "strip");
    assert_eq!(bench.refusal(coolant(0, 0)).field(), Some("drained_ml"));
    let dry = RecordFluid { note: Some("the hose had burst".into()), ..coolant(0, 0) };
    bench.must(dry);
    assert_eq!(bench.must(tick("strip", &[1])).notices, []);
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(coolant(6_900, 0));
    assert_eq!(bench.must(tick("strip", &[1])).notices, [left(100)]);
}

/// Seven litres came out: it is not full before some is in. What is missing of them stands in the list of the hand-over,
/// and with more the answer says so.
#[test]
fn it_is_not_full_before_somebody_said_what_went_in() {
    let mut bench = begun();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(whole(Some(Tightness::Final))));
    bench.must(tick("refit", &[1, 2]));
    assert_eq!(bench.refused(tick("refit", &[3])), "FLUID_NOT_IN");
    assert_eq!(bench.must(coolant(0, 6_900)).notices, []);
    let told = bench.must(coolant(0, 200)).notices;
    let over = Notice::FluidOver { fluid: "coolant".into(), filled_ml: 7_100, most_ml: 7_000, out: true };
    assert_eq!(told, [over]);
    bench.must(tick("refit", &[3]));
}

/// Nobody said what came out, and a lead let that pass: then what should be in it is what has to go in.
#[test]
fn what_should_be_in_counts_where_nobody_said_what_came_out() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.acts(bench.flint, Role::Lead);
    bench.must(TickSteps { override_reason: Some("it ran out on the road".into()), ..tick("strip", &[1]) });
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(whole(Some(Tightness::Final))));
    bench.must(tick("refit", &[1, 2]));
    let told = bench.refusal(tick("refit", &[3])).to_string();
    assert!(told.contains("0 mL of 7 L are said to be in"), "{told}");
    bench.must(coolant(0, 5_000));
    bench.must(tick("refit", &[3]));
    let over = Notice::FluidOver { fluid: "coolant".into(), filled_ml: 7_500, most_ml: 7_000, out: false };
    assert_eq!(bench.must(coolant(0, 2_500)).notices, [over]);
}

#[test]
fn a_state_that_is_said_while_parts_are_off_is_taken_down_and_told() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    assert_eq!(bench.must(set(VehicleState::BatteryConnected)).notices, [], "nothing is off yet");
    bench.must(of_step(2));
    bench.must(set(VehicleState::BatteryIsolated));
    let positions = vec!["rail".into(), "rail-bolts".into()];
    let told = bench.must(set(VehicleState::BatteryConnected)).notices;
    assert_eq!(told, [Notice::NotWhole { state: VehicleState::BatteryConnected, positions }]);
    assert_eq!(bench.must(set(VehicleState::BonnetOpen)).notices, [], "a bonnet brings nothing to life");
}

/// What came off in a stage that is over can't be said anew, so the word about it stays: nobody would miss it.
#[test]
fn a_stage_that_is_over_keeps_what_came_off_in_it() {
    let mut bench = begun();
    bench.must(finish("strip", true));
    let reopen = || ReopenPosition { job: JOB, position: "manifold".into(), reason: "a slip".into() };
    assert_eq!(bench.refused(reopen()), "STAGE_STATE");
    bench.must(start("refit"));
    bench.must(back(whole(None)));
    // What went back on top of it is taken back first, the last first.
    assert_eq!(bench.refused(reopen()), "ON_TOP");
    let on_top = leadhand_domain::strip::positions(&bench.shop.state, JOB).filter(|row| row.back_n.is_some());
    let mut on_top: Vec<_> = on_top.map(|row| (row.back_n, row.position.clone())).collect();
    on_top.sort_by(|one, other| other.cmp(one));
    for (_, position) in on_top.into_iter().take_while(|(_, position)| position.as_str() != "manifold") {
        bench.must(ReopenPosition { job: JOB, position, reason: "it goes off again".into() });
    }
    bench.must(reopen());
    assert!(
        bench.row("manifold").off_n.is_some() && bench.row("manifold").back_n.is_none(),
        "that it is back is undone"
    );
    assert_eq!(bench.refused(reopen()), "STAGE_STATE", "and nothing more, however often it is asked");
}
