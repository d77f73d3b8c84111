//! One vehicle in a bay: a template is published, a job is open, Flint and Moss work on it, a minute a command.
#![allow(dead_code, clippy::missing_panics_doc, clippy::must_use_candidate, reason = "each test takes what it needs")]

use crate::stock_kit::Shop;
use leadhand_domain::answer::{Answer, Made};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::rows::{PositionRow, StepRow};
use leadhand_facts::words::{Manner, Role, VehicleState};
use leadhand_facts::*;

pub const JOB: JobNo = JobNo(1);

pub struct Bench {
    pub shop: Shop,
    pub flint: PersonId,
    pub moss: PersonId,
}

impl Bench {
    /// A job by this template; nothing has begun, and nobody in particular acts.
    pub fn new(template: &str) -> Self {
        Self::prepared(template, |_, _| {})
    }

    /// The same in a shop that was made ready first: for Flint, say.
    pub fn prepared(template: &str, prepare: impl FnOnce(&mut Shop, PersonId)) -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let mut add = |name: &str| {
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills: vec![] }).made else {
                panic!()
            };
            person
        };
        let (flint, moss) = (add("Flint"), add("Moss"));
        prepare(&mut shop, flint);
        let Made::Template { template, .. } = shop.must(PublishTemplate { source: template.into() }).made else {
            panic!()
        };
        shop.must(OpenJob {
            template: Some(template),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        Self { shop, flint, moss }
    }

    /// The same, and Flint has begun this stage.
    pub fn begun(template: &str, stage: &str) -> Self {
        let mut bench = Self::new(template);
        bench.acts(bench.flint, Role::Technician);
        bench.must(start(stage));
        bench
    }

    pub fn acts(&mut self, person: PersonId, role: Role) {
        (self.shop.person, self.shop.role) = (Some(person), role);
    }

    /// A device acts, at which nobody is signed in.
    pub fn device(&mut self, role: Role) {
        (self.shop.person, self.shop.role) = (None, role);
    }

    pub fn run(&mut self, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.now = self.shop.now.plus_minutes(1);
        self.shop.run_at(&command.into(), self.shop.now)
    }

    pub fn must(&mut self, command: impl Into<Command>) -> Answer {
        self.run(command).unwrap()
    }

    pub fn refusal(&mut self, command: impl Into<Command>) -> Refusal {
        self.run(command).unwrap_err()
    }

    /// The code of the refusal.
    pub fn refused(&mut self, command: impl Into<Command>) -> &'static str {
        self.refusal(command).reason()
    }

    pub fn row(&self, position: &str) -> &PositionRow {
        self.shop.state.positions.get(&(JOB, position.into())).unwrap()
    }

    pub fn step(&self, stage: &str, step: i32) -> &StepRow {
        self.shop.state.steps.get(&(JOB, stage.into(), StepNo(step))).unwrap()
    }
}

pub fn start(stage: &str) -> StartStage {
    StartStage { job: JOB, stage: stage.into(), override_reason: None }
}

pub fn finish(stage: &str, as_listed: bool) -> FinishStage {
    FinishStage { job: JOB, stage: stage.into(), as_listed }
}

pub fn tick(stage: &str, steps: &[i32]) -> TickSteps {
    let steps = steps.iter().map(|step| StepNo(*step)).collect();
    TickSteps { job: JOB, stage: stage.into(), steps, override_reason: None }
}

pub fn line(position: &str) -> OffLine {
    OffLine::listed(position.into())
}

/// Off in the stage that is called strip.
pub fn off(lines: Vec<OffLine>, as_listed: bool) -> TakeOff {
    TakeOff { job: JOB, stage: "strip".into(), step: None, lines, as_listed, override_reason: None }
}

/// Nothing said but which.
pub fn put(position: &str) -> BackLine {
    BackLine::listed(position.into())
}

/// Back in the stage that is called refit.
pub fn back(lines: Vec<BackLine>) -> PutBack {
    PutBack { job: JOB, stage: "refit".into(), lines, as_listed: false, override_reason: None }
}

pub fn set(state: VehicleState) -> SetVehicleStates {
    SetVehicleStates { job: JOB, states: vec![state], reason: None }
}

/// Met in the stage that is called strip, and nobody said behind what.
pub fn met(what: &str) -> AddPosition {
    AddPosition {
        job: JOB,
        stage: "strip".into(),
        position: None,
        what: what.into(),
        kind: None,
        manner: Manner::Off,
        count: 1,
        size: None,
        location: None,
        behind: None,
        attached_to: None,
        keep: None,
        renew: None,
        back: None,
        note: None,
        later: false,
        tags: false,
        item: None,
        fitting: Fitting::default(),
    }
}
