//! Many clients at once on all replicas, while something goes wrong: processes are killed, or whatever a
//! test thinks of.

use crate::client::Client;
use crate::history::{Figures, History, Recorder};
use crate::scene::Scene;
use crate::subscriber::{End, Subscriber};
use crate::waiting::until;
use anyhow::{Context, Result};
use rand::rngs::StdRng;
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tokio::task::JoinSet;
use tokio::time::{Instant, sleep, sleep_until};
use tokio_util::sync::CancellationToken;

/// How a storm goes.
#[derive(Debug, Clone, Copy)]
pub struct Plan {
    pub seed: u64,
    pub clients: u64,
    pub lasting: Duration,
    pub replica_kills: usize,
    pub postgres_kills: usize,
    /// How long everything may take to come to rest afterwards.
    pub rest_within: Duration,
}

impl Plan {
    /// Nobody is killed; whatever goes wrong is the test's own.
    pub const fn quiet(seed: u64, clients: u64, lasting: Duration) -> Self {
        Self { seed, clients, lasting, replica_kills: 0, postgres_kills: 0, rest_within: Duration::from_mins(1) }
    }
}

/// What came of it.
pub struct Aftermath {
    pub history: History,
    pub figures: Figures,
    pub longest_gap: Duration,
}

#[derive(Debug, Clone, Copy)]
enum Victim {
    /// The one with this index.
    Replica(usize),
    Postgres,
}

/// A storm in which replicas and Postgres are killed as planned.
pub async fn storm(scene: &mut Scene, plan: &Plan) -> Result<Aftermath> {
    storm_with(scene, plan, async |scene, _| kill(plan, scene).await).await
}

/// A storm with any trouble. It lasts until the trouble is over, and as long as planned at least.
pub async fn storm_with(
    scene: &mut Scene,
    plan: &Plan,
    trouble: impl AsyncFnOnce(&mut Scene, &Recorder) -> Result<()>,
) -> Result<Aftermath> {
    let recorder = Arc::new(Recorder::new());
    let (tell_end, end) = watch::channel(None);
    let mut logs = subscribe(scene, plan, &end).await?;
    let clients = work(scene, plan, &recorder, trouble).await?;
    let longest_gap = recorder.longest_gap();
    let mut settling = JoinSet::new();
    for client in clients {
        settling.spawn(client.settle(plan.rest_within));
    }
    while let Some(settled) = settling.join_next().await {
        settled?;
    }
    tell_end.send_replace(Some((heads(scene).await?, Instant::now() + plan.rest_within)));
    let mut history = History { attempts: recorder.attempts(), ..History::default() };
    while let Some(log) = logs.join_next().await {
        history.logs.push(log?);
    }
    // Read last, so that it holds whatever a subscriber may have.
    let edge = scene.edge()?;
    for shop in &scene.shops {
        history.journals.push(edge.journal(&shop.lead).await?);
    }
    let figures = Figures::of(&history.attempts);
    Ok(Aftermath { history, figures, longest_gap })
}

/// Two subscribers a replica and shop: one from the beginning, one from where the journal ends.
async fn subscribe(scene: &Scene, plan: &Plan, end: &End) -> Result<JoinSet<crate::history::Log>> {
    let (urls, mut logs) = (scene.urls(), JoinSet::new());
    let heads = heads(scene).await?;
    for (number, shop) in scene.shops.iter().enumerate() {
        let replicas = u64::try_from(urls.len())?;
        for index in 0..2 * replicas {
            let name = format!("shop {number} subscriber {index}");
            let subscriber = Subscriber::new(name, number, shop.clone(), &urls, plan.seed * 100 + index)?;
            let subscriber = if index < replicas { subscriber } else { subscriber.from(heads[number]) };
            logs.spawn(subscriber.follow(end.clone()));
        }
    }
    Ok(logs)
}

async fn heads(scene: &Scene) -> Result<Vec<i64>> {
    let edge = scene.edge()?;
    let mut heads = Vec::new();
    for shop in &scene.shops {
        let look = || async { edge.head(&shop.lead).await.ok() };
        heads.push(until(Duration::from_secs(30), "a journal's head", look).await?);
    }
    Ok(heads)
}

async fn work(
    scene: &mut Scene,
    plan: &Plan,
    recorder: &Arc<Recorder>,
    trouble: impl AsyncFnOnce(&mut Scene, &Recorder) -> Result<()>,
) -> Result<Vec<Client>> {
    let (stop, mut working) = (CancellationToken::new(), JoinSet::new());
    for number in 0..plan.clients {
        let seed = plan.seed.wrapping_mul(10_000) + number;
        let client = Client::new(scene.shops.clone(), &scene.urls(), recorder.clone(), seed)?;
        working.spawn(client.work(stop.clone()));
    }
    let over = Instant::now() + plan.lasting;
    let passed = trouble(scene, recorder).await;
    // Recovery may have taken longer than planned; the clients work on until it is over.
    sleep_until(over).await;
    stop.cancel();
    let mut clients = Vec::new();
    while let Some(client) = working.join_next().await {
        clients.push(client?);
    }
    passed.map(|()| clients)
}

/// Kills at random moments, and has the victim running again after a random pause.
async fn kill(plan: &Plan, scene: &mut Scene) -> Result<()> {
    let mut random = StdRng::seed_from_u64(plan.seed);
    // Each replica in its turn, the last one first.
    let replicas = (0..scene.replicas.len()).rev().cycle();
    let mut victims: Vec<Victim> = replicas.take(plan.replica_kills).map(Victim::Replica).collect();
    victims.extend(vec![Victim::Postgres; plan.postgres_kills]);
    victims.shuffle(&mut random);
    let (begun, lasting_ms) = (Instant::now(), u64::try_from(plan.lasting.as_millis())?);
    let mut moments: Vec<u64> =
        victims.iter().map(|_| random.random_range(lasting_ms / 10..lasting_ms * 8 / 10)).collect();
    moments.sort_unstable();
    for (moment, victim) in moments.into_iter().zip(victims) {
        sleep_until(begun + Duration::from_millis(moment)).await;
        let pause = Duration::from_millis(random.random_range(0..200));
        eprintln!("{:?} after the beginning: kill -9 to the {victim:?}, up again after {pause:?}", begun.elapsed());
        match victim {
            Victim::Replica(index) => {
                let replica = &mut scene.replicas[index];
                replica.kill9()?;
                sleep(pause).await;
                replica.start().await.context("the killed replica did not come back")?;
            }
            Victim::Postgres => {
                scene.postgres.kill9()?;
                sleep(pause).await;
                scene.postgres.restart().await.context("the killed Postgres did not come back")?;
            }
        }
    }
    Ok(())
}
