//! Work on what a second pair of eyes has looked at, and what can hurt whoever opens something now. What hurts is told with
//! the cautions of `hazard.rs`, which name their sources; the rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::{Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::hand_over::lines;
use leadhand_facts::words::{Hazard, Manner, Role, StepState, Tightness, VehicleState};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "head"
title = "Head"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Head off"

[[stage.step.off]]
key = "bolts"
what = "Head bolts"
kind = "fastener"
count = 10
back = "refit"
tighten = ["30 N.m", "90 deg"]

[[stage.step.off]]
key = "bag"
what = "Airbag of the knee"
back = "close"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Hold point, bolts by hand"
hold = "bolts in"

[[stage.step]]
do = "Tighten"

[[stage.step]]
do = "Hold point, last stage witnessed"
hold = "last stage witnessed"
second = true

[[stage]]
key = "close"
title = "Close"
minutes = [20, 30, 60]
after = ["refit"]

[[stage.step]]
do = "Close it"
"#;

fn refitting() -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench
}

fn bolts(tightness: Tightness) -> PutBack {
    back(vec![BackLine { tightness: Some(tightness), ..put("bolts") }])
}

fn to(tightness: Tightness) -> TightenPositions {
    TightenPositions { job: JOB, positions: vec!["bolts".into()], tightness }
}

/// Flint put the bolts in and tightened them, and Moss has looked.
fn witnessed() -> Bench {
    let mut bench = refitting();
    bench.must(bolts(Tightness::Final));
    bench.must(tick("refit", &[1]));
    bench.must(tick("refit", &[2]));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[3]));
    bench.acts(bench.flint, Role::Technician);
    bench
}

fn look_again(ended: bool) -> Notice {
    Notice::LookAgain { stage: "refit".into(), step: StepNo(3), position: "bolts".into(), ended }
}

#[test]
fn what_is_tightened_after_a_second_look_is_looked_at_again() {
    let mut bench = witnessed();
    let told = bench.must(to(Tightness::Loose)).notices;
    assert!(told.contains(&look_again(false)), "{told:?}");
    assert_eq!(bench.step("refit", 3).state, StepState::Pending);
    assert_eq!(bench.step("refit", 1).state, StepState::Done, "one's own look is one's own");
    bench.must(to(Tightness::Final));
    assert_eq!(bench.refused(tick("refit", &[3])), "HOLD_OWN_WORK");
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[3]));
}

#[test]
fn what_goes_back_after_a_second_look_is_looked_at_again() {
    let mut bench = refitting();
    bench.must(tick("refit", &[1]));
    bench.must(tick("refit", &[2]));
    // Looked at before it is back, that is a lead's word.
    bench.acts(bench.moss, Role::Lead);
    bench.must(TickSteps { override_reason: Some("I come back for the bolts".into()), ..tick("refit", &[3]) });
    bench.acts(bench.flint, Role::Technician);
    let told = bench.must(bolts(Tightness::Final)).notices;
    assert!(told.contains(&look_again(false)), "{told:?}");
    assert_eq!(bench.step("refit", 3).state, StepState::Pending);
    // Taken back that it is back, it is looked at again as well.
    let mut bench = witnessed();
    let reopen = ReopenPosition { job: JOB, position: "bolts".into(), reason: "counted wrongly".into() };
    assert!(bench.must(reopen).notices.contains(&look_again(false)));
    assert_eq!(bench.step("refit", 3).state, StepState::Pending);
    // Who only says where an old piece is has worked on nothing.
    let mut bench = refitting();
    let places = bench.row("bolts").found;
    let new = BackLine { renewed: Some(places), tightness: Some(Tightness::Final), ..put("bolts") };
    bench.must(back(vec![new]));
    for step in [1, 2] {
        bench.must(tick("refit", &[step]));
    }
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[3]));
    bench.acts(bench.flint, Role::Technician);
    let kept = BackLine { refitted: Some(0), renewed: Some(0), kept: 1, ..put("bolts") };
    bench.must(back(vec![kept]));
    assert_eq!(bench.step("refit", 3).state, StepState::Done);
}

/// A look that comes before the work of its stage has not seen what goes back after it.
#[test]
fn a_look_before_the_work_stays_passed() {
    let source = TEMPLATE.replace("hold = \"bolts in\"", "hold = \"bolts in\"\nsecond = true");
    let mut bench = Bench::begun(&source, "strip");
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[1]));
    bench.acts(bench.flint, Role::Technician);
    assert_eq!(bench.must(bolts(Tightness::Finger)).notices, []);
    assert_eq!(bench.step("refit", 1).state, StepState::Done);
}

#[test]
fn a_look_is_open_again_though_its_stage_has_ended() {
    let mut bench = witnessed();
    bench.must(finish("refit", false));
    let told = bench.must(to(Tightness::Loose)).notices;
    assert!(told.contains(&look_again(true)), "{told:?}");
    assert_eq!(bench.step("refit", 3).state, StepState::Pending);
    bench.must(to(Tightness::Final));
    let open =
        |bench: &Bench| lines(&bench.shop.state, JOB, bench.shop.now).iter().any(|line| line.key() == "hold:refit/3");
    assert!(open(&bench), "it stands against the hand-over");
    // Nothing else of the stage is done any more, and whoever worked there looks at the own work.
    assert_eq!(bench.refused(tick("refit", &[2])), "STAGE_STATE");
    assert_eq!(bench.refused(tick("refit", &[3])), "HOLD_OWN_WORK");
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[3]));
    assert!(!open(&bench));
    assert_eq!(bench.refused(tick("refit", &[3])), "STAGE_STATE");
}

/// Strip work that is entered late makes no look at the own work of a look that came after it.
#[test]
fn a_witness_enters_no_strip_work_from_before_the_look() {
    let mut bench = witnessed();
    let passed = bench.step("refit", 3).done_at.unwrap();
    let begun = bench.shop.state.stages.get(&(JOB, "refit".into())).unwrap().started_at.unwrap();
    bench.acts(bench.moss, Role::Technician);
    let late = back(vec![BackLine { refitted: Some(0), renewed: Some(0), kept: 1, ..put("bag") }]);
    bench.shop.now = bench.shop.now.plus_minutes(1);
    let refused = bench.shop.run_at(&late.clone().into(), begun).unwrap_err();
    assert_eq!(refused.reason(), "LOOKED_AT_OWN_WORK", "{refused}");
    assert!(refused.to_string().contains("hold point 3 of stage 'refit'"), "{refused}");
    bench.shop.run_at(&late.into(), passed).unwrap();
}

fn live(state: VehicleState, hazard: Hazard) -> Notice {
    Notice::LiveNow { state, hazard }
}

#[test]
fn whoever_opens_something_while_it_is_live_is_told() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    assert_eq!(bench.must(met("clip")).notices, [], "how a vehicle comes is no news");
    // Whoever works there then is qualified, and the lead was there.
    bench.must(SetSkills { person: bench.flint, skills: vec!["high-voltage".into()] });
    bench.must(set(VehicleState::HighVoltageLive));
    bench.acts(bench.moss, Role::Lead);
    bench.must(ClearBlocker { job: JOB, blocker: BlockerNo(1), note: Some("Flint does it".into()) });
    bench.acts(bench.flint, Role::Technician);
    let voltage = || live(VehicleState::HighVoltageLive, Hazard::HighVoltage);
    assert_eq!(bench.must(met("hose")).notices, [voltage()], "nobody listed it, and it is told");
    assert_eq!(bench.must(off(vec![line("bag")], false)).notices, [voltage()]);
    assert_eq!(bench.must(AddPosition { later: true, ..met("clamp") }).notices, [], "it is still on");
    // Under pressure and hot: whoever says that it is off again hears it as well.
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(bolts(Tightness::Final));
    for state in [VehicleState::FuelPressureRelieved, VehicleState::FuelPressureLive, VehicleState::TemperatureCold] {
        bench.must(set(state));
    }
    bench.must(set(VehicleState::TemperatureHot));
    let told = bench.must(ReopenPosition { job: JOB, position: "bolts".into(), reason: "it drips".into() }).notices;
    let all = [
        voltage(),
        live(VehicleState::FuelPressureLive, Hazard::Fuel),
        live(VehicleState::TemperatureHot, Hazard::HotCoolant),
    ];
    assert_eq!(told, all);
}

#[test]
fn the_battery_is_told_where_what_can_hurt_asks_for_it_to_be_off() {
    let asks = |hazard: &str| TEMPLATE.replace("do = \"Head off\"", &format!("do = \"Head off\"\n{hazard}"));
    let on = |hazard| live(VehicleState::BatteryConnected, hazard);
    let mut bench = Bench::begun(&asks("hazard = [\"airbag\"]"), "strip");
    assert_eq!(bench.must(off(vec![line("bag")], false)).notices, [on(Hazard::Airbag)]);
    assert_eq!(bench.must(met("bracket")).notices, [on(Hazard::Airbag)], "met on the way in that stage");
    bench.must(set(VehicleState::BatteryIsolated));
    assert_eq!(bench.must(off(vec![line("bolts")], false)).notices, []);
    // Fuel asks for it as well, a heavy part does not; and what the step isolates comes off before that.
    let mut bench = Bench::begun(&asks("hazard = [\"fuel\", \"lifting\"]"), "strip");
    assert_eq!(bench.must(off(vec![line("bag")], false)).notices, [on(Hazard::Fuel)]);
    let mut bench = Bench::begun(&asks("hazard = [\"lifting\"]"), "strip");
    assert_eq!(bench.must(off(vec![line("bag")], false)).notices, []);
    let own = asks("hazard = [\"fuel\"]\nstate = { sets = [\"battery isolated\"] }");
    assert_eq!(Bench::begun(&own, "strip").must(off(vec![line("bag")], false)).notices, []);
}

/// Whoever makes high voltage live does it with the vehicle whole, and nobody's word is enough for anything else.
#[test]
fn nothing_open_gets_high_voltage_on_anybody_s_word() {
    let source = TEMPLATE.replace("do = \"Close it\"", "do = \"Close it\"\nstate = { sets = [\"high-voltage live\"] }");
    let mut bench = Bench::new(&source);
    bench.must(SetSkills { person: bench.moss, skills: vec!["high-voltage".into()] });
    bench.acts(bench.moss, Role::Lead);
    for stage in ["strip", "refit"] {
        bench.must(start(stage));
        if stage == "strip" {
            bench.must(finish(stage, true));
        }
    }
    bench.must(SkipStage { job: JOB, stage: "refit".into(), reason: "the bolts are on order".into() });
    bench.must(start("close"));
    let told = bench.refusal(tick("close", &[1]));
    assert_eq!(told.reason(), "VOLTAGE_OPEN");
    assert!(told.to_string().contains("'bolts'") && told.to_string().contains("nobody overrides that"), "{told}");
    let anyhow = TickSteps { override_reason: Some("only to move it".into()), ..tick("close", &[1]) };
    assert_eq!(bench.refused(anyhow), "VOLTAGE_OPEN");
    let lines = vec![BackLine { tightness: Some(Tightness::Final), ..put("bolts") }, put("bag")];
    bench.must(PutBack { stage: "close".into(), ..back(lines) });
    bench.must(tick("close", &[1]));
}

/// A second look is one's own: nobody records it for somebody else, whoever acts.
#[test]
fn nobody_looks_with_another_s_eyes() {
    let mut bench = witnessed();
    bench.must(ReopenStep { job: JOB, stage: "refit".into(), step: StepNo(3), reason: "I want to see it".into() });
    bench.shop.now = bench.shop.now.plus_minutes(1);
    let refused = bench.shop.run_for(&tick("refit", &[3]).into(), bench.moss, bench.flint).unwrap_err();
    assert_eq!(refused.reason(), "OWN_EYES", "{refused}");
    let check = ConfirmPositions { job: JOB, positions: vec!["bolts".into()] };
    assert_eq!(bench.shop.run_for(&check.into(), bench.moss, bench.flint).unwrap_err().reason(), "OWN_EYES");
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("refit", &[3]));
}

/// A put-in of which its step was left out is asked for by nobody any more, so it is not made unsaid.
#[test]
fn what_nobody_would_ask_for_again_is_not_taken_back() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    let cloth = AddPosition { manner: Manner::In, ..met("cloth in the bore") };
    let Made::Position { position, .. } = bench.must(cloth).made else { panic!() };
    let reopen = || ReopenPosition { job: JOB, position: position.clone(), reason: "a slip".into() };
    let told = bench.refusal(reopen());
    assert_eq!(told.reason(), "NOBODY_ASKS");
    assert!(told.to_string().contains("`leadhand strip back`"), "{told}");
    // Once it is out, that is taken back as ever.
    bench.must(PutBack { stage: "strip".into(), ..back(vec![put(position.as_str())]) });
    bench.must(reopen());
    assert_eq!(bench.row(position.as_str()).back_n, None);
}

/// A reading, a state or a litre that came later is not left behind by a hand-over that is entered early.
#[test]
fn a_hand_over_is_not_before_what_was_measured_or_said_last() {
    let mut bench = witnessed();
    bench.must(finish("refit", false));
    bench.must(start("close"));
    bench.must(PutBack { stage: "close".into(), ..back(vec![put("bag")]) });
    bench.must(finish("close", true));
    let ended = bench.shop.now;
    bench.must(set(VehicleState::BonnetOpen));
    bench.must(set(VehicleState::BonnetLatched));
    bench.acts(bench.flint, Role::Lead);
    let complete = Command::from(CompleteJob { job: JOB, override_reason: None, overrides: Vec::new() });
    let last = bench.shop.now;
    bench.shop.now = last.plus_minutes(5);
    assert_eq!(bench.shop.run_at(&complete, ended).unwrap_err().reason(), "TOO_EARLY");
    bench.shop.run_at(&complete, last).unwrap();
}

/// Whoever says that two are thrown away has not said that eight went back: what follows from the rest is told.
#[test]
fn counts_that_nobody_said_are_told() {
    let counted = |refitted, scrapped| Notice::Counted { position: "bolts".into(), refitted, renewed: 0, scrapped };
    let mut bench = refitting();
    assert_eq!(bench.must(back(vec![BackLine { scrapped: Some(2), ..put("bolts") }])).notices, [counted(8, 0)]);
    // Nothing said is as listed, and all said leaves nothing to be counted.
    let mut bench = refitting();
    let some = BackLine { refitted: Some(5), renewed: Some(1), scrapped: Some(1), ..put("bolts") };
    assert_eq!(bench.must(back(vec![some])).notices, []);
    assert_eq!(bench.must(back(vec![put("bolts")])).notices, []);
    // What is always renewed leaves the old ones behind.
    let always = TEMPLATE.replace("count = 10\n", "count = 10\nrenew = \"always\"\n");
    let mut bench = Bench::begun(&always, "strip");
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    assert_eq!(bench.must(back(vec![BackLine { renewed: Some(10), ..put("bolts") }])).notices, [counted(0, 10)]);
}
