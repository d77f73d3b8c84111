//! Somebody says that high voltage is live: the stages under way wait for the lead, nothing begins or opens without somebody
//! qualified, and a slip of the tongue is taken back by whoever made it. That the work stops and qualified staff are called
//! is common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::condition::state_of;
use leadhand_domain::look::open_blockers;
use leadhand_facts::words::{Cause, Feature, Role, VehicleState};

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

#[test]
fn the_stages_under_way_wait_for_the_lead() {
    let mut bench = found();
    let raised: Vec<(String, Cause)> =
        open_blockers(&bench.shop.state, JOB).map(|row| (row.stage.to_string(), row.cause)).collect();
    assert_eq!(raised, [("strip".to_owned(), Cause::Safety)]);
    assert_eq!(bench.refused(off(vec![], true)), "LEAD_CALLED");
    // Said again, nobody is called twice.
    assert_eq!(bench.refused(set(VehicleState::HighVoltageLive)), "HIGH_VOLTAGE");
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
    bench.must(SetSkills { person: bench.flint, skills: vec!["high-voltage".into()] });
    bench.acts(bench.flint, Role::Technician);
    bench.must(off(vec![], true));
    bench.must(set(VehicleState::HighVoltageIsolated));
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
