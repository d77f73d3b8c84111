//! What nobody had listed says as much as a template: heads, tightening, second looks, cures, hold points. Torques and counts
//! are invented; the rules are the project's own, and the cautions of hazards those of the list that is held beside them.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod seized_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::hazard;
use leadhand_domain::template::parse;
use leadhand_facts::safety::{Hold, StepSafety};
use leadhand_facts::strip::Tighten;
use leadhand_facts::words::{Hazard, Outcome, PositionKind, Reach, Renew, Role, Tightness, VehicleState};
use seized_kit::{split, tried};

const TEMPLATE: &str = r#"
key = "bare"
title = "Nothing is listed"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]
"#;

/// Twelve bolts of a sump.
fn sump_bolts(fitting: Fitting) -> AddPosition {
    let (kind, position) = (Some(PositionKind::Fastener), Some("sbolts".into()));
    AddPosition { kind, position, count: 12, back: Some("refit".into()), fitting, ..met("Sump bolts") }
}

fn tight() -> Fitting {
    Fitting {
        head: Some("13 mm hexagon".into()),
        reach: Some(Reach::Under),
        tighten: vec![Tighten::TorqueMilli(40_000), Tighten::AngleDegrees(60)],
        how: vec!["sequence 2 1 3".into()],
        second_check: true,
        cure_minutes: Some(30),
        ..Fitting::default()
    }
}

/// Added and off; the refit is under way and Flint acts.
fn refitting(added: AddPosition) -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(added);
    bench.must(finish("strip", false));
    bench.must(start("refit"));
    bench
}

fn open_lines(bench: &Bench) -> Vec<String> {
    lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect()
}

#[test]
fn bolts_that_nobody_listed_go_back_by_stages_and_are_looked_at() {
    let mut bench = refitting(sump_bolts(tight()));
    let row = bench.row("sbolts");
    let (detail, fitting) = (row.detail.clone(), tight());
    assert_eq!((detail.head, detail.reach, detail.tighten), (fitting.head, fitting.reach, fitting.tighten));
    assert_eq!((detail.how, detail.second_check, detail.cure_minutes), (fitting.how, true, Some(30)));
    bench.must(back(vec![put("sbolts")]));
    assert_eq!(bench.row("sbolts").tightness, Some(Tightness::Finger), "nobody said that they are tight");
    let open = open_lines(&bench);
    for line in ["not-tight:sbolts", "second-check:sbolts"] {
        assert!(open.iter().any(|open| open == line), "{line}: {open:?}");
    }
    let last = |tightness| TightenPositions { job: JOB, positions: vec!["sbolts".into()], tightness };
    bench.must(last(Tightness::Final));
    let look = || ConfirmPositions { job: JOB, positions: vec!["sbolts".into()] };
    assert_eq!(bench.refused(look()), "OWN_WORK");
    bench.acts(bench.moss, Role::Technician);
    bench.must(look());
    let open = open_lines(&bench);
    assert!(!open.iter().any(|line| line == "not-tight:sbolts" || line == "second-check:sbolts"), "{open:?}");
    // Without a word they are as tight as somebody says.
    let mut plain = refitting(sump_bolts(Fitting::default()));
    plain.must(back(vec![put("sbolts")]));
    assert_eq!(plain.row("sbolts").tightness, Some(Tightness::Final));
}

#[test]
fn what_a_template_could_not_say_is_refused_with_its_words() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    let said = |fitting| AddPosition { fitting, ..sump_bolts(Fitting::default()) };
    let one = |stage| Fitting { tighten: vec![stage], ..Fitting::default() };
    for (fitting, field) in [
        (one(Tighten::TorqueMilli(2_000_001)), "tighten[0]"),
        (one(Tighten::AngleDegrees(0)), "tighten[0]"),
        (Fitting { cure_minutes: Some(7 * 24 * 60 + 1), ..Fitting::default() }, "cure_minutes"),
        (Fitting { how: vec![" ".into()], ..Fitting::default() }, "how[0]"),
        (Fitting { head: Some(String::new()), ..Fitting::default() }, "head"),
        (Fitting { ladder: Some("studs".into()), ..Fitting::default() }, "ladder"),
        // An angle counts from a torque, and a key of no width turns nothing (common practice, no source).
        (one(Tighten::AngleDegrees(90)), "tighten[0]"),
        (Fitting { head: Some("0 mm hexagon".into()), ..Fitting::default() }, "head"),
        (Fitting { head: Some("-3".into()), ..Fitting::default() }, "head"),
    ] {
        assert_eq!(bench.refusal(said(fitting)).field(), Some(field));
    }
    let size = AddPosition { size: Some("0 x 20".into()), ..sump_bolts(Fitting::default()) };
    assert_eq!(bench.refusal(size).field(), Some("size"));
    // The same sentence as of a template.
    let without = AddPosition { renew: Some(Renew::Check), ..sump_bolts(Fitting::default()) };
    let told = bench.refusal(without).to_string();
    let file = format!(
        "{TEMPLATE}\n[[stage.step]]\ndo = \"Off\"\n[[stage.step.off]]\nkey = \"a\"\nwhat = \"A\"\nrenew = \"check\"\n"
    );
    let fault = parse(&file).unwrap_err().remove(0).message;
    let why = fault.split_once(": ").unwrap().1;
    assert!(told.ends_with(why), "{told} | {fault}");
    let check = Fitting { check: Some("the thread is whole".into()), ..Fitting::default() };
    assert_eq!(bench.refused(AddPosition { renew: Some(Renew::Always), ..said(check.clone()) }), "INVALID_FIELD");
    bench.must(said(check));
    assert_eq!(bench.row("sbolts").detail.renew, Renew::Check, "a check decides");
}

#[test]
fn a_ladder_of_the_template_may_be_named() {
    let mut bench = seized_kit::open();
    let fitting = Fitting { ladder: Some("studs".into()), ..Fitting::default() };
    bench.must(AddPosition { position: Some("nut".into()), later: true, fitting, ..met("hidden nut") });
    let next = bench.tries(RecordAttempt { position: "nut".into(), ..tried(Outcome::NotMoved) }).unwrap();
    assert_eq!((next.rung, next.measure.as_str()), (2, "Warm it"));
}

fn added(safety: StepSafety) -> AddStep {
    AddStep {
        job: JOB,
        stage: "refit".into(),
        instruction: "Join the fuel line".into(),
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs: vec![],
        follow_up: Some("Look for leaks after a day.".into()),
        safety,
    }
}

#[test]
fn a_step_that_is_added_minds_what_a_listed_one_would() {
    let mut bench = refitting(sump_bolts(Fitting::default()));
    bench.must(back(vec![put("sbolts")]));
    bench.must(added(StepSafety {
        needs: vec![VehicleState::FuelPressureRelieved],
        sets: vec![VehicleState::FuelPressureLive],
        hazards: vec![Hazard::UsedFluid, Hazard::Fuel],
        ..StepSafety::default()
    }));
    let step = bench.step("refit", 1).clone();
    assert_eq!(step.cautions, hazard::cautions(&[], &[Hazard::Fuel, Hazard::UsedFluid]), "gravest first");
    assert_eq!(step.follow_up.as_deref(), Some("Look for leaks after a day."));
    assert_eq!(bench.refused(tick("refit", &[1])), "STATE_WANTED");
    bench.must(set(VehicleState::FuelPressureRelieved));
    bench.must(tick("refit", &[1]));
    let hold = |second| Some(Hold { what: "tight and dry".into(), second, whole: true });
    bench.must(added(StepSafety { hold: hold(true), skills: vec!["fuel".into()], ..StepSafety::default() }));
    assert_eq!(bench.refused(tick("refit", &[2])), "HOLD_OWN_WORK");
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(tick("refit", &[2])), "SKILL_FOR_STEP");
    bench.must(SetSkills { person: bench.moss, skills: vec!["fuel".into()] });
    bench.must(tick("refit", &[2]));
    for (safety, field) in [
        (
            StepSafety {
                needs: vec![VehicleState::BatteryConnected, VehicleState::BatteryIsolated],
                ..StepSafety::default()
            },
            "needed_states[1]",
        ),
        (StepSafety { hazards: vec![Hazard::Fuel, Hazard::Fuel], ..StepSafety::default() }, "hazards[1]"),
        (StepSafety { skills: vec!["a".into(), "a".into()], ..StepSafety::default() }, "skills[1]"),
    ] {
        assert_eq!(bench.refusal(added(safety)).field(), Some(field));
    }
}

#[test]
fn a_request_that_says_nothing_new_is_the_request_that_it_was() {
    // What an older program kept of an accepted request tells a repeat of it from another one.
    let said = serde_json::to_string(&sump_bolts(Fitting::default())).unwrap();
    assert!(!said.contains("fitting"), "{said}");
    let said = serde_json::to_string(&AddStep { follow_up: None, ..added(StepSafety::default()) }).unwrap();
    assert!(!said.contains("follow_up") && !said.contains("safety"), "{said}");
}

#[test]
fn what_was_not_tried_is_still_split_off() {
    let mut bench = seized_kit::open();
    bench.must(RecordAttempt { pieces: Some(3), ..tried(Outcome::NotMoved) });
    // Eight nuts, three of them tried: five were not.
    let told = bench.refusal(split("nuts", 6));
    assert_eq!(told.field(), Some("count"));
    let told = told.to_string();
    for words in
        ["3 of 8 of 'nuts' were tried", "at most 5 can be split off", "`leadhand strip off 1 strip nuts --note"]
    {
        assert!(told.contains(words), "{told}");
    }
    bench.must(split("nuts", 5));
    assert_eq!((bench.row("nuts").detail.count, bench.row("nuts-2").detail.count), (3, 5));
    assert_eq!(bench.line("nuts").attempts.len(), 1, "the attempts stay with what was tried");
    assert_eq!(bench.line("nuts-2").attempts, []);
    // One that moved was tried as well.
    bench.must(RecordAttempt { pieces: Some(1), rung: Some(1), ..tried(Outcome::Moved) });
    let told = bench.refusal(split("nuts", 1)).to_string();
    assert!(told.contains("3 of 3 of 'nuts' were tried") && told.contains("none is left"), "{told}");
}
