//! One job on the floor of an invented shop on one day: book-in, then strip (a two-post lift, skill
//! engine, two steps) and wash (a floor), and refit half an hour after strip.
#![allow(dead_code, clippy::missing_panics_doc, reason = "each test takes what it needs")]
#![allow(clippy::unnecessary_wraps, reason = "a reason as commands take it")]

use crate::stock_kit::{Shop, instant};
use leadhand_domain::answer::{Answer, Made};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::rows::{ClockingRow, StageRow};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::{BayKind, Role, StageKind};
use leadhand_facts::*;

pub const JOB: JobNo = JobNo(1);

const TEMPLATE: &str = r#"
key = "floor"
title = "A day on the floor"

[[stage]]
key = "book-in"
title = "Book in"
minutes = [5, 10, 15]

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]
bays = ["two-post-lift"]
skills = ["engine"]
after = ["book-in"]

[[stage.step]]
do = "Take it off"

[[stage.step]]
do = "Bag it"

[[stage]]
key = "wash"
title = "Wash"
minutes = [5, 10, 20]
bays = ["floor"]
after = ["book-in"]

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = [{ stage = "strip", wait = 30 }]
"#;

pub struct Floor {
    pub shop: Shop,
    /// Has the skill engine.
    pub flint: PersonId,
    /// Has none.
    pub moss: PersonId,
}

/// A time of the day.
pub fn at(time: &str) -> Instant {
    instant(&format!("2026-05-04T{time}:00Z"))
}

impl Floor {
    /// The vehicle is in lift-1 from 08:00 on and booked in from 08:05 to 08:10, by nobody. Flint is
    /// the one who acts, as a technician.
    pub fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        for (bay, kind) in
            [("lift-1", BayKind::TwoPostLift), ("lift-2", BayKind::TwoPostLift), ("floor-1", BayKind::Floor)]
        {
            shop.must(AddBay { bay: bay.into(), name: bay.into(), kind, rated_kg: 2000 });
        }
        let mut add = |name: &str, skills: &[&str]| {
            let skills = skills.iter().map(|&skill| skill.to_owned()).collect();
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills }).made else { panic!() };
            person
        };
        let (flint, moss) = (add("Flint", &["engine"]), add("Moss", &[]));
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        let mut floor = Self { shop, flint, moss };
        floor.at("07:50", open_job()).unwrap();
        floor.at("08:00", assign("lift-1")).unwrap();
        floor.at("08:05", start("book-in")).unwrap();
        floor.at("08:10", finish("book-in")).unwrap();
        floor.acts(Some(flint), Role::Technician);
        floor
    }

    /// Who acts from now on.
    pub fn acts(&mut self, person: Option<PersonId>, role: Role) {
        (self.shop.person, self.shop.role) = (person, role);
    }

    /// Runs a command at this time of the day.
    pub fn at(&mut self, time: &str, command: impl Into<Command>) -> Result<Answer, Refusal> {
        assert!(self.shop.now <= at(time), "the day goes on");
        self.shop.now = at(time);
        self.late(time, command)
    }

    /// Runs a command as entered late.
    pub fn late(&mut self, time: &str, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.run_at(&command.into(), at(time))
    }

    /// Enters something now.
    pub fn now(&mut self, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.run_at(&command.into(), self.shop.now)
    }

    pub fn stage(&self, stage: &str) -> &StageRow {
        self.shop.state.stages.get(&(JOB, stage.into())).unwrap()
    }

    /// The time of persons on a stage.
    pub fn work(&self, stage: &str) -> Vec<&ClockingRow> {
        self.shop.state.clockings.iter().filter(|row| row.stage.as_str() == stage).collect()
    }
}

pub fn open_job() -> OpenJob {
    OpenJob {
        template: Some("floor".into()),
        revision: None,
        title: None,
        vehicle: WhichVehicle::New { label: "van".into(), weight_kg: Some(1500), plate: None, customer: None },
        priority: 3,
        promised_at: None,
        with: vec![],
        without: vec![],
    }
}

pub fn assign(bay: &str) -> AssignJob {
    AssignJob { job: JOB, bay: bay.into(), override_reason: None }
}

pub fn start(stage: &str) -> StartStage {
    StartStage { job: JOB, stage: stage.into(), override_reason: None }
}

pub fn finish(stage: &str) -> FinishStage {
    FinishStage { job: JOB, stage: stage.into(), as_listed: true }
}

pub fn skip(stage: &str) -> SkipStage {
    SkipStage { job: JOB, stage: stage.into(), reason: "not needed".into() }
}

pub fn on(stage: &str) -> ClockOn {
    ClockOn { job: JOB, stage: stage.into(), override_reason: None }
}

pub fn work(stage: &str, from: &str, until: &str) -> RecordWork {
    RecordWork { job: JOB, stage: stage.into(), from_at: at(from), until_at: at(until), override_reason: None }
}

pub fn tick(step: i32) -> TickSteps {
    TickSteps { job: JOB, stage: "strip".into(), steps: vec![StepNo(step)], override_reason: None }
}

pub fn why() -> Option<String> {
    Some("he does it beside me".into())
}

/// A stage "extra" behind another.
pub fn extra(after: &str) -> AddStage {
    AddStage {
        job: JOB,
        stage: Some("extra".into()),
        title: "Look again".into(),
        kind: StageKind::Work,
        minutes: Minutes { low: 1, likely: 2, high: 3 },
        bays: vec![],
        skills: vec![],
        hands: 1,
        tools: vec![],
        after: vec![JobAfter { stage: after.into(), wait_minutes: 0 }],
        after_last: false,
        before: vec![],
        may_leave: false,
        in_one_go: false,
        steps: vec![],
    }
}

/// The code of a refusal.
pub fn code(answer: Result<Answer, Refusal>) -> &'static str {
    answer.unwrap_err().reason()
}
