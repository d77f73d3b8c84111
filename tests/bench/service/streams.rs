//! Streams: from the answer to a command until its fact reaches a subscriber, with 1, 50 and 500 of them on two replicas,
//! beside the time from NOTIFY to LISTEN in bare Postgres; and the memory that a subscriber takes.

use crate::shop;
use futures::StreamExt;
use kit::{Leadhandd, OwnServer};
use leadhand_sdk::v1;
use leadhand_sdk::v1::Cursor;
use leadhand_sdk::{Client, new_write};
use sqlx::postgres::PgListener;
use sqlx::{Connection, Executor, PgConnection};
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

const COMMANDS: usize = 60;
const PACE: Duration = Duration::from_millis(50);

fn percentile(of: &mut [f64], percent: usize) -> f64 {
    of.sort_by(f64::total_cmp);
    of[(of.len() * percent).div_ceil(100).saturating_sub(1)]
}

/// Milliseconds from NOTIFY to LISTEN.
async fn bare(postgres: &OwnServer) -> Vec<f64> {
    let mut listener = PgListener::connect(&postgres.superuser_url()).await.unwrap();
    listener.listen("bench").await.unwrap();
    let mut connection = PgConnection::connect(&postgres.superuser_url()).await.unwrap();
    let mut all = Vec::new();
    for _ in 0..COMMANDS {
        let begun = Instant::now();
        connection.execute("NOTIFY bench").await.unwrap();
        listener.recv().await.unwrap();
        all.push(begun.elapsed().as_secs_f64() * 1000.0);
    }
    all
}

/// A subscriber tells when it saw which number.
async fn subscribe(client: Client, after: Cursor, saw: mpsc::UnboundedSender<(i64, Instant)>) {
    let mut facts = std::pin::pin!(client.follow_journal(after));
    while let Some(Ok(fact)) = facts.next().await {
        if saw.send((fact.number, Instant::now())).is_err() {
            return;
        }
    }
}

/// Milliseconds from an answer to each subscriber, with so many of them.
async fn delays(lead: &Client, replicas: &[String], secret: &str, subscribers: usize) -> Vec<f64> {
    let bay = |at: usize| v1::Bay {
        bay: format!("bay-{subscribers}-{at}"),
        name: format!("Bay {at}"),
        kind: v1::BayKind::Floor.into(),
        rated_kg: 3000,
    };
    let add = async |at: usize| {
        let asked = v1::AddBayRequest { write: Some(new_write()), bay: Some(bay(at)) };
        lead.add_bay(asked).await.unwrap().receipt.unwrap()
    };
    let begun = add(0).await;
    let cursor = Cursor { number: begun.number, fact_id: String::new() };
    let (saw, mut seen) = mpsc::unbounded_channel();
    let tasks: Vec<_> = (0..subscribers)
        .map(|at| {
            let client = shop::client(&replicas[at % replicas.len()], secret);
            tokio::spawn(subscribe(client, cursor.clone(), saw.clone()))
        })
        .collect();
    // Each of them is there once it has seen one fact.
    let first = add(1).await.number;
    let mut there = 0;
    while there < subscribers {
        there += usize::from(seen.recv().await.unwrap().0 == first);
    }
    let mut all = Vec::with_capacity(COMMANDS * subscribers);
    for at in 2..COMMANDS + 2 {
        let number = add(at).await.number;
        let answered = Instant::now();
        let mut left = subscribers;
        while left > 0 {
            let (saw, at) = seen.recv().await.unwrap();
            if saw == number {
                left -= 1;
                all.push(at.saturating_duration_since(answered).as_secs_f64() * 1000.0);
            }
        }
        tokio::time::sleep(PACE).await;
    }
    for task in tasks {
        task.abort();
    }
    all
}

/// Runs it.
pub async fn run(postgres: &OwnServer) {
    println!("\nSTREAMS  {COMMANDS} commands each, subscribers on two replicas");
    let secret = kit::process::open_shop(&postgres.app_url(), "Bench streams").await.unwrap();
    let mut replicas = Vec::new();
    for _ in 0..2 {
        let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
        server.start().await.unwrap();
        replicas.push(server);
    }
    let urls: Vec<String> = replicas.iter().map(Leadhandd::url).collect();
    let lead = shop::client(&urls[0], &secret);
    let mut plain = bare(postgres).await;
    println!(
        "{:<44} p50 {:>8.2} ms   p99 {:>8.2} ms",
        "bare NOTIFY to LISTEN",
        percentile(&mut plain, 50),
        percentile(&mut plain, 99)
    );
    let idle = replicas[0].memory().unwrap() + replicas[1].memory().unwrap();
    let mut tails = Vec::new();
    for subscribers in [1, 50, 500] {
        let mut all = delays(&lead, &urls, &secret, subscribers).await;
        let (p50, p99) = (percentile(&mut all, 50), percentile(&mut all, 99));
        println!(
            "{:<44} p50 {p50:>8.2} ms   p99 {p99:>8.2} ms",
            format!("{subscribers:>3} subscribers, answer to fact")
        );
        tails.push(p99);
    }
    let full = replicas[0].memory().unwrap() + replicas[1].memory().unwrap();
    println!("{:<44} {:>9.1} KiB", "memory a subscriber, at most", full.saturating_sub(idle) as f64 / 1024.0 / 500.0);
    println!("{:<44} {:>9.2}     must <= 5", "p99 with 500 to p99 with 1", tails[2] / tails[0].max(0.01));
}
