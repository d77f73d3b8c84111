//! Connections run out: callers are told to come again, and everything works when there are some.

use crate::edge::{Edge, reason};
use crate::postgres_killed::receive;
use crate::shop::{Shop, new_id};
use crate::waiting::until;
use kit::process::open_shop;
use kit::{Leadhandd, fresh_database};
use rand::SeedableRng;
use rand::rngs::StdRng;
use sqlx::{AssertSqlSafe, Connection, raw_sql};
use std::time::Duration;
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
