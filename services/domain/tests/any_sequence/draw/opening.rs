//! What every shop begins with: bays of three kinds, persons, stock, a template.

use super::{Asked, Desk};
use leadhand_domain::command::*;
use leadhand_facts::Unit;
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::words::BayKind;

/// Stages with options, waits, skills, bay kinds and needs, and a way out after the second.
pub const TEMPLATE: &str = r#"
key = "round"
title = "Once round"

[options.measure]
title = "Measure"
default = true

[options.flush]
title = "Flush"
default = false

[[stage]]
key = "book-in"
title = "Book in"
minutes = [5, 10, 15]

[[stage.step]]
do = "Walk round it"
state = { sets = ["bonnet open"] }

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]
bays = ["two-post-lift", "floor"]
skills = ["engine"]
hands = 2
after = ["book-in"]
may-leave = true
in-one-go = true

[[stage.step]]
do = "Drain and flush"
needs = [{ item = "coolant", quantity = 500, unit = "mL" }]
when = "flush"

[[stage.step]]
do = "Take it off"
shared-tools = ["lock"]
hazard = ["spring"]
state = { needs = ["bonnet open"], sets = ["battery isolated"] }
fluid = [{ key = "coolant", what = "Coolant", expected = "900 mL", back = "fit" }]
needs = [{ item = "gasket", quantity = 2 }, { item = "seal", quantity = 1 }]

[[stage.step.in]]
key = "cover"
what = "Cover"
count = 2
behind = []
back = "fit"

[[stage.step.off]]
key = "lid"
what = "Lid"
kind = "part"
back = "fit"

[[stage.step.off]]
key = "lid-bolts"
what = "Bolts of the lid"
kind = "fastener"
count = 4
on = "lid"
back = "fit"
item = "seal"
tags = true

[[stage.step.off]]
key = "set"
what = "Set behind the lid"
kind = "fastener"
count = 3
behind = ["lid"]
renew = "always"
second-check = true
back = "fit"

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
bays = ["two-post-lift", "pit"]
after = [{ stage = "strip", wait = 5 }, "measure"]

[[stage.step]]
do = "Put it back"
needs = [{ item = "gasket", quantity = 1 }, { item = "coolant", quantity = 400, unit = "mL" }]

[[stage.step]]
do = "Tighten it"
shared-tools = ["lock", "gauge"]
state = { needs = ["battery isolated"], sets = ["battery connected", "bonnet latched"] }

[[stage.step]]
do = "Look at it"
hold = "tight"
"#;

const STOCK: &str = "item,name,unit,place,quantity,expires_on\n\
    gasket,Gasket,1,a,4,\n\
    gasket,Gasket,1,b,1,2026-05-06\n\
    seal,Seal,1,a,2,\n\
    coolant,Coolant,mL,b,2000,2026-05-05\n";

/// Hours on one day of the week, so that the calendar stays short.
pub fn week(day: usize, from_minute: i32, until_minute: i32) -> Week {
    let mut week = Week::default();
    week.0[day] = vec![DayHours { from_minute, until_minute }];
    week
}

/// The commands with which a shop begins; each must be accepted.
pub fn opening(desk: &mut Desk) -> Vec<Asked> {
    let bay = |bay: &str, kind, rated_kg| AddBay { bay: bay.into(), name: format!("Bay {bay}"), kind, rated_kg };
    let person = |name: &str, skills: &[&str]| AddPerson {
        name: name.into(),
        skills: skills.iter().map(|&skill| skill.into()).collect(),
    };
    let commands: Vec<Command> = vec![
        OpenShop { name: "Shed".into(), zone: "Europe/Lisbon".into() }.into(),
        SetHours { from_day: "2026-05-04".into(), week: week(0, 480, 1020) }.into(),
        bay("lift-1", BayKind::TwoPostLift, 2000).into(),
        bay("floor-1", BayKind::Floor, 3500).into(),
        bay("pit-1", BayKind::Pit, 3500).into(),
        person("Flint", &["engine"]).into(),
        person("Moss", &[]).into(),
        person("Wren", &["engine"]).into(),
        ImportStock { csv: STOCK.into() }.into(),
        AddItem { item: "clip-1".into(), name: "Clip".into(), unit: Unit::Piece, fluid: None }.into(),
        SetSupplier { supplier: "north".into(), name: "North Parts".into(), rounds: vec![] }.into(),
        AddTool { tool: "lock".into(), name: "Lock".into(), what: None, calibration_due: None }.into(),
        AddTool {
            tool: "gauge".into(),
            name: "Gauge".into(),
            what: Some("0 to 25 mm".into()),
            calibration_due: Some("2026-05-06".into()),
        }
        .into(),
        PublishTemplate { source: TEMPLATE.into() }.into(),
        super::doors::tablet().into(),
    ];
    let asked = commands.into_iter().map(|command| {
        desk.now = desk.now.plus_minutes(1);
        Asked { command, context: desk.context() }
    });
    asked.collect()
}
