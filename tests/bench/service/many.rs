//! Many shops on one server: its memory, what it and Postgres do while nobody does anything, and the rate against a
//! hundred shops.

use crate::figures::{line, median, ratio};
use crate::history::application;
use crate::{Asked, reservation, shop};
use futures::StreamExt;
use futures::future::join_all;
use kit::{Leadhandd, OwnServer};
use leadhand_app::{App, Write};
use leadhand_domain::command::{AddBay, Command, ImportStock, OpenJob, PublishTemplate, WhichVehicle};
use leadhand_facts::words::BayKind;
use leadhand_facts::{BayKey, RequestId};
use leadhand_sdk::Client;
use sqlx::{Connection, PgConnection};
use std::time::{Duration, Instant};
use uuid::Uuid;

const BAYS: usize = 4;
const FEW: usize = 100;
const ROUNDS: usize = 3;
/// Shops that are opened at a time.
const AT_A_TIME: usize = 32;
const IDLE: Duration = Duration::from_secs(20);

/// Opens a shop with bays, stock and a job; gives its lead's secret.
async fn open(app: &App, at: usize) -> String {
    let new = app.open_shop(&format!("Shop {at}"), "Europe/Lisbon", "Wren").await.unwrap();
    let lead = app.authenticate(&new.secret).await.unwrap().in_shop().unwrap();
    let mut commands: Vec<Command> = (0..BAYS)
        .map(|bay| {
            let name = format!("Bay {bay}");
            AddBay { bay: BayKey(format!("bay-{bay}")), name, kind: BayKind::Floor, rated_kg: 0 }.into()
        })
        .collect();
    commands.push(ImportStock { csv: shop::stock() }.into());
    commands.push(PublishTemplate { source: shop::template() }.into());
    let vehicle = WhichVehicle::New { label: "a vehicle".into(), weight_kg: None, plate: None, customer: None };
    let (template, title, promised_at) = (Some(shop::TEMPLATE.into()), None, None);
    let (with, without) = (Vec::new(), Vec::new());
    let job = OpenJob { template, revision: None, title, vehicle, priority: 3, promised_at, with, without };
    commands.push(job.into());
    for command in commands {
        app.execute(&lead, Write::of(RequestId(Uuid::new_v4())), command).await.unwrap();
    }
    new.secret
}

/// What a stretch of time cost.
struct Load {
    /// Seconds of a core a second.
    server: f64,
    postgres: f64,
    /// Transactions a second.
    transactions: f64,
}

async fn transactions(postgres: &OwnServer) -> f64 {
    let mut connection = PgConnection::connect(&postgres.superuser_url()).await.unwrap();
    let sql = "SELECT xact_commit + xact_rollback FROM pg_stat_database WHERE datname = current_database()";
    let found: i64 = sqlx::query_scalar(sql).fetch_one(&mut connection).await.unwrap();
    found as f64
}

/// Seconds of a core that a process and its children have used: proc(5), fields 14 to 17, in hundredths.
fn used(id: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{id}/stat")).unwrap_or_default();
    let rest = stat.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks = rest.split_whitespace().skip(11).take(4).filter_map(|ticks| ticks.parse::<f64>().ok());
    ticks.sum::<f64>() / 100.0
}

/// What an idle stretch costs.
async fn idle(server: &Leadhandd, postgres: &OwnServer) -> Load {
    let all = || postgres.processes().into_iter().map(used).sum::<f64>();
    let own = server.process_id().unwrap();
    let (begun, before, before_all, asked) = (Instant::now(), used(own), all(), transactions(postgres).await);
    tokio::time::sleep(IDLE).await;
    let took = begun.elapsed().as_secs_f64();
    let (server, database) = (used(own) - before, all() - before_all);
    let transactions = (transactions(postgres).await - asked) / took;
    Load { server: server / took, postgres: database / took, transactions }
}

fn tell(what: &str, load: &Load, server: &Leadhandd) {
    println!(
        "{what:<44} server {:>5.1} % of a core, postgres {:>5.1} %, {:>6.1} transactions/s, {:>6.1} MiB",
        load.server * 100.0,
        load.postgres * 100.0,
        load.transactions,
        server.memory().unwrap() as f64 / 1024.0 / 1024.0
    );
}

/// One subscriber of the board in each of these shops.
async fn watch(clients: &[Client]) -> Vec<tokio::task::JoinHandle<()>> {
    let (there, mut came) = tokio::sync::mpsc::unbounded_channel();
    let watched = clients.iter().map(|client| {
        let (client, there) = (client.clone(), there.clone());
        tokio::spawn(async move {
            let mut board = std::pin::pin!(client.watch_board());
            while let Some(Ok(_)) = board.next().await {
                there.send(()).ok();
            }
        })
    });
    let tasks: Vec<_> = watched.collect();
    for _ in 0..clients.len() {
        came.recv().await.unwrap();
    }
    tasks
}

/// Runs it.
pub async fn run(postgres: &OwnServer, asked: &Asked) {
    let count = asked.shops();
    println!("\nMANY SHOPS  {count} with {BAYS} bays each");
    let app = application(postgres, asked.seed).await;
    let begun = Instant::now();
    let mut secrets = Vec::with_capacity(count);
    let bar = indicatif::ProgressBar::with_draw_target(Some(count as u64), indicatif::ProgressDrawTarget::stderr());
    let places: Vec<usize> = (0..count).collect();
    for some in places.chunks(AT_A_TIME) {
        secrets.extend(join_all(some.iter().map(|at| open(&app, *at))).await);
        bar.inc(some.len() as u64);
    }
    bar.finish_and_clear();
    println!("{:<44} {:>9.1} s", "opened within", begun.elapsed().as_secs_f64());
    app.drain().await;
    drop(app);

    let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
    server.start().await.unwrap();
    let url = server.url();
    tell("nobody looks", &idle(&server, postgres).await, &server);
    let clients: Vec<Client> = secrets.iter().map(|secret| shop::client(&url, secret)).collect();
    let watching = watch(&clients).await;
    tell("a board watched in each shop", &idle(&server, postgres).await, &server);
    for task in watching {
        task.abort();
    }
    rates(&clients).await;
    tell("after the last round", &idle(&server, postgres).await, &server);
}

/// A hundred clients in a hundred shops, and in all of them in turn.
async fn rates(clients: &[Client]) {
    let few = &clients[..FEW.min(clients.len())];
    let (mut hundred, mut all) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        hundred.push(reservation::round(reservation::work(few), 3_000.0).await);
        let mut workers = Vec::new();
        for at in 0..few.len() {
            let own: Vec<Client> = clients.iter().skip(at).step_by(few.len()).cloned().collect();
            workers.push(reservation::Work::among(own));
        }
        all.push(reservation::round(workers, 3_000.0).await);
    }
    let (hundred, all) = (median(&hundred), median(&all));
    line(&format!("{} clients in {} shops", few.len(), few.len()), hundred);
    line(&format!("{} clients in {} shops", few.len(), clients.len()), all);
    ratio("many shops, rate to a hundred", all.rate / hundred.rate, "-", "1");
}
