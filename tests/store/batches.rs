//! Batches: dense numbers, one writer a shop, all or nothing.

use crate::shop::{bays, entry, request, shop};
use leadhand_domain::need::Need;
use leadhand_facts::rows::TABLES;
use leadhand_facts::{Instant, JobNo, PrincipalId, ShopId};
use leadhand_store::{AcceptedRequest, Store, StoreError, Written};
use serde_json::json;
use sqlx::{Connection, Executor, PgConnection};
use std::future::poll_fn;
use std::task::Poll;
use uuid::Uuid;

fn accepted(n: u128) -> AcceptedRequest {
    AcceptedRequest {
        request: request(n),
        principal: Some(PrincipalId(Uuid::from_u128(7))),
        fingerprint: Some(vec![0, 1, 254, 255]),
        outline: None,
        answer: json!({"job": 7, "parts": [1, 2]}),
        first_n: 1,
        last_n: 3,
    }
}

#[tokio::test]
async fn facts_and_requests_are_there_after_the_commit_and_the_head_has_moved() {
    let shop = shop().await;
    let mut batch = shop.store.begin(shop.id).await.unwrap();
    assert_eq!((batch.head.number, batch.head.fact_id), (0, None));
    let entries = bays(&batch, 3);
    let requests = [accepted(1)];
    batch.write(&Written { entries: &entries, requests: &requests, ..Written::default() }).await.unwrap();
    assert_eq!(batch.head.number, 3, "the batch knows the head that it wrote");
    batch.commit().await.unwrap();

    let mut snapshot = shop.store.snapshot(shop.id).await.unwrap();
    assert_eq!(snapshot.head.number, 3);
    assert_eq!(snapshot.head.fact_id, Some(entries[2].fact_id));
    assert_eq!(snapshot.journal(0, 100).await.unwrap(), entries);
    assert_eq!(snapshot.journal(1, 1).await.unwrap(), entries[1..2]);
    assert_eq!(snapshot.fact_id_at(2).await.unwrap(), Some(entries[1].fact_id));
    assert_eq!(snapshot.fact_id_at(4).await.unwrap(), None);
    snapshot.end().await.unwrap();
    assert_eq!(shop.store.heads().await.unwrap(), [(shop.id, 3)]);

    let mut next = shop.store.begin(shop.id).await.unwrap();
    assert!(next.now >= next.head.recorded_at, "time in a journal never goes back");
    assert_eq!(next.request(&[request(1), request(2)]).await.unwrap(), requests);
    assert_eq!(next.journal(2, 10).await.unwrap(), entries[2..]);
}

/// Another server's clock may have been ahead when it wrote the last fact.
#[tokio::test]
async fn the_clock_is_never_behind_the_last_fact() {
    let shop = shop().await;
    let ahead = Instant::parse("2100-01-01T00:00:00.123456Z").unwrap();
    shop.write(&Written { entries: &[entry(1, ahead)], ..Written::default() }).await.unwrap();
    // One tick on: what that fact began can be ended now.
    let now = Instant(ahead.0 + 1);
    assert_eq!(shop.store.begin(shop.id).await.unwrap().now, now);
    assert_eq!(shop.store.snapshot(shop.id).await.unwrap().now, now);
}

#[tokio::test]
async fn facts_that_leave_a_gap_are_refused_and_nothing_is_written() {
    let shop = shop().await;
    for numbers in [vec![2], vec![1, 3], vec![1, 1], vec![0]] {
        let mut batch = shop.store.begin(shop.id).await.unwrap();
        let entries: Vec<_> = numbers.iter().map(|n| entry(*n, batch.now)).collect();
        let refused = batch.write(&Written { entries: &entries, ..Written::default() }).await;
        assert!(matches!(refused, Err(StoreError::NotDense { .. })), "{numbers:?}: {refused:?}");
        let refused = batch.commit().await;
        assert!(matches!(refused, Err(StoreError::BrokenBatch)), "{refused:?}");
    }
    assert_eq!(shop.store.heads().await.unwrap(), [(shop.id, 0)]);
}

#[tokio::test]
async fn a_batch_that_was_rolled_back_or_dropped_leaves_nothing() {
    let shop = shop().await;
    for dropped in [false, true] {
        let mut batch = shop.store.begin(shop.id).await.unwrap();
        let entries = bays(&batch, 2);
        let written = Written { entries: &entries, requests: &[accepted(1)], ..Written::default() };
        batch.write(&written).await.unwrap();
        if dropped {
            drop(batch);
        } else {
            batch.rollback().await.unwrap();
        }
        let mut next = shop.store.begin(shop.id).await.unwrap();
        assert_eq!(next.head.number, 0);
        assert_eq!(next.request(&[request(1)]).await.unwrap(), []);
        assert_eq!(next.journal(0, 10).await.unwrap(), []);
    }
}

/// A failed statement turns a COMMIT into a quiet ROLLBACK (PostgreSQL manual, section 3.4).
#[tokio::test]
async fn a_batch_with_a_failed_statement_does_not_pretend_to_commit() {
    let shop = shop().await;
    let mut batch = shop.store.begin(shop.id).await.unwrap();
    let entries = bays(&batch, 1);
    let twice = [accepted(1), accepted(1)];
    let refused = batch.write(&Written { entries: &entries, requests: &twice, ..Written::default() }).await;
    let Err(StoreError::Constraint { name, table }) = refused else { panic!("{refused:?}") };
    assert_eq!((name.as_str(), table.as_str()), ("request_pkey", "request"));
    assert!(matches!(batch.commit().await, Err(StoreError::BrokenBatch)));
    assert_eq!(shop.store.heads().await.unwrap(), [(shop.id, 0)]);
}

#[tokio::test]
async fn a_second_writer_waits_and_then_is_told_that_the_shop_is_busy() {
    let shop = shop().await;
    let first = shop.store.begin(shop.id).await.unwrap();
    assert!(matches!(shop.store.begin(shop.id).await, Err(StoreError::Busy)));
    first.rollback().await.unwrap();
    shop.store.begin(shop.id).await.expect("the shop is free again");

    let other = ShopId(Uuid::from_u128(0xB));
    shop.store.open_head(other).await.unwrap();
    let _held = shop.store.begin(shop.id).await.unwrap();
    shop.store.begin(other).await.expect("another shop has a line of its own");
}

#[tokio::test]
async fn an_unknown_shop_is_refused_by_name() {
    let shop = shop().await;
    let other = ShopId(Uuid::from_u128(0xB));
    assert!(matches!(shop.store.begin(other).await, Err(StoreError::NoSuchShop(id)) if id == other));
    assert!(matches!(shop.store.snapshot(other).await, Err(StoreError::NoSuchShop(id)) if id == other));
    assert!(!shop.store.open_head(shop.id).await.unwrap(), "a head is made once");
    assert_eq!(shop.store.shops().await.unwrap(), [shop.id]);
}

/// Polls a future so many times and then drops it, wherever it stands.
async fn dropped_after<F: Future>(polls: usize, future: F) -> Option<F::Output> {
    let (mut future, mut left) = (Box::pin(future), polls);
    poll_fn(move |context| {
        let Some(fewer) = left.checked_sub(1) else { return Poll::Ready(None) };
        left = fewer;
        future.as_mut().poll(context).map(Some)
    })
    .await
}

/// A caller that goes away in the middle must not leave its transaction to the next borrower, whose
/// own statement would then be acknowledged and never committed.
#[tokio::test]
async fn a_begin_that_is_dropped_half_way_poisons_no_connection() {
    let shop = shop().await;
    // One connection, so that the next borrower gets the one that was given back.
    let store = Store::connect(&shop.database.app_url(), 1).await.unwrap();
    let mut watcher = PgConnection::connect(&shop.database.superuser_url()).await.unwrap();
    let (mut cut, mut made) = (0, 0);
    for polls in 1..=20 {
        for reading in [false, true] {
            cut += if reading {
                i32::from(dropped_after(polls, store.snapshot(shop.id)).await.is_none())
            } else {
                i32::from(dropped_after(polls, store.begin(shop.id)).await.is_none())
            };
            made += 1;
            store.open_head(ShopId(Uuid::from_u128(0xB00 + made))).await.unwrap();
            let seen: i64 = sqlx::query_scalar("SELECT count(*) - 1 FROM head").fetch_one(&mut watcher).await.unwrap();
            assert_eq!(u128::try_from(seen), Ok(made), "after {polls} polls what was acknowledged is not there");
        }
    }
    assert!(cut > 0, "no begin was cut off");
}

#[tokio::test]
async fn a_snapshot_stays_at_its_moment_and_writes_nothing() {
    let shop = shop().await;
    let mut snapshot = shop.store.snapshot(shop.id).await.unwrap();
    shop.write(&Written { entries: &[entry(1, snapshot.now)], ..Written::default() }).await.unwrap();
    assert_eq!(snapshot.head.number, 0);
    assert_eq!(snapshot.journal(0, 10).await.unwrap(), []);
    for table in TABLES {
        assert_eq!(snapshot.all_rows(table).await.unwrap().len(), 0);
    }
    assert!(matches!(snapshot.all_rows("head").await, Err(StoreError::NoSuchTable(_))));
    assert_eq!(snapshot.load(&[Need::Job(JobNo(1))]).await.unwrap(), []);
}

#[tokio::test]
async fn a_fact_of_an_unknown_kind_is_named_with_its_number() {
    let shop = shop().await;
    let mut batch = shop.store.begin(shop.id).await.unwrap();
    let entries = bays(&batch, 2);
    batch.write(&Written { entries: &entries, ..Written::default() }).await.unwrap();
    batch.commit().await.unwrap();
    let mut conn = shop.database.superuser().await.unwrap();
    conn.execute("UPDATE journal SET kind = 'rocket_started' WHERE number = 2").await.unwrap();
    let refused = shop.store.snapshot(shop.id).await.unwrap().journal(0, 10).await.unwrap_err();
    assert!(matches!(&refused, StoreError::Fact { number: 2, .. }), "{refused:?}");
    assert!(refused.to_string().contains("rocket_started"), "{refused}");
}

#[tokio::test]
async fn requests_are_forgotten_by_age() {
    let shop = shop().await;
    shop.write(&Written { requests: &[accepted(1)], ..Written::default() }).await.unwrap();
    let now = shop.store.snapshot(shop.id).await.unwrap().now;
    assert_eq!(shop.store.purge_requests(shop.id, now.plus_minutes(-60)).await.unwrap(), 0);
    assert_eq!(shop.store.purge_requests(shop.id, now.plus_minutes(60)).await.unwrap(), 1);
    assert_eq!(shop.store.begin(shop.id).await.unwrap().request(&[request(1)]).await.unwrap(), []);
}

#[tokio::test]
async fn a_database_that_cannot_be_reached_is_unavailable() {
    let refused = Store::connect("postgres://leadhand_app@127.0.0.1:9/leadhand", 1).await.unwrap_err();
    assert!(matches!(refused, StoreError::Unavailable(_)), "{refused:?}");
}
