//! What a bay meets that its template did not say: more bolts than listed, things on the way, a vehicle that is alive while it
//! is apart; and what the ready list, the draft and the lessons make of it. Counts and torques are invented; that nothing runs
//! on what is open is common practice, no source.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::lessons::{Kind, gather, lessons};
use leadhand_domain::template::draft;
use leadhand_domain::view::ready::ready_list;
use leadhand_facts::template::Template;
use leadhand_facts::words::{Manner, PositionKind, Renew, Role, Tightness};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "belt"
title = "Belt"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Mount off"

[[stage.step.off]]
key = "bolts"
what = "Mount bolts"
kind = "fastener"
count = 4
renew = "always"
item = "mb-10"
back = "refit"
tighten = ["40 N.m", "90 deg"]

[[stage.step.off]]
key = "mount"
what = "Mount"
behind = ["bolts"]
back = "refit"
second-check = true

[[stage.step]]
do = "Lock it, belt off"

[[stage.step.in]]
key = "pin"
what = "Locking pin"
behind = []
back = "refit"

[[stage.step.off]]
key = "belt"
what = "Belt"
behind = ["mount"]
back = "refit"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Look at the pulley"

[[stage.step.reading]]
key = "runout"
what = "Run-out"
kind = "run-out"
unit = "mm"
high = "0.1"
instrument = "Dial gauge"

[[stage.step]]
do = "Read what the control unit says"
state = { needs = ["battery connected"] }
"#;

fn begun() -> Bench {
    let mut bench = Bench::prepared(TEMPLATE, |shop, _| {
        shop.item("mb-10");
        shop.bin("a");
        shop.receive("mb-10", "a", 4, None);
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench
}

fn drafted(bench: &Bench) -> Template {
    let state = &bench.shop.state;
    let word = |text: TextId| state.texts.get(&(text,)).unwrap().hash.replace("hash of ", "");
    draft::draft(state, JOB, &"drafted".into(), &word).unwrap()
}

fn six(bench: &mut Bench) {
    let more = OffLine { found: Some(6), note: Some("six on this one".into()), ..line("bolts") };
    bench.must(off(vec![more], false));
}

#[test]
fn more_that_are_always_renewed_are_wanted_at_once() {
    let mut bench = begun();
    six(&mut bench);
    let wanted: i64 =
        bench.shop.state.demands.iter().filter(|row| row.item.as_str() == "mb-10").map(|row| row.wanted.0).sum();
    let needs = bench.shop.state.steps.iter().flat_map(|row| &row.needs).filter(|need| need.item.as_str() == "mb-10");
    assert_eq!(needs.map(|need| need.quantity.0).sum::<i64>(), 6, "four as listed, and two more");
    bench.acts(bench.moss, Role::Lead);
    bench.shop.reserve(JOB);
    assert_eq!(bench.shop.short(JOB), 2, "four are on the shelf; {wanted} were on the list before");
    // As many as are listed ask for no more.
    let mut bench = begun();
    bench.must(off(vec![line("bolts")], false));
    assert!(bench.shop.state.steps.iter().all(|row| row.fits.is_none()));
}

#[test]
fn another_count_is_a_lesson_and_the_draft_s_count() {
    let mut bench = begun();
    six(&mut bench);
    bench.must(off(vec![], true));
    bench.must(finish("strip", true));
    let template = drafted(&bench);
    assert_eq!(template.stages[0].steps[0].positions[0].detail.count, 6);
    let latest = bench.shop.state.templates.iter().next().unwrap().doc.clone();
    let said = gather(&bench.shop.state, JOB, &[], &|_| String::new()).unwrap();
    let told = lessons(&latest, &[said]);
    let found: Vec<&str> = told.stages[0]
        .lessons
        .iter()
        .filter(|lesson| lesson.kind == Kind::Finding)
        .map(|lesson| lesson.what.as_str())
        .collect();
    assert_eq!(found, ["Mount bolts: 6 where 4 are listed"]);
}

#[test]
fn what_is_met_goes_back_with_what_lies_over_it() {
    let mut bench = begun();
    bench.must(off(vec![line("bolts"), line("mount")], false));
    bench.must(AddPosition { kind: Some(PositionKind::Hose), ..met("Vacuum hose") });
    assert_eq!(bench.row("found-1").detail.back, Some("refit".into()));
    bench.must(AddPosition { manner: Manner::In, ..met("A rag") });
    assert_eq!(bench.row("found-2").detail.back, None, "what is put in comes out when somebody says so");
    // The draft has it behind what came off before it, at the step that was under way, and not at the first.
    bench.must(tick("strip", &[1]));
    bench.must(off(vec![line("pin"), line("belt")], false));
    bench.must(AddPosition { behind: Some(vec!["belt".into()]), ..met("A shim") });
    let template = drafted(&bench);
    let keys = |step: usize| -> Vec<&str> {
        template.stages[0].steps[step].positions.iter().map(|one| one.key.as_str()).collect()
    };
    assert!(keys(0).contains(&"found-1") && keys(1).contains(&"found-3"), "{:?} {:?}", keys(0), keys(1));
}

#[test]
fn a_step_that_needs_it_alive_asks_for_what_one_that_wakes_it_asks_for() {
    let mut bench = begun();
    bench.must(off(vec![], true));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    let refused = bench.refusal(tick("refit", &[2]));
    assert_eq!(refused.reason(), "WAKES_OPEN");
    assert!(refused.to_string().contains("'battery connected'") && refused.to_string().contains("'pin'"), "{refused}");
    bench.must(back(vec![put("belt")]));
    bench.must(back(vec![put("mount"), put("bolts")]));
    bench.must(back(vec![put("pin")]));
    bench.must(tick("refit", &[2]));
}

#[test]
fn what_is_in_for_later_work_and_what_makes_it_safe_wait_for_nothing() {
    let cover = "[[stage.step.in]]\nkey = \"wing\"\nwhat = \"Wing cover\"\nbehind = []\nback = \"refit\"\n\n";
    let steps = "[[stage.step]]\ndo = \"Read codes\"\nstate = { needs = [\"battery connected\"] }\n\n\
                 [[stage.step]]\ndo = \"Battery off\"\n\
                 state = { needs = [\"battery connected\"], sets = [\"battery isolated\"] }\n\n";
    let text = TEMPLATE.replacen(
        "[[stage.step.off]]\nkey = \"bolts\"",
        &format!("{cover}[[stage.step.off]]\nkey = \"bolts\""),
        1,
    );
    let text = text.replacen("[[stage]]\nkey = \"refit\"", &format!("{steps}[[stage]]\nkey = \"refit\""), 1);
    let text = text.replace(
        "do = \"Read what the control unit says\"\nstate = { needs = [\"battery connected\"] }",
        "do = \"Done\"",
    );
    let mut bench = Bench::prepared(&text, |shop, _| {
        shop.item("mb-10");
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(off(vec![line("wing"), line("bolts"), line("mount"), line("pin"), line("belt")], false));
    bench.must(tick("strip", &[3]));
    bench.must(tick("strip", &[4]));
}

#[test]
fn more_of_what_was_added_and_is_always_renewed_is_wanted_too() {
    let mut bench = begun();
    let always = AddPosition {
        position: Some("clips".into()),
        count: 2,
        renew: Some(Renew::Always),
        item: Some("mb-10".into()),
        back: Some("refit".into()),
        later: true,
        ..met("Clips")
    };
    bench.must(always);
    let wanted = |bench: &Bench| -> i64 {
        let own = bench.shop.state.steps.iter().filter(|row| row.fits == Some("clips".into()));
        own.flat_map(|row| &row.needs).map(|need| need.quantity.0).sum()
    };
    assert_eq!(wanted(&bench), 2);
    bench.must(off(vec![OffLine { found: Some(3), note: Some("one more".into()), ..line("clips") }], false));
    assert_eq!(wanted(&bench), 3);
}

#[test]
fn the_ready_list_has_what_the_work_asks_for_by_itself() {
    let mut bench = begun();
    let tools = |bench: &Bench, stage: &str| -> Vec<String> {
        let list = ready_list(&bench.shop.state, &[(JOB, stage.into())], bench.shop.now);
        list.tools.iter().map(|line| line.text.clone()).collect()
    };
    assert_eq!(tools(&bench, "strip"), ["to be put in: 1 \u{d7} Locking pin"]);
    bench.must(off(vec![], true));
    bench.must(finish("strip", true));
    let mut refit = tools(&bench, "refit");
    refit.sort();
    assert_eq!(refit, ["Dial gauge", "angle gauge", "torque wrench"]);
    let list = ready_list(&bench.shop.state, &[(JOB, "refit".into())], bench.shop.now);
    assert_eq!(list.people.iter().map(|line| line.hands).collect::<Vec<_>>(), [2], "one fits it, another looks");
    bench.must(start("refit"));
    bench.must(back(vec![put("belt")]));
    bench.must(back(vec![put("mount"), put("bolts")]));
    bench.must(TightenPositions { job: JOB, positions: vec!["bolts".into()], tightness: Tightness::Final });
    bench.acts(bench.moss, Role::Technician);
    bench.must(ConfirmPositions { job: JOB, positions: vec!["mount".into()] });
    let list = ready_list(&bench.shop.state, &[(JOB, "refit".into())], bench.shop.now);
    assert_eq!(list.people.iter().map(|line| line.hands).collect::<Vec<_>>(), [1]);
}
