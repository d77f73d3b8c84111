//! A fill set aside for a job, told as a story: which step says it, how much it still needs, and what the stock book has for
//! it. The rules are the project's own: each litre once, and no step known by its words.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::{FillAside, Made};
use leadhand_domain::command::*;
use leadhand_domain::fill::{FillBooks, fluid, reckoned};
use leadhand_domain::{hand_over, refusal};
use leadhand_facts::rows::StepRow;
use leadhand_facts::words::{FluidKind, SignalWord, StepState};
use leadhand_facts::*;
use stock_kit::Shop;

/// Two fluids are drained in one step and filled in one stage, behind which is a hold point.
const TEMPLATE: &str = r#"
key = "hose"
title = "Hose"

[[stage]]
key = "drain"
title = "Drain"
minutes = [10, 20, 30]

[[stage.step]]
do = "Drain both"
state = { sets = ["coolant drained", "oil drained"] }
fluid = [
    { key = "coolant", what = "Coolant", expected = "7 L", back = "fill" },
    { key = "oil", what = "Engine oil", expected = "4.5 L", back = "fill" },
]

[[stage]]
key = "fill"
title = "Fill"
minutes = [10, 20, 30]
after = ["drain"]

[[stage.step]]
do = "New filter, and pour it in"
state = { sets = ["oil full"] }
needs = [{ item = "filter", quantity = 1 }, { item = "drum", quantity = "4.5 L" }]

[[stage.step]]
do = "Pour in 7 L of 50 %, and bleed"
state = { sets = ["coolant full"] }
caution = [{ word = "NOTICE", text = "It strips paint." }]
needs = [{ item = "conc", quantity = "3.5 L" }, { item = "water", quantity = "3.5 L" }]

[[stage.step]]
do = "No leak"
hold = "cold leak test"
"#;

const JOB: JobNo = JobNo(1);

fn open(template: &str) -> Shop {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    for (item, unit) in
        [("filter", Unit::Piece), ("drum", Unit::Millilitre), ("conc", Unit::Millilitre), ("water", Unit::Millilitre)]
    {
        shop.must(AddItem { item: item.into(), name: item.into(), unit, fluid: None });
    }
    shop.must(AddItem { item: "can".into(), name: "can".into(), unit: Unit::Litre, fluid: None });
    shop.bin("bin-1");
    shop.bin("bin-2");
    shop.must(PublishTemplate { source: template.into() });
    job(&mut shop, Some("hose"));
    shop
}

fn job(shop: &mut Shop, template: Option<&str>) -> JobNo {
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (revision, title, with, without) = (None, template.is_none().then(|| "Work".into()), vec![], vec![]);
    let template = template.map(TemplateKey::from);
    let made =
        shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without }).made;
    let Made::Job { job, .. } = made else { panic!("{made:?}") };
    job
}

/// Of a strength that is poured, half of it water in the end.
fn mixture(percent: i32) -> Mixture {
    let (poured, whole) = (Measure::whole(percent), Measure::whole(50));
    Mixture { poured, water_ml: 1_500, whole, freezes: Some(Measure::whole(-36)) }
}

fn fill(fluid: &str, item: &str, millilitres: i64) -> SetFillAside {
    SetFillAside {
        job: JOB,
        stage: None,
        fluid: fluid.into(),
        item: item.into(),
        recipe: format!("{millilitres} mL at 100 %"),
        millilitres,
        mixture: Some(mixture(100)),
        drawn_ml: None,
        cautions: vec![],
        asked: String::new(),
    }
}

/// Lets items say that they are coolant, however strong.
fn are_coolant(shop: &mut Shop, items: &[&str]) {
    for item in items {
        let fluid = Some(ItemFluid { kind: FluidKind::Coolant, strength: None });
        shop.must(SetItemFluid { item: (*item).into(), fluid });
    }
}

fn must(shop: &mut Shop, command: SetFillAside) -> FillAside {
    let made = shop.must(command).made;
    let Made::Fill(set) = made else { panic!("{made:?}") };
    set
}

fn step(shop: &Shop, number: i32) -> StepRow {
    shop.state.steps.get(&(JOB, "fill".into(), StepNo(number))).unwrap().clone()
}

fn needs(step: &StepRow) -> Vec<(&str, i64)> {
    step.needs.iter().map(|need| (need.item.as_str(), need.quantity.0)).collect()
}

/// The step is known by the fluid that it names, by what it leaves full, or by where the fluid goes back; its place, its words
/// and its states stay, and what it took before is kept beside what was reckoned.
#[test]
fn the_step_that_fills_says_what_was_reckoned_in_its_own_place() {
    let named = TEMPLATE
        .replace("state = { sets = [\"coolant full\"] }", "fills = \"coolant\"")
        .replace("state = { sets = [\"oil full\"] }", "fills = \"oil\"");
    let plain = TEMPLATE.replace("state = { sets = [\"coolant full\"] }\n", "");
    for source in [TEMPLATE, &named, &plain] {
        let mut shop = open(source);
        shop.receive("conc", "bin-1", 10_000, None);
        let before = step(&shop, 2);
        let mut asked = fill("coolant", "conc", 2_800);
        let caution = template::Caution { word: SignalWord::Warning, text: "It is toxic.".into() };
        asked.cautions = vec![caution];
        let set = must(&mut shop, asked);
        assert_eq!((set.stage, set.step, set.changed, set.elsewhere), (Some("fill".into()), Some(StepNo(2)), true, 0));
        let after = step(&shop, 2);
        assert_eq!((&after.instruction, &after.safety.sets), (&before.instruction, &before.safety.sets));
        assert_eq!(needs(&after), [("water", 3_500), ("conc", 2_800)]);
        let told = reckoned(&after).unwrap();
        assert_eq!(told.recipe, "2800 mL at 100 %, from 2.8 L of conc");
        assert_eq!((&told.instead, told.from.len()), (&before.needs, 1));
        assert_eq!(
            after.cautions.iter().map(|one| one.word).collect::<Vec<_>>(),
            [SignalWord::Warning, SignalWord::Notice]
        );
        assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (2_800, 2_800, 0, 0));
        let steps: Vec<&StepRow> = shop.state.steps.iter().filter(|row| row.job == JOB).collect();
        assert!(steps.len() == 4 && steps.iter().all(|row| row.state == StepState::Pending), "none is left out");
        // The other system's step is as it was.
        assert_eq!(needs(&step(&shop, 1)), [("filter", 1), ("drum", 4_500)]);
    }
}

/// Asked again it is the same; more takes more, less gives back to whoever waits.
#[test]
fn another_target_takes_the_difference_alone() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 4_000, None);
    must(&mut shop, fill("coolant", "conc", 3_850));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (3_850, 3_850, 0, 0));
    assert!(!must(&mut shop, fill("coolant", "conc", 3_850)).changed && shop.facts.is_empty());
    // Another job waits for some.
    let other = job(&mut shop, Some("hose"));
    shop.reserve(other);
    assert_eq!(shop.demand(other, "fill", 2, "conc"), (3_500, 150, 0, 3_350));
    must(&mut shop, fill("coolant", "conc", 2_000));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (2_000, 2_000, 0, 0));
    assert_eq!(shop.demand(other, "fill", 2, "conc"), (3_500, 2_000, 0, 1_500));
    let set = must(&mut shop, fill("coolant", "conc", 2_500));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (2_500, 2_000, 0, 500));
    assert_eq!((set.shares[0].reserved.0, set.shares[0].short.0), (2_000, 500));
    must(&mut shop, fill("coolant", "conc", 2_200));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (2_200, 2_000, 0, 200), "what is short goes first");
}

/// What is set aside of another item counts, and only what is missing is asked for.
#[test]
fn two_items_fill_one_fluid_once() {
    // Out of one drum for both systems: the other's filling is its own.
    let mut shop = open(&TEMPLATE.replace("\"conc\", quantity", "\"drum\", quantity"));
    shop.receive("drum", "bin-1", 2_900, None);
    shop.receive("can", "bin-1", 9, None);
    are_coolant(&mut shop, &["drum", "can"]);
    must(&mut shop, fill("coolant", "drum", 4_100));
    let row = fluid(&shop.state, JOB, &"coolant".into()).unwrap();
    assert_eq!(FillBooks::of(&shop.state, row, &"can".into()).kept_ml(), 2_900);
    let set = must(&mut shop, fill("coolant", "can", 4_100));
    let own: Vec<(&str, i64)> = set.shares.iter().map(|share| (share.item.as_str(), share.wanted.0)).collect();
    // The rest, 1.2 L, is two whole litres of what is kept by the litre.
    assert_eq!(own, [("can", 2), ("drum", 2_900)]);
    assert!(reckoned(&step(&shop, 2)).unwrap().recipe.ends_with("from 2 L of can and 2.9 L of drum"));
    assert_eq!(shop.demand(JOB, "fill", 2, "drum"), (2_900, 2_900, 0, 0), "nothing of it is short any more");
}

/// What other steps ask for counts; two systems out of one drum are two fillings.
#[test]
fn what_other_steps_take_is_not_asked_for_twice() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 20_000, None);
    let top_up = |fills: Option<&str>| AddStep {
        job: JOB,
        stage: "fill".into(),
        instruction: "Top up".into(),
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs: vec![template::Need { item: "conc".into(), quantity: Quantity(500), unit: Unit::Millilitre }],
        follow_up: None,
        safety: safety::StepSafety {
            fill: fills.map(|fluid| safety::Fill { fluid: fluid.into(), reckoned: None }),
            ..Default::default()
        },
    };
    shop.must(top_up(Some("gearbox")));
    let set = must(&mut shop, fill("coolant", "conc", 3_000));
    assert_eq!((set.elsewhere, set.shares.len(), set.shares[0].wanted.0), (0, 1, 3_000));
    shop.must(top_up(None));
    let set = must(&mut shop, fill("coolant", "conc", 3_000));
    assert_eq!((set.elsewhere, set.more.0), (1, 0));
    assert_eq!(set.shares.iter().map(|share| share.wanted.0).collect::<Vec<_>>(), [2_500, 500]);
    assert_eq!(must(&mut shop, fill("coolant", "conc", 300)).more.0, 200);
}

/// Each bin is named with what to draw from it.
#[test]
fn what_comes_from_several_bins_names_each() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 3_000, None);
    shop.receive("conc", "bin-2", 1_000, None);
    let set = must(&mut shop, fill("coolant", "conc", 3_500));
    let bins: Vec<(&str, i64)> = set.shares[0].bins.iter().map(|(bin, there)| (bin.as_str(), there.0)).collect();
    assert_eq!(bins, [("bin-1", 3_000), ("bin-2", 500)]);
    shop.must(ReleaseStock { job: JOB, stage: None, item: Some("conc".into()) });
    let lines = shop.reserve(JOB);
    let line = lines.iter().find(|line| line.item.as_str() == "conc").unwrap();
    assert_eq!((line.place.as_ref(), line.bins.len(), line.quantity.0), (None, 2, 3_500));
}

/// What was drawn is not taken back by a word, packs that became too few are asked about, and a fluid that no step fills gets
/// one where it is said.
#[test]
fn what_can_not_be_is_refused() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 20_000, None);
    must(&mut shop, fill("coolant", "conc", 3_000));
    shop.issue(JOB, "conc", 1_000);
    assert_eq!(shop.refused(fill("coolant", "conc", 2_000)).reason(), "FILL_DRAWN");
    assert!(!must(&mut shop, fill("coolant", "conc", 3_000)).changed, "the same is no change");
    let few = SetFillAside { drawn_ml: Some(2_999), ..fill("coolant", "conc", 3_000) };
    assert!(shop.refused(few).to_string().contains("packs"));
    assert_eq!(shop.refused(fill("brine", "conc", 3_000)).reason(), "NOT_FOUND");
    assert!(
        shop.refused(fill("oil", "filter", 300)).to_string().contains("'filter' is kept in pieces and not by volume")
    );
    let blank = job(&mut shop, None);
    let nowhere = SetFillAside { job: blank, ..fill("coolant", "conc", 300) };
    shop.must(RecordFluid {
        job: blank,
        fluid: "coolant".into(),
        drained_ml: 300,
        filled_ml: 0,
        note: None,
        unlisted: true,
    });
    assert!(shop.refused(nowhere.clone()).to_string().contains("name one"));
    shop.must(AddStage {
        job: blank,
        stage: Some("after".into()),
        title: "After".into(),
        kind: words::StageKind::Work,
        minutes: template::Minutes { low: 1, likely: 2, high: 3 },
        bays: vec![],
        skills: vec![],
        hands: 1,
        tools: vec![],
        after: vec![],
        after_last: true,
        before: vec![],
        may_leave: true,
        in_one_go: false,
        steps: vec![],
    });
    let set = must(&mut shop, SetFillAside { stage: Some("after".into()), drawn_ml: Some(1_000), ..nowhere });
    assert_eq!((set.step, set.shares[0].wanted.0), (Some(StepNo(1)), 1_000));
    let row = shop.state.steps.get(&(blank, "after".into(), StepNo(1))).unwrap();
    assert_eq!(row.instruction.as_deref(), Some("Fill in again: coolant; run it warm, and measure."));
}

/// A step that is said to fill a fluid is not ticked while next to nothing of it went in, and a slip of the keys fills nothing.
#[test]
fn a_step_that_fills_waits_for_the_word_and_names_a_fluid_of_the_job() {
    let mut shop = open(TEMPLATE);
    let fills = |fluid: &str| AddStep {
        job: JOB,
        stage: "drain".into(),
        instruction: "Pour it in".into(),
        tools: vec![],
        shared_tools: vec![],
        cautions: vec![],
        needs: vec![],
        follow_up: None,
        safety: safety::StepSafety {
            fill: Some(safety::Fill { fluid: fluid.into(), reckoned: None }),
            ..Default::default()
        },
    };
    let fluid = |drained_ml, filled_ml| RecordFluid {
        job: JOB,
        fluid: "coolant".into(),
        drained_ml,
        filled_ml,
        note: None,
        unlisted: false,
    };
    assert_eq!(shop.refused(fills("coolent")).field(), Some("fills"));
    assert_eq!(shop.refused(fills("Cool ant")).field(), Some("fills"));
    shop.must(StartStage { job: JOB, stage: "drain".into(), override_reason: None });
    shop.must(fills("coolant"));
    shop.must(fluid(6_000, 0));
    let tick = TickSteps { job: JOB, stage: "drain".into(), steps: vec![StepNo(2)], override_reason: None };
    let refused = shop.refused(tick.clone());
    assert_eq!(refused.reason(), "FLUID_NOT_IN", "{refused}");
    shop.must(fluid(0, 6_000));
    shop.must(tick);
}

/// One recipe is reckoned for one strength: what is set aside at another is no part of it.
#[test]
fn two_strengths_are_no_one_fill() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 2_900, None);
    shop.receive("can", "bin-1", 9, None);
    are_coolant(&mut shop, &["conc", "can"]);
    let at = |item: &str, percent| SetFillAside {
        recipe: format!("4100 mL at {percent} %"),
        mixture: Some(mixture(percent)),
        ..fill("coolant", item, 4_100)
    };
    must(&mut shop, at("conc", 100));
    let before = step(&shop, 2);
    let refused = shop.refused(at("can", 50));
    assert_eq!((refused.reason(), refused.class()), ("FILL_STRENGTH", refusal::Class::Precondition));
    for part in ["2.9 L of conc", "at 100 %", "'can' is reckoned at 50 %", "stock release"] {
        assert!(refused.to_string().contains(part), "{part}: {refused}");
    }
    assert_eq!(step(&shop, 2), before, "nothing is half done");
    // At the same strength it is one fill; once the first is given up it is another.
    must(&mut shop, at("can", 100));
    assert_eq!(needs(&step(&shop, 2)), [("water", 3_500), ("can", 2), ("conc", 2_900)]);
    shop.must(ReleaseStock { job: JOB, stage: None, item: Some("conc".into()) });
    shop.must(ReleaseStock { job: JOB, stage: None, item: Some("can".into()) });
    must(&mut shop, at("can", 50));
    let told = step(&shop, 2);
    assert_eq!(reckoned(&told).unwrap().recipe, "4100 mL at 50 %, from 5 L of can");
    assert_eq!(reckoned(&told).unwrap().mixture, Some(mixture(50)));
}

/// Of items that say what they are the one takes the place of the other, and the water goes by the recipe.
#[test]
fn the_templates_own_litres_and_water_follow_the_recipe() {
    let mut shop = open(TEMPLATE);
    let is = |item: &str, kind| SetItemFluid { item: item.into(), fluid: Some(ItemFluid { kind, strength: None }) };
    for item in ["conc", "water", "can"] {
        shop.receive(item, "bin-1", 9_000, None);
    }
    shop.reserve(JOB);
    // As long as nobody says it, they may be two fluids.
    must(&mut shop, fill("coolant", "can", 2_800));
    assert_eq!(needs(&step(&shop, 2)), [("conc", 3_500), ("water", 3_500), ("can", 3)]);
    for (item, kind) in [
        ("conc", FluidKind::Coolant),
        ("can", FluidKind::Coolant),
        ("water", FluidKind::Water),
        ("drum", FluidKind::Oil),
    ] {
        shop.must(is(item, kind));
    }
    assert!(must(&mut shop, fill("coolant", "can", 2_800)).changed);
    assert_eq!(needs(&step(&shop, 2)), [("can", 3), ("water", 1_500)]);
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (0, 0, 0, 0), "it is there for others again");
    assert_eq!(shop.demand(JOB, "fill", 2, "water"), (1_500, 1_500, 0, 0));
    assert_eq!(needs(&step(&shop, 1)), [("filter", 1), ("drum", 4_500)], "oil is another fluid");
    // Water that was not needed comes back when it is.
    let water = |water_ml| SetFillAside {
        mixture: Some(Mixture { water_ml, ..mixture(100) }),
        ..fill("coolant", "can", 2_800)
    };
    must(&mut shop, water(0));
    assert_eq!(needs(&step(&shop, 2)), [("can", 3)]);
    must(&mut shop, water(700));
    assert_eq!(needs(&step(&shop, 2)), [("can", 3), ("water", 700)]);
    // What was drawn of the template's own is not taken back by a word.
    let other = job(&mut shop, Some("hose"));
    shop.reserve(other);
    shop.must(IssueStock { job: other, stage: None, item: Some("conc".into()), quantity: None });
    let asked = SetFillAside { job: other, ..fill("coolant", "can", 2_800) };
    assert_eq!(shop.refused(asked).reason(), "FILL_DRAWN");
}

/// Where nothing goes in what was set aside is given up; what was drawn stays drawn.
#[test]
fn nothing_to_pour_gives_up_what_was_set_aside() {
    let nothing = || SetFillAside { recipe: "nothing goes in".into(), ..fill("coolant", "conc", 0) };
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 9_000, None);
    must(&mut shop, fill("coolant", "conc", 2_800));
    let set = must(&mut shop, nothing());
    assert!(set.changed && set.shares.is_empty());
    let told = step(&shop, 2);
    assert_eq!((reckoned(&told).unwrap().recipe.as_str(), needs(&told)), ("nothing goes in", vec![("water", 3_500)]));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (0, 0, 0, 0));
    assert!(!must(&mut shop, nothing()).changed && shop.facts.is_empty(), "the same is no change");
    must(&mut shop, fill("coolant", "conc", 2_800));
    shop.issue(JOB, "conc", 1_000);
    must(&mut shop, nothing());
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (1_000, 0, 1_000, 0));
    let told = step(&shop, 2);
    assert_eq!(reckoned(&told).unwrap().recipe, "2800 mL at 100 %, from 2.8 L of conc", "that is what was drawn for");
}

/// Drains both and fills the coolant, as a bay does.
fn filled(shop: &mut Shop) {
    let said = |fluid: &str, drained_ml, filled_ml| RecordFluid {
        job: JOB,
        fluid: fluid.into(),
        drained_ml,
        filled_ml,
        note: None,
        unlisted: false,
    };
    let tick = |stage: &str, step| TickSteps {
        job: JOB,
        stage: stage.into(),
        steps: vec![StepNo(step)],
        override_reason: None,
    };
    shop.must(StartStage { job: JOB, stage: "drain".into(), override_reason: None });
    shop.must(said("coolant", 6_000, 0));
    shop.must(said("oil", 4_500, 0));
    shop.must(tick("drain", 1));
    shop.must(FinishStage { job: JOB, stage: "drain".into(), as_listed: false });
    shop.must(StartStage { job: JOB, stage: "fill".into(), override_reason: None });
    shop.must(said("coolant", 0, 6_000));
    shop.must(tick("fill", 2));
}

/// A step that is done is no filling any more, and another would be poured as well.
#[test]
fn a_fill_whose_step_is_done_is_refused_until_it_is_taken_back() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 9_000, None);
    must(&mut shop, fill("coolant", "conc", 2_800));
    filled(&mut shop);
    let steps = shop.state.steps.iter().count();
    for millilitres in [2_800, 500, 0] {
        let refused = shop.refused(fill("coolant", "conc", millilitres));
        assert_eq!(refused.reason(), "FILL_DONE");
        assert!(refused.to_string().contains("step 2 of stage 'fill' fills 'coolant'"), "{refused}");
    }
    assert_eq!(shop.state.steps.iter().count(), steps, "no second step is made for it");
    shop.must(ReopenStep { job: JOB, stage: "fill".into(), step: StepNo(2), reason: "it leaked out".into() });
    must(&mut shop, fill("coolant", "conc", 2_500));
    assert_eq!(shop.demand(JOB, "fill", 2, "conc"), (2_500, 2_500, 0, 0));
}

/// What is in the engine and was never drawn would be promised to the next job.
#[test]
fn a_fill_that_was_never_drawn_is_a_line_of_the_hand_over() {
    let mut shop = open(TEMPLATE);
    shop.receive("conc", "bin-1", 9_000, None);
    must(&mut shop, fill("coolant", "conc", 2_800));
    let drawn = |shop: &Shop| {
        let all = hand_over::lines(&shop.state, JOB, shop.now);
        all.into_iter().find(|line| line.kind() == "not-drawn")
    };
    assert_eq!(drawn(&shop), None, "it is not in yet");
    filled(&mut shop);
    let line = drawn(&shop).unwrap();
    assert_eq!((line.key().as_str(), line.remedy()), ("not-drawn:conc", hand_over::Remedy::Lead));
    assert_eq!(line.open(), "its fill is done and takes 2.8 L, and 0 mL were taken from stock");
    shop.issue(JOB, "conc", 1_000);
    assert!(drawn(&shop).unwrap().open().ends_with("and 1 L were taken from stock"));
    shop.issue(JOB, "conc", 1_800);
    assert_eq!(drawn(&shop), None);
}
