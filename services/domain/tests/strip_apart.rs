//! A vehicle that is apart: its job is called off with open eyes alone, what went back on top comes off first, and what was
//! forgotten on the way is told. Common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, Remedy, lines};
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::hand_over::{loose_ends, sheet};
use leadhand_facts::words::{Role, StageState, Tightness, VehicleState};
use leadhand_facts::{FluidKey, JobNo, Quantity, StepNo, Unit};

const TEMPLATE: &str = r#"
key = "hub"
title = "Hub"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Battery off"
state = { sets = ["battery isolated"] }

[[stage.step]]
do = "Wheel off"

[[stage.step.off]]
key = "bolts"
what = "Wheel bolts"
kind = "fastener"
count = 5
back = "refit"

[[stage.step.off]]
key = "wheel"
what = "Wheel"
behind = ["bolts"]
back = "refit"

[[stage]]
key = "drain"
title = "Drain"
minutes = [5, 10, 20]
after = ["strip"]

[[stage.step]]
do = "Drain"
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "refit" }]
state = { sets = ["coolant drained"] }

[[stage]]
key = "look"
title = "Look at it"
minutes = [5, 10, 20]
after = ["drain"]

[[stage.step]]
do = "Look"
hold = "hub clean"

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["look"]

[[stage.step]]
do = "Back with new grease"
needs = [{ item = "nut-8", quantity = 2 }]
state = { sets = ["coolant full", "battery connected"] }
"#;

/// Flint has begun, and the shop keeps nuts.
fn begun() -> Bench {
    let mut bench = Bench::prepared(TEMPLATE, |shop, _| {
        let (item, unit) = ("nut-8".into(), Unit::Piece);
        shop.must(AddItem { item, name: "Nut".into(), unit, fluid: None });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench
}

/// The wheel is off and the strip is over.
fn stripped() -> Bench {
    let mut bench = begun();
    bench.must(finish("strip", true));
    bench
}

/// What was drained is said, and the refit is under way.
fn refitting() -> Bench {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(tick("drain", &[1]));
    bench.must(finish("drain", false));
    bench.must(start("look"));
    bench.must(tick("look", &[1]));
    bench.must(finish("look", false));
    bench.must(start("refit"));
    bench
}

fn fluid(drained_ml: i64, filled_ml: i64) -> RecordFluid {
    let fluid = FluidKey::from("coolant");
    RecordFluid { job: JOB, fluid, drained_ml, filled_ml, note: None, unlisted: false }
}

fn cancel(as_it_is: bool) -> CancelJob {
    CancelJob { job: JOB, reason: "the customer sells it".into(), as_it_is }
}

fn reopen(position: &str) -> ReopenPosition {
    ReopenPosition { job: JOB, position: position.into(), reason: "it wobbles".into() }
}

#[test]
fn a_job_whose_vehicle_is_apart_is_called_off_with_open_eyes_alone() {
    let mut bench = stripped();
    bench.acts(bench.moss, Role::Lead);
    let Refusal::GoesApart { lines: told, .. } = bench.refusal(cancel(false)) else { panic!("it went apart") };
    let told: Vec<String> = told.iter().map(Line::key).collect();
    assert!(told.contains(&"places:wheel".to_owned()) && told.contains(&"state:battery".to_owned()), "{told:?}");
    let notices = bench.must(cancel(true)).notices;
    assert!(notices.iter().any(|one| matches!(one, Notice::LeftOpen { position } if position.as_str() == "wheel")));
    // What nobody has touched goes without a word.
    let mut bench = begun();
    bench.acts(bench.moss, Role::Lead);
    bench.must(cancel(false));
}

#[test]
fn what_went_back_on_top_is_taken_back_first() {
    let mut bench = refitting();
    bench.must(back(vec![put("wheel"), put("bolts")]));
    assert_eq!(bench.row("bolts").tightness, Some(Tightness::Final));
    let told = bench.refusal(reopen("wheel"));
    assert_eq!(told.reason(), "ON_TOP");
    assert!(told.to_string().contains("'bolts' went back after it"), "{told}");
    bench.must(reopen("bolts"));
    bench.must(reopen("wheel"));
    let open: Vec<String> = lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect();
    assert!(open.contains(&"places:bolts".to_owned()) && open.contains(&"places:wheel".to_owned()), "{open:?}");
}

/// Whoever ticks is told of what came from nowhere; nothing is said of what was set aside or given out.
#[test]
fn a_tick_tells_what_was_never_taken_from_stock() {
    let mut bench = refitting();
    bench.must(fluid(0, 5_500));
    bench.must(back(vec![put("wheel"), put("bolts")]));
    let told = bench.must(tick("refit", &[1])).notices;
    let item = "nut-8".into();
    let without = |quantity| Notice::TickedWithout {
        stage: "refit".into(),
        step: StepNo(1),
        item,
        quantity: Quantity(quantity),
        unit: Unit::Piece,
    };
    assert!(told.contains(&without(2)), "{told:?}");
}

#[test]
fn a_hold_point_that_was_left_out_is_not_to_be_ticked() {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(finish("drain", true));
    bench.acts(bench.moss, Role::Lead);
    bench.must(SkipStage { job: JOB, stage: "look".into(), reason: "seen while stripping".into() });
    let open = lines(&bench.shop.state, JOB, bench.shop.now);
    let hold = open.iter().find(|line| line.kind() == "hold").unwrap();
    assert!(
        hold.open().contains("left out") && hold.todo().to_string().contains("`stage reopen`"),
        "{hold}: {}",
        hold.todo()
    );
    assert_eq!(hold.remedy(), Remedy::Lead);
}

#[test]
fn who_starts_late_hears_behind_what_it_comes() {
    let mut bench = stripped();
    let early = bench.shop.now.plus_minutes(-1);
    let start = Command::from(start("drain"));
    let told = bench.shop.run_at(&start, early).unwrap_err();
    assert_eq!(told.reason(), "TOO_EARLY");
    assert!(told.to_string().contains("which comes after 'strip'"), "{told}");
}

#[test]
fn the_sheet_tells_what_came_out_and_went_in() {
    let mut bench = refitting();
    bench.must(fluid(0, 5_000));
    let told = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap().fluids;
    let told: Vec<(&str, i64, i64)> =
        told.iter().map(|row| (row.fluid.as_str(), row.drained_ml, row.filled_ml)).collect();
    assert_eq!(told, [("coolant", 5_500, 5_000)]);
}

/// What is still in is news where the circuit is opened or filled, and nowhere else.
#[test]
fn what_did_not_come_out_is_told_where_it_matters() {
    let mut bench = stripped();
    bench.must(start("drain"));
    bench.must(fluid(5_500, 0));
    bench.must(finish("drain", true));
    let left = |told: &[Notice]| told.iter().any(|one| matches!(one, Notice::FluidLeft { .. }));
    assert!(!left(&bench.must(start("look")).notices));
    bench.must(tick("look", &[1]));
    bench.must(finish("look", false));
    assert!(left(&bench.must(start("refit")).notices));
    assert_eq!(bench.shop.state.stages.get(&(JOB, "refit".into())).unwrap().state, StageState::Active);
}

#[test]
fn the_end_of_a_shift_tells_ways_that_wait_for_the_lead() {
    let mut bench = refitting();
    let (stage, step) = ("refit".into(), StepNo(1));
    let (way, reason) = ("paste instead of grease".to_owned(), "grease runs out here".to_owned());
    bench.must(ProposeWay { job: JOB, stage, step, way, reason });
    let ends = loose_ends(&bench.shop.state, Some(JOB), bench.shop.now);
    assert_eq!(ends[0].ways.len(), 1);
    assert!(ends[0].text_ids().contains(&ends[0].ways[0].note));
    bench.acts(bench.moss, Role::Lead);
    bench.must(DecideWay { job: JOB, stage: "refit".into(), step: StepNo(1), approved: true, note: None });
    assert!(loose_ends(&bench.shop.state, Some(JOB), bench.shop.now)[0].ways.is_empty());
    assert!(
        loose_ends(&bench.shop.state, Some(JOB), bench.shop.now)[0].states.contains(&VehicleState::BatteryIsolated)
    );
}

/// Whoever answers for it has a name, and the vehicle's next job asks for it.
#[test]
fn a_vehicle_that_went_apart_comes_apart() {
    let mut bench = stripped();
    bench.device(Role::Lead);
    assert_eq!(bench.refused(cancel(true)), "SIGN_IN_FIRST");
    bench.acts(bench.moss, Role::Lead);
    bench.must(cancel(true));
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().apart);
    let vehicle = bench.shop.state.jobs.get(&(JOB,)).unwrap().vehicle;
    let open = || OpenJob {
        template: None,
        revision: None,
        title: Some("Oil".into()),
        vehicle: WhichVehicle::Known(vehicle),
        priority: 3,
        promised_at: None,
        with: vec![],
        without: vec![],
    };
    let told = bench.must(open()).notices;
    assert!(told.contains(&Notice::CameApart { job: JOB }), "{told:?}");
    let next = JobNo(2);
    let keys = |bench: &Bench, job| -> Vec<String> {
        lines(&bench.shop.state, job, bench.shop.now).iter().map(Line::key).collect()
    };
    assert_eq!(keys(&bench, next), ["came-apart:1"]);
    let whole = |overrides| CompleteJob { job: next, override_reason: None, overrides };
    assert_eq!(bench.refused(whole(vec![])), "HAND_OVER_OPEN");
    // Called off as well, the one after it still asks.
    bench.must(CancelJob { job: next, ..cancel(false) });
    bench.must(open());
    let next = JobNo(3);
    assert_eq!(keys(&bench, next), ["came-apart:1"]);
    let word = Override { line: "came-apart:1".into(), reason: Some("put together at the other shop".into()) };
    bench.must(CompleteJob { job: next, override_reason: None, overrides: vec![word] });
    bench.must(open());
    assert_eq!(keys(&bench, JobNo(4)), Vec::<String>::new(), "somebody answered for it");
}

/// Six of eight bolts hold what they hold.
#[test]
fn fewer_than_listed_still_hold_what_lies_behind() {
    let mut bench = begun();
    bench.must(tick("strip", &[1]));
    let three = OffLine { found: Some(3), note: Some("two will not move".into()), ..line("bolts") };
    bench.must(off(vec![three], false));
    let told = bench.refusal(off(vec![line("wheel")], false));
    assert_eq!(told.reason(), "BEHIND_OTHERS");
    assert!(told.to_string().contains("'bolts'"), "{told}");
    // The rest is off, and counted with a word why; then the way is free.
    let five = OffLine { found: Some(5), note: Some("they are off now".into()), ..line("bolts") };
    bench.must(off(vec![five], false));
    assert_eq!(bench.row("bolts").found, 5);
    bench.must(off(vec![line("wheel")], false));
}

/// A position of which it was taken back that it came off does not get lost with its stage.
#[test]
fn what_was_taken_back_is_asked_for_again_whatever_becomes_of_its_step() {
    let source = TEMPLATE.replace("count = 5\nback", "count = 5\nsecond-check = true\nback");
    let mut bench = Bench::prepared(&source, |shop, _| {
        let (item, unit) = ("nut-8".into(), Unit::Piece);
        shop.must(AddItem { item, name: "Nut".into(), unit, fluid: None });
    });
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("strip"));
    bench.must(tick("strip", &[1]));
    bench.must(off(vec![line("bolts"), line("wheel")], false));
    assert_eq!(bench.refused(reopen("bolts")), "CAME_AFTER", "the wheel is off behind them");
    bench.must(reopen("wheel"));
    bench.must(reopen("bolts"));
    let skip = SkipStage { job: JOB, stage: "strip".into(), reason: "no time".into() };
    let told = bench.refusal(skip.clone()).to_string();
    assert!(told.contains("'bolts' and 'wheel'"), "{told}");
    // Nor does the job end with it unsaid.
    bench.acts(bench.moss, Role::Lead);
    let Refusal::GoesApart { lines: open, .. } = bench.refusal(cancel(false)) else { panic!("it went") };
    assert!(open.iter().any(|line| line.key() == "unsaid:bolts"), "{open:?}");
    let none = |position: &str| OffLine { found: Some(0), note: Some("it stayed on".into()), ..line(position) };
    bench.must(off(vec![none("bolts"), none("wheel")], false));
    bench.must(skip);
    let open: Vec<String> = lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect();
    assert!(open.contains(&"fewer:bolts".to_owned()), "{open:?}");
}

/// A look vouches for what was there when it was looked at.
#[test]
fn nobody_looks_before_the_work_is_done() {
    let source = TEMPLATE.replace("count = 5\nback", "count = 5\nsecond-check = true\nback");
    let source = source.replace("{ item = \"nut-8\", quantity = 2 }", "");
    let mut bench = Bench::begun(&source, "strip");
    bench.must(finish("strip", true));
    for stage in ["drain", "look"] {
        bench.acts(bench.moss, Role::Lead);
        bench.must(SkipStage { job: JOB, stage: stage.into(), reason: "not now".into() });
    }
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("refit"));
    bench.must(back(vec![put("wheel"), put("bolts")]));
    let before = bench.shop.now;
    let to = |tightness| TightenPositions { job: JOB, positions: vec!["bolts".into()], tightness };
    bench.must(to(Tightness::Loose));
    bench.must(to(Tightness::Final));
    bench.acts(bench.moss, Role::Technician);
    let check = Command::from(ConfirmPositions { job: JOB, positions: vec!["bolts".into()] });
    assert_eq!(bench.shop.run_at(&check, before).unwrap_err().reason(), "TOO_EARLY");
    let now = bench.shop.now;
    bench.shop.run_at(&check, now).unwrap();
    // What lies below is not taken back under it, and the look stays.
    bench.acts(bench.flint, Role::Technician);
    assert_eq!(bench.refused(reopen("wheel")), "ON_TOP");
    assert_eq!(bench.row("bolts").checked_by, Some(bench.moss));
}

/// Loose is loose, whatever it is.
#[test]
fn what_somebody_says_is_loose_stands_against_the_hand_over() {
    let mut bench = refitting();
    bench.must(fluid(0, 5_500));
    bench.must(back(vec![BackLine { tightness: Some(Tightness::Loose), ..put("wheel") }, put("bolts")]));
    let open: Vec<String> = lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect();
    assert!(open.contains(&"not-tight:wheel".to_owned()), "{open:?}");
}

#[test]
fn less_than_half_is_not_full() {
    let mut bench = refitting();
    bench.must(back(vec![put("wheel"), put("bolts")]));
    bench.must(fluid(0, 1));
    assert_eq!(bench.refused(tick("refit", &[1])), "FLUID_NOT_IN");
    bench.must(fluid(0, 3_000));
    bench.must(tick("refit", &[1]));
}

/// A danger at one stage is told at every other of the vehicle, until a lead saw to it.
#[test]
fn a_call_is_heard_at_the_whole_vehicle() {
    let source = format!(
        "{TEMPLATE}\n[[stage]]\nkey = \"wash\"\ntitle = \"Wash\"\nminutes = [5, 10, 20]\n\n[[stage.step]]\ndo = \"Wash\"\n"
    );
    let source = source.replace("{ item = \"nut-8\", quantity = 2 }", "");
    let mut bench = Bench::begun(&source, "strip");
    bench.must(CallLead { job: Some(JOB), stage: Some("strip".into()), note: Some("it drips on the lift".into()) });
    let heard = Notice::CalledElsewhere { job: JOB, stage: "strip".into() };
    assert!(bench.must(start("wash")).notices.contains(&heard));
    assert!(bench.must(tick("wash", &[1])).notices.contains(&heard));
    bench.acts(bench.moss, Role::Lead);
    let blocker = leadhand_domain::condition::called(&bench.shop.state, JOB, &"strip".into()).unwrap().blocker;
    bench.must(ClearBlocker { job: JOB, blocker, note: Some("a hose clamp".into()) });
    assert!(!bench.must(tick("strip", &[1])).notices.iter().any(|one| matches!(one, Notice::CalledElsewhere { .. })));
}

/// One reason is easily given for what nobody thought of, so all that it let go is named.
#[test]
fn one_reason_names_all_that_it_lets_go() {
    let mut bench = refitting();
    bench.acts(bench.moss, Role::Lead);
    let four = BackLine { refitted: Some(4), left_out: 1, reason: Some("one is lost".into()), ..put("bolts") };
    let told = bench.must(PutBack { override_reason: Some("four hold it".into()), ..back(vec![four]) }).notices;
    let gone: Vec<&String> = told
        .iter()
        .filter_map(|one| match one {
            Notice::LetGo { what } => Some(what),
            _ => None,
        })
        .collect();
    assert_eq!(gone.len(), 2, "{told:?}");
    assert!(gone.iter().any(|what| what.contains("'wheel'")), "the order is named as well: {gone:?}");
}

/// What was put in is counted down by a lead in the own name alone, and the rest is a line.
#[test]
fn what_is_put_in_is_counted_down_by_a_named_lead_alone() {
    let plug =
        "\n[[stage.step.in]]\nkey = \"plug\"\nwhat = \"Plugs\"\ncount = 2\nbehind = [\"wheel\"]\nback = \"refit\"\n";
    let after = "key = \"wheel\"\nwhat = \"Wheel\"\nbehind = [\"bolts\"]\nback = \"refit\"\n";
    let source = TEMPLATE.replace(after, &format!("{after}{plug}"));
    let mut bench = Bench::begun(&source.replace("{ item = \"nut-8\", quantity = 2 }", ""), "strip");
    bench.must(finish("strip", true));
    let one = || OffLine { found: Some(1), note: Some("one was enough".into()), ..line("plug") };
    assert_eq!(bench.refused(off(vec![one()], false)), "POSITION_SAID");
    bench.device(Role::Lead);
    assert_eq!(bench.refused(off(vec![one()], false)), "SIGN_IN_FIRST");
    bench.acts(bench.moss, Role::Lead);
    bench.must(off(vec![one()], false));
    let open: Vec<String> = lines(&bench.shop.state, JOB, bench.shop.now).iter().map(Line::key).collect();
    assert!(open.contains(&"fewer:plug".to_owned()) && open.contains(&"still-in:plug".to_owned()), "{open:?}");
}

/// A word that only accounts for old pieces touches nothing that was looked at.
#[test]
fn throwing_an_old_piece_away_leaves_the_second_check() {
    let source = TEMPLATE.replace("count = 5\nback", "count = 5\nsecond-check = true\nback");
    let mut bench = Bench::begun(&source.replace("{ item = \"nut-8\", quantity = 2 }", ""), "strip");
    bench.must(finish("strip", true));
    for stage in ["drain", "look"] {
        bench.acts(bench.moss, Role::Lead);
        bench.must(SkipStage { job: JOB, stage: stage.into(), reason: "not now".into() });
    }
    bench.acts(bench.flint, Role::Technician);
    bench.must(start("refit"));
    let new = BackLine { renewed: Some(5), ..put("bolts") };
    bench.must(back(vec![put("wheel"), new]));
    bench.acts(bench.moss, Role::Technician);
    bench.must(ConfirmPositions { job: JOB, positions: vec!["bolts".into()] });
    bench.acts(bench.flint, Role::Technician);
    let away = BackLine { refitted: Some(0), renewed: Some(0), scrapped: Some(5), ..put("bolts") };
    let (since, looked) = (bench.row("bolts").back_n, Some(bench.moss));
    bench.must(back(vec![away]));
    let row = bench.row("bolts");
    assert_eq!((row.scrapped, row.back_n, row.checked_by), (5, since, looked));
}
