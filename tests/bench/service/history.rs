//! A shop with a long past beside one with none: what is asked all day, a replica's start, appending, a year's audit
//! beside one aggregate in SQL, and the proof of all of it.

use crate::figures::{self, Round, median};
use crate::past::{Shop, Size};
use crate::{Asked, bare, reservation, shop};
use kit::{Leadhandd, OwnServer};
use leadhand_app::{App, Entropy, Options};
use leadhand_sdk::Client;
use leadhand_sdk::v1;
use leadhand_sdk::{SdkError, new_write};
use leadhand_store::Store;
use rand::rngs::StdRng;
use rand::{Rng, SeedableRng};
use sqlx::{Connection, PgConnection};
use std::process::Stdio;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Jobs that are under way in both shops.
const TODAY: usize = 12;
const LOOKS: usize = 40;
const STARTS: usize = 5;
const ROUNDS: usize = 3;
/// Clients that append.
const CLIENTS: usize = 16;

/// Ids from the seed, so that two runs write the same.
pub struct Seeded(pub Mutex<StdRng>);

impl Entropy for Seeded {
    fn fill(&self, buffer: &mut [u8]) {
        self.0.lock().unwrap().fill_bytes(buffer);
    }
}

/// The server's application, in this process.
pub async fn application(postgres: &OwnServer, seed: u64) -> App {
    let store = Store::connect(&postgres.app_url(), 8).await.unwrap();
    let entropy = Arc::new(Seeded(Mutex::new(StdRng::seed_from_u64(seed))));
    App::start(store, entropy, Options { timer_interval: Duration::ZERO, ..Options::default() })
}

/// The median of how long it takes, in milliseconds.
async fn looked<T>(times: usize, mut one: impl AsyncFnMut() -> Result<T, SdkError>) -> f64 {
    let mut all = Vec::with_capacity(times);
    for _ in 0..times {
        let begun = Instant::now();
        one().await.unwrap();
        all.push(begun.elapsed().as_secs_f64() * 1000.0);
    }
    all.sort_by(f64::total_cmp);
    all[times / 2]
}

/// From the start of a process until it is healthy, shows the board and has written.
async fn replica(postgres: &OwnServer, secret: &str) -> f64 {
    let mut all = Vec::new();
    for _ in 0..STARTS {
        let begun = Instant::now();
        let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
        server.start().await.unwrap();
        let client = shop::client(&server.url(), secret);
        client.get_board(v1::GetBoardRequest::default()).await.unwrap();
        let place = format!("p{}", uuid::Uuid::new_v4().simple());
        let asked = v1::AddPlaceRequest { write: Some(new_write()), place, ..v1::AddPlaceRequest::default() };
        client.add_place(v1::AddPlaceRequest { name: "A place".into(), ..asked }).await.unwrap();
        all.push(begun.elapsed().as_secs_f64() * 1000.0);
    }
    all.sort_by(f64::total_cmp);
    all[STARTS / 2]
}

/// A shop, and what is looked at in it.
struct Looked {
    secret: String,
    client: Client,
    jobs: Vec<i64>,
    item: &'static str,
}

impl Looked {
    async fn head(&self) -> i64 {
        self.client.read_journal(v1::ReadJournalRequest::default()).await.unwrap().head
    }

    /// Board, a page of a statement, a job's audit, a page of the journal.
    async fn times(&self) -> [f64; 4] {
        let client = &self.client;
        let board = looked(LOOKS, async || client.get_board(v1::GetBoardRequest::default()).await).await;
        let asked = || v1::GetStatementRequest { item: self.item.into(), page_size: 100, page_token: String::new() };
        let statement = looked(LOOKS, async || client.get_statement(asked()).await).await;
        let mut at = 0;
        let audit = looked(LOOKS, async || {
            at += 1;
            let job = self.jobs[at % self.jobs.len()];
            client.audit_time(v1::AuditTimeRequest { job, ..v1::AuditTimeRequest::default() }).await
        })
        .await;
        let after = v1::Cursor { number: self.head().await - 100, fact_id: String::new() };
        let page = || v1::ReadJournalRequest { after: Some(after.clone()), page_size: 100 };
        let journal = looked(LOOKS, async || client.read_journal(page()).await).await;
        [board, statement, audit, journal]
    }

    /// Reservations a second, by many clients at a time.
    async fn append(&self, url: &str) -> Round {
        let own: Vec<Client> = (0..CLIENTS).map(|_| shop::client(url, &self.secret)).collect();
        reservation::round(reservation::work(&own), 4_000.0).await
    }
}

/// Runs it.
pub async fn run(postgres: &OwnServer, asked: &Asked) {
    let size = Size { jobs: asked.jobs(), seed: asked.seed };
    println!("\nHISTORY  {} jobs from seed {}", size.jobs, size.seed);
    let none = kit::process::open_shop(&postgres.app_url(), "Without a past").await.unwrap();
    let app = application(postgres, size.seed).await;
    let furnished = Shop::furnish(&app, &none, size.seed).await;
    furnished.live(Size { jobs: 1, ..size }).await;
    furnished.today(TODAY, size.seed).await;
    let start = replica(postgres, &none).await;

    let full = kit::process::open_shop(&postgres.app_url(), "With a past").await.unwrap();
    let begun = Instant::now();
    let furnished = Shop::furnish(&app, &full, size.seed).await;
    furnished.live(size).await;
    let took = begun.elapsed().as_secs_f64();
    furnished.today(TODAY, size.seed).await;
    app.drain().await;
    analyse(postgres).await;
    let start_full = replica(postgres, &full).await;

    let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
    server.start().await.unwrap();
    let url = server.url();
    let none = Looked { client: shop::client(&url, &none), secret: none, jobs: vec![1], item: "often" };
    let middle = i64::try_from(size.jobs / 2).unwrap().max(1);
    let jobs = (middle..middle + 10).collect();
    let full = Looked { client: shop::client(&url, &full), secret: full, jobs, item: "past-3" };
    let facts = full.head().await;
    figure("generated, facts", facts as f64, "");
    figure("generated, facts a second", facts as f64 / took, "");
    compare("start of a replica, board and a first write", start, start_full);
    let names = ["board", "a page of a statement", "a job's audit", "a page of the journal"];
    let (without, with) = (none.times().await, full.times().await);
    for ((name, without), with) in names.into_iter().zip(without).zip(with) {
        compare(name, without, with);
    }
    audit(postgres, &full).await;
    verify(postgres, &full, facts).await;
    append(&none, &full, &url).await;
}

fn figure(what: &str, figure: f64, must: &str) {
    println!("{what:<44} {figure:>11.1}     {must}");
}

fn compare(what: &str, without: f64, with: f64) {
    let ratio = with / without;
    println!("{what:<44} {without:>8.2} ms without, {with:>8.2} ms with: {ratio:>5.2}     must <= 1.5");
}

/// As autovacuum would have done by now.
async fn analyse(postgres: &OwnServer) {
    let mut connection = PgConnection::connect(&postgres.superuser_url()).await.unwrap();
    sqlx::query("VACUUM ANALYZE").execute(&mut connection).await.unwrap();
}

async fn append(none: &Looked, full: &Looked, url: &str) {
    shop::stocked(&none.client).await;
    shop::stocked(&full.client).await;
    let (mut without, mut with) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        without.push(none.append(url).await);
        with.push(full.append(url).await);
    }
    let (without, with) = (median(&without), median(&with));
    figures::line("appending without a past", without);
    figures::line("appending with a past", with);
    figures::ratio("appending, rate with to without", with.rate / without.rate, ">= 0.9", "1");
}

/// The year by template and stage, beside one aggregate over the same jobs, stages and clockings.
async fn audit(postgres: &OwnServer, full: &Looked) {
    let client = full.client.with_deadline(Duration::from_mins(2));
    let asked = || v1::AuditTimeRequest { by: v1::AuditBy::TemplateStage.into(), ..v1::AuditTimeRequest::default() };
    let answered = looked(5, async || client.audit_time(asked()).await).await;
    let mut connection = PgConnection::connect(&postgres.superuser_url()).await.unwrap();
    let sql = "SELECT j.template, s.stage, count(DISTINCT (s.job, s.stage)),
            sum(extract(epoch FROM c.until_at - c.from_at)), sum(extract(epoch FROM s.ended_at - s.ready_at))
        FROM job AS j JOIN stage AS s ON s.shop = j.shop AND s.job = j.job
        LEFT JOIN clocking AS c ON c.shop = s.shop AND c.job = s.job AND c.stage = s.stage
        WHERE j.shop = (SELECT shop FROM head ORDER BY number DESC LIMIT 1)
        GROUP BY j.template, s.stage";
    let mut plain = Vec::new();
    for _ in 0..5 {
        let begun = Instant::now();
        let rows = sqlx::query(sql).fetch_all(&mut connection).await.unwrap();
        assert!(!rows.is_empty());
        plain.push(begun.elapsed().as_secs_f64() * 1000.0);
    }
    plain.sort_by(f64::total_cmp);
    let ratio = answered / plain[2];
    println!(
        "{:<44} {:>8.2} ms in SQL,  {answered:>8.2} ms here: {ratio:>5.2}     must <= 3",
        "a year by template and stage", plain[2]
    );
}

/// The proof of the whole database: how fast, and the most memory that its process held.
async fn verify(postgres: &OwnServer, full: &Looked, facts: i64) {
    let url = postgres.app_url();
    let shop = full.client.who_am_i(v1::WhoAmIRequest {}).await.unwrap().shop;
    let begun = Instant::now();
    let mut command = std::process::Command::new(kit::process::program().unwrap());
    command.args(["verify", "--database-url", &url, "--shop", &shop]).stdout(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0_u64;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let most = text.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
        peak = peak.max(most.unwrap_or(0));
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let took = begun.elapsed().as_secs_f64();
    let output = child.wait_with_output().unwrap();
    println!("verify   {}", String::from_utf8_lossy(&output.stdout).trim());
    figure("verify, facts a second", facts as f64 / took, "");
    figure("verify, most memory, MiB", peak as f64 / 1024.0, "must < 512");
    println!("postgres {}", bare::version(postgres));
}
