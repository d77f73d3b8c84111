//! A shop with a few bays, its server, and a screen before it.

use kit::{Leadhandd, TestDatabase};
use leadhand_sdk::v1::{self, BayKind, Role};
use leadhand_sdk::{Client, Endpoint, WriteContextExt, moment, new_write};
use std::net::SocketAddr;
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;

pub struct Scene {
    pub server: Leadhandd,
    pub lead: Client,
    pub screen: SocketAddr,
    token: String,
    stop: CancellationToken,
    _database: TestDatabase,
}

impl Scene {
    /// With a screen that has a token of this role.
    pub async fn open(role: Role) -> Self {
        Self::open_in(role, "Europe/Lisbon").await
    }

    /// The same in another time zone.
    pub async fn open_in(role: Role, zone: &str) -> Self {
        let database = kit::fresh_database().await;
        let at = ["--database-url", &database.app_url()];
        let secret = kit::process::open_shop_in(at, "Tarn Yard", zone).await.unwrap();
        let mut server = Leadhandd::over(&database.app_url()).unwrap();
        server.start().await.unwrap();
        let lead = Client::connect(Endpoint::new(server.url()).token(secret)).unwrap();
        for bay in ["lift-1", "lift-2", "floor-1"] {
            let bay = v1::Bay { bay: bay.into(), name: bay.into(), kind: BayKind::Floor.into(), rated_kg: 5000 };
            lead.add_bay(v1::AddBayRequest { write: Some(new_write()), bay: Some(bay) }).await.unwrap();
        }
        let (write, role, label) = (Some(new_write()), role.into(), "screen".to_owned());
        let asked = v1::IssueTokenRequest { write, role, label, ..Default::default() };
        let token = lead.issue_token(asked).await.unwrap().secret;
        let (screen, stop) = begin(&server.url(), &token).await;
        Self { server, lead, screen, token, stop, _database: database }
    }

    /// Ends the screen and begins another at the same place of the shop.
    pub async fn another_screen(&mut self) {
        self.stop.cancel();
        (self.screen, self.stop) = begin(&self.server.url(), &self.token).await;
    }

    /// A job with one stage of so many steps, in a bay.
    pub async fn job(&self, vehicle: &str, bay: &str, steps: usize) -> i64 {
        self.job_of(vehicle, bay, steps, "Mend it").await
    }

    /// The same with a stage that is called so.
    pub async fn job_of(&self, vehicle: &str, bay: &str, steps: usize, stage: &str) -> i64 {
        let (title, vehicle_label) = ("Mend".to_owned(), vehicle.to_owned());
        let asked = v1::OpenJobRequest { write: Some(new_write()), title, vehicle_label, ..Default::default() };
        let job = self.lead.open_job(asked).await.unwrap().job;
        let stage = v1::AddStageRequest {
            write: Some(new_write()),
            job,
            stage: "mend".into(),
            title: stage.into(),
            steps: (1..=steps).map(|step| format!("Do thing {step}")).collect(),
            ..Default::default()
        };
        self.lead.add_stage(stage).await.unwrap();
        let assign = v1::AssignJobRequest { write: Some(new_write()), job, bay: bay.into(), ..Default::default() };
        self.lead.assign_job(assign).await.unwrap();
        job
    }

    /// A job on which somebody worked from an hour ago until half an hour ago.
    pub async fn worked(&self, person: &str) -> i64 {
        let back = |minutes| moment::to_wire(moment::now() - jiff::SignedDuration::from_mins(minutes));
        let (write, title) = (Some(new_write().at(back(90))), "Mend".to_owned());
        let asked = v1::OpenJobRequest { write, title, vehicle_label: "red van".into(), ..Default::default() };
        let job = self.lead.open_job(asked).await.unwrap().job;
        let (write, stage, title) = (Some(new_write().at(back(90))), "mend".to_owned(), "Mend it".to_owned());
        let asked = v1::AddStageRequest { write, job, stage: stage.clone(), title, ..Default::default() };
        self.lead.add_stage(asked).await.unwrap();
        let write = v1::WriteContext { for_person: person.to_owned(), ..new_write() };
        let (from_at, until_at) = (Some(back(60)), Some(back(30)));
        let asked = v1::RecordWorkRequest { write: Some(write), job, stage, from_at, until_at, ..Default::default() };
        self.lead.record_work(asked).await.unwrap();
        job
    }

    /// Everybody's entries of time.
    pub async fn clockings(&self) -> Vec<v1::Clocking> {
        self.lead.list_clockings(v1::ListClockingsRequest::default()).await.unwrap().clockings
    }

    /// The demo's stock, and these templates.
    pub async fn publish(&self, sources: &[&str]) {
        let csv = include_str!("../../deploy/demo-shop/items.csv").to_owned();
        self.lead.import_stock(v1::ImportStockRequest { write: Some(new_write()), csv }).await.unwrap();
        for source in sources {
            let asked = v1::PublishTemplateRequest { write: Some(new_write()), source: (*source).to_owned() };
            self.lead.publish_template(asked).await.unwrap();
        }
    }

    /// A job from a template in a bay, opened so many minutes ago.
    pub async fn job_from(&self, template: &str, vehicle: &str, bay: &str, minutes_ago: i64) -> i64 {
        let (template, vehicle_label) = (template.to_owned(), vehicle.to_owned());
        let then = moment::to_wire(moment::now() - jiff::SignedDuration::from_mins(minutes_ago));
        let write = || Some(new_write().at(then));
        let asked = v1::OpenJobRequest { write: write(), template, vehicle_label, ..Default::default() };
        let job = self.lead.open_job(asked).await.unwrap().job;
        let assign = v1::AssignJobRequest { write: write(), job, bay: bay.into(), ..Default::default() };
        self.lead.assign_job(assign).await.unwrap();
        job
    }

    pub async fn whole(&self, job: i64) -> v1::GetJobResponse {
        self.lead.get_job(v1::GetJobRequest { job }).await.unwrap()
    }

    pub async fn stage(&self, job: i64, stage: &str) -> v1::Stage {
        self.whole(job).await.stages.into_iter().find(|one| one.stage == stage).unwrap()
    }

    pub async fn position(&self, job: i64, position: &str) -> v1::Position {
        let book = self.lead.get_strip(v1::GetStripRequest { job, ..Default::default() }).await.unwrap();
        book.positions.into_iter().find(|one| one.position == position).unwrap()
    }

    /// Somebody who may sign in with this PIN.
    pub async fn person(&self, name: &str, pin: &str) -> String {
        self.person_as(name, pin, Role::Technician, &[]).await
    }

    /// The same, who may do this and that.
    pub async fn person_as(&self, name: &str, pin: &str, role: Role, skills: &[&str]) -> String {
        let (write, name) = (Some(new_write()), name.to_owned());
        let skills = skills.iter().map(|skill| (*skill).to_owned()).collect();
        let asked = v1::AddPersonRequest { write, name, skills };
        let person = self.lead.add_person(asked).await.unwrap().person;
        let (write, role) = (Some(new_write()), role.into());
        let pin = pin.to_owned();
        self.lead.set_pin(v1::SetPinRequest { write, person: person.clone(), role, pin }).await.unwrap();
        person
    }

    pub async fn held_up(&self, job: i64) {
        self.held_up_at(job, "mend", "").await;
    }

    /// A stage that waits for a tool, with words about it.
    pub async fn held_up_at(&self, job: i64, stage: &str, note: &str) {
        let (write, stage, note) = (Some(new_write()), stage.to_owned(), note.to_owned());
        let cause = v1::Cause::Tool.into();
        let asked = v1::RaiseBlockerRequest { write, job, stage, cause, note, ..Default::default() };
        self.lead.raise_blocker(asked).await.unwrap();
    }
}

impl Drop for Scene {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

async fn begin(server: &str, token: &str) -> (SocketAddr, CancellationToken) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let (listen, stop) = (listener.local_addr().unwrap(), CancellationToken::new());
    let endpoint = Endpoint::new(server).token(token);
    let (hosts, locale) = (Vec::new(), "en-GB".to_owned());
    let settings = leadhand_screen::config::Settings { endpoint, listen, hosts, tls: None, locale };
    tokio::spawn(leadhand_screen::serve::serve(settings, listener, stop.clone()));
    (listen, stop)
}
