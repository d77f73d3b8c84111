//! A shop's past, drawn from a seed and entered late through the real writer: jobs from templates, worked stage by stage
//! in their bays, with parts, deliveries, things that hold up, and steps that are left out.
//!
//! Every bay has a person and a random stream of its own, so the same seed and size tell the same past whatever order
//! the writer takes the bays in. Bays go side by side, which is what fills its batches.

use futures::future::join_all;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use leadhand_app::access::Principal;
use leadhand_app::{App, Outcome, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AddBay, AddPerson, AssignJob, ClearBlocker, Command, CompleteJob, FinishStage, ImportStock, IssueStock, OpenJob,
    PublishTemplate, RaiseBlocker, ReceiveStock, ReserveStock, SetHours, SkipStep, StartStage, TickSteps, WhichVehicle,
};
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::words::{BayKind, Cause};
use leadhand_facts::{BayKey, Instant, ItemKey, JobNo, PersonId, Quantity, RequestId, StageKey, StepNo, TemplateKey};
use rand::rngs::StdRng;
use rand::{Rng, RngExt, SeedableRng};
use std::fmt::Write as _;

/// Bays, each with somebody who works there: as many commands wait at a time.
pub const BAYS: usize = 48;
/// Kinds of job.
pub const TEMPLATES: usize = 6;
/// Kinds of part.
const ITEMS: usize = 24;
/// Stages of a job on average; a template has two more or fewer.
const STAGES: usize = 20;
/// Steps of a stage.
const STEPS: usize = 14;
/// Deliveries of a part that no job needs: a full page of a statement also where there is no past.
const DELIVERIES: usize = 120;
/// Days of the past.
const DAYS: i64 = 364;
const MINUTE_US: i64 = 60_000_000;

/// How large a past is, and from which seed.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    /// Jobs.
    pub jobs: usize,
    /// What everything is drawn from.
    pub seed: u64,
}

/// A shop that is about to have a past.
pub struct Shop<'a> {
    pub app: &'a App,
    pub lead: Principal,
    now: Instant,
    people: Vec<PersonId>,
}

fn stages_of(template: usize) -> usize {
    STAGES - 2 + template % 5
}

fn template(at: usize) -> String {
    let mut text = format!("key = \"past-{at}\"\ntitle = \"Work of kind {at}\"\n");
    for stage in 0..stages_of(at) {
        let likely = 30 + (at * 7 + stage * 13) % 60;
        let _ = write!(
            text,
            "\n[[stage]]\nkey = \"s{stage}\"\ntitle = \"Stage {stage}\"\nminutes = [{}, {likely}, {}]\nbays = [\"floor\"]\n",
            likely / 2,
            likely * 2
        );
        if stage > 0 {
            let _ = writeln!(text, "after = [\"s{}\"]", stage - 1);
        }
        for step in 0..STEPS {
            let _ =
                write!(text, "\n[[stage.step]]\ndo = \"Step {step} of stage {stage}\"\ntools = [\"10 mm socket\"]\n");
            if step == 3 {
                let _ = writeln!(text, "needs = [{{ item = \"past-{}\", quantity = 1 }}]", (at * 5 + stage) % ITEMS);
            }
        }
    }
    text
}

/// A random stream of its own for each purpose, or two of them would draw the same request ids.
fn stream(seed: u64, purpose: u64) -> StdRng {
    StdRng::seed_from_u64(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ purpose)
}

fn id(draw: &mut StdRng) -> RequestId {
    let mut bytes = [0; 16];
    draw.fill_bytes(&mut bytes);
    RequestId(uuid::Builder::from_random_bytes(bytes).into_uuid())
}

impl<'a> Shop<'a> {
    /// Bays, people, hours, parts and templates.
    pub async fn furnish(app: &'a App, secret: &str, seed: u64) -> Self {
        let lead = app.authenticate(secret).await.unwrap().in_shop().unwrap();
        let now = app.shop(&lead).await.unwrap().now;
        let mut shop = Self { app, lead, now, people: Vec::new() };
        let mut draw = stream(seed, 0);
        let day = vec![DayHours { from_minute: 6 * 60, until_minute: 22 * 60 }];
        let week = Week(std::array::from_fn(|_| day.clone()));
        let first = jiff::Timestamp::from_microsecond(now.0 - (DAYS + 7) * 24 * 60 * MINUTE_US).unwrap();
        shop.now(&mut draw, SetHours { from_day: first.strftime("%Y-%m-%d").to_string(), week }).await;
        for bay in 0..BAYS {
            let name = format!("Bay {bay}");
            let kind = BayKind::Floor;
            shop.now(&mut draw, AddBay { bay: BayKey(format!("bay-{bay}")), name, kind, rated_kg: 0 }).await;
            let added = shop.now(&mut draw, AddPerson { name: format!("Person {bay}"), skills: Vec::new() }).await;
            let Made::Person(person) = added.answer.made else { panic!("a person has an id") };
            shop.people.push(person);
        }
        let mut csv = "item,name,unit,place,quantity,expires_on\n".to_owned();
        for item in 0..ITEMS {
            let _ = writeln!(csv, "past-{item},Part {item},1,bin-1,1000000,");
        }
        csv += "often,A part that comes often,1,bin-1,1,\n";
        shop.now(&mut draw, ImportStock { csv }).await;
        for _ in 0..DELIVERIES {
            let (item, place) = ("often".into(), "bin-1".into());
            shop.now(&mut draw, ReceiveStock { item, place, quantity: Quantity(1), expires_on: None }).await;
        }
        for at in 0..TEMPLATES {
            shop.now(&mut draw, PublishTemplate { source: template(at) }).await;
        }
        shop
    }

    async fn now(&self, draw: &mut StdRng, command: impl Into<Command>) -> Outcome {
        self.app.execute(&self.lead, Write::of(id(draw)), command).await.unwrap()
    }

    /// Enters the past, bay beside bay.
    pub async fn live(&self, size: Size) {
        // Nothing is drawn where standard error is no terminal.
        let bar = ProgressBar::with_draw_target(Some(size.jobs as u64), ProgressDrawTarget::stderr());
        let style = "{msg} {wide_bar} {pos}/{len} jobs, {eta} left";
        bar.set_style(ProgressStyle::with_template(style).unwrap());
        bar.set_message("a shop's past");
        join_all((0..BAYS).map(|bay| self.live_in(bay, size, &bar))).await;
        bar.finish_and_clear();
    }

    async fn live_in(&self, bay: usize, size: Size, bar: &ProgressBar) {
        let jobs = size.jobs / BAYS + usize::from(bay < size.jobs % BAYS);
        let room = DAYS * 24 * 60 / i64::try_from(jobs.max(1)).unwrap();
        let begin = self.now.0 - DAYS * 24 * 60 * MINUTE_US;
        for at in 0..jobs {
            let from = begin + i64::try_from(at).unwrap() * room * MINUTE_US;
            let draw = stream(size.seed, ((bay as u64 + 1) << 32) | at as u64);
            let mut visit = Visit { shop: self, bay, at: from, minutes: room, draw };
            visit.whole(at).await;
            bar.inc(1);
        }
    }

    /// So many jobs as are under way today, each in a bay of its own; gives their numbers.
    pub async fn today(&self, jobs: usize, seed: u64) -> Vec<i64> {
        let mut all = Vec::new();
        for bay in 0..jobs {
            let draw = stream(seed, u64::MAX - bay as u64);
            let at = self.now.0 - 12 * 60 * MINUTE_US;
            let mut visit = Visit { shop: self, bay, at, minutes: 11 * 60, draw };
            let (job, _) = visit.open(bay).await;
            visit.stage(job, 0, 30).await;
            all.push(job.0);
        }
        all
    }
}

/// A vehicle's visit to a bay.
struct Visit<'a> {
    shop: &'a Shop<'a>,
    bay: usize,
    at: i64,
    minutes: i64,
    draw: StdRng,
}

impl Visit<'_> {
    async fn enter(&mut self, command: impl Into<Command>) -> Outcome {
        let happened_at = Some(Instant(self.at));
        let write =
            Write { happened_at, for_person: Some(self.shop.people[self.bay]), ..Write::of(id(&mut self.draw)) };
        self.at += MINUTE_US;
        self.shop.app.execute(&self.shop.lead, write, command).await.unwrap()
    }

    async fn open(&mut self, number: usize) -> (JobNo, usize) {
        let template = self.draw.random_range(0..TEMPLATES);
        let label = format!("vehicle {}-{number}", self.bay);
        let vehicle = WhichVehicle::New { label, weight_kg: Some(1400), plate: None, customer: None };
        let priority = self.draw.random_range(1..=5);
        let opened = self
            .enter(OpenJob {
                template: Some(TemplateKey(format!("past-{template}"))),
                revision: None,
                title: None,
                vehicle,
                priority,
                promised_at: None,
                with: Vec::new(),
                without: Vec::new(),
            })
            .await;
        let Made::Job { job, .. } = opened.answer.made else { panic!("a job has a number") };
        self.enter(AssignJob { job, bay: BayKey(format!("bay-{}", self.bay)), override_reason: None }).await;
        self.enter(ReserveStock { job, stage: None }).await;
        (job, stages_of(template))
    }

    async fn whole(&mut self, number: usize) {
        let until = self.at + self.minutes * MINUTE_US;
        if number.is_multiple_of(10) {
            let item = ItemKey(format!("past-{}", self.draw.random_range(0..ITEMS)));
            let place = "bin-1".into();
            self.enter(ReceiveStock { item, place, quantity: Quantity(200), expires_on: None }).await;
        }
        let (job, stages) = self.open(number).await;
        // What is left is divided, with a quarter kept for pauses.
        let each = (until - self.at) / MINUTE_US * 3 / 4 / i64::try_from(stages).unwrap();
        for stage in 0..stages {
            self.stage(job, stage, each).await;
        }
        self.enter(CompleteJob { job, override_reason: None, overrides: Vec::new() }).await;
    }

    async fn stage(&mut self, job: JobNo, stage: usize, minutes: i64) {
        let begun = self.at;
        let stage = StageKey(format!("s{stage}"));
        self.enter(StartStage { job, stage: stage.clone(), override_reason: None }).await;
        self.enter(IssueStock { job, stage: Some(stage.clone()), item: None, quantity: None }).await;
        let mut steps: Vec<StepNo> = (1..=i32::try_from(STEPS).unwrap()).map(StepNo).collect();
        if self.draw.random_ratio(1, 25) {
            let step = steps.remove(self.draw.random_range(4..STEPS));
            self.enter(SkipStep { job, stage: stage.clone(), step, reason: "not fitted here".into() }).await;
        }
        if self.draw.random_ratio(1, 16) {
            self.hold_up(job, &stage).await;
        }
        let rest = steps.split_off(STEPS / 2);
        self.enter(TickSteps { job, stage: stage.clone(), steps, override_reason: None }).await;
        self.at = self.at.max(begun + (minutes / 2 + self.draw.random_range(0..minutes.max(4) / 4)) * MINUTE_US);
        self.enter(TickSteps { job, stage: stage.clone(), steps: rest, override_reason: None }).await;
        self.enter(FinishStage { job, stage, as_listed: false }).await;
        self.at += self.draw.random_range(0..minutes.max(4) / 4) * MINUTE_US;
    }

    async fn hold_up(&mut self, job: JobNo, stage: &StageKey) {
        let cause = [Cause::Part, Cause::Tool, Cause::Customer][self.draw.random_range(0..3)];
        let (owner, expected_at, note) = (None, None, None);
        let raised = self.enter(RaiseBlocker { job, stage: stage.clone(), cause, owner, expected_at, note }).await;
        self.at += self.draw.random_range(5..30) * MINUTE_US;
        let Made::Blocker { blocker, .. } = raised.answer.made else { panic!("a blocker has a number") };
        self.enter(ClearBlocker { job, blocker, note: None }).await;
    }
}
