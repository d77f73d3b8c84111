//! The condition of a vehicle told as a story: states that steps need and leave, hold points, fluids, ways that are not the
//! book's, and the call for the lead. The rules are the project's own; the measures behind them are common practice.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::{Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::condition::{Open, open, state_of, wanted};
use leadhand_facts::words::{Cause, Feature, Role, StepState, VehicleState};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "hose"
title = "Radiator hose"

[[stage]]
key = "drain"
title = "Drain"
minutes = [10, 20, 30]

[[stage.step]]
do = "Look for high voltage"
hold = "no high voltage"
state = { sets = ["high-voltage none"] }

[[stage.step]]
do = "Battery off"
hazard = ["battery"]
state = { needs = ["high-voltage none"], sets = ["battery isolated"] }

[[stage.step]]
do = "Raise it"
state = { sets = ["support lift"] }

[[stage.step]]
do = "Vehicle supported"
hold = "vehicle supported"
second = true

[[stage.step]]
do = "Drain and take the hose off"
hazard = ["raised-vehicle", "glycol"]
state = { needs = ["battery isolated", "support lift"], sets = ["coolant drained"] }
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "fill" }]

[[stage.step.off]]
key = "hose"
what = "Lower hose"
kind = "hose"
back = "fill"

[[stage]]
key = "fill"
title = "Fill"
minutes = [10, 20, 30]
after = ["drain"]

[[stage.step]]
do = "Fill"
state = { sets = ["coolant full"] }

[[stage.step]]
do = "Down, battery on"
state = { sets = ["support wheels", "battery connected"] }
"#;

/// The drain is under way; Flint acts.
fn begun() -> Bench {
    Bench::begun(TEMPLATE, "drain")
}

/// All of the drain is done but its last step, the hold points passed.
fn raised() -> Bench {
    let mut bench = begun();
    bench.must(tick("drain", &[1, 2, 3]));
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("drain", &[4]));
    bench.acts(bench.flint, Role::Technician);
    bench
}

/// Everything is done, the coolant said to be out and not in.
fn done() -> Bench {
    let mut bench = raised();
    bench.must(out(5_200));
    bench.must(finish("drain", true));
    bench.must(start("fill"));
    bench.must(filled(5_200));
    bench.must(finish("fill", true));
    bench.must(ReopenFluid { job: JOB, fluid: "coolant".into(), reason: "another vehicle's can".into() });
    bench.acts(bench.flint, Role::Lead);
    bench
}

fn is(bench: &Bench, feature: Feature) -> VehicleState {
    state_of(&bench.shop.state, JOB, feature)
}

fn open_lines(bench: &Bench) -> Vec<String> {
    open(&bench.shop.state, JOB).iter().map(Open::to_string).collect()
}

/// The hose comes off, as listed.
fn hose_off() -> TakeOff {
    TakeOff { stage: "drain".into(), ..off(vec![], true) }
}

fn because(tick: TickSteps) -> TickSteps {
    TickSteps { override_reason: Some("it stands on the pit".into()), ..tick }
}

fn out(drained_ml: i64) -> RecordFluid {
    RecordFluid { job: JOB, fluid: "coolant".into(), drained_ml, filled_ml: 0, note: None, unlisted: false }
}

fn filled(filled_ml: i64) -> RecordFluid {
    RecordFluid { drained_ml: 0, filled_ml, ..out(0) }
}

fn propose() -> ProposeWay {
    let (way, reason) = ("from above".into(), "the lift point is rusted".into());
    ProposeWay { job: JOB, stage: "drain".into(), step: StepNo(5), way, reason }
}

fn decide(approved: bool) -> DecideWay {
    DecideWay { job: JOB, stage: "drain".into(), step: StepNo(5), approved, note: None }
}

fn complete() -> CompleteJob {
    CompleteJob { job: JOB, override_reason: None, overrides: Vec::new() }
}

#[test]
fn a_step_waits_for_the_state_that_it_needs_and_leaves_its_own() {
    let mut bench = raised();
    assert_eq!(
        (is(&bench, Feature::Battery), is(&bench, Feature::Support)),
        (VehicleState::BatteryIsolated, VehicleState::SupportLift)
    );
    bench.must(out(7_000));
    bench.must(set(VehicleState::SupportWheels));
    let refused = bench.run(tick("drain", &[5])).unwrap_err();
    assert_eq!(refused.reason(), "STATE_WANTED");
    assert!(refused.to_string().contains("'support lift' and it is 'support wheels'"), "{refused}");
    // Nor does anything come off that the step takes off, and finishing as listed is no way round.
    assert_eq!(bench.refused(hose_off()), "STATE_WANTED");
    assert_eq!(bench.refused(finish("drain", true)), "STATE_WANTED");
    assert_eq!(bench.refused(because(tick("drain", &[5]))), "LEAD_ONLY");
    bench.acts(bench.moss, Role::Lead);
    bench.must(TakeOff { override_reason: Some("it stands on the pit".into()), ..hose_off() });
    bench.must(because(tick("drain", &[5])));
    let row = bench.shop.state.steps.get(&(JOB, "drain".into(), StepNo(5))).unwrap();
    assert!(row.overridden.is_some() && row.state == StepState::Done);
    assert_eq!(is(&bench, Feature::Coolant), VehicleState::CoolantDrained);
}

#[test]
fn who_starts_a_stage_is_told_which_states_it_will_miss() {
    let mut bench = begun();
    let stage = bench.shop.state.stages.get(&(JOB, "drain".into())).unwrap().clone();
    assert_eq!(wanted(&bench.shop.state, &stage), [], "its own steps bring about all of it");
    bench.must(tick("drain", &[1, 2]));
    bench.must(set(VehicleState::BatteryConnected));
    let missing = [(StepNo(5), VehicleState::BatteryIsolated, VehicleState::BatteryConnected)];
    assert_eq!(wanted(&bench.shop.state, &stage), missing);
    assert_eq!(bench.refused(set(VehicleState::BatteryConnected)), "NOTHING_TO_DO");
    let both = SetVehicleStates {
        states: vec![VehicleState::BonnetOpen, VehicleState::BonnetLatched],
        ..set(VehicleState::OilFull)
    };
    assert_eq!(bench.refused(both), "INVALID_FIELD");
    assert_eq!(bench.refused(SetVehicleStates { states: vec![], ..set(VehicleState::OilFull) }), "INVALID_FIELD");
}

/// A step that was ticked by mistake takes its states back, as far as nobody said anything since.
#[test]
fn a_step_taken_back_takes_its_states_back() {
    let mut bench = begun();
    bench.must(tick("drain", &[1, 2]));
    let reopen = |step| ReopenStep { job: JOB, stage: "drain".into(), step: StepNo(step), reason: "a slip".into() };
    bench.must(reopen(2));
    assert_eq!(is(&bench, Feature::Battery), VehicleState::BatteryConnected);
    bench.must(tick("drain", &[2, 3]));
    bench.must(set(VehicleState::SupportStands));
    bench.must(reopen(3));
    assert_eq!(is(&bench, Feature::Support), VehicleState::SupportStands, "the later word stands");
}

#[test]
fn a_hold_point_is_passed_by_name_after_the_work_and_by_another() {
    let mut bench = begun();
    // Not as listed, and not by a device.
    assert_eq!(bench.refused(tick("drain", &[])), "HOLD_BY_NAME");
    bench.device(Role::Technician);
    assert_eq!(bench.refused(tick("drain", &[1])), "NAME_NEEDED");
    bench.acts(bench.flint, Role::Technician);
    // What comes after it waits.
    assert_eq!(bench.refused(tick("drain", &[3])), "HOLD_NOT_PASSED");
    bench.must(tick("drain", &[1]));
    bench.must(tick("drain", &[2]));
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(tick("drain", &[4])), "HOLD_TOO_EARLY");
    bench.acts(bench.flint, Role::Technician);
    bench.must(tick("drain", &[3]));
    assert_eq!(bench.refused(tick("drain", &[4])), "HOLD_OWN_WORK");
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("drain", &[4]));
    let row = bench.shop.state.steps.get(&(JOB, "drain".into(), StepNo(4))).unwrap();
    assert_eq!(row.done_by, Some(bench.moss));
    // The work before it is done anew, so it is looked at anew.
    bench.must(ReopenStep { job: JOB, stage: "drain".into(), step: StepNo(3), reason: "it slipped".into() });
    let row = bench.shop.state.steps.get(&(JOB, "drain".into(), StepNo(4))).unwrap();
    assert_eq!(row.state, StepState::Pending);
}

#[test]
fn only_a_lead_leaves_a_hold_point_out_and_the_hand_over_names_it() {
    let mut bench = begun();
    bench.must(tick("drain", &[1, 2, 3]));
    let skip = SkipStep { job: JOB, stage: "drain".into(), step: StepNo(4), reason: "nobody is here".into() };
    assert_eq!(bench.refused(skip.clone()), "LEAD_ONLY");
    assert_eq!(bench.refused(SkipStage { job: JOB, stage: "drain".into(), reason: "no".into() }), "LEAD_ONLY");
    bench.acts(bench.moss, Role::Lead);
    bench.must(skip);
    assert!(open_lines(&bench).contains(&"hold point 4 of drain: it was left out (vehicle supported)".to_owned()));
}

#[test]
fn nobody_overrides_high_voltage() {
    let mut bench = begun();
    bench.must(tick("drain", &[1]));
    bench.must(set(VehicleState::HighVoltageLive));
    bench.acts(bench.moss, Role::Lead);
    assert_eq!(bench.refused(tick("drain", &[2])), "LEAD_CALLED");
    bench.must(ClearBlocker { job: JOB, blocker: BlockerNo(1), note: Some("I keep them away".into()) });
    assert_eq!(bench.refused(tick("drain", &[2])), "VOLTAGE_FOUND");
    assert_eq!(bench.refused(because(tick("drain", &[2]))), "VOLTAGE_FOUND");
    // Who isolates it is qualified, and who looks has a name.
    assert_eq!(bench.refused(set(VehicleState::HighVoltageIsolated)), "HIGH_VOLTAGE");
    bench.must(SetSkills { person: bench.moss, skills: vec!["high-voltage".into()] });
    bench.must(set(VehicleState::HighVoltageIsolated));
    bench.device(Role::Technician);
    assert_eq!(bench.refused(set(VehicleState::HighVoltageNone)), "NAME_NEEDED");
}

#[test]
fn what_is_still_in_is_told_until_it_is_filled() {
    let mut bench = raised();
    let answer = bench.must(out(5_200));
    assert_eq!(answer.notices, [Notice::FluidLeft { fluid: "coolant".into(), millilitres: 1_800 }]);
    assert_eq!(bench.refused(out(1_900)), "FLUID_MORE");
    assert_eq!(bench.refused(out(0)), "INVALID_FIELD");
    assert_eq!(bench.refused(out(-1)), "INVALID_FIELD");
    assert_eq!(bench.refused(out(1_000_001)), "INVALID_FIELD");
    bench.must(finish("drain", true));
    let told = bench.must(start("fill")).notices;
    assert!(told.contains(&Notice::FluidLeft { fluid: "coolant".into(), millilitres: 1_800 }), "{told:?}");
    bench.must(filled(5_200));
    bench.must(ReopenFluid { job: JOB, fluid: "coolant".into(), reason: "the other can".into() });
    let row = bench.shop.state.fluids.get(&(JOB, "coolant".into())).unwrap();
    assert_eq!((row.drained_ml, row.filled_ml), (5_200, 0), "what went in is taken back first");
    bench.must(ReopenFluid { job: JOB, fluid: "coolant".into(), reason: "all wrong".into() });
    assert_eq!(
        bench.refused(ReopenFluid { job: JOB, fluid: "coolant".into(), reason: "again".into() }),
        "NOTHING_TO_DO"
    );
    assert_eq!(bench.refused(ReopenFluid { job: JOB, fluid: "oil".into(), reason: "again".into() }), "NOT_FOUND");
}

#[test]
fn a_vehicle_goes_as_it_has_to_be_or_on_a_lead_s_word() {
    let mut bench = done();
    bench.must(set(VehicleState::BonnetOpen));
    let back = PutBack { job: JOB, stage: "fill".into(), lines: vec![], as_listed: true, override_reason: None };
    assert_eq!(bench.refused(back), "STAGE_STATE");
    let refused = bench.run(complete()).unwrap_err();
    assert_eq!(refused.reason(), "HAND_OVER_OPEN");
    // What went in was taken back, so it is not full any more.
    let all = [
        "coolant: drained, and has to be full",
        "bonnet: open, and has to be latched",
        "coolant: 5.2 L came out and 0 mL went in",
    ];
    assert_eq!(open_lines(&bench), all);
    assert!(all.iter().all(|line| refused.to_string().contains(line)), "{refused}");
    bench.must(filled(5_200));
    bench.must(set(VehicleState::CoolantFull));
    assert_eq!(bench.refused(complete()), "HAND_OVER_OPEN");
    let unnamed = CompleteJob { override_reason: Some("he waits".into()), ..complete() };
    assert_eq!(bench.refused(unnamed), "HAND_OVER_OPEN", "a reason overrules no line that is not named");
    bench.must(stock_kit::named(&bench.shop.state, JOB, bench.shop.now, "the latch is on order, it is tied"));
    let gone = &bench.shop.state.jobs.get(&(JOB,)).unwrap().overruled;
    assert_eq!(gone.iter().map(|one| one.line.as_str()).collect::<Vec<_>>(), ["state:bonnet"]);
    let mut bench = done();
    bench.must(filled(5_300));
    bench.must(set(VehicleState::CoolantFull));
    bench.must(complete());
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overruled.is_empty());
    assert_eq!(bench.refused(set(VehicleState::BonnetOpen)), "JOB_CLOSED");
}

#[test]
fn each_line_that_a_lead_overrules_is_let_go_by_the_auditor_as_well() {
    let mut bench = done();
    bench.must(set(VehicleState::BonnetOpen));
    let line = |line: &str| Override { line: line.into(), reason: Some("the customer knows".into()) };
    let overrides = vec![line("state:bonnet"), line("state:coolant"), line("fluid:coolant")];
    // The auditor looks at the tables after every command.
    bench.must(CompleteJob { overrides, ..complete() });
    let job = bench.shop.state.jobs.get(&(JOB,)).unwrap();
    assert_eq!((job.overridden, job.overruled.len()), (None, 3));
}

#[test]
fn a_step_that_was_left_out_opens_nothing_that_it_guards() {
    let mut bench = begun();
    bench.acts(bench.flint, Role::Technician);
    let step = StepNo(5);
    bench.must(SkipStep { job: JOB, stage: "drain".into(), step, reason: "in a hurry".into() });
    let off = |found| TakeOff {
        job: JOB,
        stage: "drain".into(),
        step: None,
        lines: vec![OffLine { found, missing: found.map(|_| 1), ..OffLine::listed("hose".into()) }],
        as_listed: false,
        override_reason: None,
    };
    let refused = bench.run(off(None)).unwrap_err();
    assert_eq!(refused.reason(), "OBJECTIONS");
    assert!(refused.to_string().contains("'battery isolated'") && refused.to_string().contains("hold point 1"));
    bench.must(off(Some(0)));
}

#[test]
fn a_way_that_is_not_the_book_s_waits_for_a_lead_and_is_told_at_hand_over() {
    let mut bench = raised();
    assert_eq!(bench.refused(decide(true)), "NOTHING_TO_DO");
    bench.must(propose());
    assert_eq!(bench.refused(tick("drain", &[5])), "WAY_UNDECIDED");
    assert_eq!(bench.refused(because(tick("drain", &[5]))), "WAY_UNDECIDED");
    assert_eq!(
        open_lines(&bench).last().unwrap(),
        "step 5 of drain: no lead decided on the way that is not the book's"
    );
    assert_eq!(bench.refused(decide(true)), "LEAD_ONLY");
    bench.device(Role::Lead);
    assert_eq!(bench.refused(decide(true)), "SIGN_IN_FIRST");
    bench.acts(bench.moss, Role::Lead);
    bench.must(decide(false));
    bench.must(decide(true));
    bench.acts(bench.flint, Role::Technician);
    bench.must(hose_off());
    bench.must(out(7_000));
    bench.must(tick("drain", &[5]));
    assert_eq!(bench.refused(propose()), "STEP_STATE");
    bench.must(finish("drain", true));
    bench.must(start("fill"));
    bench.must(filled(7_000));
    bench.must(finish("fill", true));
    bench.acts(bench.moss, Role::Lead);
    let told = bench.must(complete()).notices;
    assert!(told.contains(&Notice::OtherWay { stage: "drain".into(), step: StepNo(5) }), "{told:?}");
}

/// One touch: whoever is clocked on says nothing but that.
#[test]
fn who_calls_the_lead_stops_the_stage_until_a_lead_looked() {
    let mut bench = raised();
    let call = CallLead { job: None, stage: None, note: None };
    let Made::Blocker { job, blocker } = bench.must(call.clone()).made else { panic!() };
    let row = bench.shop.state.blockers.get(&(job, blocker)).unwrap();
    assert_eq!((row.cause, row.stage.as_str(), row.note), (Cause::Safety, "drain", None));
    assert_eq!(bench.refused(call.clone()), "NOTHING_TO_DO");
    assert_eq!(bench.refused(tick("drain", &[5])), "LEAD_CALLED");
    assert_eq!(bench.refused(hose_off()), "LEAD_CALLED");
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(ClockOn { job: JOB, stage: "drain".into(), override_reason: None }), "LEAD_CALLED");
    assert_eq!(bench.refused(ClearBlocker { job, blocker, note: None }), "LEAD_ONLY");
    assert_eq!(bench.refused(SkipStage { job: JOB, stage: "drain".into(), reason: "no".into() }), "LEAD_ONLY");
    assert_eq!(bench.refused(call.clone()), "NOT_CLOCKED_ON");
    let half = CallLead { job: Some(JOB), ..call };
    assert_eq!(bench.refused(half), "INVALID_FIELD");
    bench.acts(bench.moss, Role::Lead);
    let silent = bench.refusal(ClearBlocker { job, blocker, note: None });
    assert!(silent.field() == Some("note") && silent.to_string().contains("why the stage is safe"), "{silent}");
    bench.must(ClearBlocker { job, blocker, note: Some("the arm was one notch off".into()) });
    bench.acts(bench.flint, Role::Technician);
    bench.must(hose_off());
    bench.must(out(7_000));
    bench.must(tick("drain", &[5]));
}
