//! An item says another fluid or strength than a fill was reckoned with. The rules are the project's own: who says it anew is
//! told whose fill went by it, the step says so until it is reckoned again, and the vehicle does not go without a lead's word.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::fill::reckoned;
use leadhand_domain::hand_over;
use leadhand_facts::rows::StepRow;
use leadhand_facts::words::{FluidKind, SignalWord};
use leadhand_facts::*;
use stock_kit::Shop;

const TEMPLATE: &str = r#"
key = "hose"
title = "Hose"

[[stage]]
key = "drain"
title = "Drain"
minutes = [10, 20, 30]

[[stage.step]]
do = "Drain it"
state = { sets = ["coolant drained"] }
fluid = [{ key = "coolant", what = "Coolant", back = "fill" }]

[[stage]]
key = "fill"
title = "Fill"
minutes = [10, 20, 30]
after = ["drain"]

[[stage.step]]
do = "Pour it in, and bleed"
fills = "coolant"
caution = [{ word = "NOTICE", text = "It strips paint." }]
"#;

const JOB: JobNo = JobNo(1);

fn open() -> Shop {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.bin("bin-1");
    for item in ["conc", "oil"] {
        shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Millilitre, fluid: None });
        shop.receive(item, "bin-1", 9_000, None);
    }
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("hose".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    shop
}

fn says(shop: &mut Shop, fluid: Option<(FluidKind, Option<i32>)>) -> Vec<Notice> {
    let fluid = fluid.map(|(kind, strength)| ItemFluid { kind, strength: strength.map(Measure::whole) });
    shop.must(SetItemFluid { item: "conc".into(), fluid }).notices
}

/// 3 L of a strength, half of it in the end.
fn fill(poured: i32) -> SetFillAside {
    let (poured, whole) = (Measure::whole(poured), Measure::whole(50));
    let recipe = format!("3 L at {poured} %");
    let mixture = Some(Mixture { poured, water_ml: 0, whole, freezes: None });
    let (job, item) = (JOB, "conc".into());
    let (stage, drawn_ml, cautions, asked) = (None, None, vec![], String::new());
    SetFillAside {
        job,
        stage,
        fluid: "coolant".into(),
        item,
        recipe,
        millilitres: 3_000,
        mixture,
        drawn_ml,
        cautions,
        asked,
    }
}

fn step(shop: &Shop) -> StepRow {
    shop.state.steps.get(&(JOB, "fill".into(), StepNo(1))).unwrap().clone()
}

fn warnings(shop: &Shop) -> Vec<String> {
    let all = step(shop).cautions.into_iter().filter(|caution| caution.word == SignalWord::Warning);
    all.map(|caution| caution.text).collect()
}

fn goes_by(otherwise: bool, done: bool) -> Notice {
    let (job, stage, step) = (JOB, "fill".into(), StepNo(1));
    Notice::FillGoesBy { job, stage, step, item: "conc".into(), otherwise, done }
}

#[test]
fn who_says_another_strength_is_told_whose_fill_goes_by_the_first_and_its_step_says_so() {
    let mut shop = open();
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(100)))), []);
    shop.must(fill(100));
    let before = step(&shop);
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(50)))), [goes_by(true, false)]);
    let told = warnings(&shop);
    assert_eq!(told.len(), 1, "{told:?}");
    for part in ["reckoned with 100 % from conc", "since it is coolant of 50 %", "reckon it anew"] {
        assert!(told[0].contains(part), "{part}: {told:?}");
    }
    let own = reckoned(&step(&shop)).unwrap().clone();
    assert_eq!(own.recipe, reckoned(&before).unwrap().recipe, "nobody has reckoned anew");
    assert_eq!(step(&shop).needs, before.needs);
    // Another word takes the place of the one before it, and the first one again ends it.
    assert_eq!(says(&mut shop, Some((FluidKind::Oil, None))), [goes_by(true, false)]);
    assert!(warnings(&shop).len() == 1 && warnings(&shop)[0].contains("as coolant"), "{:?}", warnings(&shop));
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, None))), [goes_by(true, false)]);
    assert!(warnings(&shop)[0].contains("nobody says any more how strong"), "{:?}", warnings(&shop));
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(100)))), []);
    assert_eq!(step(&shop), before);
}

#[test]
fn reckoned_anew_it_goes_by_the_new_word_and_says_nothing_of_the_old_one() {
    let mut shop = open();
    says(&mut shop, Some((FluidKind::Coolant, Some(100))));
    shop.must(fill(100));
    says(&mut shop, Some((FluidKind::Coolant, Some(50))));
    shop.must(fill(50));
    assert_eq!(warnings(&shop), Vec::<String>::new());
    assert!(reckoned(&step(&shop)).unwrap().gainsaid.is_empty());
    // The book's own caution stays whatever is said.
    assert_eq!(step(&shop).cautions.len(), 1);
}

/// Nothing was said at first, so there is nothing to compare but the strength that was typed.
#[test]
fn what_said_nothing_before_is_held_against_the_strength_that_was_typed() {
    let mut shop = open();
    shop.must(fill(100));
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(100)))), []);
    assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(50)))), [goes_by(true, false)]);
    let mut shop = open();
    shop.must(SetFillAside { mixture: None, ..fill(100) });
    let notices = says(&mut shop, Some((FluidKind::BrakeFluid, None)));
    assert_eq!(notices, [goes_by(false, false)], "nobody knows what it was taken for, and somebody has to look");
    assert_eq!(warnings(&shop), Vec::<String>::new());
}

fn do_stage(shop: &mut Shop, stage: &str) -> Vec<Notice> {
    shop.must(StartStage { job: JOB, stage: stage.into(), override_reason: None });
    let (job, stage, steps) = (JOB, stage.into(), vec![]);
    shop.must(TickSteps { job, stage, steps, override_reason: None }).notices
}

fn otherwise(shop: &Shop) -> Vec<String> {
    let lines = hand_over::lines(&shop.state, JOB, shop.now);
    lines.iter().map(hand_over::Line::key).filter(|key| key.starts_with("fill-otherwise")).collect()
}

#[test]
fn a_tick_tells_it_and_the_hand_over_waits_for_a_lead() {
    for before_the_tick in [true, false] {
        let mut shop = open();
        says(&mut shop, Some((FluidKind::Coolant, Some(100))));
        shop.must(fill(100));
        let out = |drained_ml, filled_ml| RecordFluid {
            job: JOB,
            fluid: "coolant".into(),
            drained_ml,
            filled_ml,
            note: None,
            unlisted: false,
        };
        shop.must(out(3_000, 0));
        do_stage(&mut shop, "drain");
        shop.must(FinishStage { job: JOB, stage: "drain".into(), as_listed: false });
        shop.must(out(0, 3_000));
        if before_the_tick {
            says(&mut shop, Some((FluidKind::Coolant, Some(50))));
            assert_eq!(otherwise(&shop), Vec::<String>::new(), "it is still to be poured in");
            assert!(do_stage(&mut shop, "fill").contains(&goes_by(true, true)));
        } else {
            do_stage(&mut shop, "fill");
            assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(50)))), [goes_by(true, true)]);
        }
        assert_eq!(otherwise(&shop), ["fill-otherwise:conc"]);
        assert_eq!(says(&mut shop, Some((FluidKind::Coolant, Some(100)))), []);
        assert_eq!(otherwise(&shop), Vec::<String>::new(), "it was a slip");
    }
}
