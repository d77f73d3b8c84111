//! What a job's books say of a fill: what a drain left in, what is mixed with water and what never is, and whether an item
//! is the fluid. Jobs and items are invented.

mod kit;

use kit::{cautioned, near, read, shown, value, whole};
use leadhand_facts::rows::{FluidRow, ItemRow, StepRow};
use leadhand_facts::safety::{Fill, ReckonedFill, StepSafety};
use leadhand_facts::template::Need;
use leadhand_facts::words::{FluidKind, SignalWord, StepState};
use leadhand_facts::{FluidKey, ItemFluid, ItemKey, JobNo, Measure, Quantity, StageKey, StepNo, Unit};
use leadhand_reckoner::answer::Standing;
use leadhand_reckoner::job::{Plain, Poured, Remaining, fluid_of, in_words, is_coolant, remaining};
use leadhand_reckoner::{Answer, Kind, Refusal};

fn fluid(key: &str, expected_ml: Option<i64>, drained_ml: i64, filled_ml: i64) -> FluidRow {
    FluidRow {
        job: JobNo(7),
        fluid: FluidKey(key.to_owned()),
        stage: None,
        step: None,
        what: None,
        expected_ml,
        back: None,
        drained_ml,
        filled_ml,
        person: None,
        said_at: None,
        said_n: None,
        note: None,
        added_n: 1,
    }
}

fn left(fluids: &[FluidRow], named: Option<&str>, capacity: Option<&str>) -> Result<Remaining, Refusal> {
    let capacity = capacity.map(|text| read(Kind::Volume, text));
    remaining(fluids, named, capacity.as_ref())
}

#[test]
fn what_did_not_come_out_is_left_in() {
    let fluids = [fluid("coolant", Some(7_000), 5_600, 0), fluid("oil", Some(4_500), 4_500, 0)];
    let found = left(&fluids, None, None).expect("the coolant, where there are several");
    assert_eq!((found.capacity.to_string(), found.left.to_string()), ("7 L".to_owned(), "1.4 L".to_owned()));
    let found = left(&fluids, Some("oil"), None).expect("is named");
    near("all of it came out", found.left.value(), 0.0, 0.0);
    // A system that holds more than should come out keeps more.
    let found = left(&fluids, None, Some("8.2 L")).expect("was said");
    assert_eq!(found.left.to_string(), "2.6 L");
    // What is coolant is told by its key; water is poured into no brake.
    let only = [fluid("engine-coolant", Some(7_000), 6_500, 0), fluid("oil", Some(4_500), 4_500, 0)];
    let found = left(&only, None, None).expect("is coolant");
    near("not all of it came out", found.left.value(), 0.5, 1e-12);
    assert!(found.refuse_unknown_strength().is_err_and(|refusal| refusal.field() == Some("left_strength")));
    let empty = [fluid("coolant", Some(7_000), 7_000, 0)];
    assert!(left(&empty, None, None).expect("is coolant").refuse_unknown_strength().is_ok());
}

#[test]
fn what_the_job_does_not_know_is_asked() {
    let nothing = left(&[], None, None).expect_err("no fluid").to_string();
    assert!(nothing.contains("has no fluid in its books") && !nothing.contains("known are"), "{nothing}");
    for (fluids, capacity, field) in [
        (vec![], None, "fluid"),
        (vec![fluid("brake-fluid", Some(900), 800, 0)], None, "fluid"),
        (vec![fluid("coolant", Some(5_000), 6_000, 0)], None, "capacity"),
        (vec![fluid("oil", None, 1, 0), fluid("fuel", None, 1, 0)], None, "fluid"),
        (vec![fluid("coolant", Some(7_000), 0, 0)], None, "left"),
        (vec![fluid("coolant", Some(7_000), 5_000, 6_000)], None, "left"),
        (vec![fluid("coolant", None, 5_000, 0)], None, "capacity"),
        (vec![fluid("coolant", Some(7_000), 5_000, 0)], Some("4 L"), "capacity"),
    ] {
        let refusal = left(&fluids, None, capacity).expect_err("is not known");
        assert_eq!(refusal.field(), Some(field), "{refusal}");
    }
    assert!(left(&[fluid("coolant", None, 5_000, 0)], None, Some("7 L")).is_ok());
}

#[test]
fn what_is_coolant_is_told_by_its_name() {
    let called = |key: &str, what: &str| FluidRow { what: Some(what.to_owned()), ..fluid(key, None, 0, 0) };
    assert!(is_coolant(&called("coolant", "")) && is_coolant(&called("system", "Antifreeze, blue")));
    for oil in [called("oil", "Engine oil"), called("brake-fluid", "Brake fluid on glycol"), called("fuel", "")] {
        assert!(!is_coolant(&oil), "{oil:?}");
    }
}

fn plain(row: &FluidRow, capacity: Option<&str>, left: Option<&str>) -> Result<Answer, Refusal> {
    let volume = |text: Option<&str>| text.map(|text| read(Kind::Volume, text));
    Plain { row, capacity: volume(capacity), left: volume(left) }.reckon()
}

/// Three digits of US gallons are within half a per cent: 1.85 US gal are 7.003 L, of which 7 L came out.
#[test]
fn what_a_rounded_capacity_leaves_is_nothing() {
    let coolant = [fluid("coolant", None, 7_000, 0)];
    let found = left(&coolant, None, Some("1.85 US gal")).expect("came out");
    assert!(found.left.value().abs() < 1e-12, "{found:?}");
    assert!(found.refuse_unknown_strength().is_ok(), "nothing is left whose strength somebody had to know");
    let more = left(&coolant, None, Some("2 US gal")).expect("came out");
    near("2 US gal are 7.570 8 L", more.left.value(), 0.571, 1e-9);
    // What is said in litres counts as it is said.
    near("in litres", left(&coolant, None, Some("7.003 L")).expect("came out").left.value(), 0.003, 1e-9);
}

/// In a sentence a fluid is called what its template calls it; its key is what is typed.
#[test]
fn a_fluid_is_told_in_its_words() {
    let called = |what: &str| FluidRow { what: Some(what.to_owned()), ..fluid("oil-2", Some(4_500), 4_200, 0) };
    assert_eq!(in_words(&called("Engine oil")), "engine oil");
    assert_eq!(in_words(&called("ATF in the box")), "ATF in the box");
    assert_eq!(in_words(&fluid("oil-2", None, 0, 0)), "oil-2");
    let answer = plain(&called("Engine oil"), None, None).expect("came out");
    assert!(
        answer.conclusions.iter().any(|one| one.text.starts_with("engine oil is poured in as it is")),
        "{answer:#?}"
    );
    let all = [called("Engine oil"), fluid("coolant", None, 0, 0)];
    let refusal = left(&all, Some("oil"), None).expect_err("is none of them").to_string();
    assert!(refusal.contains("oil-2 (engine oil), coolant"), "{refusal}");
}

/// By the books: what came out less what went in. No water goes with oil, and it has no freezing point to tell.
#[test]
fn oil_goes_in_as_it_came_out_and_with_no_water() {
    let oil = fluid("oil", Some(4_500), 4_200, 0);
    let answer = plain(&oil, None, None).expect("came out");
    whole(&answer);
    assert_eq!(shown(&answer, "add"), "4.20 L");
    assert!(answer.figure("water").is_none() && answer.figure("freezes").is_none(), "{answer:#?}");
    assert!(answer.conclusions.iter().any(|one| one.text.contains("oil is poured in as it is: no water")));
    assert!(answer.conclusions.iter().any(|one| one.text.contains("0.3 L of oil did not come out")));
    assert!(answer.inputs.iter().all(|input| input.standing == Standing::Job));
    near("the rest", value(&plain(&fluid("oil", None, 4_200, 1_000), None, None).expect("a rest"), "add"), 3.2, 1e-12);
    near("all is in", value(&plain(&fluid("oil", None, 4_200, 5_000), None, None).expect("is in"), "add"), 0.0, 0.0);
    // What is said of the system counts.
    let full = plain(&fluid("oil", Some(4_500), 0, 0), None, Some("0.5 L")).expect("was said");
    near("up to the expected", value(&full, "add"), 4.0, 1e-12);
    near("up to the said", value(&plain(&oil, Some("5 L"), Some("1 L")).expect("said"), "add"), 4.0, 1e-12);
    for (row, capacity, left, field) in [
        (fluid("oil", Some(4_500), 0, 0), None, None, "left"),
        (fluid("oil", None, 0, 0), None, Some("1 L"), "capacity"),
        (oil.clone(), None, Some("6 L"), "left"),
        // More came out than it holds: one of the two is wrong, and pouring all of it in overfills.
        (oil.clone(), Some("3 L"), None, "capacity"),
    ] {
        let refusal = plain(&row, capacity, left).expect_err("is not known");
        assert_eq!(refusal.field(), Some(field), "{refusal}");
    }
}

fn item(key: &str, name: &str, unit: Unit) -> ItemRow {
    ItemRow { item: ItemKey(key.to_owned()), name: name.to_owned(), unit, added_n: 1, supplier: None, fluid: None }
}

fn step(number: i32, needs: &[&str]) -> StepRow {
    let need = |key: &&str| Need {
        item: ItemKey((*key).to_owned()),
        quantity: Quantity(3_500),
        unit: if key.contains("filter") { Unit::Piece } else { Unit::Millilitre },
    };
    StepRow {
        job: JobNo(7),
        stage: StageKey("fill".to_owned()),
        step: StepNo(number),
        instruction: None,
        instruction_text: None,
        tools: Vec::new(),
        shared_tools: Vec::new(),
        cautions: Vec::new(),
        needs: needs.iter().map(need).collect(),
        follow_up: None,
        safety: StepSafety::default(),
        unplanned: false,
        fits: None,
        state: StepState::Pending,
        done_at: None,
        done_by: None,
        done_n: None,
        reason: None,
        overridden: None,
    }
}

fn check(fluid: &FluidRow, item: &ItemRow, steps: &[StepRow]) -> Result<Answer, Refusal> {
    let mut answer = plain(&self::fluid("oil", None, 1_000, 0), None, None).expect("an answer");
    Poured { fluid, item, steps, filling: None, listed: &[] }.check(&mut answer).map(|()| answer)
}

#[test]
fn an_item_that_is_no_such_fluid_is_refused() {
    let back = |key: &str| FluidRow { back: Some(StageKey("fill".to_owned())), ..fluid(key, Some(7_000), 5_000, 0) };
    let (coolant, oil) = (back("coolant"), back("oil"));
    let steps = [step(1, &["oil-filter-20", "engine-oil-5w30"]), step(2, &["coolant-concentrate"])];
    let unsure = |answer: &Answer| cautioned(answer, SignalWord::Warning, "Make sure that");
    // Its own item, which the job names.
    for (fluid, key, name) in
        [(&coolant, "coolant-concentrate", "Coolant concentrate"), (&oil, "engine-oil-5w30", "Engine oil 5W-30")]
    {
        let answer = check(fluid, &item(key, name, Unit::Millilitre), &steps).expect("is that fluid");
        assert!(!unsure(&answer), "{answer:#?}");
    }
    for (fluid, key, name, unit, why) in [
        (&coolant, "brake-fluid", "Brake fluid in bottles", Unit::Millilitre, "is no coolant by its name"),
        (&coolant, "distilled-water", "Distilled water", Unit::Millilitre, "is no coolant by its name"),
        (&coolant, "engine-oil-5w30", "Engine oil", Unit::Millilitre, "is no coolant by its name"),
        (&oil, "coolant-concentrate", "Coolant concentrate", Unit::Millilitre, "is no oil by its name"),
        (&oil, "penetrant", "Penetrating oil", Unit::Millilitre, "is no oil by its name"),
        (&coolant, "coolant-dye", "Coolant leak dye", Unit::Millilitre, "is no coolant by its name"),
        (&coolant, "walk-a", "Blue stuff", Unit::Millilitre, "step 2 of fill of the job asks for coolant-concentrate"),
        (&oil, "walk-a", "Brown stuff", Unit::Litre, "step 1 of fill of the job asks for engine-oil-5w30"),
        (&coolant, "coolant-hose", "Coolant hose", Unit::Piece, "coolant-hose is kept in pieces and not by volume"),
    ] {
        let refusal = check(fluid, &item(key, name, unit), &steps).expect_err(key);
        assert_eq!(refusal.field(), Some("item"), "{refusal}");
        assert!(refusal.to_string().contains(why), "{refusal}");
    }
    // Where no book says what it is, somebody looks.
    let blue = item("walk-a", "Blue stuff", Unit::Millilitre);
    let done = [StepRow { state: StepState::Skipped, ..steps[1].clone() }];
    for steps in [&done[..], &steps[..1], &[]] {
        let answer = check(&coolant, &blue, steps).expect("may be it");
        assert!(unsure(&answer), "{answer:#?}");
    }
    assert_eq!(fluid_of(&[oil, coolant], None).expect("the coolant").fluid.as_str(), "coolant");
}

fn fluid_item(key: &str, kind: FluidKind, percent: Option<i32>) -> ItemRow {
    let fluid = Some(ItemFluid { kind, strength: percent.map(Measure::whole) });
    ItemRow { fluid, ..item(key, "Blue stuff", Unit::Millilitre) }
}

/// What an item says counts, whatever it is called; what it does not say is told.
#[test]
fn an_item_says_which_fluid_it_is() {
    let coolant = FluidRow { back: Some(StageKey("fill".to_owned())), ..fluid("coolant", Some(7_000), 5_000, 0) };
    let oil = FluidRow { fluid: FluidKey("oil".to_owned()), ..coolant.clone() };
    let told = |fluid: &FluidRow, item: &ItemRow| check(fluid, item, &[]);
    let says = |answer: &Answer, part: &str| answer.conclusions.iter().any(|one| one.text.contains(part));
    let typed = fluid_item("brake-oil-antifreeze", FluidKind::Coolant, None);
    let answer = told(&coolant, &typed).expect("it says so");
    assert!(!says(&answer, "does not say which fluid") && !cautioned(&answer, SignalWord::Warning, "Make sure that"));
    for (kind, is) in
        [(FluidKind::BrakeFluid, "brake fluid"), (FluidKind::Water, "water"), (FluidKind::Additive, "an additive")]
    {
        let refusal = told(&coolant, &fluid_item("coolant-x", kind, None)).expect_err("is another");
        assert!(
            refusal.to_string().contains(&format!("coolant-x is {is}, as it says itself, and no coolant")),
            "{refusal}"
        );
    }
    assert!(told(&oil, &typed).is_err_and(|refusal| refusal.field() == Some("item")));
    // Only its name says it: the answer says that.
    let named = item("coolant-a", "Coolant", Unit::Millilitre);
    assert!(says(&told(&coolant, &named).expect("by its name"), "coolant-a does not say which fluid it is"));
}

/// 50 % poured as if it were concentrate freezes at half of what was wanted.
#[test]
fn how_strong_an_item_is_holds_against_what_is_typed() {
    let coolant = fluid("coolant", Some(7_000), 7_000, 0);
    let strength = |item: &ItemRow, given: Option<&str>| {
        let given = given.map(|text| read(Kind::Share, text));
        Poured { fluid: &coolant, item, steps: &[], filling: None, listed: &[] }.strength(given.as_ref())
    };
    let ready = fluid_item("ready", FluidKind::Coolant, Some(50));
    assert_eq!(strength(&ready, None), Ok(Some(Measure::whole(50))));
    assert_eq!(strength(&ready, Some("50%")), Ok(Some(Measure::whole(50))));
    let refusal = strength(&ready, Some("100 %")).expect_err("is another");
    assert_eq!(refusal.field(), Some("poured_strength"));
    assert!(
        refusal.to_string().contains("ready is 50 % by volume, as it says itself, and 100 % was given"),
        "{refusal}"
    );
    assert_eq!(strength(&fluid_item("some", FluidKind::Coolant, None), Some("40 %")), Ok(None), "it says nothing");
    // What says nothing is not taken for concentrate.
    let lube = item("assembly-lube", "Blue stuff", Unit::Millilitre);
    for unsaid in [&fluid_item("some", FluidKind::Coolant, None), &lube] {
        let refusal = strength(unsaid, None).expect_err("nobody says how strong");
        assert_eq!(refusal.field(), Some("poured_strength"), "{refusal}");
        for part in [unsaid.item.as_str(), "leadhand item fluid", "--strength", "--poured"] {
            assert!(refusal.to_string().contains(part), "{part}: {refusal}");
        }
    }
    assert_eq!(strength(&lube, Some("100 %")), Ok(None), "somebody says it");
    // What is another fluid is told as that, and not asked how strong it is.
    let water = strength(&fluid_item("rain", FluidKind::Water, None), None).expect_err("is no coolant");
    assert_eq!(water.field(), Some("item"), "{water}");
}

/// The template's item gives way to another that says to be the same; the step is never to be left out for it.
#[test]
fn another_item_of_the_same_fluid_is_told_or_asked_about() {
    let coolant = FluidRow { back: Some(StageKey("fill".to_owned())), ..fluid("coolant", Some(7_000), 5_000, 0) };
    let steps = [step(2, &["coolant-concentrate"])];
    let check = |item: &ItemRow, listed: &[ItemRow], steps: &[StepRow]| {
        let mut answer = plain(&fluid("oil", None, 1_000, 0), None, None).expect("an answer");
        let filling = steps.first();
        Poured { fluid: &coolant, item, steps, filling, listed }.check(&mut answer).map(|()| answer)
    };
    let (other, conc) =
        (fluid_item("other", FluidKind::Coolant, None), item("coolant-concentrate", "C", Unit::Millilitre));
    let typed = [ItemRow { fluid: other.fluid, ..conc.clone() }];
    let answer = check(&other, &typed, &steps).expect("both say it");
    assert!(cautioned(&answer, SignalWord::Warning, "asks for coolant-concentrate, and other goes in in its place"));
    for (item, listed, unsaid) in [
        (&other, &[conc.clone()][..], "say which fluid coolant-concentrate is"),
        (&item("other", "Blue stuff", Unit::Millilitre), &typed[..], "say which fluid other is"),
        (
            &item("other", "Blue stuff", Unit::Millilitre),
            &[conc][..],
            "say which fluid coolant-concentrate and other is",
        ),
    ] {
        let refusal = check(item, listed, &steps).expect_err("nobody says it").to_string();
        assert!(refusal.contains(unsaid) && refusal.contains("leadhand item fluid"), "{refusal}");
        assert!(!refusal.contains("step skip"), "the filling is not to be left out: {refusal}");
    }
    // What the step takes since it was reckoned is no word of the template's.
    let mut reckoned = step(2, &["coolant-concentrate"]);
    let (recipe, instead) = ("4.1 L at 100 %".to_owned(), reckoned.needs.clone());
    let from = vec![ItemKey("coolant-concentrate".to_owned())];
    let reckoned_fill = ReckonedFill { recipe, from, instead, ..ReckonedFill::default() };
    reckoned.safety.fill = Some(Fill { fluid: coolant.fluid.clone(), reckoned: Some(reckoned_fill) });
    let second = item("second", "Blue stuff", Unit::Millilitre);
    let answer = check(&second, &[], std::slice::from_ref(&reckoned)).expect("a second item of it");
    assert!(cautioned(&answer, SignalWord::Warning, "Make sure that second is coolant"));
    let first = item("coolant-concentrate", "C", Unit::Millilitre);
    let answer = check(&first, &[], std::slice::from_ref(&reckoned)).expect("the template's own");
    assert!(!cautioned(&answer, SignalWord::Warning, "Make sure that"), "the template asks for it: {answer:#?}");
    // What nobody knows of beside it may be the same once more.
    let beside = [step(2, &["walk-x", "drain-filter"])];
    let answer = check(&other, &[], &beside).expect("may be it");
    assert!(answer.conclusions.iter().any(|one| one.text.contains("takes walk-x as well")), "{answer:#?}");
    assert!(!answer.conclusions.iter().any(|one| one.text.contains("drain-filter")), "that is no fluid: {answer:#?}");
}
