//! A mistaken touch at "not listed" is taken back whole, and what lies behind it, the stage and the hand-over know nothing of it
//! any more. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_auditor::check_books;
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over;
use leadhand_domain::lessons::gather;
use leadhand_domain::strip::{self, Standing};
use leadhand_domain::template::draft;
use leadhand_facts::words::{Manner, Outcome, PositionKind, Role};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "belt"
title = "Belt"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Cover off"

[[stage.step.off]]
key = "cover"
what = "Cover"
back = "refit"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Look at it"
"#;

/// The cover is off, then what nobody listed: a bolt that was none, and the hose that was meant.
fn touched() -> Bench {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(off(vec![line("cover")], false));
    bench.must(AddPosition { kind: Some(PositionKind::Fastener), count: 2, ..met("Bolt") });
    bench.must(AddPosition { kind: Some(PositionKind::Hose), ..met("Hose") });
    assert_eq!(bench.row("found-2").detail.behind, ["cover".into(), "found-1".into()] as [PositionKey; 2]);
    bench
}

fn gone(bench: &Bench, position: &str) {
    let row = bench.row(position);
    assert!(strip::never_there(row) && strip::of_position(row).is_empty(), "{row:?}");
    assert_eq!(Standing::of(row), Standing::Settled);
}

/// The stages end and the vehicle goes, with nothing overruled; the auditor agrees.
fn goes(bench: &mut Bench) {
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(finish("refit", true));
    let open = hand_over::lines(&bench.shop.state, JOB, bench.shop.now);
    assert!(open.is_empty(), "{open:?}");
    bench.acts(bench.moss, Role::Lead);
    bench.must(CompleteJob { job: JOB, override_reason: None, overrides: vec![] });
    let broken: Vec<String> = check_books(&bench.shop.books).into_iter().map(|one| format!("{one:?}")).collect();
    assert!(broken.is_empty(), "{broken:?}");
}

#[test]
fn what_was_only_met_is_gone_when_it_is_taken_back() {
    let mut bench = touched();
    // The hose behind it did come off, and stays so.
    let told = bench.must(taken_back("found-1")).notices;
    assert!(told.contains(&Notice::NeverThere { position: "found-1".into() }), "{told:?}");
    gone(&bench, "found-1");
    // What is met next does not lie behind it.
    bench.must(AddPosition { kind: Some(PositionKind::Clip), ..met("Clip") });
    assert_eq!(bench.row("found-3").detail.behind, ["cover".into(), "found-2".into()] as [PositionKey; 2]);
    // It teaches nothing, and no draft has it.
    let state = &bench.shop.state;
    let word = |text: TextId| state.texts.get(&(text,)).unwrap().hash.replace("hash of ", "");
    let drafted = draft::draft(state, JOB, &"drafted".into(), &word).unwrap();
    let steps = drafted.stages.iter().flat_map(|stage| &stage.steps);
    let found: Vec<_> = steps.flat_map(|step| &step.positions).collect();
    let keys: Vec<&str> = found.iter().map(|one| one.key.as_str()).collect();
    assert_eq!(keys, ["cover", "found-2", "found-3"]);
    assert!(found.iter().all(|one| !one.detail.behind.contains(&"found-1".into())));
    goes(&mut bench);
    let told = gather(&bench.shop.state, JOB, &[], &word_of(&bench)).unwrap();
    assert!(!format!("{told:?}").contains("Bolt"), "{told:?}");
}

fn word_of(bench: &Bench) -> impl Fn(TextId) -> String + '_ {
    |text| bench.shop.state.texts.get(&(text,)).unwrap().hash.replace("hash of ", "")
}

#[test]
fn both_are_taken_back_and_the_right_one_is_met_again() {
    let mut bench = touched();
    bench.must(taken_back("found-2"));
    bench.must(taken_back("found-1"));
    gone(&bench, "found-1");
    gone(&bench, "found-2");
    // Taken back by mistake, it is counted.
    assert_eq!(bench.refused(off(vec![line("found-2")], false)), "POSITION_SAID");
    bench.must(off(vec![OffLine { found: Some(1), note: Some("it is off".into()), ..line("found-2") }], false));
    assert_eq!(Standing::of(bench.row("found-2")), Standing::Off);
    goes(&mut bench);
}

#[test]
fn none_found_of_what_was_added_by_hand_holds_nothing() {
    let mut bench = touched();
    bench.must(off(vec![OffLine { found: Some(0), note: Some("a slip".into()), ..line("found-1") }], false));
    gone(&bench, "found-1");
    // Noted for later it stays when its "off" is taken back, and is none when none is found.
    bench.must(AddPosition { later: true, ..met("Bracket") });
    bench.must(AddPosition { later: true, ..met("Pipe") });
    bench.must(off(vec![line("found-3")], false));
    bench.must(taken_back("found-3"));
    assert_eq!(bench.row("found-3").off_n, None);
    bench.must(tick("strip", &[1]));
    assert_eq!(bench.refused(finish("strip", false)), "POSITIONS_UNSAID");
    let none = |position| OffLine { found: Some(0), note: Some("not here".into()), ..line(position) };
    bench.must(off(vec![none("found-3"), none("found-4")], false));
    goes(&mut bench);
}

#[test]
fn what_was_listed_tried_or_put_in_is_not_gone_so() {
    let mut bench = touched();
    // Listed: fewer than listed is a line for a lead.
    bench.must(off(vec![OffLine { found: Some(0), note: Some("none".into()), ..line("cover") }], false));
    let open = |bench: &Bench| -> Vec<String> {
        hand_over::lines(&bench.shop.state, JOB, bench.shop.now).iter().map(hand_over::Line::key).collect()
    };
    assert!(open(&bench).contains(&"fewer:cover".to_owned()), "{:?}", open(&bench));
    // Put in for the work: it is looked for.
    bench.must(AddPosition { manner: Manner::In, behind: Some(vec![]), ..met("Rag") });
    assert_eq!(bench.refused(taken_back("found-3")), "NOBODY_ASKS");
    // Tried: who tried it says so with a lead.
    bench.must(AddPosition { later: true, behind: Some(vec![]), kind: Some(PositionKind::Fastener), ..met("Stud") });
    bench.must(tried("found-4"));
    let none = || off(vec![OffLine { found: Some(0), note: Some("no".into()), ..line("found-4") }], false);
    assert_eq!(bench.refused(none()), "LEAD_ONLY");
    bench.acts(bench.moss, Role::Lead);
    bench.must(none());
    gone(&bench, "found-4");
}

fn taken_back(position: &str) -> ReopenPosition {
    ReopenPosition { job: JOB, position: position.into(), reason: "a slip".into() }
}

fn tried(position: &str) -> RecordAttempt {
    RecordAttempt {
        job: JOB,
        position: position.into(),
        rung: Some(1),
        outcome: Outcome::NotMoved,
        pieces: Some(1),
        item: None,
        plan: None,
        note: None,
        blocked: false,
        override_reason: None,
    }
}

/// DESIGN's table lets a lead overrule a missing skill at the work; a second look is somebody's own, and nobody's to give.
#[test]
fn a_second_look_without_the_skill_offers_no_lead_s_word() {
    let text = TEMPLATE.replace("what = \"Cover\"", "what = \"Cover\"\nsecond-check = true");
    let text = text.replace("after = [\"strip\"]", "after = [\"strip\"]\nskills = [\"engine\"]");
    let mut bench = Bench::prepared(&text, |_, _| {});
    let flint = bench.flint;
    bench.acts(flint, Role::Lead);
    bench.must(SetSkills { person: flint, skills: vec!["engine".into()] });
    bench.acts(flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(off(vec![line("cover")], false));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(vec![put("cover")]));
    for role in [Role::Technician, Role::Lead] {
        bench.acts(bench.moss, role);
        let refused = bench.refusal(ConfirmPositions { job: JOB, positions: vec!["cover".into()] });
        assert_eq!(refused.reason(), "SKILL_FOR_LOOK");
        assert_eq!(refused.may_overrule(), None);
        let told = refused.to_string();
        assert!(
            told.contains("a second look at 'cover' asks for engine") && told.contains("nobody overrules"),
            "{told}"
        );
        assert!(!told.contains("let the lead"), "{told}");
    }
}
