//! Who may work on a stage that asks for a skill, and what a lead may override.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, code, finish, on, start, tick, why, work};
use leadhand_domain::command::*;
use leadhand_facts::words::{Role, StageState, StepState};
use leadhand_facts::*;

/// What each kind of work on `strip` answers to whoever acts; nothing is changed.
fn refusals(floor: &mut Floor) -> Vec<&'static str> {
    let mut asked = vec![floor.now(on("strip")), floor.now(work("strip", "09:30", "09:40"))];
    asked.push(floor.now(RecordWork { override_reason: why(), ..work("strip", "09:30", "09:40") }));
    asked.push(floor.now(ClockOn { override_reason: why(), ..on("strip") }));
    asked.into_iter().map(code).collect()
}

#[test]
fn whoever_lacks_the_skill_does_not_start_clock_on_or_enter_work() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.moss), Role::Technician);
    assert_eq!(code(floor.at("09:00", start("strip"))), "SKILL_MISSING");
    let asked = StartStage { override_reason: why(), ..start("strip") };
    assert_eq!(code(floor.now(asked)), "LEAD_ONLY");
    floor.acts(None, Role::Technician);
    let nobody = floor.now(start("strip")).unwrap_err();
    assert_eq!(nobody.reason(), "SKILL_NOBODY");
    assert!(nobody.to_string().contains("nobody is named") && nobody.to_string().contains("lead"), "{nobody}");
    floor.acts(Some(floor.flint), Role::Technician);
    floor.now(start("strip")).unwrap();
    floor.acts(Some(floor.moss), Role::Technician);
    floor.shop.now = floor_kit::at("10:00");
    assert_eq!(refusals(&mut floor), ["SKILL_MISSING", "SKILL_MISSING", "LEAD_ONLY", "LEAD_ONLY"]);
    floor.acts(None, Role::Lead);
    assert_eq!(code(floor.now(on("strip"))), "NO_PERSON");
    floor.acts(Some(floor.moss), Role::Lead);
    assert_eq!(code(floor.now(on("strip"))), "SKILL_MISSING", "a lead gives a reason");
    assert!(floor.work("strip").iter().all(|row| row.person == floor.flint));
    // What asks for no skill is for everybody.
    floor.acts(Some(floor.moss), Role::Technician);
    assert_eq!(code(floor.at("10:05", start("wash"))), "WRONG_BAY");
}

/// The reason is sealed into the fact of the work itself, and can be forgotten.
#[test]
fn a_lead_s_reason_stays_on_the_record_and_can_be_forgotten() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.at("09:00", StartStage { override_reason: why(), ..start("strip") }).unwrap();
    let told: Vec<bool> = floor.shop.facts.iter().filter_map(overridden).collect();
    assert_eq!(told, [true, true], "the start and the clocking");
    floor.at("09:20", ClockOff {}).unwrap();
    floor.at("09:30", ClockOn { override_reason: why(), ..on("strip") }).unwrap();
    floor.at("09:40", ClockOff {}).unwrap();
    floor.at("10:00", RecordWork { override_reason: why(), ..work("strip", "09:45", "09:50") }).unwrap();
    let texts: Vec<TextId> = floor.work("strip").iter().map(|row| row.overridden.unwrap()).collect();
    assert_eq!(texts.len(), 3);
    floor.acts(None, Role::Lead);
    floor.at("10:10", ForgetPerson { person: floor.moss, texts: texts.clone() }).unwrap();
    let erased = |text: &TextId| floor.shop.state.texts.get(&(*text,)).unwrap().erased_n.is_some();
    assert!(texts.iter().all(erased));
}

fn overridden(fact: &Fact) -> Option<bool> {
    match fact {
        Fact::StageStarted { overridden, .. } | Fact::ClockedOn { overridden, .. } => Some(overridden.is_some()),
        _ => None,
    }
}

/// A reason for starting what is not ready says nothing about the person's skill.
#[test]
fn a_reason_for_an_early_start_is_not_kept_with_the_work() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("09:00", StartStage { override_reason: why(), ..start("refit") }).unwrap();
    let told: Vec<bool> = floor.shop.facts.iter().filter_map(overridden).collect();
    assert_eq!(told, [true, false]);
    // Where nothing stands against it, no reason is kept.
    floor.at("09:10", ClockOn { override_reason: why(), ..on("refit") }).unwrap_err();
    floor.at("09:20", StartStage { override_reason: why(), ..start("strip") }).unwrap();
    let told: Vec<bool> = floor.shop.facts.iter().filter_map(overridden).collect();
    assert_eq!(told, [false, false]);
}

#[test]
fn a_step_is_recorded_beside_somebody_with_the_skill_or_by_the_lead() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.acts(Some(floor.moss), Role::Technician);
    floor.at("09:10", tick(1)).unwrap();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("09:20", ClockOff {}).unwrap();
    for person in [Some(floor.moss), None] {
        floor.acts(person, Role::Technician);
        floor.shop.now = floor_kit::at("09:30");
        assert_eq!(code(floor.now(tick(2))), "SKILL_NOT_ON_STAGE");
        assert_eq!(code(floor.now(finish("strip"))), "SKILL_NOT_ON_STAGE", "as listed");
    }
    // When it was done, Flint was still there.
    floor.late("09:15", tick(2)).unwrap();
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:05", ClockOff {}).unwrap();
    // A lead who has not the skill says why, and the step keeps it.
    floor.acts(Some(floor.moss), Role::Lead);
    assert_eq!(code(floor.at("09:10", tick(1))), "SKILL_NOT_ON_STAGE");
    floor.now(TickSteps { override_reason: why(), ..tick(1) }).unwrap();
    assert!(floor.shop.state.steps.get(&(JOB, "strip".into(), StepNo(1))).unwrap().overridden.is_some());
    floor.acts(Some(floor.flint), Role::Technician);
    floor.at("09:15", tick(2)).unwrap();
    assert!(floor.shop.state.steps.get(&(JOB, "strip".into(), StepNo(2))).unwrap().overridden.is_none());
    assert!(floor.shop.state.steps.iter().all(|step| step.job != JOB || step.state == StepState::Done));
    floor.acts(Some(floor.moss), Role::Technician);
    floor.at("09:20", finish("strip")).unwrap();
    assert_eq!(floor.stage("strip").state, StageState::Finished);
}

/// Whom a lead let on to the stage without the skill records the steps done there.
#[test]
fn a_step_is_recorded_by_whom_a_lead_let_on() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.at("09:00", StartStage { override_reason: why(), ..start("strip") }).unwrap();
    floor.acts(Some(floor.moss), Role::Technician);
    floor.at("09:10", tick(1)).unwrap();
    floor.at("09:20", ClockOff {}).unwrap();
    floor.shop.now = floor_kit::at("09:30");
    assert_eq!(code(floor.now(tick(2))), "SKILL_NOT_ON_STAGE");
}
