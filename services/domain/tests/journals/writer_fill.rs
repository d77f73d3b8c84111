//! How the journal of a reckoned fill was written.

use super::super::*;
use super::write;

/// Wrote `v2_fill.jsonl` once; ignored like the others.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_fill_of_version_2() {
    const TEMPLATE: &str = "key = \"drain\"\ntitle = \"Drain\"\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\n\
        minutes = [1, 2, 3]\n[[stage.step]]\ndo = \"Drain it\"\n\
        fluid = [{ key = \"coolant\", what = \"Coolant\", expected = \"7 L\", back = \"strip\" }]\n\
        [[stage.step]]\ndo = \"Fill it\"\nfills = \"coolant\"\n\
        needs = [{ item = \"conc\", quantity = \"3.5 L\" }]\n";
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.must(AddItem { item: "conc".into(), name: "Concentrate".into(), unit: Unit::Millilitre, fluid: None });
    shop.bin("bin-1");
    shop.receive("conc", "bin-1", 3_000, None);
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("drain".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let caution =
        template::Caution { word: words::SignalWord::Warning, text: "Glycol is toxic when swallowed.".to_owned() };
    for millilitres in [3_850, 2_800] {
        shop.must(SetFillAside {
            job: JobNo(1),
            stage: None,
            fluid: "coolant".into(),
            item: "conc".into(),
            recipe: format!("{millilitres} mL at 100 %"),
            millilitres,
            mixture: None,
            drawn_ml: None,
            cautions: vec![caution.clone()],
            asked: String::new(),
        });
    }
    write(&shop, "v2_fill");
}

/// Wrote `v2_fluids.jsonl` once; ignored like the others.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_fluids_of_version_2() {
    const TEMPLATE: &str = "key = \"drain\"\ntitle = \"Drain\"\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\n\
        minutes = [1, 2, 3]\n[[stage.step]]\ndo = \"Drain it\"\n\
        fluid = [{ key = \"coolant\", what = \"Coolant\", expected = \"7 L\", back = \"strip\" }]\n\
        [[stage.step]]\ndo = \"Fill it\"\nfills = \"coolant\"\n\
        needs = [{ item = \"conc\", quantity = \"3.5 L\" }, { item = \"water\", quantity = \"3.5 L\" }]\n";
    let of = |kind, strength| Some(ItemFluid { kind, strength });
    let whole = Measure::whole(50);
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    for (item, fluid) in [("conc", None), ("ready", of(words::FluidKind::Coolant, Some(whole)))] {
        shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Millilitre, fluid });
    }
    let (item, name) = ("water".into(), "Water".into());
    shop.must(AddItem { item, name, unit: Unit::Millilitre, fluid: of(words::FluidKind::Water, None) });
    shop.must(SetItemFluid { item: "conc".into(), fluid: of(words::FluidKind::Coolant, Some(Measure::whole(100))) });
    shop.must(SetItemFluid { item: "ready".into(), fluid: None });
    shop.must(SetItemFluid { item: "ready".into(), fluid: of(words::FluidKind::Coolant, Some(whole)) });
    shop.bin("bin-1");
    shop.receive("conc", "bin-1", 3_000, None);
    shop.receive("ready", "bin-1", 9_000, None);
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("drain".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    for (item, millilitres, poured, water_ml) in [("conc", 2_800, Measure::whole(100), 2_800), ("ready", 0, whole, 0)] {
        shop.must(SetFillAside {
            job: JobNo(1),
            stage: None,
            fluid: "coolant".into(),
            item: item.into(),
            recipe: format!("{millilitres} mL at {poured} %"),
            millilitres,
            mixture: Some(Mixture { poured, water_ml, whole, freezes: Some(Measure::whole(-36)) }),
            drawn_ml: None,
            cautions: vec![],
            asked: String::new(),
        });
    }
    write(&shop, "v2_fluids");
}
