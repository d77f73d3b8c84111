//! Who acts is known to the shop, somebody can always run it, and a lead's word is asked for all
//! that it answers for. The shop is invented.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, code, finish, on, skip, start, tick, why, work};
use leadhand_domain::command::*;
use leadhand_facts::words::{Role, StageState};
use leadhand_facts::*;
use uuid::Uuid;

#[test]
fn nobody_unknown_and_nobody_forgotten_is_recorded_for() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.acts(None, Role::Lead);
    let moss = floor.moss;
    floor.now(ForgetPerson { person: moss, texts: vec![] }).unwrap();
    let head = floor.shop.state.head;
    for (person, wanted) in [(moss, "FORGOTTEN"), (PersonId(Uuid::from_u128(404)), "NOT_FOUND")] {
        floor.acts(Some(person), Role::Lead);
        assert_eq!(code(floor.at("09:30", tick(1))), wanted);
        assert_eq!(code(floor.now(finish("strip"))), wanted);
        assert_eq!(code(floor.now(skip("wash"))), wanted);
        assert_eq!(code(floor.now(on("strip"))), wanted);
        assert_eq!(code(floor.now(RollOut { job: JOB, override_reason: why() })), wanted);
    }
    assert_eq!(floor.shop.state.head, head, "nothing was written");
}

fn token(floor: &mut Floor, role: Role, person: Option<PersonId>) -> TokenId {
    let token = TokenId(Uuid::from_u128(u128::from(floor.shop.state.tokens.iter().count() as u64) + 1));
    let issue = IssueToken {
        token,
        principal: PrincipalId(token.0),
        person,
        label: Some("on the bench".into()),
        role,
        prefix: "lhd_000000".into(),
        hash: format!("{:064x}", token.0.as_u128()),
        expires_at: None,
    };
    floor.now(issue).unwrap();
    token
}

#[test]
fn the_last_lead_can_not_be_shut_out() {
    let mut floor = Floor::open();
    floor.acts(None, Role::Lead);
    let flint = floor.flint;
    let first = token(&mut floor, Role::Lead, Some(flint));
    let viewer = token(&mut floor, Role::Viewer, None);
    assert_eq!(code(floor.now(RevokeToken { token: first })), "LAST_LEAD");
    assert_eq!(code(floor.now(ForgetPerson { person: flint, texts: vec![] })), "LAST_LEAD");
    floor.now(RevokeToken { token: viewer }).unwrap();
    let second = token(&mut floor, Role::Lead, None);
    floor.now(RevokeToken { token: first }).unwrap();
    floor.now(RevokeToken { token: first }).unwrap();
    assert_eq!(code(floor.now(RevokeToken { token: second })), "LAST_LEAD");
    floor.now(ForgetPerson { person: flint, texts: vec![] }).unwrap();
}

#[test]
fn an_operator_replaces_a_lead_s_token_and_makes_nobody_a_lead() {
    let mut floor = Floor::open();
    floor.acts(None, Role::Lead);
    let (flint, moss) = (floor.flint, floor.moss);
    let replace = |person, n| ReplaceLead {
        person,
        token: TokenId(Uuid::from_u128(n)),
        principal: PrincipalId(Uuid::from_u128(n)),
        prefix: "lhd_000000".into(),
        hash: format!("{n:064x}"),
        revoke_others: false,
    };
    let first = token(&mut floor, Role::Lead, Some(flint));
    token(&mut floor, Role::Technician, Some(moss));
    token(&mut floor, Role::Lead, None);
    let head = floor.shop.state.head;
    let refused = floor.now(replace(moss, 0x70)).unwrap_err();
    assert_eq!(refused.reason(), "NEVER_A_LEAD");
    assert!(refused.to_string().contains("let a lead issue it"), "{refused}");
    assert_eq!(floor.shop.state.head, head, "nothing was written");
    floor.now(RevokeToken { token: first }).unwrap();
    floor.now(replace(flint, 0x71)).expect("a token that is over was one all the same");
}

#[test]
fn a_reason_answers_for_nothing_that_was_not_said() {
    let mut floor = Floor::open();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.at("09:00", StartStage { override_reason: why(), ..start("strip") }).unwrap();
    let refused = floor.now(AddStage { skills: vec!["engine".into()], ..floor_kit::extra("strip") });
    refused.unwrap();
    let both = floor.now(start("extra")).unwrap_err();
    assert_eq!(both.reason(), "NOT_READY_NOR_SKILLED");
    let said = both.to_string();
    assert!(said.contains("comes after 'strip', not finished yet") && said.contains("asks for engine"), "{said}");
    floor.now(StartStage { override_reason: why(), ..start("extra") }).unwrap();
}

/// A lead's token that stands for a device proves no person, and a person answers for an override.
#[test]
fn a_lead_overrides_by_name() {
    let mut floor = Floor::open();
    floor.acts(None, Role::Lead);
    let forced = StartStage { override_reason: why(), ..start("refit") };
    let refused = floor.at("09:00", forced.clone()).unwrap_err();
    assert_eq!(refused.reason(), "SIGN_IN_FIRST");
    assert!(refused.to_string().contains("sign in at this device"), "{refused}");
    floor.acts(Some(floor.moss), Role::Lead);
    floor.now(forced).unwrap();
}

/// What was left out hands on what it came after.
#[test]
fn a_refusal_names_what_can_be_finished() {
    let mut floor = Floor::open();
    floor.at("09:00", floor_kit::extra("refit")).unwrap();
    floor.now(skip("refit")).unwrap();
    let said = floor.now(start("extra")).unwrap_err().to_string();
    assert!(said.contains("comes after 'strip', not finished yet") && !said.contains("refit"), "{said}");
}

/// Begun on a lead's word before its time and ended before its time as well: the books agree, which
/// the kit asks after every command.
#[test]
fn late_work_that_was_over_before_its_predecessor_ended_is_accepted_and_proved() {
    let mut floor = Floor::open();
    floor.at("09:00", floor_kit::extra("strip")).unwrap();
    floor.at("09:10", start("strip")).unwrap();
    floor.at("10:00", finish("strip")).unwrap();
    floor.acts(Some(floor.moss), Role::Lead);
    floor.shop.now = floor_kit::at("11:00");
    let early = RecordWork { override_reason: why(), ..work("extra", "09:15", "09:30") };
    floor.now(early).unwrap();
    floor.late("09:40", finish("extra")).unwrap();
    assert_eq!(floor.stage("extra").state, StageState::Finished);
    assert_eq!(floor.stage("extra").ready_at, Some(floor_kit::at("09:40")));
}

#[test]
fn work_entered_late_may_have_begun_in_another_bay_that_fits() {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("09:30", ClockOff {}).unwrap();
    floor.acts(Some(floor.flint), Role::Lead);
    floor.at("10:00", AssignJob { override_reason: why(), ..floor_kit::assign("lift-2") }).unwrap();
    floor.acts(Some(floor.flint), Role::Technician);
    floor.shop.now = floor_kit::at("10:30");
    floor.late("09:40", on("strip")).unwrap();
    let early = floor.late("09:20", ClockOff {}).unwrap_err();
    assert_eq!(early.reason(), "TOO_EARLY");
    assert!(early.to_string().starts_with("clocking off stage 'strip' can't be at"), "{early}");
}
