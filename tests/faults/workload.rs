//! Random commands. Most of them fit what the shop is doing, some do not and are refused.

use crate::command::Command;
use crate::shop::{BAYS, ITEMS, PLACES, STAGES, Shop, TEMPLATE};
use leadhand_proto::v1;
use rand::RngExt;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use uuid::Uuid;

/// Jobs that are being worked on at a time, more or less.
const RECENT: i64 = 10;

/// A request of which everything is decided, the token included.
#[derive(Debug, Clone)]
pub struct Asked {
    pub request: Uuid,
    pub token: String,
    pub command: Command,
}

/// Draws commands for a shop.
pub struct Draw<'a> {
    pub shop: &'a Shop,
    pub random: &'a mut StdRng,
}

impl Draw<'_> {
    pub fn next(mut self, request: Uuid) -> Asked {
        let write = Some(v1::WriteContext { request_id: request.to_string(), ..Default::default() });
        let (command, by_hands) = match self.random.random_range(0..100) {
            0..35 => (self.stock(write), false),
            35..60 => (self.job(write), false),
            60..85 => (self.work(write), true),
            _ => (self.trouble(write), true),
        };
        let token = if by_hands && self.random.random_bool(0.9) {
            self.shop.hands.choose(self.random).unwrap_or(&self.shop.lead)
        } else {
            &self.shop.lead
        };
        Asked { request, token: token.clone(), command }
    }

    fn stock(&mut self, write: Option<v1::WriteContext>) -> Command {
        let (item, _) = ITEMS[self.random.random_range(0..ITEMS.len())];
        let (item, place) = (item.to_owned(), self.pick(&PLACES));
        let quantity = self.random.random_range(1..=20) * if item == "coolant" { 500 } else { 1 };
        let job = self.recent();
        let every = String::new();
        match self.random.random_range(0..35) {
            0..10 => Command::Receive(v1::ReceiveStockRequest { write, item, place, quantity, expires_on: every }),
            10..14 => {
                Command::Count(v1::CountStockRequest { write, item, place, counted: quantity, reason: "shelf".into() })
            }
            14..16 => Command::Scrap(v1::ScrapStockRequest { write, item, place, quantity: 1, reason: "bent".into() }),
            16..24 => Command::Reserve(v1::ReserveStockRequest { write, job, stage: every }),
            24..30 => {
                Command::Issue(v1::IssueStockRequest { write, job, stage: every, item: String::new(), quantity: 0 })
            }
            30..33 => Command::Return(v1::ReturnStockRequest { write, job, item, quantity: 1, place }),
            _ => Command::Release(v1::ReleaseStockRequest { write, job, stage: every, item }),
        }
    }

    fn job(&mut self, write: Option<v1::WriteContext>) -> Command {
        let job = self.recent();
        match self.random.random_range(0..25) {
            0..8 => {
                let template = if self.random.random_bool(0.9) { TEMPLATE.to_owned() } else { String::new() };
                let title = if template.is_empty() { "A rattle".to_owned() } else { String::new() };
                let vehicle_label = format!("van {}", self.random.random_range(1..1_000));
                let priority = self.random.random_range(1..=5);
                let rest = v1::OpenJobRequest::default();
                Command::Open(v1::OpenJobRequest { write, template, title, vehicle_label, priority, ..rest })
            }
            8..16 => {
                let (bay, _) = BAYS[self.random.random_range(0..BAYS.len())];
                let override_reason = self.perhaps("another one is urgent");
                Command::Assign(v1::AssignJobRequest { write, job, bay: bay.to_owned(), override_reason })
            }
            16..20 => {
                let override_reason = self.perhaps("the bay is needed");
                Command::RollOut(v1::RollOutJobRequest { write, job, override_reason })
            }
            20..23 => {
                let priority = self.random.random_range(1..=5);
                Command::Promise(v1::PromiseJobRequest { write, job, priority, ..Default::default() })
            }
            23..24 => Command::Complete(v1::CompleteJobRequest { write, job, ..Default::default() }),
            _ => Command::Cancel(v1::CancelJobRequest {
                write,
                job,
                reason: "not wanted any more".to_owned(),
                as_it_is: true,
            }),
        }
    }

    fn work(&mut self, write: Option<v1::WriteContext>) -> Command {
        let (job, stage) = (self.recent(), self.pick(&STAGES));
        match self.random.random_range(0..25) {
            0..9 => Command::Start(v1::StartStageRequest { write, job, stage, override_reason: String::new() }),
            9..16 => Command::Finish(v1::FinishStageRequest { write, job, stage, as_listed: true }),
            16..19 => Command::Tick(v1::TickStepsRequest { write, job, stage, steps: vec![1], ..Default::default() }),
            19..22 => Command::ClockOn(v1::ClockOnRequest { write, job, stage, ..Default::default() }),
            _ => Command::ClockOff(v1::ClockOffRequest { write }),
        }
    }

    fn trouble(&mut self, write: Option<v1::WriteContext>) -> Command {
        let (job, stage) = (self.recent(), self.pick(&STAGES));
        match self.random.random_range(0..15) {
            0..7 => {
                let cause = v1::Cause::SeizedOrDamaged.into();
                let note = "it does not move".to_owned();
                Command::Block(v1::RaiseBlockerRequest { write, job, stage, cause, note, ..Default::default() })
            }
            7..12 => {
                let blocker = self.random.random_range(1..=3);
                Command::Unblock(v1::ClearBlockerRequest { write, job, blocker, note: String::new() })
            }
            _ => {
                let needs = vec![v1::Need { item: "bolt".into(), quantity: 1, unit: "1".into() }];
                let instruction = "Renew the bolt that broke".to_owned();
                let rest = v1::AddStepRequest::default();
                Command::AddStep(v1::AddStepRequest { write, job, stage, instruction, needs, ..rest })
            }
        }
    }

    fn pick(&mut self, from: &[&str]) -> String {
        from[self.random.random_range(0..from.len())].to_owned()
    }

    fn perhaps(&mut self, reason: &str) -> String {
        if self.random.random_bool(0.2) { reason.to_owned() } else { String::new() }
    }

    fn recent(&mut self) -> i64 {
        let last = self.shop.jobs().max(1);
        self.random.random_range((last - RECENT).max(1)..=last)
    }
}
