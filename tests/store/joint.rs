//! Several shops in one transaction: each as it would be by itself, and none but those that fit.

use crate::shop::{Shop, entry, request, shop};
use leadhand_facts::{Entry, FactId, Instant, ShopId};
use leadhand_store::{AcceptedRequest, Known, StoreError, Taken, Written};
use serde_json::json;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use uuid::Uuid;

/// Shops with one fact each.
async fn several(count: u128) -> (Shop, Vec<ShopId>) {
    let shop = shop().await;
    let shops: Vec<ShopId> = (0..count).map(|at| ShopId(Uuid::from_u128(0xA + at))).collect();
    for id in &shops {
        shop.store.open_head(*id).await.unwrap();
        let mut batch = shop.store.begin(*id).await.unwrap();
        let (entries, requests) = ([entry(1, batch.now)], [accepted(1, 1)]);
        batch.write(&Written { entries: &entries, requests: &requests, ..Written::default() }).await.unwrap();
        batch.commit().await.unwrap();
    }
    (shop, shops)
}

fn accepted(n: u128, number: i64) -> AcceptedRequest {
    AcceptedRequest {
        request: request(n),
        principal: None,
        fingerprint: None,
        outline: None,
        answer: json!({}),
        first_n: number,
        last_n: number,
    }
}

/// As its writer knows it after its first fact.
fn known(shop: ShopId) -> Known {
    Known { shop, number: 1, fact_id: entry(1, Instant(0)).fact_id, requests: vec![request(2)] }
}

fn second(taken: &Taken) -> [Entry; 1] {
    [entry(2, taken.now)]
}

async fn numbers(shop: &Shop) -> Vec<i64> {
    let mut heads = shop.store.heads().await.unwrap();
    heads.sort_unstable();
    heads.into_iter().map(|(_, number)| number).collect()
}

#[tokio::test]
async fn what_several_shops_write_is_there_after_one_commit() {
    let (shop, shops) = several(3).await;
    let joint = shop.store.begin_joint(&shops.iter().copied().map(known).collect::<Vec<_>>()).await.unwrap();
    let taken = joint.taken.clone();
    assert_eq!(taken.iter().map(|taken| taken.shop).collect::<Vec<_>>(), shops);
    assert!(taken.iter().all(|taken| taken.head.number == 1 && taken.now > taken.head.recorded_at));
    let (entries, requests): (Vec<_>, _) = (taken.iter().map(second).collect(), [accepted(2, 2)]);
    let all: Vec<_> = taken
        .iter()
        .zip(&entries)
        // One of them has nothing to write.
        .take(2)
        .map(|(taken, entries)| (*taken, Written { entries, requests: &requests, ..Written::default() }))
        .collect();
    joint.commit(&all).await.unwrap();
    assert_eq!(numbers(&shop).await, [2, 2, 1]);
    for (id, entries) in shops.iter().zip(&entries).take(2) {
        let mut batch = shop.store.begin(*id).await.unwrap();
        assert_eq!(batch.head.fact_id, Some(entries[0].fact_id));
        assert_eq!(batch.journal(1, 10).await.unwrap(), entries);
        assert_eq!(batch.request(&[request(2)]).await.unwrap(), requests);
    }
}

#[tokio::test]
async fn only_shops_that_are_free_and_stand_where_they_are_known_to_are_taken() {
    let (shop, shops) = several(6).await;
    let mut all: Vec<Known> = shops.iter().copied().map(known).collect();
    let _held = shop.store.begin(shops[0]).await.unwrap();
    all[1].number = 0;
    all[2].fact_id = FactId(Uuid::from_u128(0xBAD));
    all[3].requests.push(request(1));
    let newer = format!("UPDATE head SET format = format + 1000 WHERE shop = '{}'", shops[4]);
    shop.database.superuser().await.unwrap().execute(AssertSqlSafe(newer)).await.unwrap();
    all.push(known(ShopId(Uuid::from_u128(0xFFFF))));
    let joint = shop.store.begin_joint(&all).await.unwrap();
    assert_eq!(joint.taken.iter().map(|taken| taken.shop).collect::<Vec<_>>(), [shops[5]]);
    // What is taken is held, and what is not is free.
    assert!(matches!(shop.store.begin(shops[5]).await, Err(StoreError::Busy)));
    shop.store.begin(shops[1]).await.unwrap();
    joint.rollback().await.unwrap();
    shop.store.begin(shops[5]).await.unwrap();
}

#[tokio::test]
async fn what_one_shop_can_not_write_leaves_nothing_of_the_others() {
    let (shop, shops) = several(2).await;
    let joint = shop.store.begin_joint(&[known(shops[0]), known(shops[1])]).await.unwrap();
    let taken = joint.taken.clone();
    let (good, mut wrong) = (second(&taken[0]), second(&taken[1]));
    wrong[0].fact_id = entry(1, Instant(0)).fact_id;
    let all = [
        (taken[0], Written { entries: &good, ..Written::default() }),
        (taken[1], Written { entries: &wrong, ..Written::default() }),
    ];
    let refused = joint.commit(&all).await.unwrap_err();
    assert!(matches!(&refused, StoreError::Constraint { name, .. } if name == "journal_fact_once"), "{refused:?}");
    assert!(refused.for_each_shop().is_none(), "nobody can tell whose doing it was");
    assert_eq!(numbers(&shop).await, [1, 1]);
}

/// Source: OWASP ASVS 4.0.3, 4.2.1 (access to another tenant's records by identifier).
#[tokio::test]
async fn a_transaction_of_several_shops_reaches_these_and_no_other() {
    let (shop, shops) = several(3).await;
    let mut app = PgConnection::connect(&shop.database.app_url()).await.unwrap();
    let begin = format!("BEGIN; SET LOCAL leadhand.shop = '{},{}'", shops[0], shops[1]);
    for table in ["head", "journal", "request"] {
        app.execute(AssertSqlSafe(begin.clone())).await.unwrap();
        let sql = format!("SELECT shop FROM {table} ORDER BY shop");
        let seen: Vec<Uuid> = sqlx::query_scalar(AssertSqlSafe(sql)).fetch_all(&mut app).await.unwrap();
        assert_eq!(seen, [shops[0].0, shops[1].0], "'{table}'");
        app.execute("COMMIT").await.unwrap();
    }
    app.execute(AssertSqlSafe(begin)).await.unwrap();
    let moved = format!("UPDATE head SET recorded_at = now() WHERE shop = '{}'", shops[2]);
    assert_eq!(app.execute(AssertSqlSafe(moved)).await.unwrap().rows_affected(), 0);
    let added = format!("INSERT INTO bay VALUES ('{}', 'b', 'B', 'floor', 1, 1)", shops[2]);
    let refused = app.execute(AssertSqlSafe(added)).await.unwrap_err();
    // SQLSTATE insufficient_privilege (PostgreSQL manual, appendix A), also for a row that a policy refuses.
    assert_eq!(refused.as_database_error().and_then(sqlx::error::DatabaseError::code).as_deref(), Some("42501"));
}
