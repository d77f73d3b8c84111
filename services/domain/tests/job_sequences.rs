//! Any sequence of commands of the workshop floor keeps the laws of the auditor, which shares no
//! code with the rules: after every command, cell by cell (promises 4, 5, 6 and 10). Each command
//! is also decided on only the rows that it asked to have loaded, with the same facts.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, Cause, Role, StageKind, StageState};
use leadhand_facts::*;
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeSet;
use std::sync::{Mutex, PoisonError};
use stock_kit::Shop;

const BAYS: [&str; 3] = ["lift-1", "floor-1", "pit-1"];
const STAGES: [&str; 5] = ["book-in", "strip", "cool", "measure", "fit"];

/// Stages with a wait, a wait stage, an option, bay kinds, and a way out after the second.
const TEMPLATE: &str = r#"
key = "round"
title = "Once round"

[options.measure]
title = "Measure"
default = true

[[stage]]
key = "book-in"
title = "Book in"
minutes = [5, 10, 15]

[[stage.step]]
do = "Walk round it"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]
bays = ["two-post-lift", "floor"]
skills = ["engine"]
after = ["book-in"]
may-leave = true

[[stage.step]]
do = "Take it off"

[[stage.step]]
do = "Bag it"

[[stage]]
key = "cool"
title = "Cool"
kind = "wait"
hands = 0
minutes = [10, 20, 40]
after = ["book-in"]

[[stage]]
key = "measure"
title = "Measure"
minutes = [5, 10, 20]
after = ["strip", { stage = "cool", wait = 15 }]
when = "measure"

[[stage]]
key = "fit"
title = "Fit"
minutes = [20, 30, 60]
bays = ["two-post-lift"]
after = ["measure"]

[[stage.step]]
do = "Put it back"
"#;

#[derive(Debug, Clone)]
enum Act {
    Open { blank: bool, measure: bool },
    Assign { job: i64, bay: usize, reason: bool },
    RollOut { job: i64, reason: bool },
    Start { job: i64, stage: usize, reason: bool },
    Finish { job: i64, stage: usize, as_listed: bool },
    SkipStage { job: i64, stage: usize },
    Tick { job: i64, stage: usize, step: Option<i32> },
    SkipStep { job: i64, stage: usize, step: i32 },
    AddStage { job: i64, after: Option<usize>, before: Option<usize> },
    Raise { job: i64, stage: usize },
    Clear { job: i64, blocker: i32 },
    ClockOn { job: i64, stage: usize, reason: bool },
    ClockOff,
    Work { job: i64, stage: usize, from: i64, length: i64, reason: bool },
    Complete { job: i64 },
    Cancel { job: i64 },
    Who { person: usize, lead: bool },
    Wait { minutes: i64 },
    Timer,
}

fn act() -> impl Strategy<Value = Act> {
    let (job, stage, bay) = (1..4_i64, 0..STAGES.len(), 0..BAYS.len());
    let at = (job.clone(), stage.clone());
    let yes = any::<bool>();
    prop_oneof![
        2 => (yes, yes).prop_map(|(blank, measure)| Act::Open { blank, measure }),
        5 => (job.clone(), bay, yes).prop_map(|(job, bay, reason)| Act::Assign { job, bay, reason }),
        2 => (job.clone(), yes).prop_map(|(job, reason)| Act::RollOut { job, reason }),
        9 => (at.clone(), yes).prop_map(|((job, stage), reason)| Act::Start { job, stage, reason }),
        7 => (at.clone(), yes).prop_map(|((job, stage), as_listed)| Act::Finish { job, stage, as_listed }),
        1 => at.clone().prop_map(|(job, stage)| Act::SkipStage { job, stage }),
        3 => (at.clone(), proptest::option::of(1..3_i32)).prop_map(|((job, stage), step)| Act::Tick { job, stage, step }),
        1 => (at.clone(), 1..3_i32).prop_map(|((job, stage), step)| Act::SkipStep { job, stage, step }),
        1 => (job.clone(), proptest::option::of(stage.clone()), proptest::option::of(stage.clone()))
            .prop_map(|(job, after, before)| Act::AddStage { job, after, before }),
        2 => at.clone().prop_map(|(job, stage)| Act::Raise { job, stage }),
        2 => (job.clone(), 1..3_i32).prop_map(|(job, blocker)| Act::Clear { job, blocker }),
        3 => (at.clone(), yes).prop_map(|((job, stage), reason)| Act::ClockOn { job, stage, reason }),
        2 => Just(Act::ClockOff),
        3 => (at, 0..200_i64, -5..90_i64, yes)
            .prop_map(|((job, stage), from, length, reason)| Act::Work { job, stage, from, length, reason }),
        1 => job.clone().prop_map(|job| Act::Complete { job }),
        1 => job.prop_map(|job| Act::Cancel { job }),
        4 => (0..3_usize, yes).prop_map(|(person, lead)| Act::Who { person, lead }),
        3 => (1..60_i64).prop_map(|minutes| Act::Wait { minutes }),
        2 => Just(Act::Timer),
    ]
}

struct Floor {
    shop: Shop,
    persons: Vec<PersonId>,
}

impl Floor {
    fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
        for (bay, kind) in BAYS.into_iter().zip([BayKind::TwoPostLift, BayKind::Floor, BayKind::Pit]) {
            shop.must(AddBay { bay: bay.into(), name: bay.into(), kind, rated_kg: 2000 });
        }
        let mut add = |name: &str, skills: &[&str]| {
            let skills = skills.iter().map(|&skill| skill.to_owned()).collect();
            match shop.must(AddPerson { name: name.into(), skills }).made {
                Made::Person(person) => person,
                made => panic!("{made:?}"),
            }
        };
        let persons = vec![add("Flint", &["engine"]), add("Moss", &[]), add("Wren", &["engine"])];
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        Self { shop, persons }
    }

    /// Moves time and persons, or gives the command to be run.
    fn command(&mut self, act: &Act) -> Option<Command> {
        let reason = |yes: bool| yes.then(|| "the lead says so".to_owned());
        let stage = |stage: usize| StageKey::from(STAGES[stage]);
        Some(match *act {
            Act::Open { blank, measure } => open(blank, measure).into(),
            Act::Assign { job, bay, reason: why } => {
                AssignJob { job: JobNo(job), bay: BAYS[bay].into(), override_reason: reason(why) }.into()
            }
            Act::RollOut { job, reason: why } => RollOut { job: JobNo(job), override_reason: reason(why) }.into(),
            Act::Start { job, stage: at, reason: why } => {
                StartStage { job: JobNo(job), stage: stage(at), override_reason: reason(why) }.into()
            }
            Act::Finish { job, stage: at, as_listed } => {
                FinishStage { job: JobNo(job), stage: stage(at), as_listed }.into()
            }
            Act::SkipStage { job, stage: at } => {
                SkipStage { job: JobNo(job), stage: stage(at), reason: "not needed".into() }.into()
            }
            Act::Tick { job, stage: at, step } => {
                // Mostly a stage under way, if there is one: on any other nothing can be ticked.
                let under_way = self.shop.state.stages.iter().find(|row| row.state == StageState::Active);
                let (job, stage) = under_way.map_or((JobNo(job), stage(at)), |row| (row.job, row.stage.clone()));
                TickSteps { job, stage, steps: step.map(StepNo).into_iter().collect() }.into()
            }
            Act::SkipStep { job, stage: at, step } => {
                SkipStep { job: JobNo(job), stage: stage(at), step: StepNo(step), reason: "not needed".into() }.into()
            }
            Act::AddStage { job, after, before } => extra(JobNo(job), after.map(stage), before.map(stage)).into(),
            Act::Raise { job, stage: at } => raise(JobNo(job), stage(at), self.persons.first().copied()).into(),
            Act::Clear { job, blocker } => {
                ClearBlocker { job: JobNo(job), blocker: BlockerNo(blocker), note: None }.into()
            }
            Act::ClockOn { job, stage: at, reason: why } => {
                ClockOn { job: JobNo(job), stage: stage(at), override_reason: reason(why) }.into()
            }
            Act::ClockOff => ClockOff {}.into(),
            Act::Work { job, stage: at, from, length, reason: why } => {
                let from_at = self.shop.now.plus_minutes(-from);
                let until_at = from_at.plus_minutes(length);
                let (job, stage, override_reason) = (JobNo(job), stage(at), reason(why));
                RecordWork { job, stage, from_at, until_at, override_reason }.into()
            }
            Act::Complete { job } => CompleteJob { job: JobNo(job) }.into(),
            Act::Cancel { job } => CancelJob { job: JobNo(job), reason: "the customer changed plans".into() }.into(),
            Act::Who { person, lead } => {
                self.shop.person = self.persons.get(person).copied();
                self.shop.role = if lead { Role::Lead } else { Role::Technician };
                return None;
            }
            Act::Wait { minutes } => {
                self.shop.now = self.shop.now.plus_minutes(minutes);
                return None;
            }
            Act::Timer => Tick {}.into(),
        })
    }
}

fn raise(job: JobNo, stage: StageKey, owner: Option<PersonId>) -> RaiseBlocker {
    let note = Some("the puller is lent".into());
    RaiseBlocker { job, stage, cause: Cause::Tool, owner, expected_at: None, note }
}

fn open(blank: bool, measure: bool) -> OpenJob {
    OpenJob {
        template: (!blank).then(|| "round".into()),
        revision: None,
        title: blank.then(|| "Rattle".to_owned()),
        vehicle: WhichVehicle::New { label: "van".into(), weight_kg: Some(1500) },
        priority: 3,
        promised_at: None,
        with: Vec::new(),
        without: if measure { Vec::new() } else { vec![OptionKey::from("measure")] },
    }
}

fn extra(job: JobNo, after: Option<StageKey>, before: Option<StageKey>) -> AddStage {
    AddStage {
        job,
        stage: None,
        title: "Extract what broke".into(),
        kind: StageKind::Work,
        minutes: Minutes { low: 5, likely: 10, high: 30 },
        bays: vec![],
        skills: vec![],
        hands: 1,
        tools: vec![],
        after_last: after.is_none(),
        after: after.into_iter().map(|stage| JobAfter { stage, wait_minutes: 5 }).collect(),
        before: before.into_iter().collect(),
        may_leave: false,
        steps: vec!["Drill it".into()],
    }
}

/// Commands that were accepted at least once, over all cases.
static ACCEPTED: Mutex<BTreeSet<&'static str>> = Mutex::new(BTreeSet::new());

fn run(acts: &[Act], late: &[i64]) {
    let mut floor = Floor::open();
    for (act, late) in acts.iter().zip(late.iter().cycle()) {
        let Some(command) = floor.command(act) else { continue };
        floor.shop.now = floor.shop.now.plus_minutes(1);
        let at = floor.shop.now.plus_minutes(-*late);
        match floor.shop.run_at(&command, at) {
            Ok(_) => {
                ACCEPTED.lock().unwrap_or_else(PoisonError::into_inner).insert(command.name());
            }
            Err(refusal) => assert_ne!(refusal.reason(), "DEFECT", "{}: {refusal}", command.name()),
        }
    }
}

#[test]
fn the_laws_hold_after_every_command() {
    let cases = proptest::test_runner::Config::default().cases.min(96);
    // The same cases every time, so that what is asked of them below is a fact and not a chance.
    let rng = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::with_cases(cases), rng);
    let acts = proptest::collection::vec(act(), 1..120);
    let late = proptest::collection::vec(prop_oneof![6 => Just(0_i64), 1 => 1..30_i64], 1..20);
    runner
        .run(&(acts, late), |(acts, late)| {
            run(&acts, &late);
            Ok(())
        })
        .unwrap();
    // A generator that only makes impossible commands would prove nothing.
    let accepted = ACCEPTED.lock().unwrap_or_else(PoisonError::into_inner);
    let wanted = [
        "OpenJob",
        "AssignJob",
        "RollOut",
        "StartStage",
        "FinishStage",
        "SkipStage",
        "TickSteps",
        "SkipStep",
        "AddStage",
        "RaiseBlocker",
        "ClearBlocker",
        "ClockOn",
        "ClockOff",
        "RecordWork",
        "CancelJob",
        "Tick",
    ];
    let idle: Vec<&str> = wanted.into_iter().filter(|name| !accepted.contains(name)).collect();
    assert!(idle.is_empty(), "never accepted: {idle:?}");
}

#[test]
fn a_stage_named_twice_keeps_the_longer_wait_in_front_and_is_refused_behind() {
    let mut floor = Floor::open();
    floor.shop.must(open(false, true));
    let job = JobNo(1);
    let wait = |wait_minutes| JobAfter { stage: "book-in".into(), wait_minutes };
    let twice = AddStage { after: vec![wait(0), wait(60)], ..extra(job, Some("book-in".into()), None) };
    let Made::Stage { stage, .. } = floor.shop.must(twice).made else { panic!("no stage") };
    let row = floor.shop.state.afters.get(&(job, stage, "book-in".into())).unwrap();
    assert_eq!(row.wait_minutes, 60);
    let behind = AddStage { before: vec!["fit".into(), "fit".into()], ..extra(job, Some("book-in".into()), None) };
    assert_eq!(floor.shop.refused(behind).field(), Some("before[1]"));
}
