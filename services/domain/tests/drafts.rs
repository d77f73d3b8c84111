//! What a job that was recorded as it went leaves to its draft: names of what came off, what was drained, a check that holds.
//! The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::template::{draft, parse};
use leadhand_facts::template::{StageSpec, Template};
use leadhand_facts::words::{PositionKind, Role};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "bare"
title = "Nothing is listed"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Look at it"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]
"#;

fn drafted(bench: &Bench) -> Template {
    let state = &bench.shop.state;
    // The kit's hashes tell the words; only those are looked up that the draft says it needs.
    let known = draft::texts(state, JOB);
    let word = |text: TextId| {
        let words = || state.texts.get(&(text,)).unwrap().hash.replace("hash of ", "");
        if known.contains(&text) { words() } else { String::new() }
    };
    let template = draft::draft(state, JOB, &"drafted".into(), &word).unwrap();
    let file = draft::file(&template);
    let again = parse(&file).unwrap_or_else(|faults| panic!("{faults:?}\n{file}"));
    assert_eq!(again.template, template, "{file}");
    template
}

fn stage<'t>(template: &'t Template, key: &str) -> &'t StageSpec {
    template.stages.iter().find(|stage| stage.key.as_str() == key).unwrap()
}

fn bolts() -> AddPosition {
    let (position, kind, back) = (Some("sbolts".into()), Some(PositionKind::Fastener), Some("refit".into()));
    AddPosition { position, kind, count: 12, back, ..met("Sump bolts") }
}

#[test]
fn what_came_off_is_called_as_it_was_and_what_was_drained_is_there() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(bolts());
    bench.must(met("Odd hose"));
    let fluid = || FluidKey::from("engine-oil");
    let note = Some("it was low".into());
    bench.must(RecordFluid { job: JOB, fluid: fluid(), drained_ml: 3_200, filled_ml: 0, note, unlisted: true });
    let template = drafted(&bench);
    let step = &stage(&template, "strip").steps[0];
    let names: Vec<(&str, &str)> = step.positions.iter().map(|one| (one.key.as_str(), one.what.as_str())).collect();
    assert_eq!(names, [("sbolts", "Sump bolts"), ("found-1", "Odd hose")]);
    let drained: Vec<_> = step.safety.fluids.iter().map(|one| (one.key.as_str(), one.expected_ml)).collect();
    assert_eq!(drained, [("engine-oil", Some(3_200))]);
}

#[test]
fn what_is_listed_stays_in_its_order_and_keeps_its_ladder() {
    let listed = |key: &str, more: &str| format!("[[stage.step.off]]\nkey = \"{key}\"\nwhat = \"{key}\"\n{more}\n");
    let ladder = "[[ladder]]\nkey = \"studs\"\n[[ladder.rung]]\ndo = \"Soak\"\nsoak = 20\n\n[[ladder]]\nkey = \"unused\"\n\
                  [[ladder.rung]]\ndo = \"Pull\"\n\n";
    let named = [listed("rail", ""), listed("nuts", "ladder = \"studs\""), listed("hose", "")].concat();
    let look = "do = \"Look at it\"\n";
    let text = format!("{}\n{ladder}", TEMPLATE.replace(look, &format!("{look}\n{named}")));
    let template = drafted(&Bench::begun(&text, "strip"));
    let keys: Vec<&str> =
        stage(&template, "strip").steps[0].positions.iter().map(|position| position.key.as_str()).collect();
    assert_eq!(keys, ["rail", "nuts", "hose"]);
    assert_eq!(template.ladders.iter().map(|ladder| ladder.key.as_str()).collect::<Vec<_>>(), ["studs"]);
}

#[test]
fn a_stage_without_a_step_keeps_what_came_off_in_it() {
    let bare = TEMPLATE.replace("[[stage.step]]\ndo = \"Look at it\"\n", "");
    let mut bench = Bench::begun(&bare, "strip");
    bench.must(bolts());
    let template = drafted(&bench);
    assert_eq!(stage(&template, "strip").steps[0].positions[0].what, "Sump bolts");
    assert!(stage(&template, "refit").steps.is_empty());
    // Nor does it go with the only step, when that was left out.
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(bolts());
    bench.must(SkipStep { job: JOB, stage: "strip".into(), step: StepNo(1), reason: "nothing to be seen".into() });
    assert_eq!(stage(&drafted(&bench), "strip").steps[0].positions[0].what, "Sump bolts");
}

#[test]
fn new_pieces_that_were_missing_are_no_standing_work() {
    let mut bench = Bench::prepared(TEMPLATE, |shop, _| {
        shop.must(AddItem { item: "bolt-6".into(), name: "Bolt".into(), unit: Unit::Piece, fluid: None });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(AddPosition { item: Some("bolt-6".into()), later: true, ..bolts() });
    let (missing, note) = (Some(1), Some("one was not there".into()));
    bench.must(off(vec![OffLine { found: Some(11), missing, note, ..line("sbolts") }], false));
    assert!(bench.step("refit", 1).instruction.as_ref().unwrap().starts_with("Fit new: "));
    assert!(stage(&drafted(&bench), "refit").steps.is_empty());
}
