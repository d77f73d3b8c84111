//! Reservations beside bare SQL: at 1, 16 and 64 clients in one shop, and spread over a hundred.

use crate::figures::{Round, line, median, ratio};
use crate::{bare, shop};
use futures::future::join_all;
use kit::{Leadhandd, OwnServer};
use leadhand_sdk::Client;
use leadhand_sdk::new_write;
use leadhand_sdk::v1::CancelJobRequest;
use std::time::{Duration, Instant};
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

const ROUNDS: usize = 3;
const SECONDS: u64 = 4;
const SHOPS: usize = 100;

/// What a client works off: its shops in turn, and the jobs and stages that are its own there.
pub struct Work {
    shops: Vec<Client>,
    left: Vec<(usize, i64, usize)>,
    jobs: Vec<(usize, i64)>,
}

impl Work {
    /// In these shops, with nothing to do yet.
    pub fn among(shops: Vec<Client>) -> Self {
        Self { shops, left: Vec::new(), jobs: Vec::new() }
    }
}

/// The jobs are over: what was reserved is free again, so that no round works in a fuller shop than the one before.
pub async fn clear(all: &[Work]) {
    join_all(all.iter().map(async |work| {
        for (at, job) in &work.jobs {
            let reason = "the round is over".to_owned();
            let asked = CancelJobRequest { write: Some(new_write()), job: *job, reason, as_it_is: false };
            work.shops[*at].cancel_job(asked).await.unwrap();
        }
    }))
    .await;
}

/// Prepares, reserves and clears away again, at about this rate.
pub async fn round(mut all: Vec<Work>, rate: f64) -> Round {
    prepare(&mut all, rate).await;
    let round = reserving(&mut all).await;
    clear(&all).await;
    round
}

/// Every client reserves what is its own, for so long at most.
async fn reserving(work: &mut [Work]) -> Round {
    let begun = Instant::now();
    let until = Duration::from_secs(SECONDS);
    let one = async |work: &mut Work| {
        let mut millis = Vec::new();
        while begun.elapsed() < until {
            let Some((at, job, stage)) = work.left.pop() else { break };
            let asked = Instant::now();
            work.shops[at].reserve_stock(shop::reserve(job, stage)).await.unwrap();
            millis.push(asked.elapsed().as_secs_f64() * 1000.0);
        }
        millis
    };
    let all = join_all(work.iter_mut().map(one)).await;
    Round::of(all.into_iter().flatten().collect(), begun.elapsed())
}

/// Every client asks whether the server serves, for so long: a call that needs neither token nor database.
async fn asking(clients: &[Client]) -> Round {
    let begun = Instant::now();
    let until = Duration::from_secs(SECONDS);
    let one = async |client: &Client| {
        let mut health = HealthClient::new(client.channel());
        let mut millis = Vec::new();
        while begun.elapsed() < until {
            let asked = Instant::now();
            health.check(HealthCheckRequest::default()).await.unwrap();
            millis.push(asked.elapsed().as_secs_f64() * 1000.0);
        }
        millis
    };
    let all = join_all(clients.iter().map(one)).await;
    Round::of(all.into_iter().flatten().collect(), begun.elapsed())
}

/// Each client in a shop.
pub fn work(clients: &[Client]) -> Vec<Work> {
    clients.iter().map(|client| Work::among(vec![client.clone()])).collect()
}

/// Jobs that last a round at this rate.
async fn prepare(all: &mut [Work], rate: f64) {
    let shops: usize = all.iter().map(|work| work.shops.len()).sum();
    let at_a_time = 64 / all.len().max(1);
    let each = (rate * SECONDS as f64 / shops as f64 / shop::STAGES as f64).ceil() as usize;
    join_all(all.iter_mut().map(async |work| {
        let mut opened: Vec<(usize, i64)> = Vec::new();
        for (at, client) in work.shops.iter().enumerate() {
            opened.extend(shop::jobs(client, each, at_a_time).await.into_iter().map(|job| (at, job)));
        }
        // Stage by stage, so that one shop comes after the other.
        work.left =
            (0..shop::STAGES).flat_map(|stage| opened.iter().map(move |(at, job)| (*at, *job, stage))).collect();
        work.jobs = opened;
    }))
    .await;
}

/// Runs it.
pub async fn run(postgres: &OwnServer) {
    println!("\nRESERVATION  medians of {ROUNDS} rounds of {SECONDS} s");
    bare::prepare(postgres).await;
    let mut secrets = Vec::new();
    for at in 0..=SHOPS {
        secrets.push(kit::process::open_shop(&postgres.app_url(), &format!("Bench {at}")).await.unwrap());
    }
    let mut server = Leadhandd::over(&postgres.app_url()).unwrap();
    server.start().await.unwrap();
    let alone = shop::client(&server.url(), &secrets[0]);
    let spread: Vec<Client> = secrets[1..].iter().map(|secret| shop::client(&server.url(), secret)).collect();
    for client in std::iter::once(&alone).chain(&spread) {
        shop::stocked(client).await;
    }
    let mut medians = Vec::new();
    for clients in [1_usize, 16, 64] {
        let (mut plain, mut one, mut many, mut calls) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            let round = bare::run(postgres, clients, SECONDS, 1);
            // Work enough for all of the time, by how fast the round before was.
            let last = |rounds: &[Round], first: f64| rounds.last().map_or(first, |round| round.rate) * 1.3;
            let first = round.rate * if clients == 1 { 1.5 } else { 6.0 };
            plain.push(round);
            let own: Vec<Client> = (0..clients).map(|_| shop::client(&server.url(), &secrets[0])).collect();
            one.push(self::round(work(&own), last(&one, first)).await);
            let others: Vec<Client> = spread.iter().take(clients).cloned().collect();
            many.push(self::round(work(&others), last(&many, first)).await);
            calls.push(asking(&own).await);
        }
        let (plain, one, many, calls) = (median(&plain), median(&one), median(&many), median(&calls));
        line(&format!("{clients:>3} clients, bare SQL in one shop"), plain);
        line(&format!("{clients:>3} clients, the server in one shop"), one);
        line(&format!("{clients:>3} clients, the server in {} shops", clients.min(SHOPS)), many);
        line(&format!("{clients:>3} clients, empty calls"), calls);
        medians.push((plain, one));
    }
    // A hundred shops, each with a client of its own.
    let (mut plain, mut many) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        plain.push(bare::run(postgres, SHOPS, SECONDS, SHOPS as u32));
        let rate = many.last().map_or(plain[0].rate * 1.5, |round: &Round| round.rate * 1.3);
        many.push(round(work(&spread), rate).await);
    }
    let (plain, many) = (median(&plain), median(&many));
    line("100 clients, bare SQL in 100 shops", plain);
    line("100 clients, the server in 100 shops", many);
    ratio("one shop, 64 clients, rate to bare SQL", medians[2].1.rate / medians[2].0.rate, ">= 3", "10");
    ratio("100 shops, rate to bare SQL", many.rate / plain.rate, ">= 0.7", "1");
    ratio("one client, latency to bare SQL", medians[0].1.p50 / medians[0].0.p50, "<= 2", "1.3");
}
