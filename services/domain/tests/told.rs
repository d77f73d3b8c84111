//! What the shop is told at the moment it matters: who may do a step, what can hurt in a stage that starts, what a stage that
//! is left out leaves behind, new parts that nobody took from stock, figures that can't be meant. The rules are the project's
//! own; that a road test asks for a licensed driver is common practice.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, Remedy, lines, told};
use leadhand_domain::hazard::DEFERENCE;
use leadhand_domain::reading::{far_off, read_measure};
use leadhand_domain::view::hand_over::{loose_ends, sheet};
use leadhand_domain::view::ready::ready_list;
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::words::*;
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "inlet"
title = "Inlet"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]
skills = ["engine"]
bays = ["floor"]
tools = ["torque wrench 5 to 50 N.m, in calibration"]

[[stage.step]]
do = "Bonnet open"
hazard = ["used-fluid"]
caution = [{ word = "DANGER", text = "It tips." }]
state = { sets = ["bonnet open"] }

[[stage.step]]
do = "Vehicle supported"
hold = "vehicle supported"

[[stage.step]]
do = "Take it off"
caution = [{ word = "DANGER", text = "It tips." }]

[[stage.step.off]]
key = "nuts"
what = "Nuts"
kind = "fastener"
count = 3
size = "M8 x 1.25 x 25"
head = "13 mm hexagon"
item = "nut-8"
back = "refit"
ladder = "nuts"

[[stage.step.off]]
key = "bolts"
what = "Bolts"
kind = "fastener"
count = 2
size = "M8 x 40"
head = "13 mm hexagon"
back = "refit"

[[stage.step.off]]
key = "box"
what = "Box"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Put it back"
state = { sets = ["bonnet latched"] }

[[stage.step]]
do = "Drive it"
skills = ["road-test"]

[[stage.step]]
do = "Cables"
skills = ["high-voltage"]

[[stage]]
key = "wash"
title = "Wash"
minutes = [5, 10, 20]
bays = ["pit"]
after = ["refit"]

[[ladder]]
key = "nuts"
[[ladder.rung]]
do = "Soak it"
tools = ["wire brush"]
"#;

/// Flint has the skill engine and began the strip on the floor; Moss has none.
fn begun() -> Bench {
    let mut bench = prepared();
    bench.must(start("strip"));
    bench
}

/// The same before anything began; a torque wrench of the shop is past its calibration.
fn prepared() -> Bench {
    prepared_for(TEMPLATE)
}

fn prepared_for(template: &str) -> Bench {
    let mut bench = Bench::prepared(template, |shop, flint| {
        shop.must(SetSkills { person: flint, skills: vec!["engine".into()] });
        shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
        shop.must(AddItem { item: "nut-8".into(), name: "Nut M8".into(), unit: Unit::Piece, fluid: None });
        shop.receive("nut-8", "bin-1", 10, None);
        let (what, due) = (Some("5 to 50 N.m".into()), Some("2026-05-01".into()));
        shop.must(AddTool { tool: "torque-50".into(), name: "Torque wrench".into(), what, calibration_due: due });
        for kind in [BayKind::Floor, BayKind::Pit] {
            let bay: BayKey = kind.word().into();
            shop.must(AddBay { bay, name: kind.word().into(), kind, rated_kg: 3000 });
        }
    });
    bench.acts(bench.flint, Role::Lead);
    bench.must(AssignJob { job: JOB, bay: "floor".into(), override_reason: None });
    bench.acts(bench.flint, Role::Technician);
    bench
}

/// The strip is done and the refit begun, by Flint.
fn stripped() -> Bench {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.must(tick("strip", &[2]));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench
}

fn because(tick: TickSteps) -> TickSteps {
    TickSteps { override_reason: Some("nobody else is here".into()), ..tick }
}

#[test]
fn a_step_that_asks_for_a_skill_is_done_by_whoever_has_it_and_not_beside_them() {
    let mut bench = stripped();
    bench.must(tick("refit", &[1]));
    // Somebody who has it is on the stage; that is not who drives.
    let moss = bench.moss;
    bench.shop.must(SetSkills { person: moss, skills: vec!["road-test".into()] });
    bench.acts(moss, Role::Technician);
    bench.must(ClockOn { job: JOB, stage: "refit".into(), override_reason: None });
    bench.acts(bench.flint, Role::Technician);
    let refused = bench.refusal(tick("refit", &[2]));
    assert_eq!(refused.reason(), "SKILL_FOR_STEP");
    assert!(refused.to_string().contains("step 2 of stage 'refit' asks for road-test of whoever does it"), "{refused}");
    assert_eq!(bench.refused(because(tick("refit", &[2]))), "LEAD_ONLY");
    bench.acts(bench.flint, Role::Lead);
    assert_eq!(bench.refused(tick("refit", &[2])), "SKILL_FOR_STEP", "a lead gives a reason as well");
    bench.must(because(tick("refit", &[2])));
    assert!(bench.step("refit", 2).overridden.is_some());
    // Who has it needs no reason.
    let again = ReopenStep { job: JOB, stage: "refit".into(), step: StepNo(2), reason: "it was not driven".into() };
    bench.must(again);
    bench.acts(moss, Role::Technician);
    bench.must(tick("refit", &[2]));
    assert!(bench.step("refit", 2).overridden.is_none());
    // For high voltage no reason stands in.
    bench.acts(bench.flint, Role::Lead);
    assert_eq!(bench.refused(because(tick("refit", &[3]))), "HIGH_VOLTAGE");
}

#[test]
fn a_hold_point_is_passed_by_somebody_with_the_skills_of_its_stage_where_the_vehicle_stands() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.acts(bench.moss, Role::Technician);
    assert_eq!(bench.refused(tick("strip", &[2])), "SKILL_FOR_STEP", "Flint on the stage is not who looks");
    // Outside nobody looks at how it stands in the bay.
    bench.acts(bench.flint, Role::Technician);
    bench.must(ClockOff {});
    bench.acts(bench.flint, Role::Lead);
    bench.must(RollOut { job: JOB, override_reason: Some("the next one".into()) });
    assert_eq!(bench.refused(tick("strip", &[2])), "NOT_IN_BAY");
    let to = |bay: &str| AssignJob { job: JOB, bay: bay.into(), override_reason: Some("for now".into()) };
    bench.must(to("pit"));
    assert_eq!(bench.refused(because(tick("strip", &[2]))), "WRONG_BAY", "nobody overrules where it stands");
    bench.must(to("floor"));
    bench.must(tick("strip", &[2]));
}

#[test]
fn whoever_starts_a_stage_hears_once_what_can_hurt_gravest_first() {
    let mut bench = prepared();
    let told = bench.must(start("strip")).notices;
    let minds: Vec<(SignalWord, i32, &str)> = told
        .iter()
        .filter_map(|notice| match notice {
            Notice::Mind { word, step, text } => Some((*word, step.0, text.as_str())),
            _ => None,
        })
        .collect();
    assert_eq!(minds[0], (SignalWord::Danger, 1, "It tips."), "{minds:?}");
    assert_eq!(minds.iter().filter(|mind| mind.2 == "It tips.").count(), 1, "said at two steps, told once");
    assert_eq!(minds.last().map(|mind| mind.2), Some(DEFERENCE));
    assert!(minds[1].2.starts_with("Used fluids"), "{minds:?}");
    // A tool that the template only describes is one of the shop's.
    let due =
        |notice: &&Notice| matches!(notice, Notice::OutOfCalibration { tool, .. } if tool.as_str() == "torque-50");
    assert_eq!(told.iter().filter(due).count(), 1, "{told:?}");
}

#[test]
fn leaving_a_stage_out_says_what_stays_open() {
    let mut bench = stripped();
    bench.acts(bench.flint, Role::Lead);
    let skip = SkipStage { job: JOB, stage: "refit".into(), reason: "the customer waits".into() };
    let told = bench.must(skip).notices;
    let positions = ["bolts", "nuts"].map(PositionKey::from).to_vec();
    let left = Notice::LeftOutOpen { stage: "refit".into(), back: true, positions };
    assert!(told.contains(&left), "{told:?}");
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.must(tick("strip", &[2]));
    bench.must(off(vec![line("box")], false));
    bench.acts(bench.flint, Role::Lead);
    let skip = SkipStage { job: JOB, stage: "strip".into(), reason: "towed".into() };
    let left = Notice::LeftOutOpen { stage: "strip".into(), back: false, positions: vec!["box".into()] };
    assert!(bench.must(skip).notices.contains(&left));
}

#[test]
fn new_pieces_that_nobody_took_from_stock_are_told_when_they_are_fitted() {
    let mut bench = stripped();
    let renewed = |count| BackLine { renewed: Some(count), refitted: Some(0), ..put("nuts") };
    let of = |renewed, issued| Notice::NotTaken { item: "nut-8".into(), renewed, issued: Quantity(issued) };
    let told = bench.must(back(vec![renewed(1)])).notices;
    assert!(told.contains(&of(1, 0)), "{told:?}");
    let told = bench.must(back(vec![put("bolts")])).notices;
    assert!(!told.iter().any(|notice| matches!(notice, Notice::NotTaken { .. })), "nothing came to it: {told:?}");
    assert!(bench.must(back(vec![renewed(1)])).notices.contains(&of(2, 0)));
}

#[test]
fn a_step_that_fits_new_pieces_follows_what_is_said_of_them() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.must(tick("strip", &[2]));
    bench.must(off(vec![OffLine { damaged: 1, ..line("nuts") }, line("bolts"), line("box")], false));
    // It was said by mistake: the step that fits a new one stays, and that is told.
    let reopen = |position: &str| ReopenPosition { job: JOB, position: position.into(), reason: "a slip".into() };
    let stays = Notice::FitNewStays { stage: "refit".into(), step: StepNo(4), position: "nuts".into() };
    assert!(bench.must(reopen("nuts")).notices.contains(&stays));
    bench.must(off(vec![OffLine { damaged: 1, ..line("nuts") }], false));
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench.must(back(vec![put("nuts")]));
    bench.must(tick("refit", &[1]));
    bench.must(tick("refit", &[4]));
    // The new one is out again, so the step is to be done again.
    let again = Notice::FitNewAgain { stage: "refit".into(), step: StepNo(4), position: "nuts".into() };
    assert!(bench.must(reopen("nuts")).notices.contains(&again));
    assert_eq!(bench.step("refit", 4).state, StepState::Pending);
    // The same where the stage was over meanwhile, and is taken up again.
    bench.must(back(vec![put("nuts"), put("bolts")]));
    bench.acts(bench.flint, Role::Lead);
    bench.must(tick("refit", &[4]));
    bench.must(because(tick("refit", &[2])));
    bench.must(SkipStep { job: JOB, stage: "refit".into(), step: StepNo(3), reason: "it has none".into() });
    bench.must(finish("refit", false));
    bench.must(reopen("nuts"));
    assert_eq!(bench.step("refit", 4).state, StepState::Done, "the stage is over");
    let told = bench.must(ReopenStage { job: JOB, stage: "refit".into(), reason: "a nut".into() }).notices;
    assert!(told.contains(&again), "{told:?}");
    assert_eq!((bench.step("refit", 4).state, bench.step("refit", 1).state), (StepState::Pending, StepState::Done));
}

#[test]
fn the_list_begins_with_what_can_hurt_and_ends_with_stock() {
    let mut bench = stripped();
    let why = RaiseBlocker {
        job: JOB,
        stage: "refit".into(),
        cause: Cause::Customer,
        owner: None,
        expected_at: None,
        note: None,
    };
    bench.must(why);
    bench.must(back(vec![BackLine { renewed: Some(1), refitted: Some(0), ..put("nuts") }]));
    let all = lines(&bench.shop.state, JOB, bench.shop.now);
    let kinds: Vec<&str> = all.iter().map(Line::kind).collect();
    let order =
        ["state", "places", "pieces", "places", "pieces", "places", "pieces", "blocker", "stage", "stage", "not-taken"];
    assert_eq!(kinds, order);
    let blocker = all.iter().find(|line| line.kind() == "blocker").unwrap();
    assert_eq!(blocker.to_string(), "blocker 1: holds up refit: customer");
    for line in &all {
        let todo = line.todo();
        assert!(!todo.advice.is_empty() && !todo.advice.contains('`'), "{todo:?}: advice names no command");
        assert!(todo.commands.iter().all(|command| todo.to_string().contains(&format!("`{command}`"))), "{todo}");
    }
    assert_eq!(blocker.remedy(), Remedy::End);
    // Places and pieces are one thing to whoever reads, and where who overrules differs it is said of each.
    let said = told(&all);
    assert!(said.contains("box: 0 of 1 place(s) refitted, renewed or left out, and 0 of 1 piece(s)"), "{said}");
    assert!(
        said.contains("kept (a lead may overrule this)") && said.contains("customer (this has to be ended)"),
        "{said}"
    );
    assert_eq!(said.matches("box: ").count(), 1);
    let alone = told(&all[..1]);
    assert_eq!(alone, "bonnet: open, and has to be latched");
    // What stands first is not what refuses first: a stage has to be ended before a lead's word counts.
    bench.acts(bench.flint, Role::Lead);
    let all = CompleteJob { job: JOB, override_reason: Some("he waits".into()), overrides: vec![] };
    assert_eq!(bench.refused(all), "HAND_OVER_UNFINISHED");
}

#[test]
fn whoever_takes_over_hears_how_the_vehicle_is() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    let loose = loose_ends(&bench.shop.state, None, bench.shop.now);
    assert_eq!(loose[0].states, [VehicleState::BonnetOpen]);
    let latched = set(VehicleState::BonnetLatched);
    bench.must(latched);
    assert!(loose_ends(&bench.shop.state, None, bench.shop.now)[0].states.is_empty());
}

#[test]
fn a_sheet_tells_what_was_tried_what_was_repaired_before_and_who_looked() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    bench.must(tick("strip", &[2]));
    bench.must(RecordAttempt {
        job: JOB,
        position: "nuts".into(),
        rung: None,
        outcome: Outcome::NotMoved,
        pieces: Some(1),
        item: None,
        plan: None,
        note: None,
        blocked: false,
        override_reason: None,
    });
    let came = OffLine { found: Some(3), ..line("nuts") };
    bench.must(off(vec![OffLine { repair: Some("an insert".into()), ..line("box") }, came], true));
    let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    let keys: Vec<&str> = sheet.positions.iter().map(|row| row.position.as_str()).collect();
    assert_eq!(keys, ["box", "nuts"], "of the bolts there is nothing to say");
    assert_eq!(sheet.attempts.len(), 1);
    assert!(sheet.text_ids().contains(&bench.row("box").repair.unwrap()));
}

#[test]
fn a_figure_that_can_not_be_meant_is_asked_about() {
    let measure = |text: &str| read_measure(text).unwrap();
    let detail = |low: Option<&str>, high: Option<&str>| ReadingDetail {
        low: low.map(measure),
        high: high.map(measure),
        ..ReadingDetail::plain(ReadingKind::Other, ReadingUnit::Bar)
    };
    let far = |detail: &ReadingDetail, figure: &str| far_off(detail, &[measure(figure)]).is_some();
    let least = detail(Some("9.5"), None);
    // 9.5 bar are 950 kPa (100 kPa a bar, BIPM) and 138 pounds per square inch; without its point 9.5 is 95.
    assert!(far(&least, "950") && far(&least, "9500") && far(&least, "138") && far(&least, "95") && far(&least, "0.4"));
    assert!(!far(&least, "76") && !far(&least, "0") && !far(&least, "0.5"), "a dead cylinder is a figure");
    let most = detail(None, Some("0.1"));
    // A disc may be bent by eight times as much as it may; more is a lost point, or micrometres taken for millimetres.
    assert!(!far(&most, "0.8") && far(&most, "0.9") && far(&most, "90"));
    assert!(!far(&detail(None, None), "1000000") && !far(&detail(Some("0"), None), "50"));

    let mut bench = begun();
    let take = AddReading {
        job: JOB,
        stage: "strip".into(),
        step: None,
        reading: None,
        what: "oil pressure".into(),
        detail: least,
        figures: vec![measure("950")],
        instrument: None,
        note: None,
        sure: false,
    };
    let refused = bench.refusal(take.clone());
    assert_eq!(refused.reason(), "FIGURE_FAR_OFF");
    let said = refused.to_string();
    assert!(said.contains("950 bar") && said.contains("at least 9.5 bar") && said.contains("--sure"), "{said}");
    assert!(bench.shop.state.readings.is_empty());
    bench.must(AddReading { sure: true, ..take });
    let again = RecordReading {
        job: JOB,
        reading: "reading-1".into(),
        figures: vec![measure("0.2")],
        instrument: None,
        note: None,
        sure: false,
    };
    assert_eq!(bench.refused(again.clone()), "FIGURE_FAR_OFF");
    bench.must(RecordReading { sure: true, ..again });
}

#[test]
fn a_ready_list_counts_what_is_turned_by_which_tool() {
    let bench = prepared();
    let list = ready_list(&bench.shop.state, &[(JOB, "strip".into())], bench.shop.now);
    let [line] = list.fasteners.as_slice() else { panic!("{:?}", list.fasteners) };
    assert_eq!((line.tool.as_str(), line.count, line.first.step), ("13 mm socket", 5, StepNo(3)));
    assert_eq!(line.of, ["2 of bolts, M8 x 40", "3 of nuts, M8 x 1.25 x 25"]);
    let stuck: Vec<&str> = list.stuck_tools.iter().map(|tool| tool.text.as_str()).collect();
    assert_eq!(stuck, ["wire brush"]);
    // The wrench that the stage asks for is the shop's, and it is past its day.
    let wrench = "torque wrench 5 to 50 N.m, in calibration: 'torque-50' is OUT of calibration since 2026-05-01";
    assert_eq!(list.tools[0].text, wrench);
    assert!(
        list.missing.iter().any(|line| line.text.contains("'torque-50' is OUT of calibration")),
        "{:?}",
        list.missing
    );
    // A step that asks for a skill of its own says who can.
    let list = ready_list(&bench.shop.state, &[(JOB, "refit".into())], bench.shop.now);
    let asked: Vec<(i32, &[String])> = list.people.iter().map(|line| (line.step.0, line.skills.as_slice())).collect();
    assert_eq!(asked, [(0, &[][..]), (2, &["road-test".to_owned()][..]), (3, &["high-voltage".to_owned()][..])]);
    // What is off goes back with the same tool.
    let bench = stripped();
    let list = ready_list(&bench.shop.state, &[(JOB, "refit".into())], bench.shop.now);
    assert_eq!(list.fasteners[0].of, ["2 of bolts, M8 x 40", "3 of nuts, M8 x 1.25 x 25"]);
    assert!(list.stuck_tools.is_empty());
}

#[test]
fn a_stage_of_high_voltage_is_for_whoever_has_the_skill_and_no_lead_lets_another() {
    let live = TEMPLATE.replace("skills = [\"engine\"]", "skills = [\"high-voltage\"]");
    let mut bench = prepared_for(&live);
    bench.acts(bench.flint, Role::Lead);
    let begin = || StartStage { override_reason: Some("nobody here has it".into()), ..start("strip") };
    assert_eq!(bench.refused(begin()), "HIGH_VOLTAGE");
    let moss = bench.moss;
    bench.shop.must(SetSkills { person: moss, skills: vec!["high-voltage".into()] });
    bench.acts(moss, Role::Technician);
    bench.must(start("strip"));
    bench.must(ClockOff {});
    bench.acts(bench.flint, Role::Lead);
    let on = || ClockOn { job: JOB, stage: "strip".into(), override_reason: Some("to help".into()) };
    assert_eq!(bench.refused(on()), "HIGH_VOLTAGE");
    assert_eq!(bench.refused(because(tick("strip", &[1]))), "HIGH_VOLTAGE");
    assert_eq!(bench.refused(off(vec![line("box")], false)), "HIGH_VOLTAGE", "a lead needs it as well");
    bench.acts(moss, Role::Technician);
    bench.must(tick("strip", &[1, 2]));
}

#[test]
fn whoever_signs_for_a_hold_point_or_high_voltage_has_the_skill() {
    let mut bench = stripped();
    let moss = bench.moss;
    bench.shop.must(SetSkills { person: moss, skills: vec!["high-voltage".into(), "road-test".into()] });
    // A lead records for Moss: whose hands it were does not make the lead qualified.
    bench.acts(moss, Role::Lead);
    bench.shop.proved = Some(bench.flint);
    bench.must(tick("refit", &[1, 2]));
    assert_eq!(bench.refused(because(tick("refit", &[3]))), "HIGH_VOLTAGE");
}
