//! The same storm with a guard switched off, each from outside: the checker has to see it. A green
//! test of the promises means something only because these are red.

use crate::checker::{check, words};
use crate::report::report;
use crate::scene::Scene;
use crate::storm::{Aftermath, Plan, storm, storm_with};
use crate::waiting::until;
use std::collections::BTreeSet;
use std::time::Duration;

const SHORT: Plan = Plan {
    seed: 2,
    clients: 16,
    lasting: Duration::from_millis(1_500),
    replica_kills: 0,
    postgres_kills: 0,
    rest_within: Duration::from_secs(10),
};

/// What the checker found, and whether `leadhandd verify` found the database sound.
async fn found_in(plan: &Plan, meddling: &[&'static str]) -> (BTreeSet<&'static str>, bool, String) {
    let mut scene = Scene::set_up(1).await.unwrap();
    for statements in meddling {
        scene.meddle(statements).await.unwrap();
    }
    let after = storm(&mut scene, plan).await.unwrap();
    judge(&scene, &after, meddling.is_empty()).await
}

async fn judge(scene: &Scene, after: &Aftermath, guarded: bool) -> (BTreeSet<&'static str>, bool, String) {
    let found = check(&after.history);
    let fault = if guarded { "none, every guard on" } else { "a guard switched off" };
    report(fault, after, &found);
    let (sound, said) = scene.verify().await.unwrap();
    (words(&found), sound, said)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn with_every_guard_on_the_short_storm_is_green() {
    let (found, sound, said) = found_in(&SHORT, &[]).await;
    assert_eq!(found, BTreeSet::new());
    assert!(sound, "{said}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_the_memory_of_requests_it_is_red() {
    let forget = "CREATE FUNCTION forget() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END';
        CREATE TRIGGER forget BEFORE INSERT ON request FOR EACH ROW EXECUTE FUNCTION forget();";
    let (found, _, _) = found_in(&SHORT, &[forget]).await;
    let wanted = BTreeSet::from(["doubled", "answers differ", "first twice"]);
    assert!(found.is_superset(&wanted), "{found:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn with_a_journal_that_loses_facts_it_is_red() {
    let lose = "CREATE FUNCTION lose() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END';
        CREATE TRIGGER lose BEFORE INSERT ON journal FOR EACH ROW WHEN (NEW.number % 50 = 0)
            EXECUTE FUNCTION lose();";
    let (found, sound, said) = found_in(&SHORT, &[lose]).await;
    assert!(found.is_superset(&BTreeSet::from(["journal gap", "log gap"])), "{found:?}");
    assert!(!sound, "{said}");
}

/// Commits are answered before they are on disk, and a killed server forgets them.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_durable_commits_it_is_red() {
    let careless = [
        "ALTER ROLE leadhand_app SET synchronous_commit = off",
        "ALTER SYSTEM SET wal_writer_delay = '10s'",
        "ALTER SYSTEM SET wal_writer_flush_after = '1GB'",
        "SELECT pg_reload_conf()",
        // A role's setting holds for sessions that begin from now on.
        "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = 'leadhand_app'",
    ];
    let mut scene = Scene::set_up(1).await.unwrap();
    for statements in careless {
        scene.meddle(statements).await.unwrap();
    }
    // Each kill comes while answers of a moment ago are unwritten; three hardly all meet them flushed by chance.
    let after = storm_with(&mut scene, &SHORT, async |scene, recorder| {
        for _ in 0..3 {
            let before = recorder.acknowledged();
            let look = || async { (recorder.acknowledged() >= before + 50).then_some(()) };
            until(Duration::from_secs(30), "writes before a kill", look).await?;
            scene.postgres.kill9()?;
            scene.postgres.restart().await?;
        }
        Ok(())
    });
    let after = after.await.unwrap();
    let (found, _, _) = judge(&scene, &after, false).await;
    let lost = BTreeSet::from(["missing", "elsewhere", "answers differ"]);
    assert!(!found.is_disjoint(&lost), "{found:?}");
}
