//! What stands against a hand-over told as a story: what a lead overrules and what nobody does, also when a stage was left
//! out half-way; new parts that never came from stock; and what the sheet says of it. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::{Bench, JOB, finish, start};
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, Remedy, lines};
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::hand_over::{items_of, sheet};
use leadhand_facts::words::{JobState, Role, StageState};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "inlet"
title = "Inlet"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Cover the ports"

[[stage.step.in]]
key = "covers"
what = "Port covers"
count = 2
behind = []
back = "refit"

[[stage.step]]
do = "Take it off"

[[stage.step.off]]
key = "airbox"
what = "Airbox"
back = "refit"

[[stage.step.off]]
key = "nuts"
what = "Manifold nuts"
kind = "fastener"
count = 2
renew = "always"
item = "nut-8"
back = "refit"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Put it back"
"#;

/// The strip is under way, ten nuts are in stock; a lead acts.
fn open() -> Bench {
    let mut bench = Bench::prepared(TEMPLATE, |shop, _| {
        shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
        shop.must(AddItem { item: "nut-8".into(), name: "Nut M8, copper".into(), unit: Unit::Piece, fluid: None });
        shop.receive("nut-8", "bin-1", 10, None);
    });
    bench.acts(bench.flint, Role::Lead);
    bench.must(start("strip"));
    bench
}

/// All came off, the covers are out again and the nuts renewed; the airbox is nowhere, and the refit goes on.
fn without_airbox() -> Bench {
    let mut bench = open();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.shop.issue(JOB, "nut-8", 2);
    bench.must(back(&["covers", "nuts"]));
    bench
}

fn keys(bench: &Bench) -> Vec<String> {
    lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect()
}

fn state_of(bench: &Bench, stage: &str) -> StageState {
    bench.shop.state.stages.get(&(JOB, stage.into())).unwrap().state
}

fn tick(stage: &str) -> TickSteps {
    TickSteps { job: JOB, stage: stage.into(), steps: vec![StepNo(1)], override_reason: None }
}

fn skip(stage: &str) -> SkipStage {
    SkipStage { job: JOB, stage: stage.into(), reason: "the customer wants it now".into() }
}

fn back(positions: &[&str]) -> PutBack {
    let lines = positions.iter().map(|position| BackLine::listed((*position).into())).collect();
    PutBack { job: JOB, stage: "refit".into(), lines, as_listed: false, override_reason: None }
}

fn complete(lines: &[&str]) -> CompleteJob {
    let one = |line: &&str| Override { line: (*line).into(), reason: Some(format!("the customer knows of {line}")) };
    CompleteJob { job: JOB, override_reason: None, overrides: lines.iter().map(one).collect() }
}

const AIRBOX: [&str; 2] = ["places:airbox", "pieces:airbox"];

#[test]
fn a_stage_that_waits_for_nothing_but_what_a_lead_overrules_ends_with_the_hand_over() {
    let mut bench = without_airbox();
    // A step is left: that can be done, or left out, and is no matter of the strip book.
    assert_eq!(keys(&bench), ["places:airbox", "pieces:airbox", "stage:refit"]);
    assert_eq!(bench.refused(complete(&AIRBOX)), "HAND_OVER_UNFINISHED");
    bench.must(tick("refit"));
    assert_eq!(bench.refused(finish("refit", false)), "POSITIONS_UNSAID");
    assert_eq!(keys(&bench), AIRBOX);
    assert_eq!(bench.refused(complete(&[])), "HAND_OVER_OPEN");
    let told = bench.must(complete(&AIRBOX)).notices;
    assert!(told.contains(&Notice::EndedWithHandOver { stage: "refit".into() }), "{told:?}");
    assert_eq!(state_of(&bench, "refit"), StageState::Finished);
    let job = bench.shop.state.jobs.get(&(JOB,)).unwrap();
    assert_eq!((job.state, job.overruled.len()), (JobState::Completed, 2));
}

#[test]
fn what_was_named_has_its_reason_and_only_the_rest_is_asked_for() {
    let mut bench = without_airbox();
    let left = |refusal: &Refusal| match refusal {
        Refusal::HandOverOpen { lines, .. } | Refusal::HandOverUnfinished { lines, .. } => {
            lines.iter().map(Line::key).collect::<Vec<_>>()
        }
        other => panic!("{other}"),
    };
    let refused = bench.run(complete(&AIRBOX[..1])).unwrap_err();
    assert_eq!(left(&refused), ["pieces:airbox", "stage:refit"]);
    bench.must(tick("refit"));
    let refused = bench.run(complete(&AIRBOX[..1])).unwrap_err();
    assert_eq!(left(&refused), ["pieces:airbox"]);
    let told = refused.to_string();
    assert!(told.contains("the line that you named has its reason; give it again with the rest"), "{told}");
    assert!(told.contains("airbox: 0 of 1 piece(s)") && !told.contains("airbox: airbox"), "{told}");
}

#[test]
fn a_stage_that_is_left_out_half_way_does_not_hide_what_is_put_in() {
    let mut bench = open();
    let covers = vec![OffLine::listed("covers".into())];
    let (stage, step) = ("strip".into(), None);
    bench.must(TakeOff { job: JOB, stage, step, lines: covers, as_listed: false, override_reason: None });
    bench.must(tick("strip"));
    bench.must(ReopenPosition { job: JOB, position: "covers".into(), reason: "a slip".into() });
    assert_eq!(bench.refused(skip("strip")), "POSITIONS_UNSAID");
    // Called off the vehicle goes as it is, and that is said.
    let told = bench.must(CancelJob { job: JOB, reason: "towed away".into(), as_it_is: true }).notices;
    let covers = |notice: &Notice| matches!(notice, Notice::GoesAsItIs { what } if what.starts_with("covers: put in"));
    assert!(told.iter().any(covers), "{told:?}");
    // It comes back, and nobody's word lets it go with the covers in.
    bench.must(ReopenJob { job: JOB, reason: "it is mended after all".into() });
    assert_eq!(keys(&bench), ["unsaid:covers"]);
    assert_eq!(lines(&bench.shop.state, JOB, bench.shop.now)[0].remedy(), Remedy::Nobody);
    let anyhow = CompleteJob { override_reason: Some("he waits".into()), ..complete(&[]) };
    assert_eq!(bench.refused(anyhow), "HAND_OVER_FOR_GOOD");
    assert_eq!(bench.refused(complete(&["unsaid:covers"])), "HAND_OVER_FOR_GOOD");
    for stage in ["refit", "strip"] {
        bench.must(ReopenStage { job: JOB, stage: stage.into(), reason: "it goes on".into() });
    }
    bench.must(finish("strip", true));
    bench.must(skip("refit"));
    assert_eq!(keys(&bench)[0], "still-in:covers", "leaving the refit out takes nothing out");
    assert_eq!(bench.refused(complete(&["still-in:covers"])), "HAND_OVER_FOR_GOOD");
}

#[test]
fn what_was_put_in_is_not_made_unsaid_when_nobody_could_say_it_anew() {
    let mut bench = open();
    let reopen = |position: &str| ReopenPosition { job: JOB, position: position.into(), reason: "a slip".into() };
    let lines = vec![OffLine::listed("covers".into())];
    let off = TakeOff { job: JOB, stage: "strip".into(), step: None, lines, as_listed: false, override_reason: None };
    bench.must(off);
    bench.must(reopen("covers"));
    bench.must(finish("strip", true));
    assert_eq!(bench.refused(reopen("covers")), "STAGE_STATE");
    assert_eq!(bench.refused(reopen("airbox")), "STAGE_STATE", "and nothing else that came off");
    assert_eq!(keys(&bench)[0], "still-in:covers");
}

#[test]
fn a_new_part_that_never_came_from_stock_is_a_line_that_a_lead_may_overrule() {
    let mut bench = open();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.shop.reserve(JOB);
    bench.must(back(&["covers", "airbox", "nuts"]));
    bench.must(finish("refit", true));
    assert_eq!(keys(&bench), ["not-taken:nut-8"]);
    let line = lines(&bench.shop.state, JOB, bench.shop.now).remove(0);
    assert_eq!(line.to_string(), "nut-8: 2 fitted new, and 0 taken from stock");
    // One was given out; the other is still missing in the book.
    bench.shop.issue(JOB, "nut-8", 1);
    assert_eq!(
        lines(&bench.shop.state, JOB, bench.shop.now)[0].to_string(),
        "nut-8: 2 fitted new, and 1 taken from stock"
    );
    assert_eq!(bench.refused(complete(&[])), "HAND_OVER_OPEN");
    bench.must(complete(&["not-taken:nut-8"]));
    // The other way: the book is put right, and nothing stands against it.
    bench.must(ReopenJob { job: JOB, reason: "the nut was from the bin".into() });
    bench.shop.issue(JOB, "nut-8", 1);
    bench.must(complete(&[]));
    assert_eq!(bench.shop.hold("nut-8", "bin-1").0, 8);
}

#[test]
fn a_sheet_names_what_was_overruled_as_people_call_it() {
    let mut bench = without_airbox();
    bench.must(tick("refit"));
    let draft = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    let names: Vec<Option<&str>> = draft.open.iter().map(|(_, about)| about.own.as_deref()).collect();
    assert_eq!(names, [Some("Airbox"), Some("Airbox")]);
    bench.must(complete(&AIRBOX));
    let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert!(sheet.open.is_empty());
    let told = sheet.overruled.iter().map(|gone| {
        let (line, about) = gone.open.as_ref().unwrap();
        (gone.line.line.as_str(), line.told_of(about.own.as_deref().unwrap()))
    });
    assert_eq!(
        told.collect::<Vec<_>>(),
        [
            ("places:airbox", "Airbox: 0 of 1 place(s) refitted, renewed or left out".to_owned()),
            ("pieces:airbox", "Airbox: 0 of 1 piece(s) that came off refitted, thrown away or kept".to_owned()),
        ]
    );
}

#[test]
fn a_part_that_was_not_taken_is_named_by_its_item() {
    let mut bench = open();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(&["covers", "airbox", "nuts"]));
    bench.must(finish("refit", true));
    assert_eq!(items_of(&bench.shop.state, JOB), ["nut-8".into()]);
    bench.must(complete(&["not-taken:nut-8"]));
    let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(sheet.overruled[0].open.as_ref().unwrap().1.own.as_deref(), Some("Nut M8, copper"));
}
