//! Reservations beside bare SQL: at 1, 16 and 64 clients in one shop, and spread over a hundred.

use crate::figures::{Round, line, median, ratio};
use crate::{bare, shop};
use futures::future::join_all;
use kit::{Leadhandd, OwnServer};
use leadhand_sdk::Client;
use leadhand_sdk::v1::WhoAmIRequest;
use std::time::{Duration, Instant};

const ROUNDS: usize = 3;
const SECONDS: u64 = 4;
const SHOPS: usize = 100;

/// What a client works off: a shop, and the jobs and stages that are its own.
struct Work {
    client: Client,
    left: Vec<(i64, usize)>,
}

/// Every client reserves what is its own, for so long at most.
async fn reserving(work: &mut [Work]) -> Round {
    let begun = Instant::now();
    let until = Duration::from_secs(SECONDS);
    let one = async |work: &mut Work| {
        let mut millis = Vec::new();
        while begun.elapsed() < until {
            let Some((job, stage)) = work.left.pop() else { break };
            let asked = Instant::now();
            work.client.reserve_stock(shop::reserve(job, stage)).await.unwrap();
            millis.push(asked.elapsed().as_secs_f64() * 1000.0);
        }
        millis
    };
    let all = join_all(work.iter_mut().map(one)).await;
    Round::of(all.into_iter().flatten().collect(), begun.elapsed())
}

/// Every client asks who it is, for so long.
async fn asking(clients: &[Client]) -> Round {
    let begun = Instant::now();
    let until = Duration::from_secs(SECONDS);
    let one = async |client: &Client| {
        let mut millis = Vec::new();
        while begun.elapsed() < until {
            let asked = Instant::now();
            client.who_am_i(WhoAmIRequest {}).await.unwrap();
            millis.push(asked.elapsed().as_secs_f64() * 1000.0);
        }
        millis
    };
    let all = join_all(clients.iter().map(one)).await;
    Round::of(all.into_iter().flatten().collect(), begun.elapsed())
}

/// Jobs that last a round, judged by what bare SQL does there.
async fn work(clients: &[Client], rate: f64) -> Vec<Work> {
    let each = (rate * SECONDS as f64 / clients.len() as f64 / shop::STAGES as f64).ceil() as usize + 1;
    join_all(clients.iter().map(async |client| {
        let jobs = shop::jobs(client, each).await;
        let left = jobs.into_iter().flat_map(|job| (0..shop::STAGES).map(move |stage| (job, stage))).collect();
        Work { client: client.clone(), left }
    }))
    .await
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
            // Batches may be many times as fast: there is to be work enough for all of the time.
            let enough = round.rate.max(200.0) * if clients == 1 { 2.0 } else { 12.0 };
            plain.push(round);
            let own: Vec<Client> = (0..clients).map(|_| shop::client(&server.url(), &secrets[0])).collect();
            one.push(reserving(&mut work(&own, enough).await).await);
            let others: Vec<Client> = spread.iter().take(clients).cloned().collect();
            many.push(reserving(&mut work(&others, enough).await).await);
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
    let plain = bare::run(postgres, SHOPS, SECONDS, SHOPS as u32);
    let many = reserving(&mut work(&spread, plain.rate * 2.0).await).await;
    line("100 clients, bare SQL in 100 shops", plain);
    line("100 clients, the server in 100 shops", many);
    ratio("one shop, 64 clients, rate to bare SQL", medians[2].1.rate / medians[2].0.rate, ">= 3", "10");
    ratio("100 shops, rate to bare SQL", many.rate / plain.rate, ">= 0.7", "1");
    ratio("one client, latency to bare SQL", medians[0].1.p50 / medians[0].0.p50, "<= 2", "1.3");
}
