//! The head-gasket job of the demo from the first stage to the hand-over, everything as listed: each stage can be ended
//! as its strip book lists it, so the order in which things come off and go back fits the stages; what is put in is out
//! at the end, and the second look is asked for. The auditor agrees after every command.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::reading::slots;
use leadhand_domain::strip::{Standing, cures_until};
use leadhand_domain::view::strip::strip_view;
use leadhand_facts::rows::{FluidRow, PositionRow, ReadingRow, StepRow};
use leadhand_facts::words::{BayKind, Role, StageState, Tightness};
use leadhand_facts::*;
use stock_kit::Shop;

const JOB: JobNo = JobNo(1);
const SKILLS: [&str; 6] = ["service", "engine", "road-test", "diagnosis", "front-desk", "parts"];

fn file(name: &str) -> String {
    std::fs::read_to_string(format!("{}/../../deploy/demo-shop/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// Says what a step takes off or puts in, and before it what is due back in its stage.
fn say_positions(shop: &mut Shop, stage: &StageKey, step: StepNo) {
    let (job, stage, override_reason) = (JOB, stage.clone(), None);
    let due =
        |row: &&PositionRow| row.detail.back.as_ref() == Some(&stage) && row.off_n.is_some() && row.back_n.is_none();
    let due: Vec<PositionRow> = shop.state.positions.iter().filter(due).cloned().collect();
    // All of it in one breath, tightened as it is listed: what holds something comes out when that is tight.
    let tightness = Some(Tightness::Final);
    let lines: Vec<BackLine> =
        due.iter().map(|row| BackLine { tightness, ..BackLine::listed(row.position.clone()) }).collect();
    if !lines.is_empty() {
        shop.must(PutBack { job, stage: stage.clone(), lines, as_listed: false, override_reason: None });
    }
    if shop.state.positions.iter().any(|row| row.stage == stage && row.step == Some(step) && row.off_n.is_none()) {
        shop.must(TakeOff { job, stage, step: Some(step), lines: vec![], as_listed: true, override_reason });
    }
}

/// Measures what a step measures, each figure at its limit: that keeps it.
fn say_readings(shop: &mut Shop, stage: &StageKey, step: StepNo) {
    let own = |row: &&ReadingRow| row.stage == *stage && row.step == Some(step) && row.taken_n.is_none();
    let rows: Vec<ReadingRow> = shop.state.readings.iter().filter(own).cloned().collect();
    for row in rows {
        let figure = row.detail.low.or(row.detail.high).unwrap();
        let figures = vec![figure; slots(&row.detail).len()];
        let (reading, instrument, note) = (row.reading, None, None);
        shop.must(RecordReading { job: JOB, reading, figures, instrument, note, sure: false });
    }
}

/// What should come out in a stage comes out, and as much goes in where it is filled again.
fn say_fluids(shop: &mut Shop, stage: &StageKey) {
    let rows: Vec<FluidRow> = shop.state.fluids.iter().cloned().collect();
    for row in rows {
        let all = row.expected_ml.unwrap();
        let [drained_ml, filled_ml] =
            [&row.stage, &row.back].map(|own| if own.as_ref() == Some(stage) { all } else { 0 });
        if drained_ml + filled_ml > 0 {
            shop.must(RecordFluid { job: JOB, fluid: row.fluid, drained_ml, filled_ml, note: None, unlisted: false });
        }
    }
}

/// Ticks a stage's steps up to its last hold point one by one: by who works, and by somebody else where a second pair of
/// eyes is asked for.
fn pass_holds(shop: &mut Shop, stage: &StageKey, persons: [PersonId; 2]) {
    let steps: Vec<StepRow> = shop.state.steps.iter().filter(|row| row.stage == *stage).cloned().collect();
    let last = steps.iter().filter(|row| row.safety.hold.is_some()).map(|row| row.step).max();
    for step in steps.iter().filter(|row| Some(row.step) <= last) {
        shop.person = Some(persons[0]);
        say_positions(shop, stage, step.step);
        say_readings(shop, stage, step.step);
        let second = step.safety.hold.as_ref().is_some_and(|hold| hold.second);
        shop.person = Some(persons[usize::from(second)]);
        let steps = vec![step.step];
        shop.must(TickSteps { job: JOB, stage: stage.clone(), steps, override_reason: None });
    }
    shop.person = Some(persons[0]);
}

/// It does not run before somebody else has looked at the head's bolts.
fn seen_before_it_runs(shop: &mut Shop, persons: [PersonId; 2]) {
    // Who witnessed the last angle has looked at them; a bolt that was touched since has been seen by nobody.
    let looked = |shop: &Shop| shop.state.positions.get(&(JOB, "head-bolts".into())).unwrap().checked_by;
    assert_eq!(looked(shop), Some(persons[1]));
    for tightness in [Tightness::Finger, Tightness::Final] {
        shop.must(TightenPositions { job: JOB, positions: vec!["head-bolts".into()], tightness });
    }
    assert_eq!(looked(shop), None);
    let run = TickSteps { job: JOB, stage: "first-start".into(), steps: vec![StepNo(1)], override_reason: None };
    let refused = shop.refused(run).to_string();
    assert!(refused.contains("not looked at by a second person: 'head-bolts'"), "{refused}");
    let look = || ConfirmPositions { job: JOB, positions: vec!["head-bolts".into()] };
    assert!(shop.refused(look()).to_string().contains("yourself"), "nobody looks at their own work");
    shop.person = Some(persons[1]);
    shop.must(look());
    // The hold point is open again as well, though its stage has ended.
    let again = TickSteps { job: JOB, stage: "fit-head".into(), steps: vec![StepNo(3)], override_reason: None };
    shop.must(again);
    shop.person = Some(persons[0]);
}

/// The demo's shop with the job in its bay, and two persons who may do all of it.
fn opened() -> (Shop, [PersonId; 2]) {
    let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
    shop.must(AddBay { bay: "lift-1".into(), name: "Lift".into(), kind: BayKind::TwoPostLift, rated_kg: 3500 });
    let source = file("templates/head-gasket-20.toml");
    let persons = ["Flint", "Moss"].map(|name| {
        let asked = source.lines().filter_map(|line| line.strip_prefix("skills = [\"")?.split('"').next());
        let mut skills: Vec<String> = asked.chain(SKILLS).map(str::to_owned).collect();
        skills.sort();
        skills.dedup();
        let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills }).made else { panic!() };
        person
    });
    shop.must(ImportStock { csv: file("items.csv") });
    shop.must(PublishTemplate { source });
    shop.must(OpenJob {
        template: Some("head-gasket-20".into()),
        revision: None,
        title: None,
        vehicle: WhichVehicle::New { label: "van".into(), weight_kg: Some(1400), plate: None, customer: None },
        priority: 3,
        promised_at: None,
        with: vec![],
        without: vec![],
    });
    shop.must(AssignJob { job: JOB, bay: "lift-1".into(), override_reason: None });
    shop.reserve(JOB);
    (shop.person, shop.role) = (Some(persons[0]), Role::Technician);
    (shop, persons)
}

#[test]
fn the_head_gasket_goes_through_as_listed() {
    let (mut shop, persons) = opened();
    let stages: Vec<StageKey> = shop.state.stages.iter().map(|row| row.stage.clone()).collect();
    let mut done = 0;
    while done < stages.len() {
        let ready = shop.state.stages.iter().filter(|row| row.state == StageState::Pending && row.ready_at.is_some());
        let stage = ready.min_by_key(|row| row.ordinal).unwrap().stage.clone();
        if stage.as_str() == "fill" {
            // The cam cover's sealant cures first.
            let cures = shop.state.positions.iter().filter_map(|row| cures_until(row, shop.now)).max();
            shop.now = cures.unwrap();
        }
        shop.must(StartStage { job: JOB, stage: stage.clone(), override_reason: None });
        if stage.as_str() == "first-start" {
            seen_before_it_runs(&mut shop, persons);
        }
        say_fluids(&mut shop, &stage);
        pass_holds(&mut shop, &stage, persons);
        shop.must(FinishStage { job: JOB, stage, as_listed: true });
        done += 1;
    }
    let view = strip_view(&shop.state, JOB);
    assert!(view.positions.iter().all(|line| line.standing == Standing::Settled));
    assert_eq!(view.refit.len(), view.positions.len(), "everything came off, and once");
    let open: Vec<&str> = view.open.iter().map(|open| open.position().as_str()).collect();
    assert_eq!(open, Vec::<&str>::new());
    let part = |key: &str| {
        let line = view.positions.iter().find(|line| line.row.position.as_str() == key).unwrap();
        line.part.clone().unwrap()
    };
    // The pins hold the drive: it came off after them, and they came out when it was back.
    let row = |key: &str| view.positions.iter().find(|line| line.row.position.as_str() == key).unwrap().row.clone();
    let (drive, bolts) = (row("timing-drive"), row("tensioner-bolts"));
    for pin in ["locking-tools", "tensioner-pin"].map(row) {
        assert!(pin.off_n < drive.off_n.min(bolts.off_n), "{pin:?}");
        let refit = |key: &PositionKey| view.refit.iter().position(|line| line.position == *key).unwrap();
        assert!(refit(&pin.position) > refit(&drive.position).max(refit(&bolts.position)), "{:?}", view.refit);
    }
    // Ten bolts for ten places; they are on the list of an earlier step, and not asked for twice.
    let bolts = part("head-bolts");
    assert_eq!((bolts.pieces, bolts.asked_by.unwrap().0.as_str()), (10, "prepare"));
    (shop.person, shop.role) = (Some(persons[1]), Role::Lead);
    let complete = || CompleteJob { job: JOB, override_reason: None, overrides: Vec::new() };
    // What was set aside and fitted was never given out: the book would promise it again.
    let refused = shop.refused(complete()).to_string();
    for line in ["hg-bolts-20: 10 fitted new, and 0 taken from stock", "hg-set-20: 1 fitted new"] {
        assert!(refused.contains(line), "{refused}");
    }
    shop.must(IssueStock { job: JOB, stage: None, item: None, quantity: None });
    shop.must(complete());
}
