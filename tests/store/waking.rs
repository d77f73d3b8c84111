//! Replicas wake each other, and say when they may have missed something.

use crate::shop::shop;
use leadhand_facts::ShopId;
use leadhand_store::{Wake, Wakes};
use sqlx::Executor;
use std::time::Duration;
use uuid::Uuid;

/// Long enough for a busy machine; no passing test waits for it.
async fn next(heard: &mut Wakes) -> Wake {
    tokio::time::timeout(Duration::from_secs(30), heard.recv()).await.expect("word in time").expect("a listener")
}

#[tokio::test]
async fn a_listener_hears_shops_and_resyncs_after_it_lost_its_connection() {
    let shop = shop().await;
    let mut heard = shop.store.listen();
    assert_eq!(next(&mut heard).await, Wake::Resync, "at the beginning anything may have been missed");
    shop.store.notify(&[shop.id]).await.unwrap();
    assert_eq!(next(&mut heard).await, Wake::Shops(vec![shop.id]));

    let mut conn = shop.database.superuser().await.unwrap();
    let ended = conn
        .execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity
            WHERE application_name = 'leadhand-listen' AND datname = current_database()",
        )
        .await
        .unwrap();
    assert_eq!(ended.rows_affected(), 1, "one connection listens");
    assert_eq!(next(&mut heard).await, Wake::Resync);
    shop.store.notify(&[shop.id]).await.unwrap();
    assert_eq!(next(&mut heard).await, Wake::Shops(vec![shop.id]));
}

/// Whoever shuts a database down ends listening before, and no connection is left that could be lost.
#[tokio::test]
async fn listening_ends_with_its_connection_closed() {
    let shop = shop().await;
    let mut heard = shop.store.listen();
    assert_eq!(next(&mut heard).await, Wake::Resync);
    heard.end().await;
    let mut conn = shop.database.superuser().await.unwrap();
    // What is closed on this side is soon gone on the other.
    let gone = async {
        loop {
            let left = conn
                .execute(
                    "SELECT 1 FROM pg_stat_activity
                    WHERE application_name = 'leadhand-listen' AND datname = current_database()",
                )
                .await
                .unwrap();
            if left.rows_affected() == 0 {
                return;
            }
        }
    };
    tokio::time::timeout(Duration::from_secs(30), gone).await.expect("the connection is closed");
}

/// A notification's payload holds less than 8,000 bytes (PostgreSQL manual, NOTIFY).
#[tokio::test]
async fn more_shops_than_fit_into_one_notification_all_arrive() {
    let shop = shop().await;
    let mut heard = shop.store.listen();
    assert_eq!(next(&mut heard).await, Wake::Resync);
    let shops: Vec<_> = (1..=501).map(|n| ShopId(Uuid::from_u128(n))).collect();
    shop.store.notify(&shops).await.unwrap();
    let mut arrived = Vec::new();
    while arrived.len() < shops.len() {
        match next(&mut heard).await {
            Wake::Shops(some) => arrived.extend(some),
            Wake::Resync => panic!("the connection was lost"),
        }
    }
    arrived.sort_unstable();
    assert_eq!(arrived, shops);
}

#[tokio::test]
async fn words_that_are_no_shops_are_passed_over() {
    let shop = shop().await;
    let mut heard = shop.store.listen();
    assert_eq!(next(&mut heard).await, Wake::Resync);
    let mut conn = shop.database.superuser().await.unwrap();
    conn.execute("SELECT pg_notify('leadhand_heads', 'nonsense,,42')").await.unwrap();
    shop.store.notify(&[shop.id]).await.unwrap();
    assert_eq!(next(&mut heard).await, Wake::Shops(vec![shop.id]));
}
