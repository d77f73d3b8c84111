//! What a calculation costs, in empty calls on the same server: the rate of torques beside the rate of a health check, which
//! does nothing at all and asks for no token, and beside that of who-am-i, which looks up the token and reads the shop from
//! the database; and how long an exact flatness of 1,000 points takes.
//!
//! `deploy/bench-reckoner` runs it. It prints figures beside what is aimed at, and asserts nothing.
#![allow(clippy::unwrap_used, reason = "a program for one machine, which stops where it can't go on")]
#![allow(clippy::disallowed_methods, reason = "it measures time")]
#![allow(clippy::cast_precision_loss, reason = "figures for people to read")]

use futures::future::join_all;
use kit::Leadhandd;
use leadhand_sdk::v1;
use leadhand_sdk::{Client, Endpoint};
use std::time::Instant;
use tonic::transport::Channel;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

const ROUNDS: usize = 5;
const CLIENTS: usize = 16;
const CALLS: usize = 200;
const GRIDS: usize = 10;

/// The cheapest call that there is: nothing is read and nobody is asked who they are.
async fn health(mut server: HealthClient<Channel>) {
    for _ in 0..CALLS {
        server.check(HealthCheckRequest::default()).await.unwrap();
    }
}

async fn who_am_i(who: Client) {
    for _ in 0..CALLS {
        who.who_am_i(v1::WhoAmIRequest {}).await.unwrap();
    }
}

async fn torques(who: Client) {
    let friction = v1::Friction { thread: "0.12".into(), bearing: "0.12".into() };
    let asked = v1::ReckonTorqueRequest {
        thread: "M10".into(),
        class: "10.9".into(),
        preload: "75 %".into(),
        friction: Some(friction),
        ..Default::default()
    };
    for _ in 0..CALLS {
        who.reckon_torque(asked.clone()).await.unwrap();
    }
}

/// Calls a second of all clients together.
async fn rate<C: Clone, F: Future<Output = ()>>(who: &C, one: impl Fn(C) -> F) -> f64 {
    let begun = Instant::now();
    join_all((0..CLIENTS).map(|_| one(who.clone()))).await;
    (CLIENTS * CALLS) as f64 / begun.elapsed().as_secs_f64()
}

/// A face of 25 by 40 points that is bent and a little rough; the same in every run.
fn grid() -> v1::ReckonFlatnessRequest {
    let mut seed = 7_u64;
    let mut rough = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 40) as f64 / f64::from(1_u32 << 24) * 0.02
    };
    let points = (0..25).flat_map(|x| (0..40).map(move |y| (x, y)));
    let points = points.map(|(x, y)| {
        let bend = 0.03 * (f64::from(x) / 24.0 - 0.5).powi(2) + 0.02 * (f64::from(y) / 39.0 - 0.5).powi(2);
        let z = format!("{:.4} mm", bend + rough());
        v1::SurfacePoint { x: format!("{} mm", x * 10), y: format!("{} mm", y * 10), z }
    });
    v1::ReckonFlatnessRequest { points: points.collect(), ..Default::default() }
}

fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}

#[tokio::main]
async fn main() {
    let database = kit::fresh_database().await;
    let secret = kit::process::open_shop(&database.app_url(), "Tarn Yard").await.unwrap();
    let mut server = Leadhandd::over(&database.app_url()).unwrap();
    server.start().await.unwrap();
    let who = Client::connect(Endpoint::new(server.url()).token(secret)).unwrap();
    let channel = Channel::from_shared(server.url()).unwrap().connect().await.unwrap();
    let mut bare = HealthClient::new(channel);
    let mut told = Told::default();
    let asked = grid();
    for _ in 0..ROUNDS {
        let checks = rate(&bare, health).await;
        let plain = rate(&who, who_am_i).await;
        let reckoned = rate(&who, torques).await;
        told.checks.push(checks);
        told.plain.push(plain);
        told.to_checks.push(reckoned / checks);
        told.to_plain.push(reckoned / plain);
        let begun = Instant::now();
        for _ in 0..GRIDS {
            bare.check(HealthCheckRequest::default()).await.unwrap();
        }
        let check = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        for _ in 0..GRIDS {
            who.who_am_i(v1::WhoAmIRequest {}).await.unwrap();
        }
        let call = begun.elapsed().as_secs_f64();
        let begun = Instant::now();
        for _ in 0..GRIDS {
            who.reckon_flatness(asked.clone()).await.unwrap();
        }
        let face = begun.elapsed().as_secs_f64();
        told.faces_in_checks.push(face / check);
        told.faces_in_plain.push(face / call);
    }
    told.print();
}

/// A figure a round.
#[derive(Default)]
struct Told {
    checks: Vec<f64>,
    plain: Vec<f64>,
    to_checks: Vec<f64>,
    to_plain: Vec<f64>,
    faces_in_checks: Vec<f64>,
    faces_in_plain: Vec<f64>,
}

impl Told {
    fn print(self) {
        println!("medians of {ROUNDS} rounds, {CLIENTS} clients");
        println!("health checks a second, no token   {:>10.0}", median(self.checks));
        println!("who-am-i a second, reads the shop  {:>10.0}", median(self.plain));
        println!("torques to health checks, rate     {:>10.2}   aim: at least 0.7", median(self.to_checks));
        println!("torques to who-am-i, rate          {:>10.2}", median(self.to_plain));
        println!(
            "a face of 1,000 points, in checks  {:>10.1}   aim: under 20 empty calls",
            median(self.faces_in_checks)
        );
        println!("the same in who-am-i               {:>10.1}", median(self.faces_in_plain));
    }
}
