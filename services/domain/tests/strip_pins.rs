//! A pin that locks the drive goes in before the drive comes off, and comes out when the drive is back and tight. That
//! order is common practice, no source; how it is kept is the project's own rule.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::*;
use leadhand_domain::command::*;
use leadhand_domain::view::hand_over::sheet;
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::words::{Role, Tightness};

const TEMPLATE: &str = r#"
key = "timing"
title = "Timing"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Cover off, lock the engine"

[[stage.step.off]]
key = "cover"
what = "Cover"
back = "refit"

[[stage.step.in]]
key = "pins"
what = "Locking pins"
count = 2
behind = ["cover"]
back = "refit"

[[stage.step]]
do = "Drive off"

[[stage.step.off]]
key = "drive"
what = "Timing drive"
behind = ["pins"]
back = "refit"

[[stage.step.off]]
key = "tensioner"
what = "Bolts of the tensioner"
kind = "fastener"
count = 2
behind = ["pins"]
on = "drive"
back = "refit"
tighten = ["20 N.m", "60 deg"]

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Drive back, pins out, cover on"
"#;

fn begun() -> Bench {
    Bench::begun(TEMPLATE, "strip")
}

fn stripped() -> Bench {
    let mut bench = begun();
    bench.must(finish("strip", true));
    bench.must(start("refit"));
    bench
}

fn tight(position: &str, tightness: Tightness) -> BackLine {
    BackLine { tightness: Some(tightness), ..put(position) }
}

#[test]
fn the_drive_comes_off_only_while_the_pins_are_in() {
    let mut bench = begun();
    bench.must(off(vec![line("cover")], false));
    let told = bench.refusal(off(vec![line("tensioner"), line("drive")], false));
    assert_eq!(told.reason(), "OBJECTIONS");
    assert!(told.to_string().contains("'drive' comes off only while 'pins' is in"), "{told}");
    // Named with it and not found, a pin holds nothing.
    let none = OffLine { found: Some(0), note: Some("lent".into()), ..line("pins") };
    assert_eq!(bench.refused(off(vec![none, line("tensioner")], false)), "NOT_IN_YET");
    // One pin of two lets the drive turn, named with it or before it.
    let one = || OffLine { found: Some(1), note: Some("the other is lent".into()), ..line("pins") };
    assert_eq!(bench.refused(off(vec![one(), line("tensioner")], false)), "NOT_IN_YET");
    bench.must(off(vec![one()], false));
    assert_eq!(bench.refused(off(vec![line("tensioner")], false)), "NOT_IN_YET");
    bench.must(ReopenPosition { job: JOB, position: "pins".into(), reason: "it is back".into() });
    bench.must(off(vec![line("pins")], false));
    bench.must(off(vec![line("tensioner"), line("drive")], false));
    // One that has begun to come out again holds nothing either.
    let mut bench = begun();
    bench.must(off(vec![line("cover"), line("pins")], false));
    let mut out = back(vec![BackLine { refitted: Some(1), ..put("pins") }]);
    out.stage = "strip".into();
    bench.must(out);
    assert_eq!(bench.refused(off(vec![line("tensioner")], false)), "NOT_IN_YET");
}

/// As any other order, it is overruled by a lead by name; what and why stays, and the sheet says so.
#[test]
fn a_lead_overrules_it_and_it_is_on_the_record() {
    let mut bench = begun();
    bench.must(off(vec![line("cover")], false));
    let anyhow = TakeOff { override_reason: Some("the belt is torn".into()), ..off(vec![line("tensioner")], false) };
    assert_eq!(bench.refused(anyhow.clone()), "LEAD_ONLY");
    bench.device(Role::Lead);
    assert_eq!(bench.refused(anyhow.clone()), "SIGN_IN_FIRST");
    bench.acts(bench.moss, Role::Lead);
    bench.must(anyhow);
    let row = bench.row("tensioner").clone();
    let [gone] = row.off_overruled.as_slice() else { panic!("{row:?}") };
    assert_eq!((gone.line.as_str(), gone.by, row.note), ("off-order:tensioner", Some(bench.moss), None));
    let told = |bench: &Bench| {
        let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
        sheet.overruled.iter().map(|gone| gone.line.line.clone()).collect::<Vec<_>>()
    };
    assert_eq!(told(&bench), ["off-order:tensioner"]);
    let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(sheet.overruled[0].about.as_ref().unwrap().own.as_deref(), Some("Bolts of the tensioner"));
    assert!(sheet.text_ids().contains(&gone.reason) && sheet.persons().contains(&bench.moss));
    assert!(strip_view(&bench.shop.state, JOB).text_ids().any(|text| text == gone.reason));
    // A reason where nothing stood against it overrules nothing.
    bench.must(TakeOff { override_reason: Some("in a hurry".into()), ..off(vec![line("pins")], false) });
    assert_eq!((bench.row("pins").off_overruled.len(), bench.row("pins").note), (0, None));
    // Taken back, what was overruled then goes with it.
    bench.must(ReopenPosition { job: JOB, position: "tensioner".into(), reason: "another one".into() });
    assert_eq!(told(&bench), Vec::<String>::new());
}

#[test]
fn the_pins_come_out_when_the_drive_is_back_and_tight() {
    let mut bench = stripped();
    let told = bench.refusal(back(vec![put("pins")]));
    assert_eq!(told.reason(), "STAYS_IN");
    assert!(told.to_string().contains("'pins' stays in: 'drive' and 'tensioner' have to be back before it"), "{told}");
    bench.must(back(vec![put("drive"), tight("tensioner", Tightness::Finger)]));
    let told = bench.refusal(back(vec![put("pins")]));
    assert!(told.to_string().contains("'tensioner' has to be tight before it comes out"), "{told}");
    let tighten = |tightness| TightenPositions { job: JOB, positions: vec!["tensioner".into()], tightness };
    bench.must(tighten(Tightness::Final));
    assert_eq!(bench.refused(back(vec![put("cover")])), "STILL_INSIDE", "the pins are behind the cover");
    // Nor does a lead close them in.
    bench.acts(bench.moss, Role::Lead);
    let anyhow = PutBack { override_reason: Some("he waits".into()), ..back(vec![put("cover")]) };
    assert_eq!(bench.refused(anyhow), "STILL_INSIDE");
    bench.must(back(vec![put("pins")]));
    // Loosened without them the drive would turn; with one of them in as well.
    let told = bench.refusal(tighten(Tightness::Loose));
    assert_eq!(told.reason(), "LET_GO");
    assert!(told.to_string().contains("only while 'pins' is in"), "{told}");
    bench.must(ReopenPosition { job: JOB, position: "pins".into(), reason: "in again".into() });
    bench.must(tighten(Tightness::Loose));
    bench.must(tighten(Tightness::Final));
    bench.must(back(vec![put("pins")]));
    bench.must(back(vec![put("cover")]));
}

/// Said in one breath counts as far as it is whole then.
#[test]
fn what_goes_back_with_them_has_to_be_whole() {
    let all = |tensioner| back(vec![put("drive"), tensioner, put("pins"), put("cover")]);
    let mut bench = stripped();
    assert_eq!(bench.refused(all(tight("tensioner", Tightness::Loose))), "STAYS_IN");
    let one = BackLine { refitted: Some(1), ..tight("tensioner", Tightness::Final) };
    assert_eq!(bench.refused(all(one)), "STAYS_IN");
    bench.must(all(tight("tensioner", Tightness::Final)));
    // And by a lead's word, which stays.
    let mut bench = stripped();
    bench.acts(bench.moss, Role::Lead);
    let early = PutBack { override_reason: Some("the pin is bent".into()), ..back(vec![put("pins")]) };
    bench.must(early);
    let row = bench.row("pins");
    assert_eq!(row.back_overruled.iter().map(|one| one.line.as_str()).collect::<Vec<_>>(), ["back-order:pins"]);
}

#[test]
fn the_refit_has_the_pins_in_their_place_and_goes_as_listed() {
    let mut bench = stripped();
    let order = strip_view(&bench.shop.state, JOB).refit;
    let order: Vec<&str> = order.iter().map(|line| line.position.as_str()).collect();
    assert_eq!(order, ["drive", "tensioner", "pins", "cover"]);
    bench.must(finish("refit", true));
}

#[test]
fn a_template_that_takes_the_pins_out_too_early_or_rings_is_refused() {
    let mut bench = begun();
    bench.acts(bench.flint, Role::Lead);
    let mut faults = |from: &str, to: &str| {
        assert!(TEMPLATE.contains(from), "{from}");
        let told = bench.refusal(PublishTemplate { source: TEMPLATE.replace(from, to) });
        assert_eq!(told.reason(), "TEMPLATE_FAULTS");
        told.to_string()
    };
    let ring =
        faults("key = \"cover\"\nwhat = \"Cover\"\n", "key = \"cover\"\nwhat = \"Cover\"\nbehind = [\"drive\"]\n");
    assert!(ring.contains("would each come off before the other"), "{ring}");
    // The drive goes back in a stage after the one in which its pins come out.
    let later = "after = [\"strip\"]\n\n[[stage.step]]\ndo = \"Drive back, pins out, cover on\"\n";
    let more =
        format!("{later}\n[[stage]]\nkey = \"later\"\ntitle = \"L\"\nminutes = [1, 2, 3]\nafter = [\"refit\"]\n");
    let late = TEMPLATE.replace("behind = [\"pins\"]\nback = \"refit\"", "behind = [\"pins\"]\nback = \"later\"");
    let told = bench.refusal(PublishTemplate { source: late.replace(later, &more) }).to_string();
    assert!(told.contains("'pins' holds it until it is back in 'later', and comes out in 'refit'"), "{told}");
}

/// In before it comes off, so not in a stage behind the one in which it comes off.
#[test]
fn a_template_that_puts_the_pins_in_too_late_is_refused() {
    let mut bench = begun();
    bench.acts(bench.flint, Role::Lead);
    let pins = "[[stage.step.in]]\nkey = \"pins\"\nwhat = \"Locking pins\"\ncount = 2\nbehind = [\"cover\"]\nback = \"refit\"\n";
    assert!(TEMPLATE.contains(pins));
    let source = format!("{}\n{pins}", TEMPLATE.replace(pins, ""));
    let told = bench.refusal(PublishTemplate { source }).to_string();
    assert!(told.contains("'pins' goes in in 'refit', which does not come before 'strip'"), "{told}");
}
