//! The exhaust side of an invented engine: nuts that go by a ladder of their template, plugs with tags, a seal that is
//! always renewed. The strip is under way.
#![allow(dead_code, clippy::missing_panics_doc, clippy::must_use_candidate, reason = "each test takes what it needs")]

use crate::bay_kit::*;
use crate::stock_kit::Shop;
use leadhand_domain::answer::{Made, Next};
use leadhand_domain::command::*;
use leadhand_domain::view::strip::{PositionLine, strip_view};
use leadhand_facts::words::{Outcome, PositionKind, Role};
use leadhand_facts::*;

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

/// The strip is under way; Moss acts, who can't heat.
pub fn open() -> Bench {
    let mut bench = Bench::prepared(TEMPLATE, stock);
    bench.acts(bench.moss, Role::Technician);
    bench.must(start("strip"));
    bench
}

/// What the template names is kept, and Flint can heat.
pub fn stock(shop: &mut Shop, flint: PersonId) {
    shop.must(SetSkills { person: flint, skills: vec!["heating".into()] });
    shop.must(AddPlace { place: "bin-1".into(), name: "Bin 1".into() });
    for item in ["nut-8", "seal-1", "bolt-45"] {
        shop.must(AddItem { item: item.into(), name: item.into(), unit: Unit::Piece, fluid: None });
    }
    shop.must(AddItem { item: "oil".into(), name: "Oil".into(), unit: Unit::Millilitre, fluid: None });
}

impl Bench {
    pub fn tries(&mut self, attempt: RecordAttempt) -> Option<Next> {
        let Made::Attempt { next, .. } = self.must(attempt).made else { panic!() };
        next
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

/// A hose that was met, with tags.
pub fn hose(what: &str) -> AddPosition {
    AddPosition { kind: Some(PositionKind::Hose), back: Some("refit".into()), tags: true, ..met(what) }
}
