//! The demo shop's templates and stock fit each other.

use leadhand_domain::template::{check, notes, parse, write};
use leadhand_facts::quantity::QUANTITY_MAX;
use leadhand_facts::strip::{PositionSpec, Tighten};
use leadhand_facts::template::Template;
use leadhand_facts::words::{Renew, SignalWord};
use leadhand_facts::{ItemKey, Unit, is_key};
use std::collections::{BTreeMap, BTreeSet};

struct Stocked {
    unit: Unit,
    quantity: i64,
}

fn folder() -> String {
    format!("{}/../../deploy/demo-shop", env!("CARGO_MANIFEST_DIR"))
}

fn items() -> BTreeMap<ItemKey, Stocked> {
    let mut reader = csv::Reader::from_path(format!("{}/items.csv", folder())).expect("the stock list is there");
    let columns: Vec<String> = reader.headers().expect("a header").iter().map(str::to_owned).collect();
    assert_eq!(columns, ["item", "name", "unit", "place", "quantity", "expires_on"]);
    let mut items = BTreeMap::new();
    for row in reader.records() {
        let row = row.expect("every row has six columns");
        let unit = Unit::from_code(&row[2]).expect("a known unit");
        let quantity: i64 = row[4].parse().expect("a whole number");
        assert!(is_key(&row[0]) && is_key(&row[3]) && !row[1].is_empty() && quantity <= QUANTITY_MAX, "{row:?}");
        assert!(items.insert(ItemKey::from(&row[0]), Stocked { unit, quantity }).is_none(), "{row:?} is there twice");
    }
    items
}

fn templates() -> Vec<Template> {
    templates_in(&["head-gasket-20", "front-brakes", "coolant-service", "engine-check"])
}

fn templates_in(files: &[&str]) -> Vec<Template> {
    let units = items().into_iter().map(|(item, stocked)| (item, stocked.unit)).collect();
    let read =
        |file: &str| std::fs::read_to_string(format!("{}/templates/{file}.toml", folder())).expect("it is there");
    files.iter().map(|file| check(&read(file), &units).expect("no fault")).collect()
}

#[test]
fn they_have_no_fault_and_say_what_comes_first() {
    let found = templates();
    let sizes: Vec<(&str, usize)> = found.iter().map(|t| (t.key.as_str(), t.stages.len())).collect();
    assert_eq!(sizes, [("head-gasket-20", 25), ("front-brakes", 6), ("coolant-service", 5), ("engine-check", 3)]);
    for template in &found {
        let first = &template.stages[0].steps[0].instruction;
        assert!(first.starts_with("Manufacturer's data, local codes and licensed practice come before"), "{first}");
        assert!(template.stages.iter().all(|stage| !stage.steps.is_empty()));
        let words = template.stages.iter().flat_map(|stage| &stage.steps).flat_map(|step| &step.cautions);
        assert!(words.clone().any(|caution| caution.word <= SignalWord::Warning));
    }
    // The stages that have a hold point in the project's list of the 25 stages (column H): one each.
    let holds: Vec<usize> = (1..)
        .zip(&found[0].stages)
        .flat_map(|(number, stage)| stage.steps.iter().filter(|step| step.safety.hold.is_some()).map(move |_| number))
        .collect();
    assert_eq!(holds, [1, 2, 3, 8, 9, 10, 11, 12, 14, 15, 16, 17, 20, 21, 22, 24, 25]);
}

/// What a step calls a hold point is one: it is passed by name, and not by finishing the stage as listed.
#[test]
fn every_hold_point_is_passed_by_name() {
    let mut named: Vec<(String, String, bool)> = Vec::new();
    let all = [templates(), templates_in(&["inlet-gasket", "wiper-linkage"])].concat();
    for template in all {
        for step in template.stages.iter().flat_map(|stage| &stage.steps) {
            let said = step.instruction.strip_prefix("Hold point, ").map(|rest| rest.split(':').next().unwrap_or(rest));
            let hold = step.safety.hold.as_ref();
            assert_eq!(hold.map(|hold| hold.what.as_str()), said, "{}", step.instruction);
            named.extend(hold.map(|hold| (template.key.to_string(), hold.what.clone(), hold.second)));
        }
    }
    let of = |key: &str| -> Vec<(&str, bool)> {
        named.iter().filter(|one| one.0 == key).map(|one| (one.1.as_str(), one.2)).collect()
    };
    // That wheels are gone over by a second person, and the pedal is pumped before a vehicle moves, is common practice.
    assert_eq!(of("front-brakes"), [("vehicle supported", false), ("wheels tight", true), ("pedal firm", false)]);
    assert_eq!(of("coolant-service"), [("cold and without pressure", false), ("cold leak test", false)]);
}

#[test]
fn one_head_gasket_job_fits_the_stock_and_a_second_does_not() {
    let items = items();
    let mut needed: BTreeMap<ItemKey, i64> = BTreeMap::new();
    let head_gasket = &templates()[0];
    let steps = head_gasket.stages.iter().flat_map(|stage| &stage.steps);
    let by_default = |step: &&leadhand_facts::template::StepSpec| {
        let default = |key| head_gasket.options.iter().any(|option| option.key == key && option.default);
        step.when.as_ref().is_none_or(|when| default(when.option.clone()) == when.on)
    };
    for need in steps.filter(by_default).flat_map(|step| &step.needs) {
        *needed.entry(need.item.clone()).or_default() += need.quantity.0;
    }
    assert!(needed.iter().all(|(item, quantity)| *quantity <= items[item].quantity), "{needed:?}");
    let short: BTreeSet<&str> =
        needed.iter().filter(|(item, q)| 2 * **q > items[*item].quantity).map(|(item, _)| item.as_str()).collect();
    assert_eq!(short, BTreeSet::from(["hg-set-20", "coolant-concentrate"]));
    assert_eq!(items[&ItemKey::from("hg-set-20")].quantity, 1);
}

#[test]
fn each_is_written_and_read_back_the_same() {
    for template in templates() {
        assert_eq!(parse(&write(&template)).expect("what is written has no fault").template, template);
    }
}

/// Every hexagon belongs to its thread: across flats by ISO 272, pitches by ISO 261 (seen in copies).
#[test]
fn no_hexagon_and_no_pitch_of_them_is_unusual() {
    for file in ["head-gasket-20", "front-brakes", "coolant-service", "inlet-gasket"] {
        let text = std::fs::read_to_string(format!("{}/templates/{file}.toml", folder())).expect("it is there");
        assert_eq!(notes(&text, &[]), [], "{file}");
        let wrong = text.replace("12 mm hexagon, small flange", "14 mm hexagon");
        assert_eq!(notes(&wrong, &[]).len(), usize::from(wrong != text), "{file}");
    }
}

/// Head bolts: always renewed, torque and then angle, from the centre outwards. Common practice, and the order of two
/// rows of five as worked out by pairs from the centre.
#[test]
fn the_head_gasket_is_a_strip_book_that_can_be_worked_with() {
    let template = &templates()[0];
    let steps = template.stages.iter().flat_map(|stage| &stage.steps);
    let positions: Vec<&PositionSpec> = steps.flat_map(|step| &step.positions).collect();
    assert!(positions.iter().all(|one| one.detail.back.is_some()), "everything goes back somewhere");
    let bolts = positions.iter().find(|one| one.key.as_str() == "head-bolts").expect("they are listed");
    let detail = &bolts.detail;
    assert_eq!((detail.count, detail.renew, detail.second_check), (10, Renew::Always, true));
    let stages = [Tighten::TorqueMilli(30_000), Tighten::AngleDegrees(90), Tighten::AngleDegrees(90)];
    assert_eq!(detail.tighten, stages);
    assert!(detail.how.iter().any(|how| how.starts_with("A3 B3 B4 A2 A4 B2 B5 A1 A5 B1")), "{:?}", detail.how);
    let renewed = positions.iter().filter(|one| one.detail.renew == Renew::Always);
    assert!(renewed.clone().count() >= 6 && renewed.clone().all(|one| one.detail.item.is_some()));
    let ladder = &template.ladders[0];
    assert!(
        ladder.rungs.iter().any(|rung| rung.last_safe) && ladder.rungs.iter().all(|rung| !rung.cautions.is_empty())
    );
}
