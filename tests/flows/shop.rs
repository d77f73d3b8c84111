//! A shop with the demo's templates and stock, served by two replicas over one database.

use futures::StreamExt;
use kit::TestDatabase;
use leadhand_app::{App, Entropy, Options};
use leadhand_facts::ShopId;
use leadhand_proto::v1;
use leadhand_rpc::{Limits, router};
use leadhand_sdk::{Client, Code, Endpoint, SdkError, new_write};
use leadhand_store::Store;
use prost_types::Timestamp;
use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::net::TcpListener;
use tokio_util::task::TaskTracker;
use tonic::service::RoutesBuilder;
use tonic::transport::server::TcpIncoming;

const ITEMS: &str = include_str!("../../deploy/demo-shop/items.csv");
const TEMPLATES: [&str; 3] = [
    include_str!("../../deploy/demo-shop/templates/head-gasket-20.toml"),
    include_str!("../../deploy/demo-shop/templates/front-brakes.toml"),
    include_str!("../../deploy/demo-shop/templates/coolant-service.toml"),
];

struct Seeded(Mutex<StdRng>);

impl Entropy for Seeded {
    fn fill(&self, buffer: &mut [u8]) {
        self.0.lock().unwrap().fill_bytes(buffer);
    }
}

/// One replica.
struct Replica {
    app: App,
    url: String,
}

pub struct Shop {
    /// Its database, for a look behind the product's back.
    pub database: TestDatabase,
    replicas: [Replica; 2],
    id: ShopId,
    /// The lead, at the first replica.
    pub lead: Client,
    /// The lead, at the second.
    pub elsewhere: Client,
    secret: String,
}

async fn replica(database: &TestDatabase, seed: u64, limits: Limits) -> Replica {
    let store = Store::connect(&database.app_url(), 8).await.unwrap();
    let entropy = Arc::new(Seeded(Mutex::new(StdRng::seed_from_u64(seed))));
    let options = Options { timer_interval: Duration::from_millis(200), ..Options::default() };
    let app = App::start(store, entropy, options);
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    let router = router(&app, limits, RoutesBuilder::default(), &TaskTracker::new());
    tokio::spawn(router.serve_with_incoming(TcpIncoming::from(listener)));
    Replica { app, url }
}

impl Shop {
    pub async fn open() -> Self {
        Self::open_in("UTC").await
    }

    /// The same in another time zone.
    pub async fn open_in(zone: &str) -> Self {
        // Many tests fail to come in, and all from one address.
        Self::open_with(zone, Limits { failures: u32::MAX, ..Limits::default() }).await
    }

    /// The same with other limits.
    pub async fn open_with(zone: &str, limits: Limits) -> Self {
        let shop = Self::open_bare(zone, limits).await;
        shop.furnish().await;
        shop
    }

    /// The same with nothing in it but its lead.
    pub async fn open_bare(zone: &str, limits: Limits) -> Self {
        let database = kit::fresh_database().await;
        let replicas = [replica(&database, 1, limits).await, replica(&database, 2, limits).await];
        let new = replicas[0].app.open_shop("Tarn Yard", zone, "Wren").await.unwrap();
        let (lead, elsewhere) = (client(&replicas[0], &new.secret), client(&replicas[1], &new.secret));
        Self { database, replicas, id: new.shop, lead, elsewhere, secret: new.secret }
    }

    async fn furnish(&self) {
        use v1::BayKind::{Floor, FourPostLift, Pit, TwoPostLift};
        let bays = [
            ("lift-1", TwoPostLift, 3500),
            ("lift-2", FourPostLift, 4000),
            ("floor-1", Floor, 1600),
            ("pit-1", Pit, 7500),
        ];
        for (bay, kind, rated_kg) in bays {
            let bay = v1::Bay { bay: bay.into(), name: bay.into(), kind: kind.into(), rated_kg };
            self.lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay: Some(bay) }).await.unwrap();
        }
        let csv = ITEMS.to_owned();
        self.lead.import_stock(v1::ImportStockRequest { write: Some(new_write()), csv }).await.unwrap();
        for source in TEMPLATES {
            let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: source.into() };
            self.lead.publish_template(asked).await.unwrap();
        }
    }

    /// A technician with these skills.
    pub async fn technician(&self, name: &str, skills: &[&str]) -> Client {
        let skills = skills.iter().map(|skill| (*skill).to_owned()).collect();
        let asked = v1::AddPersonRequest { write: Some(new_write()), name: name.into(), skills };
        self.lead.add_person(asked).await.unwrap();
        self.token(v1::Role::Technician, name).await
    }

    /// A token of this role for a person, or for a device of that name.
    pub async fn token(&self, role: v1::Role, name: &str) -> Client {
        let person = if role == v1::Role::Technician { name.to_owned() } else { String::new() };
        let label = if person.is_empty() { name.to_owned() } else { String::new() };
        let (write, role) = (Some(new_write()), role.into());
        let asked = v1::IssueTokenRequest { write, role, person, label, expires_at: None };
        client(&self.replicas[0], &self.lead.issue_token(asked).await.unwrap().secret)
    }

    /// The secret of a device at which persons sign in.
    pub async fn device_secret(&self) -> String {
        let (write, role, label) = (Some(new_write()), v1::Role::Technician.into(), "bay tablet".to_owned());
        let asked = v1::IssueTokenRequest { write, role, label, ..Default::default() };
        self.lead.issue_token(asked).await.unwrap().secret
    }

    /// Somebody with this secret.
    pub fn with_secret(&self, secret: &str) -> Client {
        client(&self.replicas[0], secret)
    }

    /// The same, but it never tries again.
    pub fn hasty_with(&self, secret: &str) -> Client {
        let endpoint = Endpoint::new(self.replicas[0].url.clone()).token(secret);
        Client::connect(endpoint.budget(Duration::ZERO)).unwrap()
    }

    /// The same at the second replica.
    pub fn elsewhere_with(&self, secret: &str) -> Client {
        client(&self.replicas[1], secret)
    }

    /// The application of the first replica.
    pub fn app(&self) -> &App {
        &self.replicas[0].app
    }

    /// Where the first replica serves.
    pub fn url(&self) -> &str {
        &self.replicas[0].url
    }

    pub fn secret(&self) -> &str {
        &self.secret
    }

    /// The server's clock.
    pub async fn now(&self) -> Timestamp {
        self.lead.who_am_i(v1::WhoAmIRequest {}).await.unwrap().server_time.unwrap()
    }

    /// A hand-over that names every line that is open, with one reason for all of them.
    pub async fn named(&self, job: i64, why: &str) -> v1::CompleteJobRequest {
        let open = self.lead.check_hand_over(v1::CheckHandOverRequest { job }).await.unwrap().lines;
        let overrides = open.into_iter().map(|open| v1::Override { line: open.line, reason: String::new() }).collect();
        v1::CompleteJobRequest { write: Some(new_write()), job, override_reason: why.into(), overrides }
    }

    /// So much of a fluid came out or went in.
    pub async fn fluid(&self, job: i64, fluid: &str, drained_ml: i64, filled_ml: i64) {
        let (write, fluid, note) = (Some(new_write()), fluid.to_owned(), String::new());
        let asked = v1::RecordFluidRequest { write, job, fluid, drained_ml, filled_ml, note, unlisted: false };
        self.lead.record_fluid(asked).await.unwrap();
    }

    /// A blank job with these stages, each after the one before and without steps.
    pub async fn blank_job(&self, stages: &[&str]) -> i64 {
        let asked = v1::OpenJobRequest {
            write: Some(new_write()),
            title: "As it goes".into(),
            vehicle_label: "red pick-up".into(),
            ..Default::default()
        };
        let job = self.lead.open_job(asked).await.unwrap().job;
        for stage in stages {
            let (write, stage, title) = (Some(new_write()), (*stage).into(), (*stage).into());
            let asked = v1::AddStageRequest { write, job, stage, title, after_last: true, ..Default::default() };
            self.lead.add_stage(asked).await.unwrap();
        }
        job
    }

    /// A step that takes so much of an item.
    pub async fn step_with(&self, job: i64, stage: &str, item: &str, quantity: i64) -> i32 {
        let asked = v1::AddStepRequest {
            write: Some(new_write()),
            job,
            stage: stage.into(),
            instruction: format!("Fit {item}"),
            needs: vec![v1::Need { item: item.into(), quantity, unit: "1".into() }],
            ..Default::default()
        };
        self.lead.add_step(asked).await.unwrap().step
    }

    /// A stage of a job as it is now.
    pub async fn stage(&self, job: i64, stage: &str) -> v1::Stage {
        self.whole_job(job).await.stages.into_iter().find(|found| found.stage == stage).unwrap()
    }

    /// Every fact after a number.
    pub async fn facts_after(&self, mut number: i64) -> Vec<v1::Fact> {
        let mut facts = Vec::new();
        loop {
            let after = Some(v1::Cursor { number, fact_id: String::new() });
            let page = self.lead.read_journal(v1::ReadJournalRequest { after, page_size: 1000 }).await.unwrap();
            if page.facts.is_empty() {
                return facts;
            }
            number = page.facts.last().unwrap().number;
            facts.extend(page.facts);
        }
    }

    /// Another shop on the same database and replicas.
    pub async fn neighbour(&self) -> Client {
        self.with_secret(&self.neighbour_secret().await)
    }

    /// The secret of the lead of another shop.
    pub async fn neighbour_secret(&self) -> String {
        self.replicas[0].app.open_shop("Next door", "UTC", "Heron").await.unwrap().secret
    }

    /// Opens a job of a template.
    pub async fn job(&self, template: &str, label: &str) -> i64 {
        let asked = v1::OpenJobRequest {
            write: Some(new_write()),
            template: template.into(),
            vehicle_label: label.into(),
            ..Default::default()
        };
        self.lead.open_job(asked).await.unwrap().job
    }

    pub async fn assign(&self, job: i64, bay: &str) -> Result<v1::AssignJobResponse, SdkError> {
        let asked = v1::AssignJobRequest { write: Some(new_write()), job, bay: bay.into(), ..Default::default() };
        self.lead.assign_job(asked).await
    }

    pub async fn whole_job(&self, job: i64) -> v1::GetJobResponse {
        self.elsewhere.get_job(v1::GetJobRequest { job }).await.unwrap()
    }

    /// The last number of the journal.
    pub async fn head(&self) -> i64 {
        self.lead.read_journal(v1::ReadJournalRequest::default()).await.unwrap().head
    }

    /// The facts after a number, from the stream of the second replica.
    pub async fn followed(&self, after: v1::Cursor, count: usize) -> Vec<v1::Fact> {
        let stream = self.elsewhere.follow_journal(after).take(count).map(Result::unwrap);
        tokio::time::timeout(Duration::from_secs(30), stream.collect()).await.expect("the facts did not come")
    }

    pub async fn verified(&self) {
        let report = self.replicas[1].app.verify(self.id).await.unwrap();
        assert_eq!(report.faults, Vec::<String>::new());
    }
}

fn client(replica: &Replica, secret: &str) -> Client {
    Client::connect(Endpoint::new(replica.url.clone()).token(secret)).unwrap()
}

pub async fn start(who: &Client, job: i64, stage: &str) -> Result<v1::StartStageResponse, SdkError> {
    let asked = v1::StartStageRequest { write: Some(new_write()), job, stage: stage.into(), ..Default::default() };
    who.start_stage(asked).await
}

pub async fn finish(who: &Client, job: i64, stage: &str) -> Result<v1::FinishStageResponse, SdkError> {
    measure(who, job, stage).await?;
    pass_holds(who, job, stage).await?;
    let asked = v1::FinishStageRequest { write: Some(new_write()), job, stage: stage.into(), as_listed: true };
    who.finish_stage(asked).await
}

/// Steps up to the last hold point that asks for a second pair of eyes, which `other` has.
pub async fn pass_second(who: &Client, other: &Client, job: i64, stage: &str) -> Result<(), SdkError> {
    measure(who, job, stage).await?;
    let found = who.get_job(v1::GetJobRequest { job }).await?.stages.into_iter().find(|found| found.stage == stage);
    let steps: Vec<v1::Step> = found.into_iter().flat_map(|stage| stage.steps).collect();
    let upto = steps.iter().rposition(|step| step.hold_second).map_or(0, |last| last + 1);
    for step in &steps[..upto] {
        let (write, stage, steps) = (Some(new_write()), stage.to_owned(), vec![step.step]);
        let asked = v1::TickStepsRequest { write, job, stage, steps, ..Default::default() };
        let looks = if step.hold_second { other } else { who };
        tick_when_whole(who, looks, asked).await?;
    }
    Ok(())
}

/// Ticks; where the last look of the stage finds something that is not back, it goes back as listed first.
async fn tick_when_whole(who: &Client, looks: &Client, asked: v1::TickStepsRequest) -> Result<(), SdkError> {
    match looks.tick_steps(asked.clone()).await {
        Err(refused) if refused.reason == "HOLD_NOT_WHOLE" => {
            let (job, stage) = (asked.job, asked.stage.clone());
            let write = Some(new_write());
            let back = v1::PutBackRequest { write, job, stage, as_listed: true, ..Default::default() };
            let lines = who.put_back(back).await?.lines;
            let by_hand = lines.into_iter().filter(|line| line.tightness() == v1::Tightness::Finger);
            let positions: Vec<String> = by_hand.map(|line| line.position).collect();
            let (write, tightness) = (Some(new_write()), v1::Tightness::Final.into());
            who.tighten_positions(v1::TightenPositionsRequest { write, job, positions, tightness }).await?;
            looks.tick_steps(v1::TickStepsRequest { write: Some(new_write()), ..asked }).await.map(|_| ())
        }
        answer => answer.map(|_| ()),
    }
}

/// Takes what a stage measures and nobody took, just within its limits.
async fn measure(who: &Client, job: i64, stage: &str) -> Result<(), SdkError> {
    let readings = who.get_readings(v1::GetReadingsRequest { job }).await?.readings;
    for one in readings.into_iter().filter(|one| one.stage == stage && one.taken_at.is_none()) {
        let detail = one.detail.unwrap_or_default();
        let figure = [detail.low, detail.high, "1".to_owned()].into_iter().find(|limit| !limit.is_empty());
        let figures = vec![figure.unwrap_or_default(); one.slots.len()];
        let write = Some(new_write());
        let asked = v1::RecordReadingRequest { write, job, reading: one.reading, figures, ..Default::default() };
        who.record_reading(asked).await?;
    }
    Ok(())
}

/// Hold points are passed by number and not as listed, after the steps before them.
async fn pass_holds(who: &Client, job: i64, stage: &str) -> Result<(), SdkError> {
    let found = who.get_job(v1::GetJobRequest { job }).await?.stages.into_iter().find(|found| found.stage == stage);
    let left = found.into_iter().flat_map(|stage| stage.steps).filter(|step| step.state() == v1::StepState::Pending);
    let left: Vec<v1::Step> = left.collect();
    let Some(last) = left.iter().rposition(|step| !step.hold.is_empty()) else { return Ok(()) };
    let steps = left[..=last].iter().map(|step| step.step).collect();
    let asked =
        v1::TickStepsRequest { write: Some(new_write()), job, stage: stage.into(), steps, ..Default::default() };
    tick_when_whole(who, who, asked).await
}

/// Says that the present state does not allow it: the code, the reason, and one sentence that names what it is about
/// and says what to do. google.rpc.Code: FAILED_PRECONDITION is for what trying again alone does not mend.
pub fn stopped<T: std::fmt::Debug>(answer: Result<T, SdkError>, reason: &str, about: &str) {
    let refused = answer.unwrap_err();
    assert_eq!((refused.code, refused.reason.as_str()), (Code::FailedPrecondition, reason), "{refused}");
    assert!(refused.message.contains(about), "{reason} does not name {about}: {refused}");
    assert!(!refused.message.contains('\n') && refused.message.len() > about.len() + 20, "{reason}: {refused}");
    // A hand-over names every line that is open; anything else is one precondition.
    let named = refused.fields.iter().any(|fault| fault.field.split_once(':').is_some_and(|(_, key)| key == about));
    let comes = if reason.starts_with("HAND_OVER") { named } else { refused.fields.len() == 1 };
    assert!(comes, "the precondition that failed comes with it: {:?}", refused.fields);
}

/// The reason of a refusal.
pub fn reason<T: std::fmt::Debug>(answer: Result<T, SdkError>) -> String {
    answer.unwrap_err().reason
}
