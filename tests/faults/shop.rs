//! The shops that the clients work in: few bays, few hot items, so that commands get in each
//! other's way.

use crate::command::Command;
use crate::edge::{Edge, Said};
use anyhow::{Context, Result, ensure};
use leadhand_proto::v1;
use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;
use uuid::Uuid;

pub const BAYS: [(&str, v1::BayKind); 3] =
    [("lift-1", v1::BayKind::TwoPostLift), ("floor-1", v1::BayKind::Floor), ("floor-2", v1::BayKind::Floor)];
pub const ITEMS: [(&str, &str); 4] = [("gasket", "1"), ("seal", "1"), ("coolant", "mL"), ("bolt", "1")];
pub const PLACES: [&str; 2] = ["a1", "b2"];
pub const STAGES: [&str; 3] = ["strip", "fit", "close"];
pub const TEMPLATE: &str = "seal-job";

const TECHNICIANS: [&str; 4] = ["Alder", "Birch", "Cedar", "Dorn"];

const TEMPLATE_FILE: &str = r#"
key = "seal-job"
title = "Renew a seal"

[[stage]]
key = "strip"
title = "Strip"
minutes = [10, 20, 40]
may-leave = true

[[stage.step]]
do = "Take the cover off"

[[stage]]
key = "fit"
title = "Fit"
minutes = [10, 20, 40]
after = ["strip"]
may-leave = true

[[stage.step]]
do = "Put the new one on"
needs = [{ item = "gasket", quantity = 2 }, { item = "seal", quantity = 1 }]

[[stage.step]]
do = "Fill up"
needs = [{ item = "coolant", quantity = 1500, unit = "mL" }]

[[stage]]
key = "close"
title = "Close"
minutes = [5, 10, 20]
after = ["fit"]
may-leave = true

[[stage.step]]
do = "Bolt the cover on"
needs = [{ item = "bolt", quantity = 6 }]
"#;

/// A shop, and who may do what in it.
pub struct Shop {
    pub lead: String,
    /// Secrets of the technicians' tokens.
    pub hands: Vec<String>,
    /// Jobs opened so far: they are numbered from 1 without a gap.
    opened: AtomicI64,
}

impl Shop {
    /// Furnishes a shop of which there is only the lead's token.
    pub async fn furnish(edge: &Edge, lead: String, seed: u64) -> Result<Self> {
        let mut setting_up = SettingUp { edge, lead: &lead, random: StdRng::seed_from_u64(seed) };
        setting_up.calendar().await?;
        setting_up.goods().await?;
        let hands = setting_up.hands().await?;
        Ok(Self { lead, hands, opened: AtomicI64::new(0) })
    }

    pub fn count_opened(&self) {
        self.opened.fetch_add(1, Ordering::Relaxed);
    }

    pub fn jobs(&self) -> i64 {
        self.opened.load(Ordering::Relaxed)
    }
}

struct SettingUp<'a> {
    edge: &'a Edge,
    lead: &'a str,
    random: StdRng,
}

impl SettingUp<'_> {
    fn write(&mut self) -> v1::WriteContext {
        v1::WriteContext { request_id: new_id(&mut self.random).to_string(), ..Default::default() }
    }

    async fn must(&mut self, command: Command) -> Result<Said> {
        let within = Duration::from_secs(10);
        command.send(self.edge, self.lead, within).await.with_context(|| format!("{command:?} was refused"))
    }

    async fn calendar(&mut self) -> Result<()> {
        let all_day = || v1::DayHours { from_minute: 0, until_minute: 1440 };
        let week = (1..=7).map(|weekday| v1::WeekdayHours { weekday, hours: vec![all_day()] }).collect();
        let write = Some(self.write());
        self.must(Command::Hours(v1::SetHoursRequest { write, from_day: "2026-01-01".to_owned(), week })).await?;
        for (bay, kind) in BAYS {
            let bay = Some(v1::Bay { bay: bay.into(), name: bay.into(), kind: kind.into(), rated_kg: 3_000 });
            let write = Some(self.write());
            self.must(Command::Bay(v1::AddBayRequest { write, bay })).await?;
        }
        Ok(())
    }

    async fn goods(&mut self) -> Result<()> {
        for place in PLACES {
            let write = Some(self.write());
            self.must(Command::Place(v1::AddPlaceRequest { write, place: place.into(), name: place.into() })).await?;
        }
        for (item, unit) in ITEMS {
            let write = Some(self.write());
            let (item, name, unit) = (item.into(), item.into(), unit.into());
            self.must(Command::Item(v1::AddItemRequest { write, item, name, unit, fluid: None })).await?;
        }
        let write = Some(self.write());
        self.must(Command::Template(v1::PublishTemplateRequest { write, source: TEMPLATE_FILE.to_owned() })).await?;
        Ok(())
    }

    async fn hands(&mut self) -> Result<Vec<String>> {
        let mut secrets = Vec::new();
        for name in TECHNICIANS {
            let write = Some(self.write());
            self.must(Command::Person(v1::AddPersonRequest { write, name: name.into(), skills: vec![] })).await?;
            let write = Some(self.write());
            let role = v1::Role::Technician.into();
            let asked = v1::IssueTokenRequest { write, role, person: name.into(), ..Default::default() };
            let secret = self.edge.issue_token(self.lead, asked).await?;
            ensure!(!secret.is_empty(), "the token of {name} came without its secret");
            secrets.push(secret);
        }
        Ok(secrets)
    }
}

/// A random id (version 4).
pub fn new_id(random: &mut StdRng) -> Uuid {
    let mut bytes = [0; 16];
    random.fill_bytes(&mut bytes);
    uuid::Builder::from_random_bytes(bytes).into_uuid()
}
