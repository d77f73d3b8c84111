//! Wheels come off and go back: the last look finds them tight, what was miscounted is said anew when its stage is over, and
//! whoever has not the skill gives a reason for each. Common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::template::parse;
use leadhand_facts::safety::StepSafety;
use leadhand_facts::words::{Keep, Role, StepState, Tightness};

const TEMPLATE: &str = r#"
key = "wheels"
title = "Wheels"

[[stage]]
key = "off"
title = "Wheels off"
minutes = [5, 10, 20]
skills = ["wheels"]

[[stage.step]]
do = "Wheel off"

[[stage.step.off]]
key = "wheel-bolts"
what = "Wheel bolts"
kind = "fastener"
count = 5
keep = "tray"
back = "on"
tighten = ["120 N.m"]

[[stage]]
key = "between"
title = "Look at the brake"
minutes = [5, 10, 20]
after = ["off"]

[[stage.step]]
do = "Look"

[[stage]]
key = "on"
title = "Wheels on"
minutes = [5, 10, 20]
after = ["between"]

[[stage.step]]
do = "Bolts in by hand"

[[stage.step]]
do = "Look at the dowels"
hold = "dowels in"

[[stage.step]]
do = "Tighten crosswise"

[[stage.step]]
do = "Look at every bolt"
hold = "wheels tight"
"#;

/// Nothing has begun.
fn bench_of_its_own() -> Bench {
    let mut bench = Bench::new(TEMPLATE);
    bench.acts(bench.flint, Role::Technician);
    bench
}

fn bench() -> Bench {
    bench_of(TEMPLATE)
}

fn bench_of(source: &str) -> Bench {
    let mut bench = Bench::new(source);
    bench.must(SetSkills { person: bench.flint, skills: vec!["wheels".into()] });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("off"));
    bench
}

/// The bolts are in by hand.
fn by_hand() -> Bench {
    by_hand_of(TEMPLATE)
}

fn by_hand_of(source: &str) -> Bench {
    let mut bench = bench_of(source);
    bench.must(finish("off", true));
    bench.must(start("between"));
    bench.must(finish("between", true));
    bench.must(start("on"));
    let hand = BackLine { tightness: Some(Tightness::Finger), ..put("wheel-bolts") };
    bench.must(PutBack { stage: "on".into(), ..back(vec![hand]) });
    bench
}

#[test]
fn the_last_look_finds_every_bolt_tight() {
    let mut bench = by_hand();
    // Work is left after the first look, so that asks for nothing to be tight.
    bench.must(tick("on", &[1]));
    bench.must(tick("on", &[2]));
    bench.must(tick("on", &[3]));
    let told = bench.refusal(tick("on", &[4]));
    assert_eq!(told.reason(), "HOLD_NOT_WHOLE");
    assert!(told.to_string().contains("not tight: 'wheel-bolts'"), "{told}");
    let anyhow = TickSteps { override_reason: Some("the wrench is lent".into()), ..tick("on", &[4]) };
    assert_eq!(bench.refused(anyhow.clone()), "LEAD_ONLY");
    bench.must(TightenPositions { job: JOB, positions: vec!["wheel-bolts".into()], tightness: Tightness::Final });
    bench.must(tick("on", &[4]));
    // A lead answers for it by name.
    let mut bench = by_hand();
    bench.must(tick("on", &[1]));
    bench.must(tick("on", &[2]));
    bench.must(tick("on", &[3]));
    bench.acts(bench.moss, Role::Lead);
    bench.must(anyhow);
    assert!(bench.step("on", 4).overridden.is_some());
}

/// One bolt less is as open as a loose one.
#[test]
fn the_last_look_misses_what_is_not_back() {
    let mut bench = bench();
    bench.must(finish("off", true));
    bench.must(start("between"));
    bench.must(finish("between", true));
    bench.must(start("on"));
    for step in [1, 2, 3] {
        bench.must(tick("on", &[step]));
    }
    let told = bench.refusal(tick("on", &[4])).to_string();
    assert!(told.contains("not back: 'wheel-bolts'"), "{told}");
}

/// A template may ask for it where work comes after the look, such as the drive on the road; new bolts that were added to
/// the list do not switch it off.
#[test]
fn a_look_before_the_road_finds_them_tight_as_well() {
    let road = format!("{TEMPLATE}\n[[stage.step]]\ndo = \"Drive\"\n");
    let mut plain = by_hand_of(&road);
    for step in [1, 2, 3] {
        plain.must(tick("on", &[step]));
    }
    plain.must(tick("on", &[4]));
    let asked = road.replace("hold = \"wheels tight\"", "hold = \"wheels tight\"\nwhole = true");
    let mut bench = by_hand_of(&asked);
    for step in [1, 2, 3] {
        bench.must(tick("on", &[step]));
    }
    assert_eq!(bench.refused(tick("on", &[4])), "HOLD_NOT_WHOLE");
    // A step that was met on the way stands behind the last look of a stage that ends with it.
    let mut bench = by_hand_of(TEMPLATE);
    for step in [1, 2, 3] {
        bench.must(tick("on", &[step]));
    }
    let (tools, shared_tools, cautions, needs) = (vec![], vec![], vec![], vec![]);
    let (stage, instruction) = ("on".into(), "Wipe the rims".into());
    bench.must(AddStep {
        job: JOB,
        stage,
        instruction,
        tools,
        shared_tools,
        cautions,
        needs,
        follow_up: None,
        safety: StepSafety::default(),
    });
    assert_eq!(bench.refused(tick("on", &[4])), "HOLD_NOT_WHOLE");
    let without = "key = \"x\"\ntitle = \"X\"\n[[stage]]\nkey = \"a\"\ntitle = \"A\"\nminutes = [1, 2, 3]\n\
                   [[stage.step]]\ndo = \"Look\"\nwhole = true\n";
    let faults = parse(without).unwrap_err();
    assert!(faults[0].message.contains("says what has to be done at a hold point, and there is none"), "{faults:?}");
}

/// A slip that is seen a stage later is mended, and nothing leaves before it was said anew.
#[test]
fn a_count_is_said_anew_when_its_stage_is_over() {
    let mut bench = bench();
    bench.must(finish("off", true));
    bench.must(start("between"));
    let again = ReopenStage { job: JOB, stage: "off".into(), reason: "five were four".into() };
    assert_eq!(bench.refused(again), "BEGUN_BEHIND");
    let reopen = ReopenPosition { job: JOB, position: "wheel-bolts".into(), reason: "five were four".into() };
    let told = bench.refusal(reopen).to_string();
    assert!(told.contains("`leadhand strip off`"), "{told}");
    // Without a word of why, or without counts, it stays as it was said.
    let bare = |line: OffLine| TakeOff { stage: "off".into(), ..off(vec![line], false) };
    assert_eq!(bench.refused(bare(OffLine { found: Some(4), ..line("wheel-bolts") })), "POSITION_SAID");
    assert_eq!(bench.refused(bare(OffLine { note: Some("hm".into()), ..line("wheel-bolts") })), "POSITION_SAID");
    let four = OffLine {
        found: Some(4),
        missing: Some(1),
        note: Some("one had been lost on the road".into()),
        ..line("wheel-bolts")
    };
    bench.must(TakeOff { stage: "off".into(), ..off(vec![four], false) });
    let row = bench.row("wheel-bolts").clone();
    assert_eq!((row.found, row.missing), (4, 1));
    assert_eq!((row.keep, row.off_by), (Some(Keep::Tray), Some(bench.flint)), "all else stays as it was said");
    let again = || OffLine { found: Some(4), note: Some("counted again".into()), ..line("wheel-bolts") };
    assert_eq!(bench.refused(bare(again())), "NOTHING_TO_DO");
    // What is not said is as it was.
    bench.must(bare(OffLine { found: None, damaged: 1, ..again() }));
    let row = bench.row("wheel-bolts");
    assert_eq!((row.found, row.missing, row.damaged), (4, 1, 1));
    let open: Vec<String> = lines(&bench.shop.state, JOB, bench.shop.now).iter().map(ToString::to_string).collect();
    assert!(
        open.iter().any(|line| line == "wheel-bolts: 0 of 4 piece(s) that came off refitted, thrown away or kept"),
        "{open:?}"
    );
    // Once it is back, that is taken back first.
    bench.must(TickSteps { stage: "between".into(), ..tick("between", &[1]) });
    bench.must(finish("between", false));
    bench.must(start("on"));
    bench.must(PutBack { stage: "on".into(), ..back(vec![put("wheel-bolts")]) });
    let five = OffLine { found: Some(5), note: Some("it lay below the mat".into()), ..line("wheel-bolts") };
    assert_eq!(bench.refused(bare(five)), "POSITION_SAID");
    // A stage that is not begun takes nothing all the same.
    let mut early = bench_of_its_own();
    assert_eq!(early.refused(TakeOff { stage: "off".into(), ..off(vec![], true) }), "STAGE_STATE");
}

/// A lead without the skill gives a reason, as everywhere, and it stays with the position.
#[test]
fn a_lead_without_the_skill_gives_a_reason_for_what_comes_off() {
    let mut bench = bench();
    bench.must(ClockOff {});
    bench.acts(bench.moss, Role::Lead);
    assert_eq!(bench.refused(TakeOff { stage: "off".into(), ..off(vec![], true) }), "SKILL_NOT_ON_STAGE");
    let reason = Some("I have done it for years".to_owned());
    bench.must(TakeOff { stage: "off".into(), override_reason: reason, ..off(vec![], true) });
    let told: Vec<&str> = bench.row("wheel-bolts").off_overruled.iter().map(|one| one.line.as_str()).collect();
    assert_eq!(told, ["unskilled:wheel-bolts"]);
    assert_eq!(bench.step("off", 1).state, StepState::Pending);
}

/// One look is said once: whoever passes the last hold point as a second person has looked at the bolts that ask for it.
#[test]
fn a_second_look_at_the_hold_point_is_the_second_check_of_what_it_looks_at() {
    let asked = TEMPLATE
        .replace("tighten = [\"120 N.m\"]", "tighten = [\"120 N.m\"]\nsecond-check = true")
        .replace("hold = \"wheels tight\"", "hold = \"wheels tight\"\nsecond = true");
    let mut bench = by_hand_of(&asked);
    for step in [1, 2, 3] {
        bench.must(tick("on", &[step]));
    }
    let tight = || TightenPositions { job: JOB, positions: vec!["wheel-bolts".into()], tightness: Tightness::Final };
    bench.must(tight());
    let open = |bench: &Bench| -> Vec<String> {
        lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect()
    };
    assert!(open(&bench).contains(&"second-check:wheel-bolts".to_owned()));
    bench.must(SetSkills { person: bench.moss, skills: vec!["wheels".into()] });
    bench.acts(bench.moss, Role::Technician);
    bench.must(tick("on", &[4]));
    assert_eq!(bench.row("wheel-bolts").checked_by, Some(bench.moss));
    assert!(!open(&bench).contains(&"second-check:wheel-bolts".to_owned()));
    // Loosened they were looked at by nobody, whatever a lead says of the torque.
    bench.must(TightenPositions { tightness: Tightness::Finger, ..tight() });
    assert_eq!(bench.row("wheel-bolts").checked_by, None);
    bench.acts(bench.moss, Role::Lead);
    let left = open(&bench);
    assert!(
        left.contains(&"second-check:wheel-bolts".to_owned()) && left.contains(&"not-tight:wheel-bolts".to_owned())
    );
    let overrides = left.iter().map(|line| Override { line: line.clone(), reason: Some("so be it".into()) }).collect();
    let anyhow = CompleteJob { job: JOB, override_reason: None, overrides };
    assert_eq!(bench.refused(anyhow), "HAND_OVER_FOR_GOOD");
}
