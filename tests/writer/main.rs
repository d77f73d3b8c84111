//! The shop's writer over a real database, without the edge: batches, repeats, two replicas, and
//! the second lock.
#![allow(clippy::unwrap_used, reason = "a test that can't go on says where")]

mod forgetting;
mod replicas;
mod second_lock;
mod shared;
mod timer;
mod together;

use kit::TestDatabase;
use leadhand_app::access::Principal;
use leadhand_app::{App, AppError, Entropy, NewShop, Options, Outcome, Write};
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AddBay, AddItem, AddPlace, AssignJob, Command, CompleteJob, CountStock, FinishStage, IssueStock, OpenJob,
    PublishTemplate, ReceiveStock, ReserveStock, SetHours, StartStage, WhichVehicle,
};
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::words::BayKind;
use leadhand_facts::{BayKey, ItemKey, JobNo, PlaceKey, Quantity, RequestId, StageKey, Unit};
use leadhand_store::Store;
use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use sqlx::Executor;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use uuid::Uuid;

struct Seeded(Mutex<StdRng>);

impl Entropy for Seeded {
    fn fill(&self, buffer: &mut [u8]) {
        self.0.lock().unwrap().fill_bytes(buffer);
    }
}

struct Shop {
    database: TestDatabase,
    app: App,
    new: NewShop,
    lead: Principal,
    ids: Mutex<StdRng>,
}

async fn replica(database: &TestDatabase, seed: u64) -> App {
    replica_with_timer(database, seed, Duration::ZERO).await
}

/// A replica whose timer looks that often; never for zero.
async fn replica_with_timer(database: &TestDatabase, seed: u64, timer_interval: Duration) -> App {
    let store = Store::connect(&database.app_url(), 8).await.unwrap();
    let entropy = Arc::new(Seeded(Mutex::new(StdRng::seed_from_u64(seed))));
    App::start(store, entropy, Options { timer_interval, ..Options::default() })
}

impl Shop {
    async fn open() -> Self {
        let database = kit::fresh_database().await;
        let app = replica(&database, 1).await;
        let new = app.open_shop("Test Yard", "Europe/Lisbon", "Wren").await.unwrap();
        let lead = app.authenticate(&new.secret).await.unwrap().in_shop().unwrap();
        Self { database, app, new, lead, ids: Mutex::new(StdRng::seed_from_u64(7)) }
    }

    fn write(&self) -> Write {
        let mut bytes = [0; 16];
        self.ids.lock().unwrap().fill_bytes(&mut bytes);
        let request = RequestId(uuid::Builder::from_random_bytes(bytes).into_uuid());
        Write::of(request)
    }

    async fn must(&self, command: impl Into<Command>) -> Outcome {
        self.app.execute(&self.lead, self.write(), command).await.unwrap()
    }

    async fn stock(&self, quantity: i64) {
        self.must(AddItem { item: "gasket".into(), name: "Gasket".into(), unit: Unit::Piece, fluid: None }).await;
        self.must(AddPlace { place: "a1".into(), name: "A1".into() }).await;
        self.must(receive(quantity)).await;
    }

    async fn verified(&self) {
        let report = self.app.verify(self.new.shop).await.unwrap();
        assert_eq!(report.faults, Vec::<String>::new());
        assert!(report.facts > 0);
    }

    async fn head(&self) -> i64 {
        self.app.shop(&self.lead).await.unwrap().number
    }
}

fn receive(quantity: i64) -> ReceiveStock {
    ReceiveStock { item: "gasket".into(), place: "a1".into(), quantity: Quantity(quantity), expires_on: None }
}

fn count(counted: i64) -> CountStock {
    CountStock {
        item: ItemKey::from("gasket"),
        place: PlaceKey::from("a1"),
        counted: Quantity(counted),
        reason: "counted twice".into(),
    }
}

const TEMPLATE: &str = r#"
key = "short"
title = "A short job"

[[stage]]
key = "strip"
title = "Strip"
minutes = [10, 20, 40]
bays = ["floor"]

[[stage.step]]
do = "Take it off"

[[stage]]
key = "fit"
title = "Fit"
minutes = [10, 20, 40]
bays = ["floor"]
after = ["strip"]

[[stage.step]]
do = "Put the new one on"
needs = [{ item = "gasket", quantity = 1 }]
"#;

fn open_job() -> OpenJob {
    OpenJob {
        template: Some("short".into()),
        revision: None,
        title: None,
        vehicle: WhichVehicle::New { label: "green estate".into(), weight_kg: Some(1400), plate: None, customer: None },
        priority: 3,
        promised_at: None,
        with: Vec::new(),
        without: Vec::new(),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_job_goes_through_and_verify_agrees() {
    let shop = Shop::open().await;
    let day = vec![DayHours { from_minute: 0, until_minute: 1440 }];
    let week = Week(std::array::from_fn(|_| day.clone()));
    shop.must(SetHours { from_day: "2026-01-05".into(), week }).await;
    shop.must(AddBay { bay: "floor-1".into(), name: "Floor".into(), kind: BayKind::Floor, rated_kg: 3000 }).await;
    shop.stock(3).await;
    shop.must(PublishTemplate { source: TEMPLATE.into() }).await;
    let opened = shop.must(open_job()).await;
    assert!(matches!(opened.answer.made, Made::Job { job: JobNo(1), .. }), "{:?}", opened.answer.made);
    let job = JobNo(1);
    shop.must(AssignJob { job, bay: BayKey::from("floor-1"), override_reason: None }).await;
    shop.must(ReserveStock { job, stage: None }).await;
    for stage in ["strip", "fit"] {
        shop.must(StartStage { job, stage: StageKey::from(stage), override_reason: None }).await;
        if stage == "fit" {
            shop.must(IssueStock { job, stage: None, item: None, quantity: None }).await;
        }
        shop.must(FinishStage { job, stage: StageKey::from(stage), as_listed: true }).await;
    }
    shop.must(CompleteJob { job, override_reason: None, overrides: vec![] }).await;
    let board = shop.app.board(&shop.lead).await.unwrap();
    assert!(board.board.bays.iter().all(|bay| bay.card.is_none()));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn commands_that_wait_are_committed_together_and_each_gets_its_own_answer() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let before = shop.head().await;
    let all = (1..=200).map(|quantity| shop.app.execute(&shop.lead, shop.write(), receive(quantity)));
    let answers: Vec<Outcome> = futures::future::join_all(all).await.into_iter().map(Result::unwrap).collect();
    let mut numbers: Vec<i64> = answers.iter().map(|outcome| outcome.answer.number).collect();
    numbers.sort_unstable();
    numbers.dedup();
    assert_eq!(numbers.len(), 200, "two commands share a last fact");
    // A receipt is two facts: the lot and the movement.
    assert_eq!(shop.head().await, before + 400);
    let stock = shop.app.stock(&shop.lead, Some("gasket".into()), None, 1).await.unwrap();
    assert_eq!(stock.items[0].in_bins.on_hand, Quantity(1 + 200 * 201 / 2));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_request_takes_effect_once_however_often_and_wherever_it_is_sent() {
    let shop = Shop::open().await;
    let other = replica(&shop.database, 2).await;
    shop.stock(1).await;
    let write = shop.write();
    let sent = (0..16).map(|n| {
        let app = if n % 2 == 0 { &shop.app } else { &other };
        app.execute(&shop.lead, write.clone(), receive(5))
    });
    let answers: Vec<Outcome> = futures::future::join_all(sent).await.into_iter().map(Result::unwrap).collect();
    assert_eq!(answers.iter().filter(|outcome| !outcome.repeated).count(), 1);
    assert!(answers.iter().all(|outcome| outcome.answer == answers[0].answer));
    let reused = shop.app.execute(&shop.lead, write.clone(), receive(6)).await;
    assert!(matches!(reused, Err(AppError::RequestReused(_))), "{reused:?}");
    let stock = shop.app.stock(&shop.lead, Some("gasket".into()), None, 1).await.unwrap();
    assert_eq!(stock.items[0].in_bins.on_hand, Quantity(6));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_replicas_take_turns_on_one_journal() {
    let shop = Shop::open().await;
    let other = replica(&shop.database, 2).await;
    shop.stock(1).await;
    for turn in 0..20 {
        let app = if turn % 2 == 0 { &shop.app } else { &other };
        app.execute(&shop.lead, shop.write(), receive(1)).await.unwrap();
        app.execute(&shop.lead, shop.write(), count(turn + 5)).await.unwrap();
    }
    let mut watch = other.watch_head(shop.new.shop);
    let mut followed = Vec::new();
    while followed.len() < usize::try_from(shop.head().await).unwrap() {
        let after = i64::try_from(followed.len()).unwrap();
        let page = other.journal(&shop.lead, after, None, 7).await.unwrap();
        followed.extend(page.entries.iter().map(|entry| entry.number));
    }
    assert!(followed.iter().copied().eq(1..=i64::try_from(followed.len()).unwrap()), "{followed:?}");
    shop.app.execute(&shop.lead, shop.write(), receive(1)).await.unwrap();
    let reached = shop.head().await;
    let woken = tokio::time::timeout(Duration::from_secs(10), watch.wait_for(|head| *head >= reached)).await;
    woken.expect("the other replica was not woken").unwrap();
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refused_command_writes_nothing_and_is_decided_anew() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let before = shop.head().await;
    let write = shop.write();
    let add = AddBay { bay: "floor-1".into(), name: "Floor".into(), kind: BayKind::Floor, rated_kg: 3000 };
    let assign = AssignJob { job: JobNo(1), bay: BayKey::from("floor-1"), override_reason: None };
    let refused = shop.app.execute(&shop.lead, write.clone(), assign.clone()).await;
    assert!(matches!(refused, Err(AppError::Refused { .. })));
    assert_eq!(shop.head().await, before);
    shop.must(add).await;
    shop.must(PublishTemplate { source: TEMPLATE.into() }).await;
    shop.must(open_job()).await;
    let accepted = shop.app.execute(&shop.lead, write.clone(), assign).await.unwrap();
    assert!(!accepted.repeated);
    shop.verified().await;
}

/// A trigger of the test's own stands for a rule that lets something through.
#[tokio::test(flavor = "multi_thread")]
async fn what_the_database_refuses_hits_the_culprit_alone() {
    let shop = Shop::open().await;
    shop.stock(1).await;
    let mut owner = shop.database.superuser().await.unwrap();
    owner.execute("ALTER TABLE stock_move ADD CONSTRAINT no_thirteen CHECK (quantity <> 13)").await.unwrap();
    let sent = [5, 13, 7].map(|quantity| shop.app.execute(&shop.lead, shop.write(), receive(quantity)));
    let answers = futures::future::join_all(sent).await;
    assert!(answers[0].is_ok() && answers[2].is_ok(), "{answers:?}");
    match &answers[1] {
        Err(AppError::Refused { refusal, .. }) => assert_eq!(refusal.reason(), "DEFECT"),
        other => panic!("{other:?}"),
    }
    let stock = shop.app.stock(&shop.lead, Some("gasket".into()), None, 1).await.unwrap();
    assert_eq!(stock.items[0].in_bins.on_hand, Quantity(13));
    shop.verified().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn verify_finds_a_cell_that_was_tampered_with() {
    let shop = Shop::open().await;
    shop.stock(3).await;
    let mut owner = shop.database.superuser().await.unwrap();
    owner.execute("UPDATE hold SET on_hand = on_hand + 1 WHERE item = 'gasket' AND place = 'a1'").await.unwrap();
    let report = shop.app.verify(shop.new.shop).await.unwrap();
    assert!(
        report.faults.iter().any(|fault| fault.contains("hold") && fault.contains("on_hand")),
        "{:?}",
        report.faults
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn a_wrong_token_is_nobody() {
    let shop = Shop::open().await;
    let guess = format!("lhd_{}", Uuid::nil().simple());
    assert!(matches!(shop.app.authenticate(&guess).await, Err(AppError::Unauthenticated(_))));
}
