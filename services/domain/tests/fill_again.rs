//! A fill that is reckoned a second time: what may join it, what its step no longer says, and what went in meanwhile. The rules
//! are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::fill::{fluid, reckoned};
use leadhand_domain::hand_over;
use leadhand_facts::rows::StepRow;
use leadhand_facts::template::Caution;
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
fluid = [{ key = "coolant", what = "Coolant", expected = "7 L", back = "fill" }]

[[stage]]
key = "fill"
title = "Fill"
minutes = [10, 20, 30]
after = ["drain"]

[[stage.step]]
do = "Pour it in, and bleed"
state = { sets = ["coolant full"] }
caution = [{ word = "NOTICE", text = "It strips paint." }]
"#;

const JOB: JobNo = JobNo(1);

fn open() -> Shop {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.bin("bin-1");
    for (item, there) in [("conc", 3_000), ("other", 9_000)] {
        shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Millilitre, fluid: None });
        shop.receive(item, "bin-1", there, None);
    }
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("hose".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    shop
}

fn is_coolant(shop: &mut Shop, item: &str) {
    let fluid = Some(ItemFluid { kind: FluidKind::Coolant, strength: None });
    shop.must(SetItemFluid { item: item.into(), fluid });
}

/// With a warning of its own.
fn fill(item: &str, millilitres: i64) -> SetFillAside {
    let text = format!("Make sure that {item} is coolant.");
    SetFillAside {
        job: JOB,
        stage: None,
        fluid: "coolant".into(),
        item: item.into(),
        recipe: format!("{millilitres} mL at 100 %"),
        millilitres,
        mixture: None,
        drawn_ml: None,
        cautions: vec![Caution { word: SignalWord::Warning, text }],
        asked: String::new(),
    }
}

fn step(shop: &Shop) -> StepRow {
    shop.state.steps.get(&(JOB, "fill".into(), StepNo(1))).unwrap().clone()
}

fn cautions(shop: &Shop) -> Vec<String> {
    step(shop).cautions.into_iter().map(|caution| caution.text).collect()
}

/// 4.1 L of which 3 are there: the rest may come from another item, where both say that they are the same.
#[test]
fn what_does_not_say_which_fluid_it_is_joins_no_other() {
    for said in [&[][..], &["conc"], &["other"]] {
        let mut shop = open();
        for item in said {
            is_coolant(&mut shop, item);
        }
        shop.must(fill("conc", 4_100));
        let before = step(&shop);
        let refused = shop.refused(fill("other", 4_100));
        let unsaid = if *said == ["other"] { "conc" } else { "other" };
        assert_eq!(refused.reason(), "FILL_UNSAID", "{refused}");
        for part in
            ["3 L of conc", &format!("'{unsaid}' does not say"), &format!("item fluid {unsaid}"), "stock release"]
        {
            assert!(refused.to_string().contains(part), "{part}: {refused}");
        }
        assert_eq!(step(&shop), before, "nothing is half done");
        for item in ["conc", "other"].iter().filter(|item| !said.contains(item)) {
            is_coolant(&mut shop, item);
        }
        shop.must(fill("other", 4_100));
        assert!(reckoned(&step(&shop)).unwrap().recipe.ends_with("from 3 L of conc and 1.1 L of other"));
    }
}

/// The book's own caution stays, and one that the reckoning says as well is the book's.
#[test]
fn what_one_reckoning_warned_of_goes_with_it() {
    let mut shop = open();
    shop.must(fill("conc", 2_000));
    assert_eq!(cautions(&shop), ["Make sure that conc is coolant.", "It strips paint."]);
    shop.must(ReleaseStock { job: JOB, stage: None, item: Some("conc".into()) });
    let mut asked = fill("other", 2_000);
    asked.cautions.push(Caution { word: SignalWord::Notice, text: "It strips paint.".into() });
    shop.must(asked.clone());
    assert_eq!(cautions(&shop), ["Make sure that other is coolant.", "It strips paint."]);
    shop.must(asked);
    assert!(shop.facts.is_empty(), "the same is no change");
    shop.must(SetFillAside { cautions: vec![], ..fill("other", 2_000) });
    assert_eq!(cautions(&shop), ["It strips paint."]);
}

fn said(shop: &mut Shop, drained_ml: i64, filled_ml: i64) {
    shop.must(RecordFluid { job: JOB, fluid: "coolant".into(), drained_ml, filled_ml, note: None, unlisted: false });
}

fn not_drawn(shop: &Shop) -> Vec<String> {
    let all = hand_over::lines(&shop.state, JOB, shop.now);
    all.iter()
        .filter(|line| line.kind() == "not-drawn")
        .map(|line| format!("{}: {}", line.key(), line.open()))
        .collect()
}

fn tick(shop: &mut Shop, stage: &str) {
    shop.must(TickSteps { job: JOB, stage: stage.into(), steps: vec![StepNo(1)], override_reason: None });
}

fn drained(shop: &mut Shop) {
    shop.must(StartStage { job: JOB, stage: "drain".into(), override_reason: None });
    said(shop, 6_000, 0);
    tick(shop, "drain");
    shop.must(FinishStage { job: JOB, stage: "drain".into(), as_listed: false });
    shop.must(StartStage { job: JOB, stage: "fill".into(), override_reason: None });
}

/// 2.8 L went in with water and were never drawn; 1 L that leaked out is reckoned anew, or nothing more goes in.
#[test]
fn what_went_in_before_another_reckoning_stays_to_be_drawn() {
    for (item, more, lines) in [
        ("conc", 1_000, &["not-drawn:conc: its fill is done and takes 3.8 L, and 0 mL were taken from stock"][..]),
        ("conc", 0, &["not-drawn:conc: its fill is done and takes 2.8 L, and 0 mL were taken from stock"]),
        (
            "other",
            1_000,
            &[
                "not-drawn:conc: its fill is done and takes 2.8 L, and 0 mL were taken from stock",
                "not-drawn:other: its fill is done and takes 1 L, and 0 mL were taken from stock",
            ],
        ),
    ] {
        let mut shop = open();
        shop.must(fill("conc", 2_500));
        shop.must(fill("conc", 2_800));
        drained(&mut shop);
        said(&mut shop, 0, 6_000);
        shop.must(fill("conc", 2_800));
        assert!(shop.facts.is_empty(), "the same again is the same");
        if item != "conc" {
            shop.must(ReleaseStock { job: JOB, stage: None, item: Some("conc".into()) });
        }
        shop.must(fill(item, more));
        shop.must(fill(item, more));
        assert!(shop.facts.is_empty(), "and so is the second");
        tick(&mut shop, "fill");
        assert_eq!(not_drawn(&shop), lines);
    }
}

/// 2.8 L with 3.2 L of water: a tenth of 6 L is 0.6 L.
#[test]
fn what_went_in_is_what_was_reckoned_or_nobody_knows_its_strength() {
    let (poured, whole) = (Measure::whole(100), Measure::whole(47));
    let mixture = Some(Mixture { poured, water_ml: 3_200, whole, freezes: None });
    for (filled_ml, is_in) in [(6_000, true), (5_400, true), (6_600, true), (5_399, false), (6_601, false), (1, false)]
    {
        let mut shop = open();
        drained(&mut shop);
        said(&mut shop, 0, 500);
        shop.must(SetFillAside { mixture, ..fill("conc", 2_800) });
        said(&mut shop, 0, filled_ml);
        let row = fluid(&shop.state, JOB, &"coolant".into()).unwrap();
        assert_eq!(reckoned(&step(&shop)).unwrap().is_in(row.filled_ml), is_in, "{filled_ml} mL");
    }
    let before_it_was_kept = safety::ReckonedFill { mixture, ..Default::default() };
    assert!(before_it_was_kept.is_in(1));
}

/// As long as nothing went in another target takes the place of the first, and what was drawn is in first.
#[test]
fn what_never_went_in_or_was_drawn_is_not_asked_for() {
    let mut shop = open();
    drained(&mut shop);
    shop.must(fill("conc", 2_800));
    shop.must(fill("conc", 2_000));
    shop.issue(JOB, "conc", 1_500);
    said(&mut shop, 0, 1_700);
    shop.must(fill("conc", 0));
    said(&mut shop, 0, 4_300);
    tick(&mut shop, "fill");
    assert_eq!(not_drawn(&shop), ["not-drawn:conc: its fill is done and takes 1.7 L, and 1.5 L were taken from stock"]);
}

/// 1.2 L out of an item that is kept in litres: two are drawn, and 0.8 L of them come back. Of what is kept in millilitres, and
/// of whole litres, nothing is told.
#[test]
fn what_is_kept_in_whole_litres_says_how_much_more_is_set_aside_than_goes_in() {
    let mut shop = open();
    shop.must(AddItem { item: "can".into(), name: "can".into(), unit: Unit::Litre, fluid: None });
    let told = shop.must(fill("can", 1_200)).notices;
    assert_eq!(told, [Notice::WholeLitres { item: "can".into(), millilitres: 1_200, litres: Quantity(2) }]);
    assert_eq!(shop.must(fill("can", 2_000)).notices, []);
    assert_eq!(shop.must(fill("conc", 1_200)).notices, []);
}

/// 2 L and 1.5 L are 3.5 L.
#[test]
fn what_is_said_twice_of_a_fluid_is_told_in_all() {
    let mut shop = open();
    let mut said = |drained_ml, filled_ml, unlisted| {
        let fluid = if unlisted { "brake".into() } else { "coolant".into() };
        let told = shop.must(RecordFluid { job: JOB, fluid, drained_ml, filled_ml, note: None, unlisted }).notices;
        told.into_iter().find(|notice| matches!(notice, Notice::FluidInAll { .. }))
    };
    assert_eq!((said(2_000, 0, true), said(0, 500, true)), (None, None));
    let in_all = |fluid: &str, millilitres, out| Some(Notice::FluidInAll { fluid: fluid.into(), millilitres, out });
    assert_eq!(said(1_500, 0, true), in_all("brake", 3_500, true));
    assert_eq!(said(0, 300, true), in_all("brake", 800, false));
    assert_eq!((said(2_000, 0, false), said(100, 0, false)), (None, in_all("coolant", 2_100, true)));
}
