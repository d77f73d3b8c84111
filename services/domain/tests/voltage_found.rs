//! Somebody says that high voltage is live: the stages under way wait for the lead, nothing begins or opens without somebody
//! qualified, and a slip of the tongue is taken back by whoever made it. That the work stops and qualified staff are called
//! is common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::condition::state_of;
use leadhand_domain::hand_over::lines;
use leadhand_domain::look::open_blockers;
use leadhand_facts::words::{Cause, Feature, Role, Tightness, VehicleState};

const TEMPLATE: &str = r#"
key = "pads"
title = "Pads"

[[stage]]
key = "strip"
title = "Strip"
minutes = [5, 10, 20]

[[stage.step]]
do = "Caliper off"

[[stage.step.off]]
key = "caliper"
what = "Caliper"
back = "strip"

[[stage]]
key = "other"
title = "Other side"
minutes = [5, 10, 20]

[[stage.step]]
do = "Look"
"#;

fn found() -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(set(VehicleState::HighVoltageLive));
    bench
}

fn clear(bench: &mut Bench) {
    let blocker = open_blockers(&bench.shop.state, JOB).next().unwrap().blocker;
    bench.acts(bench.moss, Role::Lead);
    bench.must(ClearBlocker { job: JOB, blocker, note: Some("I will see to it".into()) });
}

const INVERTER: &str = r#"
key = "inverter"
title = "Inverter"

[[stage]]
key = "strip"
title = "Strip"
minutes = [5, 10, 20]
SKILLS
[[stage.step]]
do = "Inverter off"
hazard = ["high-voltage"]

[[stage.step.off]]
key = "inverter"
what = "Inverter"
back = "refit"

[[stage.step]]
do = "Is it dead?"
hold = "nothing live"

[[stage]]
key = "refit"
title = "Refit"
minutes = [5, 10, 20]
after = ["strip"]
"#;

#[test]
fn what_a_step_about_high_voltage_took_off_is_about_it_when_it_goes_back() {
    let skills = vec!["high-voltage".to_owned()];
    let mut bench = Bench::prepared(&INVERTER.replace("SKILLS", ""), |shop, flint| {
        shop.must(SetSkills { person: flint, skills: skills.clone() });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(off(vec![], true));
    // A lead who is not qualified is nobody here, with whatever reason.
    bench.acts(bench.moss, Role::Lead);
    let count = OffLine { found: Some(1), damaged: 1, note: Some("cracked".into()), ..line("inverter") };
    let reopen = ReopenPosition { job: JOB, position: "inverter".into(), reason: "a slip".into() };
    let reason = Some("I know how".to_owned());
    let put = PutBack { stage: "strip".into(), override_reason: reason.clone(), ..back(vec![put("inverter")]) };
    assert_eq!(bench.refused(off(vec![count], false)), "HIGH_VOLTAGE");
    assert_eq!(bench.refused(reopen.clone()), "HIGH_VOLTAGE");
    assert_eq!(bench.refused(put.clone()), "HIGH_VOLTAGE");
    // Nor what hangs on it, though nobody had listed that.
    let hangs = AddPosition { attached_to: Some("inverter".into()), behind: Some(vec![]), ..met("Its cable") };
    assert_eq!(bench.refused(hangs), "HIGH_VOLTAGE");
    bench.acts(bench.flint, Role::Technician);
    bench.must(PutBack { override_reason: None, ..put });
    let loose = TightenPositions { job: JOB, positions: vec!["inverter".into()], tightness: Tightness::Loose };
    bench.acts(bench.moss, Role::Lead);
    assert_eq!(bench.refused(loose), "HIGH_VOLTAGE");
    assert_eq!(bench.refused(reopen), "HIGH_VOLTAGE");
}

#[test]
fn a_look_in_a_stage_that_asks_for_the_skill_is_nobody_else_s() {
    let mut bench = Bench::prepared(&INVERTER.replace("SKILLS", "skills = [\"high-voltage\"]"), |shop, flint| {
        shop.must(SetSkills { person: flint, skills: vec!["high-voltage".to_owned()] });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.acts(bench.moss, Role::Lead);
    let looks = |reason: Option<&str>| TickSteps { override_reason: reason.map(str::to_owned), ..tick("strip", &[2]) };
    assert_eq!(bench.refused(looks(Some("I looked"))), "HIGH_VOLTAGE");
    bench.acts(bench.flint, Role::Technician);
    bench.must(off(vec![], true));
    bench.must(tick("strip", &[1]));
    bench.must(looks(None));
}

#[test]
fn the_stages_under_way_wait_for_the_lead() {
    let mut bench = found();
    let raised: Vec<(String, Cause)> =
        open_blockers(&bench.shop.state, JOB).map(|row| (row.stage.to_string(), row.cause)).collect();
    assert_eq!(raised, [("strip".to_owned(), Cause::Safety)]);
    assert_eq!(bench.refused(off(vec![], true)), "LEAD_CALLED");
    // Said again, nobody is called twice.
    assert_eq!(bench.refused(set(VehicleState::HighVoltageLive)), "NOTHING_TO_DO");
}

/// A vehicle that its last step switches on works as it should, until somebody finds it live.
#[test]
fn what_a_step_leaves_live_is_told_and_found_anew() {
    let source = TEMPLATE.replace("do = \"Look\"", "do = \"Switch it on\"\nstate = { sets = [\"high-voltage live\"] }");
    let mut bench = Bench::new(&source);
    bench.must(SetSkills { person: bench.moss, skills: vec!["high-voltage".into()] });
    bench.acts(bench.moss, Role::Technician);
    bench.must(start("other"));
    bench.must(tick("other", &[1]));
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(off(vec![], true));
    bench.must(set(VehicleState::HighVoltageLive));
    let called: Vec<String> = open_blockers(&bench.shop.state, JOB).map(|row| row.stage.to_string()).collect();
    assert_eq!(called, ["strip", "other"], "every stage under way");
    for _ in 0..2 {
        clear(&mut bench);
    }
    bench.acts(bench.flint, Role::Technician);
    let back = TightenPositions { job: JOB, positions: vec!["caliper".into()], tightness: Tightness::Final };
    assert_eq!(bench.refused(back), "AS_TIGHT", "closing up is not refused");
    assert_eq!(bench.refused(met("hose")), "VOLTAGE_FOUND");
    assert_eq!(bench.refused(ClockOn { job: JOB, stage: "other".into(), override_reason: None }), "VOLTAGE_FOUND");
}

/// Nobody unqualified makes it isolated by taking a word back.
#[test]
fn a_step_that_isolated_it_is_not_said_back() {
    let source = TEMPLATE.replace("do = \"Look\"", "do = \"Isolate\"\nstate = { sets = [\"high-voltage isolated\"] }");
    let mut bench = Bench::new(&source);
    bench.must(SetSkills { person: bench.moss, skills: vec!["high-voltage".into()] });
    bench.acts(bench.moss, Role::Technician);
    bench.must(start("other"));
    bench.must(tick("other", &[1]));
    bench.acts(bench.flint, Role::Technician);
    // Whoever finds it live says so, qualified or not.
    bench.must(set(VehicleState::HighVoltageLive));
    let isolated = SetVehicleStates { reason: Some("a slip".into()), ..set(VehicleState::HighVoltageIsolated) };
    assert_eq!(bench.refused(isolated), "HIGH_VOLTAGE");
}

#[test]
fn nothing_begins_or_opens_until_it_is_safe_or_somebody_qualified_does_it() {
    let mut bench = found();
    clear(&mut bench);
    let reason = Some("only a look".to_owned());
    for role in [Role::Lead, Role::Technician] {
        bench.acts(bench.moss, role);
        assert_eq!(bench.refused(off(vec![], true)), "VOLTAGE_FOUND");
        assert_eq!(
            bench.refused(TickSteps { override_reason: reason.clone(), ..tick("strip", &[1]) }),
            "VOLTAGE_FOUND"
        );
        assert_eq!(bench.refused(StartStage { override_reason: reason.clone(), ..start("other") }), "VOLTAGE_FOUND");
    }
    let open = |bench: &Bench| {
        lines(&bench.shop.state, JOB, bench.shop.now).iter().any(|line| line.key() == "state:high-voltage")
    };
    assert!(open(&bench), "it does not go like that");
    bench.must(SetSkills { person: bench.flint, skills: vec!["high-voltage".into()] });
    bench.acts(bench.flint, Role::Technician);
    bench.must(off(vec![], true));
    bench.must(set(VehicleState::HighVoltageIsolated));
    assert!(!open(&bench));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("strip", &[1]));
    bench.must(start("other"));
}

#[test]
fn a_slip_is_taken_back_by_whoever_made_it_with_a_reason() {
    let mut bench = found();
    let back = |reason: Option<&str>| SetVehicleStates {
        job: JOB,
        states: vec![VehicleState::HighVoltageUnchecked],
        reason: reason.map(str::to_owned),
    };
    assert_eq!(bench.refused(back(None)), "HIGH_VOLTAGE");
    bench.acts(bench.moss, Role::Lead);
    assert_eq!(bench.refused(back(Some("it was the other van"))), "HIGH_VOLTAGE", "it was not theirs");
    bench.acts(bench.flint, Role::Technician);
    let none = SetVehicleStates { states: vec![VehicleState::HighVoltageNone], ..back(Some("I looked")) };
    assert_eq!(bench.refused(none), "HIGH_VOLTAGE", "that is another word, and not the one before");
    bench.must(back(Some("it was the other van")));
    assert_eq!(state_of(&bench.shop.state, JOB, Feature::HighVoltage), VehicleState::HighVoltageUnchecked);
}
