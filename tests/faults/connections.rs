//! Connections run out: callers are told to come again, and everything works when there are some.

use crate::checker::check;
use crate::edge::{Edge, reason};
use crate::postgres_killed::receive;
use crate::report::report;
use crate::scene::Scene;
use crate::shop::{Shop, new_id};
use crate::storm::{Plan, storm_with};
use crate::waiting::until;
use kit::process::open_shop;
use kit::{Leadhandd, OwnServer, fresh_database};
use rand::SeedableRng;
use rand::rngs::StdRng;
use sqlx::{AssertSqlSafe, Connection, raw_sql};
use std::time::Duration;
use tokio::time::Instant;
use tonic::Code;
use tonic_types::StatusExt;

const WITHIN: Duration = Duration::from_secs(30);

#[tokio::test]
async fn without_a_free_connection_callers_are_told_to_come_again() {
    let database = fresh_database().await;
    let mut replica = Leadhandd::over(&database.app_url()).unwrap().with("--max-connections", "2");
    replica.start().await.unwrap();
    let edge = Edge::to(&replica.url()).unwrap();
    let lead = open_shop(&database.app_url(), "Yard").await.unwrap();
    let shop = Shop::furnish(&edge, lead, 3).await.unwrap();
    let mut random = StdRng::seed_from_u64(4);

    // Whoever reads or writes the journal waits, and holds a connection meanwhile.
    let mut other = database.superuser().await.unwrap();
    let mut locked = other.begin().await.unwrap();
    raw_sql("LOCK TABLE head, journal IN ACCESS EXCLUSIVE MODE").execute(&mut *locked).await.unwrap();
    let write = receive(new_id(&mut random));
    let reads = (0..20).map(|_| edge.head(&shop.lead));
    let (reads, written) = tokio::join!(futures::future::join_all(reads), write.send(&edge, &shop.lead, WITHIN));
    for refused in reads.into_iter().map(Result::unwrap_err).chain([written.unwrap_err()]) {
        assert_eq!((refused.code(), reason(&refused).as_str()), (Code::ResourceExhausted, "SHOP_BUSY"));
        assert!(refused.get_details_retry_info().is_some(), "{refused:?}");
    }
    locked.rollback().await.unwrap();

    let look = || async { write.send(&edge, &shop.lead, WITHIN).await.ok() };
    let said = until(WITHIN, "the write to go through", look).await.unwrap();
    assert!(!said.repeated, "what was refused took effect nevertheless");
    assert_eq!(edge.on_hand(&shop.lead, "gasket").await.unwrap(), 1);
}

#[tokio::test]
async fn a_database_that_admits_nobody_more_is_waited_for() {
    let database = fresh_database().await;
    let mut replica = Leadhandd::over(&database.app_url()).unwrap();
    replica.start().await.unwrap();
    let edge = Edge::to(&replica.url()).unwrap();
    let lead = open_shop(&database.app_url(), "Yard").await.unwrap();
    let shop = Shop::furnish(&edge, lead, 3).await.unwrap();

    // SQLSTATE 57P01 for whoever is there, 53300 (too many connections) for whoever comes.
    let mut other = database.superuser().await.unwrap();
    let limit = |count| AssertSqlSafe(format!("ALTER DATABASE {} CONNECTION LIMIT {count}", database.name()));
    let end = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database()
        AND usename = 'leadhand_app'";
    raw_sql(limit(0)).execute(&mut other).await.unwrap();
    raw_sql(end).execute(&mut other).await.unwrap();
    let write = receive(new_id(&mut StdRng::seed_from_u64(4)));
    let refused = write.send(&edge, &shop.lead, WITHIN).await.unwrap_err();
    assert!(["DATABASE_UNAVAILABLE", "SHOP_BUSY"].contains(&reason(&refused).as_str()), "{refused:?}");
    assert!(refused.get_details_retry_info().is_some(), "{refused:?}");

    raw_sql(limit(-1)).execute(&mut other).await.unwrap();
    let look = || async { write.send(&edge, &shop.lead, WITHIN).await.ok() };
    let said = until(WITHIN, "the write to go through", look).await.unwrap();
    assert!(!said.repeated, "what was refused took effect nevertheless");
    assert_eq!(edge.on_hand(&shop.lead, "gasket").await.unwrap(), 1);
}

/// Every replica reads and writes.
async fn serve(scene: &Scene, random: &mut StdRng) -> anyhow::Result<()> {
    let lead = &scene.shops[0].lead;
    for url in scene.urls() {
        let edge = Edge::to(&url)?;
        until(WITHIN, "a read to be answered", || async { edge.head(lead).await.ok() }).await?;
        let write = receive(new_id(random));
        until(WITHIN, "a write to be accepted", || async { write.send(&edge, lead, WITHIN).await.ok() }).await?;
    }
    Ok(())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_storm_whose_connections_are_all_taken_goes_on_when_they_are_free() {
    let postgres = OwnServer::start().await.unwrap();
    let url = postgres.app_url();
    let replica = || Leadhandd::over(&url).unwrap().with("--max-connections", "3");
    let replicas = vec![replica(), replica()];
    let mut scene = Scene::of(postgres, url.clone(), replicas, 1).await.unwrap();
    let mut random = StdRng::seed_from_u64(12);
    let plan = Plan::quiet(3, 16, Duration::from_secs(1));
    let after = storm_with(&mut scene, &plan, async |scene, recorder| {
        let mut other = scene.superuser().await?;
        let mut locked = other.begin().await?;
        raw_sql("LOCK TABLE head, journal IN ACCESS EXCLUSIVE MODE").execute(&mut *locked).await?;
        let (begun, before) = (Instant::now(), recorder.refused("SHOP_BUSY"));
        let refused = || async { (recorder.refused("SHOP_BUSY") >= before + 16).then_some(()) };
        until(WITHIN, "callers to be told to come again", refused).await?;
        eprintln!("16 callers were told to come again within {:?}", begun.elapsed());
        locked.rollback().await?;
        let free = Instant::now();
        serve(scene, &mut random).await?;
        eprintln!("full service again {:?} after connections were free (wanted: 2 s)", free.elapsed());
        Ok(())
    });
    let after = after.await.unwrap();
    let found = check(&after.history);
    report("connections exhausted", &after, &found);
    assert_eq!(found, []);
    let (sound, said) = scene.verify().await.unwrap();
    assert!(sound, "{said}");
}
