//! What is told before and around the work: what no stock has, absorbent, the template's order, tools that did not come back,
//! a refusal that can be read. The rules are the project's own; absorbent with fuel work is common practice.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::view::job::job_view;
use leadhand_domain::view::ready::{ReadyList, ready_list};
use leadhand_domain::view::strip::strip_view;
use leadhand_domain::view::tools::tool_lines;
use leadhand_facts::words::Role;
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "rail"
title = "Fuel rail"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Look at it"

[[stage.step]]
do = "Open the line"
hazard = ["fuel"]

[[stage.step.off]]
key = "rail-bolts"
what = "Rail bolts"
count = 4
back = "refit"

[[stage.step.off]]
key = "line"
what = "Fuel line"
kind = "hose"
behind = ["rail-bolts"]
back = "refit"

[[stage.step.off]]
key = "airbox"
what = "Air box"
back = "refit"

[[stage.step.off]]
key = "clip"
what = "Clip of the line"
count = 2
back = "refit"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]
"#;

fn ready(bench: &Bench, stages: &[&str]) -> ReadyList {
    let stages: Vec<(JobNo, StageKey)> = stages.iter().map(|stage| (JOB, StageKey::from(*stage))).collect();
    ready_list(&bench.shop.state, &stages, bench.shop.now)
}

fn off_with(bench: &mut Bench, position: &str, missing: i32, damaged: i32) {
    let note = Some("as it was".into());
    let listed = bench.row(position).detail.count;
    let (found, missing) = (Some(listed - missing), Some(missing));
    bench.must(off(vec![OffLine { found, missing, damaged, note, ..line(position) }], false));
}

#[test]
fn fuel_work_has_absorbent_on_its_list_unless_somebody_listed_it() {
    let bench = Bench::begun(TEMPLATE, "strip");
    let list = ready(&bench, &["strip", "refit"]);
    let [only] = list.consumables.as_slice() else { panic!("{:?}", list.consumables) };
    assert!(only.what.starts_with("absorbent") && only.what.contains("no item of the stock"), "{}", only.what);
    assert_eq!((only.first.stage, only.first.step), (0, StepNo(2)));
    assert_eq!(ready(&bench, &["refit"]).consumables, []);
    // So has a fluid that comes out.
    let drained = TEMPLATE.replace("hazard = [\"fuel\"]", "fluid = [{ key = \"oil\", what = \"Oil\" }]");
    assert_eq!(ready(&Bench::begun(&drained, "strip"), &["strip"]).consumables.len(), 1);
    let dry = TEMPLATE.replace("hazard = [\"fuel\"]\n", "");
    assert_eq!(ready(&Bench::begun(&dry, "strip"), &["strip"]).consumables, []);
    // Listed as a tool, or as an item of the stock.
    let tools = TEMPLATE.replace("hazard = [\"fuel\"]", "hazard = [\"fuel\"]\ntools = [\"Absorbent mats\"]");
    assert_eq!(ready(&Bench::begun(&tools, "strip"), &["strip"]).consumables, []);
    let need = "hazard = [\"fuel\"]\nneeds = [{ item = \"absorbent-pads\", quantity = 2 }]";
    let mut bench = Bench::prepared(&TEMPLATE.replace("hazard = [\"fuel\"]", need), |shop, _| {
        shop.must(AddItem { item: "absorbent-pads".into(), name: "Pads".into(), unit: Unit::Piece, fluid: None });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    assert_eq!(ready(&bench, &["strip"]).consumables, []);
}

#[test]
fn a_piece_of_no_item_is_to_be_got() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    off_with(&mut bench, "rail-bolts", 1, 1);
    off_with(&mut bench, "airbox", 0, 0);
    let view = job_view(&bench.shop.state, JOB, bench.shop.now).unwrap();
    let told: Vec<_> = view.to_get.iter().map(|one| (one.position.as_str(), one.pieces)).collect();
    assert_eq!(told, [("rail-bolts", 2)]);
    let list = ready(&bench, &["refit"]);
    let missing: Vec<_> = list.missing.iter().filter_map(|line| line.pieces.as_ref()).collect();
    assert_eq!(missing.len(), 1);
    assert_eq!((missing[0].pieces, missing[0].what.words.as_deref()), (2, Some("Rail bolts")));
    assert!(ready(&bench, &["strip"]).missing.iter().all(|line| line.pieces.is_none()), "it goes back in the refit");
    // What is fitted new was got.
    off_with(&mut bench, "clip", 0, 0);
    bench.must(off(vec![line("line")], false));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    let line = BackLine { renewed: Some(1), refitted: Some(0), ..put("rail-bolts") };
    bench.must(back(vec![put("line")]));
    bench.must(back(vec![line]));
    let view = job_view(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(view.to_get[0].pieces, 1);
}

#[test]
fn before_the_work_positions_stand_as_the_template_has_them() {
    let bench = Bench::begun(TEMPLATE, "strip");
    let view = strip_view(&bench.shop.state, JOB);
    let keys: Vec<&str> = view.positions.iter().map(|line| line.row.position.as_str()).collect();
    assert_eq!(keys, ["rail-bolts", "line", "airbox", "clip"]);
}

#[test]
fn calling_off_what_is_apart_names_the_first_three_and_counts_the_rest() {
    let mut bench = Bench::begun(TEMPLATE, "strip");
    bench.must(off(vec![], true));
    bench.acts(bench.moss, Role::Lead);
    let told = bench.refusal(CancelJob { job: JOB, reason: "sold".into(), as_it_is: false });
    assert_eq!(told.reason(), "GOES_APART");
    let told = told.to_string();
    // Four positions, each with its places and its pieces.
    assert!(told.contains("8 lines are open: ") && told.contains("; and 5 more; put it right"), "{told}");
    assert_eq!(told.matches("refitted").count(), 3, "{told}");
    assert!(told.chars().count() < 600, "{told}");
}

#[test]
fn a_tool_that_a_closed_job_has_is_overdue() {
    let mut bench = Bench::new(TEMPLATE);
    bench.acts(bench.moss, Role::Lead);
    bench.must(AddTool { tool: "k3-pin".into(), name: "Pin".into(), what: None, calibration_due: None });
    let (stage, bay, person) = (None, None, None);
    bench.must(LendTool { tool: "k3-pin".into(), job: Some(JOB), stage, bay, person, hand_on: false });
    let overdue = |bench: &Bench| tool_lines(&bench.shop.state, false, bench.shop.now)[0].overdue;
    assert!(!overdue(&bench));
    bench.must(CancelJob { job: JOB, reason: "sold".into(), as_it_is: false });
    assert!(overdue(&bench));
    bench.must(ReturnTool { tool: "k3-pin".into() });
    assert!(!overdue(&bench));
}
