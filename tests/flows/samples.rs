//! A request of every method that is accepted as it is, with as many fields said as go together. Each sample is drawn
//! in a world of its own, so that one that was accepted does not stand in the way of the next.

#![allow(clippy::unnecessary_wraps, reason = "a message field is an option")]

use crate::clock::later;
use crate::measured;
use crate::shop::{Shop, finish, start};
use leadhand_proto::v1;
use leadhand_sdk::{Client, new_write};
use prost::{Message, Name};
use prost_types::{Duration, Timestamp};

/// A request that would be accepted.
pub struct Sample {
    /// Its message's full name.
    pub input: String,
    /// As it is on the wire.
    pub bytes: Vec<u8>,
    /// Who would be let in with it.
    pub who: Who,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    Lead,
    Device,
    Operator,
}

pub fn by<M: Message + Name>(who: Who, message: &M) -> Sample {
    Sample { input: M::full_name(), bytes: message.encode_to_vec(), who }
}

macro_rules! lead {
    ($($request:ident { $($field:ident: $value:expr),* $(,)? })+) => {
        vec![$({
            #[allow(clippy::needless_update, reason = "some requests have no other field")]
            let asked = v1::$request { $($field: $value,)* ..Default::default() };
            by(Who::Lead, &asked)
        }),+]
    };
}

mod plan;
mod reckoner;
mod vehicle;

/// What the requests are about.
pub struct World {
    n: usize,
    /// The server's clock when it was made.
    now: Timestamp,
    /// A job in a bay: its first stage is finished, its second under way and held up.
    job: i64,
    /// A job in another bay, not started.
    fresh: i64,
    /// A job outside.
    outside: i64,
    /// A job that was called off.
    over: i64,
    customer: String,
    person: String,
    entry: i64,
    stay: i64,
    vehicle: String,
    token: String,
    shop: String,
    fact_id: String,
    planned: plan::Planned,
}

fn write() -> Option<v1::WriteContext> {
    Some(new_write())
}

fn text() -> String {
    "some words".to_owned()
}

/// A hose that is off, two that are only noted, one that is back and loose, and one that is back as it has to be.
async fn strip_book(flint: &Client, job: i64) {
    let stage = || "strip".to_owned();
    for (key, later) in [("hose", false), ("later", true), ("stuck", true), ("cap", false), ("seen", false)] {
        let position = key.to_owned();
        let (what, behind_nothing) = (text(), true);
        let asked = v1::AddPositionRequest {
            write: write(),
            job,
            stage: stage(),
            position,
            what,
            behind_nothing,
            later,
            count: if key == "stuck" { 3 } else { 1 },
            ..Default::default()
        };
        flint.add_position(asked).await.unwrap();
    }
    for (key, tightness) in [("cap", v1::Tightness::Loose), ("seen", v1::Tightness::Final)] {
        let lines = vec![v1::BackLine { position: key.into(), tightness: tightness.into(), ..Default::default() }];
        let asked = v1::PutBackRequest { write: write(), job, stage: stage(), lines, ..Default::default() };
        flint.put_back(asked).await.unwrap();
    }
}

impl World {
    /// A new world in this shop; `n` tells its keys and names from those of others.
    pub async fn make(shop: &Shop, n: usize) -> Self {
        let person = format!("Flint {n}");
        let flint = shop.technician(&person, &[]).await;
        for bay in [format!("b{n}-1"), format!("b{n}-2"), format!("b{n}-3")] {
            let bay = v1::Bay { name: bay.clone(), bay, kind: v1::BayKind::Floor.into(), rated_kg: 9_000 };
            shop.lead.add_bay(v1::AddBayRequest { write: write(), bay: Some(bay) }).await.unwrap();
        }
        let planned = plan::prepare(shop, &person).await;
        let job = shop.blank_job(&["look", "strip", "fit"]).await;
        shop.assign(job, &format!("b{n}-1")).await.unwrap();
        start(&flint, job, "look").await.unwrap();
        finish(&flint, job, "look").await.unwrap();
        for _ in 0..2 {
            shop.step_with(job, "strip", "hg-set-20", 1).await;
        }
        start(&flint, job, "strip").await.unwrap();
        Self::about(shop, &flint, n, (person, planned), job).await
    }

    async fn about(
        shop: &Shop,
        flint: &Client,
        n: usize,
        (person, planned): (String, plan::Planned),
        job: i64,
    ) -> Self {
        let (stage, cause) = ("strip".to_owned(), v1::Cause::Tool.into());
        let raise = v1::RaiseBlockerRequest { write: write(), job, stage, cause, ..Default::default() };
        flint.raise_blocker(raise).await.unwrap();
        measured::prepare(flint, job).await;
        let tick =
            v1::TickStepsRequest { write: write(), job, stage: "strip".into(), steps: vec![2], ..Default::default() };
        flint.tick_steps(tick).await.unwrap();
        strip_book(flint, job).await;
        vehicle::shared_tools(shop, n, job).await;
        vehicle::supplier_and_told(shop, n, job).await;
        let fresh = shop.blank_job(&["strip"]).await;
        shop.step_with(fresh, "strip", "hg-set-20", 1).await;
        shop.assign(fresh, &format!("b{n}-2")).await.unwrap();
        let fluid = "oil".to_owned();
        let oil = v1::RecordFluidRequest { write: write(), job, fluid, drained_ml: 4_000, ..Default::default() };
        flint.record_fluid(oil).await.unwrap();
        let (stage, way, reason) = ("strip".to_owned(), text(), text());
        let other = v1::ProposeWayRequest { write: write(), job: fresh, stage, step: 1, way, reason };
        flint.propose_way(other).await.unwrap();
        let outside = shop.blank_job(&["strip"]).await;
        let over = shop.blank_job(&["strip"]).await;
        let cancel = v1::CancelJobRequest { write: write(), job: over, reason: text(), as_it_is: true };
        shop.lead.cancel_job(cancel).await.unwrap();
        let name = format!("Heather {n}");
        let customer = v1::AddCustomerRequest { write: write(), name, ..Default::default() };
        let customer = shop.lead.add_customer(customer).await.unwrap().customer;
        let clockings = flint.list_clockings(v1::ListClockingsRequest::default()).await.unwrap().clockings;
        let facts = shop.facts_after((shop.head().await - 30).max(0)).await;
        let of_job = |kind: &str| facts.iter().rfind(|fact| fact.kind == kind);
        let whole = shop.whole_job(outside).await.job.unwrap();
        let role = v1::Role::Viewer.into();
        let asked = v1::IssueTokenRequest { write: write(), role, label: text(), ..Default::default() };
        let token = shop.lead.issue_token(asked).await.unwrap().token;
        Self {
            n,
            now: shop.now().await,
            job,
            fresh,
            outside,
            over,
            customer,
            person,
            entry: clockings[0].entry,
            stay: of_job("vehicle_placed").map_or(1, |fact| fact.number),
            vehicle: whole.vehicle,
            token,
            shop: shop.lead.get_shop(v1::GetShopRequest {}).await.unwrap().shop,
            fact_id: facts[0].fact_id.clone(),
            planned,
        }
    }

    fn recorded(&self) -> Option<v1::WriteContext> {
        Some(v1::WriteContext { for_person: self.person.clone(), ..new_write() })
    }

    fn past(&self, minutes: i64) -> Option<Timestamp> {
        Some(Timestamp { seconds: self.now.seconds - minutes * 60, nanos: 0 })
    }

    fn soon(&self) -> Option<Timestamp> {
        Some(later(self.now, 3_600_000_000))
    }

    /// Every sample.
    pub fn samples(&self) -> Vec<Sample> {
        let parts = [
            self.of_shop(),
            self.of_customers(),
            self.of_calendar(),
            self.of_access(),
            self.of_templates(),
            self.of_jobs(),
            self.of_stages(),
            self.of_steps(),
            self.of_the_strip_book(),
            measured::samples(self.job, self.recorded()),
            self.of_shared_tools(),
            self.of_condition(),
            self.of_suppliers_and_told(),
            self.of_goods(),
            self.of_stock(),
            self.of_time(),
            self.of_plans(),
            self.of_views(),
            reckoner::samples(self.job),
            self.of_operators(),
        ];
        parts.into_iter().flatten().collect()
    }

    fn of_shop(&self) -> Vec<Sample> {
        let n = self.n;
        let kind = v1::BayKind::Pit.into();
        let bay = v1::Bay { bay: format!("b{n}-9"), name: text(), kind, rated_kg: 900 };
        lead! {
            GetShopRequest {}
            WhoAmIRequest {}
            AddBayRequest { write: self.recorded(), bay: Some(bay) }
            AddPersonRequest { write: write(), name: format!("Heron {n}"), skills: vec!["brakes".into()] }
            SetBayRequest { write: write(), bay: format!("b{n}-3"), kind: 4, rated_kg: 900, reason: text(), clear_rated_kg: false }
            RenamePersonRequest {
                write: write(), person: self.person.clone(), name: format!("Heron {n}"), reason: text(),
            }
            SetYardRequest { write: write(), places_outside: Some(3), moving_minutes: Some(15) }
            SetSkillsRequest { write: write(), person: self.person.clone(), skills: vec!["brakes".into()] }
            ForgetPersonRequest { write: write(), person: self.person.clone() }
            IssueTokenRequest { write: write(), role: 2, person: self.person.clone(), expires_at: self.soon() }
            IssueTokenRequest { write: write(), role: 4, label: text() }
            RevokeTokenRequest { write: write(), token: self.token.clone() }
            ListTokensRequest { page_size: 2 }
        }
    }

    fn of_customers(&self) -> Vec<Sample> {
        let (n, customer) = (self.n, || self.customer.clone());
        lead! {
            AddCustomerRequest { write: write(), name: format!("Rowan {n}"), contact: text(), note: text() }
            ListCustomersRequest { page_size: 2 }
            GetCustomerRequest { customer: customer() }
            EditCustomerRequest {
                write: write(), customer: customer(), name: format!("Rowan {n}"), contact: text(), note: text(),
            }
            ForgetCustomerRequest { write: write(), customer: customer() }
            EditVehicleRequest {
                write: write(), vehicle: self.vehicle.clone(), label: text(), plate: "ZZ 100".into(), weight_kg: 900,
                customer: customer(),
            }
            GetCustomerDataRequest { customer: customer(), page_size: 2 }
            GetPersonDataRequest { person: self.person.clone(), page_size: 2 }
        }
    }

    fn of_calendar(&self) -> Vec<Sample> {
        let hours = || vec![v1::DayHours { from_minute: 480, until_minute: 720 }];
        let week = || vec![v1::WeekdayHours { weekday: 1, hours: hours() }];
        let day = || "2031-03-03".to_owned();
        lead! {
            SetHoursRequest { write: write(), from_day: day(), week: week() }
            SetDayRequest { write: write(), day: day(), hours: hours(), reason: text() }
            SetShiftRequest { write: write(), person: self.person.clone(), from_day: day(), week: week() }
            GetCalendarRequest { person: self.person.clone(), from_at: self.past(60), until_at: self.soon() }
        }
    }

    fn of_access(&self) -> Vec<Sample> {
        let person = || self.person.clone();
        let overlap = Some(Duration { seconds: 3_600, nanos: 0 });
        let (token, expires_at) = (self.token.clone(), self.soon());
        let mut all = lead! {
            RotateTokenRequest { write: write(), token: token, overlap: overlap, expires_at: expires_at }
            SetBadgeRequest { write: write(), person: person(), role: 2 }
            SetPinRequest { write: write(), person: person(), role: 2, pin: "270591".into() }
            WithdrawProofRequest { write: write(), person: person(), proof: 1 }
        };
        let pin = v1::SignInRequest {
            person: person(),
            pin: "270591".into(),
            write: write(),
            minutes: 5,
            ..Default::default()
        };
        let badge = v1::SignInRequest { badge: "0000-0000-0000-0000".into(), write: write(), ..Default::default() };
        all.extend([by(Who::Device, &pin), by(Who::Device, &badge)]);
        all.push(by(Who::Lead, &v1::SignOutRequest { write: write() }));
        all
    }

    fn of_templates(&self) -> Vec<Sample> {
        const SOURCE: &str = include_str!("../../deploy/demo-shop/templates/front-brakes.toml");
        let source = || SOURCE.to_owned();
        lead! {
            CheckTemplateRequest { source: source() }
            PublishTemplateRequest { write: write(), source: source() }
            ListTemplatesRequest { page_size: 2 }
            GetTemplateRequest { template: "front-brakes".into(), revision: 1 }
            DraftTemplateRequest { job: self.job, template: "drafted".into() }
        }
    }

    fn of_jobs(&self) -> Vec<Sample> {
        let n = self.n;
        let circumstances =
            Some(v1::WriteContext { happened_at: Some(self.now), for_person: self.person.clone(), ..new_write() });
        lead! {
            OpenJobRequest {
                write: circumstances, title: text(), vehicle_label: text(), vehicle_weight_kg: 900, priority: 2,
                promised_at: self.soon(),
                vehicle_plate: "ZZ 100".into(), customer: self.customer.clone(),
            }
            OpenJobRequest {
                write: write(), template: "head-gasket-20".into(), revision: 1, vehicle: self.vehicle.clone(),
                with: vec!["machine-shop".into()], without: vec!["thermostat".into()],
            }
            GetJobRequest { job: self.job }
            ListJobsRequest { states: vec![1], page_size: 2, closed_from_at: self.past(600) }
            PromiseJobRequest { write: write(), job: self.outside, priority: 2, promised_at: self.soon() }
            AssignJobRequest {
                write: write(), job: self.outside, bay: format!("b{n}-3"), override_reason: text()
            }
            RollOutJobRequest { write: write(), job: self.fresh, override_reason: text() }
            CorrectStayRequest { write: write(), job: self.fresh, stay: self.stay, reason: text(), bay: format!("b{n}-3") }
            ReopenJobRequest { write: write(), job: self.over, reason: text() }
            CompleteJobRequest { write: write(), job: self.outside, override_reason: text() }
            CompleteJobRequest {
                write: write(), job: self.outside, overrides: vec![v1::Override { line: text(), reason: text() }],
            }
            CancelJobRequest { write: write(), job: self.outside, reason: text(), as_it_is: true }
        }
    }

    fn of_stages(&self) -> Vec<Sample> {
        let (job, strip) = (self.job, || "strip".to_owned());
        let after = vec![v1::After { stage: strip(), wait_minutes: 5 }];
        let minutes = Some(v1::Minutes { low: 1, likely: 2, high: 3 });
        lead! {
            AddStageRequest {
                write: write(), job: job, stage: "more".into(), title: text(), kind: 1, minutes: minutes,
                bays: vec![3], skills: vec!["brakes".into()], hands: 1, tools: vec![text()], after: after,
                before: vec!["fit".into()], steps: vec![text()],
            }
            StartStageRequest { write: write(), job: self.fresh, stage: strip(), override_reason: text() }
            FinishStageRequest { write: write(), job: self.fresh, stage: strip() }
            SkipStageRequest { write: write(), job: self.fresh, stage: strip(), reason: text() }
            ReopenStageRequest { write: write(), job: job, stage: "look".into(), reason: text() }
            RaiseBlockerRequest {
                write: write(), job: job, stage: strip(), cause: 2, owner: self.person.clone(),
                expected_at: self.soon(), note: text(),
            }
            ClearBlockerRequest { write: write(), job: job, blocker: 1, note: text() }
            OwnBlockerRequest {
                write: write(), job: job, blocker: 1, owner: self.person.clone(), expected_at: self.soon(),
            }
        }
    }

    fn of_steps(&self) -> Vec<Sample> {
        let (job, stage) = (self.job, || "strip".to_owned());
        let cautions = vec![v1::Caution { word: 3, text: text() }];
        let needs = vec![v1::Need { item: "hg-set-20".into(), quantity: 1, unit: "1".into() }];
        lead! {
            AddStepRequest {
                write: write(), job: job, stage: stage(), instruction: text(), tools: vec![text()],
                cautions: cautions, needs: needs, shared_tools: vec![format!("lock-{}", self.n)],
                needed_states: vec![1], set_states: vec![2], hold: text(), hold_second: true, hazards: vec![2],
                skills: vec![text()], follow_up: text(), fills: "oil".into(), only_here: true,
            }
            TickStepsRequest { write: write(), job: job, stage: stage(), steps: vec![1], override_reason: text() }
            SkipStepRequest { write: write(), job: job, stage: stage(), step: 1, reason: text() }
            ReopenStepRequest { write: write(), job: job, stage: stage(), step: 2, reason: text() }
        }
    }

    fn of_the_strip_book(&self) -> Vec<Sample> {
        let (job, stage, hose) = (self.job, || "strip".to_owned(), || "hose".to_owned());
        let off = v1::OffLine {
            position: "later".into(),
            found: Some(1),
            missing: Some(1),
            keep: 2,
            kept_at: text(),
            note: text(),
            repair: text(),
            ..Default::default()
        };
        let back =
            v1::BackLine { position: hose(), refitted: Some(1), tightness: 2, reason: text(), ..Default::default() };
        lead! {
            TakeOffRequest { write: write(), job: job, stage: stage(), lines: vec![off], override_reason: text() }
            AddPositionRequest {
                write: write(), job: job, stage: stage(), position: "clip".into(), what: text(), kind: 4, manner: 1, count: 2,
                size: text(), location: text(), behind: vec![hose()], attached_to: "later".into(), keep: 2, renew: 2,
                back: "fit".into(), note: text(), tags: true, item: "hg-set-20".into(), head: text(), reach: 2,
                tighten: vec!["40 N.m".into()], how: vec![text()], second_check: true, check: text(), cure_minutes: 30,
            }
            AddPositionRequest { write: write(), job: job, stage: stage(), what: text(), behind_nothing: true, later: true }
            PutBackRequest { write: write(), job: job, stage: stage(), lines: vec![back], override_reason: text() }
            TightenPositionsRequest { write: write(), job: job, positions: vec!["cap".into()], tightness: 3 }
            ConfirmPositionsRequest { write: write(), job: job, positions: vec!["seen".into()] }
            ReopenPositionRequest { write: write(), job: job, position: hose(), reason: text() }
            SplitPositionRequest {
                write: write(), job: job, position: "stuck".into(), part: "longer".into(), what: text(), count: 1,
                size: text(), head: text(), location: text(),
            }
            SoakPositionRequest { write: write(), job: job, position: "stuck".into(), minutes: 30 }
            RecordAttemptRequest {
                write: write(), job: job, position: "stuck".into(), rung: 1, outcome: 2, pieces: 1, note: text(),
                plan: text(), item: "hg-set-20".into(),
            }
            GetStripRequest { job: job, since: 1, ladder_of: hose() }
        }
    }

    fn of_goods(&self) -> Vec<Sample> {
        let n = self.n;
        let csv = || format!("item,name,unit,place,quantity,expires_on\nx{n}-1,Things,1,bin-a1,3,\n");
        let (item, place) = (|| "hg-set-20".to_owned(), || "bin-a1".to_owned());
        lead! {
            AddItemRequest { write: write(), item: format!("x{n}-2"), name: text(), unit: "mL".into(), fluid: Some(v1::ItemFluid { kind: v1::FluidKind::Coolant.into(), strength: "50 %".into() }) }
            AddPlaceRequest { write: write(), place: format!("x{n}-3"), name: text() }
            ImportStockRequest { write: write(), csv: csv() }
            CheckStockImportRequest { csv: csv() }
            ReceiveStockRequest {
                write: write(), item: item(), place: place(), quantity: 7, expires_on: "2031-03-03".into()
            }
            CountStockRequest { write: write(), item: item(), place: place(), counted: 9 + i64::try_from(n).unwrap(), reason: text() }
            ScrapStockRequest { write: write(), item: item(), place: place(), quantity: 1, reason: text() }
        }
    }

    fn of_stock(&self) -> Vec<Sample> {
        let (item, place, stage) = (|| "hg-set-20".to_owned(), || "bin-a1".to_owned(), || "strip".to_owned());
        let job = self.fresh;
        lead! {
            ReserveStockRequest { write: write(), job: job, stage: stage() }
            IssueStockRequest { write: write(), job: job, stage: stage(), item: item(), quantity: 1 }
            ReturnStockRequest { write: write(), job: job, item: item(), quantity: 1, place: place() }
            ReleaseStockRequest { write: write(), job: job, stage: stage(), item: item() }
            ListStockRequest { item: item(), page_size: 2 }
            ListShortagesRequest { job: job }
            GetStatementRequest { item: item(), page_size: 2 }
        }
    }

    fn of_time(&self) -> Vec<Sample> {
        let (job, stage) = (self.job, || "strip".to_owned());
        let (from_at, until_at) = (self.past(20), self.past(10));
        lead! {
            ClockOnRequest { write: write(), job: job, stage: stage(), override_reason: text() }
            ClockOffRequest { write: self.recorded() }
            RecordWorkRequest {
                write: self.recorded(), job: job, stage: stage(), from_at: from_at, until_at: until_at,
                override_reason: text(),
            }
            CorrectClockingRequest {
                write: write(), entry: self.entry, job: job, stage: "look".into(), reason: text(),
                from_at: from_at, until_at: until_at, override_reason: text(),
            }
            WithdrawClockingRequest { write: write(), entry: self.entry, reason: text() }
            ListClockingsRequest { person: self.person.clone(), from_at: from_at, until_at: until_at, page_size: 2 }
            AuditTimeRequest { job: job, by: 1, from_at: self.past(600), until_at: self.soon() }
            AuditTimeRequest { template: "front-brakes".into(), by: 4, cut_at: [self.past(600), self.soon()].into_iter().flatten().collect() }
        }
    }

    fn of_views(&self) -> Vec<Sample> {
        let after = || Some(v1::Cursor { number: 1, fact_id: self.fact_id.clone() });
        lead! {
            GetBoardRequest {} WatchBoardRequest {}
            ReadJournalRequest { after: after(), page_size: 2 }
            FollowJournalRequest { after: after() }
        }
    }

    fn of_operators(&self) -> Vec<Sample> {
        let (shop, person) = (self.shop.clone(), self.person.clone());
        let open = v1::OpenShopRequest { write: write(), name: text(), zone: "UTC".into(), lead: "Wren".into() };
        let replace = v1::ReplaceLeadTokenRequest { write: write(), shop, person, revoke_others: false };
        vec![
            by(Who::Operator, &open),
            by(Who::Operator, &v1::ListShopsRequest { page_size: 2, page_token: String::new() }),
            by(Who::Operator, &replace),
        ]
    }
}
