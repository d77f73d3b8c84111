//! A disk that is slow to flush: commits take long, so more commands share one, deadlines are kept,
//! and nothing is lost.

use crate::checker::check;
use crate::edge::reason;
use crate::postgres_killed::receive;
use crate::report::report;
use crate::scene::Scene;
use crate::shop::new_id;
use crate::storm::{Plan, storm, storm_with};
use crate::waiting::until;
use anyhow::Result;
use futures::future::join_all;
use kit::{Leadhandd, OwnServer, Preload, Surroundings};
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::time::Duration;
use tonic::Code;

const WITHIN: Duration = Duration::from_secs(30);
/// Of a worn disk, or of one that is shared with others.
const FLUSH_MS: u32 = 50;

async fn over_a_disk(preload: &Preload, replicas: usize) -> Result<Scene> {
    let surroundings = Surroundings { variables: preload.variables(), ..Surroundings::default() };
    let postgres = OwnServer::start_in(surroundings).await?;
    let url = postgres.app_url();
    let replicas = (0..replicas).map(|_| Leadhandd::over(&url)).collect::<Result<_>>()?;
    Scene::of(postgres, url, replicas, 1).await
}

/// Commands that were run, and batches in which they were.
async fn batches(scene: &Scene) -> Result<(f64, f64)> {
    let mut sums = (0.0, 0.0);
    for replica in &scene.replicas {
        sums.0 += replica.metric("leadhand_batch_commands_sum").await?;
        sums.1 += replica.metric("leadhand_batch_commands_count").await?;
    }
    Ok(sums)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn commands_share_the_flushes_of_a_slow_disk_and_nothing_is_lost() {
    let Some(preload) = Preload::build().unwrap() else { return };
    let mut scene = over_a_disk(&preload, 1).await.unwrap();
    let plan = Plan::quiet(41, 32, Duration::from_secs(3));
    let fast = storm(&mut scene, &plan).await.unwrap();
    report("none, a fast disk", &fast, &check(&fast.history));

    let before = batches(&scene).await.unwrap();
    preload.slow_flush(FLUSH_MS).unwrap();
    let mut shared = 0.0;
    let plan = Plan { seed: 42, ..plan };
    // While the clients work: afterwards each repeats its own requests one after the other.
    let slow = storm_with(&mut scene, &plan, async |scene, recorder| {
        let look = || async { (recorder.acknowledged() >= 200).then_some(()) };
        until(WITHIN, "writes on the slow disk", look).await?;
        let after = batches(scene).await?;
        shared = (after.0 - before.0) / (after.1 - before.1);
        Ok(())
    });
    let slow = slow.await.unwrap();
    let found = check(&slow.history);
    report("flushes that take 50 ms longer", &slow, &found);
    eprintln!("{shared:.1} commands a commit on the slow disk");
    assert_eq!(found, []);
    assert!(shared > 2.0, "{shared} commands a commit: they don't share the flushes");
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flush_that_hangs_keeps_no_caller_beyond_the_deadline() {
    let Some(preload) = Preload::build().unwrap() else { return };
    let scene = over_a_disk(&preload, 1).await.unwrap();
    let (edge, lead) = (scene.edge().unwrap(), scene.shops[0].lead.clone());
    let mut random = StdRng::seed_from_u64(43);
    let commands: Vec<_> = (0..8).map(|_| receive(new_id(&mut random))).collect();
    preload.hold_flush(true).unwrap();
    // Nothing is flushed until all of them were answered.
    let calls = commands.iter().map(|command| command.send(&edge, &lead, Duration::from_millis(500)));
    for answer in join_all(calls).await {
        let late = answer.unwrap_err();
        let why = reason(&late);
        assert_eq!(late.code(), Code::DeadlineExceeded, "{late:?}");
        assert!(["DEADLINE_PASSED", "DEADLINE_BEFORE_TURN"].contains(&why.as_str()), "{late:?}");
    }
    // Whoever only reads is not held up.
    edge.head(&lead).await.unwrap();
    assert_eq!(edge.on_hand(&lead, "gasket").await.unwrap(), 0);
    preload.hold_flush(false).unwrap();
    for command in &commands {
        let look = || async { command.send(&edge, &lead, WITHIN).await.ok() };
        until(WITHIN, "a command to become known", look).await.unwrap();
    }
    assert_eq!(edge.on_hand(&lead, "gasket").await.unwrap(), 8);
}
