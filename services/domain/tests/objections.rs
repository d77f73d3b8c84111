//! Whatever stands against a command is named in one refusal, so that a lead's one reason overrides nothing that was not
//! named: states and hold points, later steps, the order and what is safe. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::{Bench, JOB, start};
use leadhand_domain::command::*;
use leadhand_facts::words::{Outcome, Role, StepState};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "hose"
title = "Radiator hose"

[[stage]]
key = "drain"
title = "Drain"
minutes = [10, 20, 30]

[[stage.step]]
do = "Feel the hose"
hold = "cold"

[[stage.step]]
do = "Battery off, bonnet open"
state = { sets = ["battery isolated", "bonnet open"] }

[[stage.step]]
do = "Drain"
state = { needs = ["battery isolated"] }

[[stage.step]]
do = "Take the hose off"
state = { needs = ["bonnet open"] }

[[stage.step.off]]
key = "cover"
what = "Cover"
renew = "always"
back = "fill"

[[stage.step.off]]
key = "hose"
what = "Hose"
behind = ["cover"]
back = "fill"

[[stage]]
key = "fill"
title = "Fill"
minutes = [10, 20, 30]
after = ["drain"]

[[stage.step]]
do = "Battery on, bonnet shut"
state = { sets = ["battery connected", "bonnet latched"] }
"#;

/// The drain is under way, and nothing is done; a technician acts.
fn open() -> Bench {
    Bench::begun(TEMPLATE, "drain")
}

/// All of these are named in the refusal.
fn named(bench: &mut Bench, command: impl Into<Command>, all: &[&str]) {
    let refused = bench.refusal(command);
    assert_eq!(refused.reason(), "OBJECTIONS", "{refused}");
    let told = refused.to_string();
    assert!(all.iter().all(|one| told.contains(one)), "{all:?} in {told}");
}

fn tick(steps: &[i32]) -> TickSteps {
    let steps = steps.iter().map(|step| StepNo(*step)).collect();
    TickSteps { job: JOB, stage: "drain".into(), steps, override_reason: None }
}

fn off(position: &str) -> TakeOff {
    let lines = vec![OffLine::listed(position.into())];
    TakeOff { job: JOB, stage: "drain".into(), step: None, lines, as_listed: false, override_reason: None }
}

const WHY: &str = "it stood cold for a week";

#[test]
fn a_state_and_a_hold_point_are_named_together_and_so_is_a_later_step() {
    let mut bench = open();
    let state = "step 3 of stage 'drain' needs 'battery isolated' and it is 'battery connected'";
    let hold = "step 3 of stage 'drain' comes after hold point 1 (cold)";
    named(&mut bench, tick(&[3]), &[state, hold]);
    let later = "step 4 of stage 'drain' needs 'bonnet open' and it is 'bonnet latched'";
    named(&mut bench, tick(&[3, 4]), &[state, hold, later]);
    let overriding = |tick| TickSteps { override_reason: Some(WHY.into()), ..tick };
    assert_eq!(bench.run(overriding(tick(&[3, 4]))).unwrap_err().reason(), "LEAD_ONLY");
    // What was refused left no step done on the way.
    assert!(bench.shop.state.steps.iter().all(|step| step.state == StepState::Pending));
    bench.shop.role = Role::Lead;
    assert_eq!(
        bench.run(overriding(tick(&[3, 4]))).unwrap_err().reason(),
        "STEP_UNSAID",
        "a reason says nothing for it"
    );
    let (stage, step, lines, override_reason) = ("drain".into(), Some(StepNo(4)), vec![], Some(WHY.into()));
    bench.must(TakeOff { job: JOB, stage, step, lines, as_listed: true, override_reason });
    bench.must(overriding(tick(&[3, 4])));
    let done = bench.shop.state.steps.iter().filter(|step| step.state == StepState::Done);
    assert_eq!(done.filter(|step| step.overridden.is_some()).count(), 2);
    // One objection alone is what it always was.
    assert_eq!(open().run(tick(&[2])).unwrap_err().reason(), "HOLD_NOT_PASSED");
}

#[test]
fn the_order_and_what_is_safe_are_named_together() {
    let mut bench = open();
    let order = "'hose' is behind 'cover', which must come off first";
    let (state, hold) = ("needs 'bonnet open'", "comes after hold point 1 (cold)");
    named(&mut bench, off("hose"), &[order, state, hold]);
    bench.shop.role = Role::Lead;
    named(&mut bench, off("hose"), &[order, state, hold]);
    bench.must(TakeOff { override_reason: Some(WHY.into()), ..off("hose") });
    let tried = RecordAttempt {
        job: JOB,
        position: "cover".into(),
        rung: Some(3),
        outcome: Outcome::NotMoved,
        pieces: None,
        item: None,
        plan: None,
        note: None,
        blocked: false,
        override_reason: None,
    };
    named(&mut bench, tried, &[state, hold]);
}

#[test]
fn an_old_part_out_of_its_order_is_named_as_both() {
    let mut bench = open();
    bench.must(tick(&[1]));
    bench.must(tick(&[2]));
    bench.must(FinishStage { job: JOB, stage: "drain".into(), as_listed: true });
    bench.must(start("fill"));
    let lines = vec![BackLine { refitted: Some(1), ..BackLine::listed("cover".into()) }];
    let old = PutBack { job: JOB, stage: "fill".into(), lines, as_listed: false, override_reason: None };
    named(&mut bench, old.clone(), &["'hose' has to be back before it", "'cover' is always renewed"]);
    bench.shop.role = Role::Lead;
    bench.must(PutBack { override_reason: Some(WHY.into()), ..old });
}
