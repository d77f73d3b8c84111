//! The exhaust side of an invented engine: nuts that go by a ladder of their template, plugs with tags, a seal that is
//! always renewed. The strip is under way.
#![allow(dead_code, clippy::missing_panics_doc, clippy::must_use_candidate, reason = "each test takes what it needs")]

use crate::stock_kit::Shop;
use leadhand_domain::answer::{Answer, Made, Next};
use leadhand_domain::command::*;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::strip::{PositionLine, strip_view};
use leadhand_facts::rows::PositionRow;
use leadhand_facts::words::{Manner, Outcome, PositionKind, Role};
use leadhand_facts::*;

pub const JOB: JobNo = JobNo(1);

pub const TEMPLATE: &str = r#"
key = "exhaust"
title = "The exhaust side"

[[ladder]]
key = "studs"

[[ladder.rung]]
do = "Let it soak"
soak = 30

[[ladder.rung]]
do = "Warm it"
skills = ["heating"]
caution = [{ word = "WARNING", text = "Fire watch." }]

[[ladder.rung]]
do = "Heat it through and use the impact wrench"
skills = ["heating"]
last-safe = true

[[ladder.rung]]
do = "Extract it"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]

[[stage.step]]
do = "Take the manifold off"

[[stage.step.off]]
key = "shield"
what = "Heat shield"
behind = ["plugs"]
back = "refit"

[[stage.step.off]]
key = "plugs"
what = "Sensor plugs, all alike"
kind = "connector"
count = 3
tags = true
back = "refit"

[[stage.step.off]]
key = "manifold"
what = "Manifold"
behind = ["shield"]
back = "refit"

[[stage.step.off]]
key = "nuts"
what = "Nuts of the manifold"
kind = "fastener"
count = 8
on = "manifold"
back = "refit"
item = "nut-8"
ladder = "studs"
keep = "tray"

[[stage.step.off]]
key = "bolts"
what = "Bolts of the bracket"
kind = "fastener"
count = 4
behind = ["shield"]
back = "refit"

[[stage.step.off]]
key = "seal"
what = "Seal behind the bolts"
behind = ["bolts"]
renew = "always"
item = "seal-1"
back = "refit"
cure = 60

[[stage]]
key = "refit"
title = "Refit"
minutes = [20, 30, 60]
after = ["strip"]

[[stage.step]]
do = "Put it back"
"#;

pub struct Bench {
    pub shop: Shop,
    pub flint: PersonId,
    pub moss: PersonId,
}

impl Bench {
    /// The strip is under way; Moss acts, who can't heat.
    pub fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let mut add = |name: &str, skills: &[&str]| {
            let skills = skills.iter().map(|&skill| skill.to_owned()).collect();
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills }).made else { panic!() };
            person
        };
        let (flint, moss) = (add("Flint", &["heating"]), add("Moss", &[]));
        shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
        for item in ["nut-8", "seal-1", "bolt-45"] {
            shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Piece });
        }
        shop.must(AddItem { item: "oil".into(), name: "Oil".into(), unit: Unit::Millilitre });
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        shop.must(OpenJob {
            template: Some("exhaust".into()),
            revision: None,
            title: None,
            vehicle: WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None },
            priority: 3,
            promised_at: None,
            with: vec![],
            without: vec![],
        });
        let mut bench = Self { shop, flint, moss };
        bench.acts(moss, Role::Technician);
        bench.must(StartStage { job: JOB, stage: "strip".into(), override_reason: None });
        bench
    }

    pub fn acts(&mut self, person: PersonId, role: Role) {
        (self.shop.person, self.shop.role) = (Some(person), role);
    }

    pub fn run(&mut self, command: impl Into<Command>) -> Result<Answer, Refusal> {
        self.shop.now = self.shop.now.plus_minutes(1);
        self.shop.run_at(&command.into(), self.shop.now)
    }

    pub fn must(&mut self, command: impl Into<Command>) -> Answer {
        self.run(command).unwrap()
    }

    pub fn refused(&mut self, command: impl Into<Command>) -> Refusal {
        self.run(command).unwrap_err()
    }

    pub fn tries(&mut self, attempt: RecordAttempt) -> Option<Next> {
        let Made::Attempt { next, .. } = self.must(attempt).made else { panic!() };
        next
    }

    pub fn row(&self, position: &str) -> &PositionRow {
        self.shop.state.positions.get(&(JOB, position.into())).unwrap()
    }

    pub fn line(&self, position: &str) -> PositionLine {
        let view = strip_view(&self.shop.state, JOB);
        view.positions.into_iter().find(|line| line.row.position.as_str() == position).unwrap()
    }

    pub fn receive(&mut self, item: &str, quantity: i64) {
        let (place, quantity) = ("bin-1".into(), Quantity(quantity));
        self.must(ReceiveStock { item: item.into(), place, quantity, expires_on: None });
    }
}

pub fn tried(outcome: Outcome) -> RecordAttempt {
    RecordAttempt {
        job: JOB,
        position: "nuts".into(),
        rung: None,
        outcome,
        pieces: None,
        item: None,
        plan: None,
        note: None,
        blocked: false,
        override_reason: None,
    }
}

pub fn off(lines: Vec<OffLine>, as_listed: bool) -> TakeOff {
    TakeOff { job: JOB, stage: "strip".into(), step: None, lines, as_listed, override_reason: None }
}

pub fn line(position: &str) -> OffLine {
    OffLine::listed(position.into())
}

pub fn split(position: &str, count: i32) -> SplitPosition {
    SplitPosition {
        job: JOB,
        position: position.into(),
        part: None,
        what: None,
        count,
        size: Some("M8 x 45".into()),
        head: None,
        location: Some("the two lowest holes".into()),
    }
}

pub fn met(what: &str) -> AddPosition {
    AddPosition {
        job: JOB,
        stage: "strip".into(),
        position: None,
        what: what.into(),
        kind: Some(PositionKind::Hose),
        manner: Manner::Off,
        count: 1,
        size: None,
        location: None,
        behind: None,
        attached_to: None,
        keep: None,
        renew: None,
        back: Some("refit".into()),
        note: None,
        later: false,
        tags: true,
        item: None,
    }
}
