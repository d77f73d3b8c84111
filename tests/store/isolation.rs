//! No shop sees or touches another's rows, whatever a statement says.

use crate::samples::first_rows;
use crate::shop::{bays, request, shop};
use kit::fresh_database;
use leadhand_facts::rows::TABLES;
use leadhand_facts::text::TextBody;
use leadhand_facts::{ShopId, TextId};
use leadhand_store::{AcceptedRequest, Store, StoreError, Tried, Trying, Who, Written};
use serde_json::json;
use sqlx::error::DatabaseError;
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use std::borrow::Cow;
use uuid::Uuid;

/// SQLSTATE insufficient_privilege (PostgreSQL manual, appendix A), also for a row that a policy refuses.
const INSUFFICIENT_PRIVILEGE: &str = "42501";

fn code(error: &sqlx::Error) -> Option<String> {
    error.as_database_error().and_then(DatabaseError::code).map(Cow::into_owned)
}

async fn counted(conn: &mut PgConnection, table: &str) -> i64 {
    sqlx::query_scalar(AssertSqlSafe(format!("SELECT count(*) FROM {table}"))).fetch_one(conn).await.unwrap()
}

fn every_table() -> Vec<&'static str> {
    TABLES.iter().copied().chain(["head", "journal", "request", "text_body", "sign_in_try"]).collect()
}

/// Source: OWASP ASVS 4.0.3, 4.2.1 (access to another tenant's records by identifier).
#[tokio::test]
async fn a_shop_sees_nothing_of_another_and_a_session_without_a_shop_sees_nothing_at_all() {
    let shop = shop().await;
    let mut batch = shop.store.begin(shop.id).await.unwrap();
    let changes: Vec<_> = first_rows().into_iter().map(leadhand_domain::state::RowChange::Put).collect();
    let text = TextBody { id: TextId(Uuid::from_u128(1)), salt: "0".repeat(32), body: "words".to_owned() };
    let accepted = AcceptedRequest {
        request: request(1),
        principal: None,
        fingerprint: None,
        outline: None,
        answer: json!({}),
        first_n: 1,
        last_n: 1,
    };
    let entries = bays(&batch, 1);
    let written = Written {
        entries: &entries,
        changes: &changes,
        texts: &[(text, request(1))],
        requests: &[accepted],
        erased_texts: &[],
    };
    batch.write(&written).await.unwrap();
    batch.commit().await.unwrap();
    let trying = Trying { who: Uuid::from_u128(1), most: 2 };
    assert!(matches!(shop.store.count_try(shop.id, &[trying], 15).await.unwrap(), Tried::Counted(_)));

    let other = ShopId(Uuid::from_u128(0xB));
    shop.store.open_head(other).await.unwrap();
    let mut app = PgConnection::connect(&shop.database.app_url()).await.unwrap();
    for table in every_table() {
        assert_eq!(counted(&mut app, table).await, 0, "'{table}' without a shop");
        for (id, wanted) in [(shop.id, 1), (other, i64::from(table == "head"))] {
            app.execute(AssertSqlSafe(format!("BEGIN; SET LOCAL leadhand.shop = '{id}'"))).await.unwrap();
            assert_eq!(counted(&mut app, table).await, wanted, "'{table}' of shop {id}");
            app.execute("COMMIT").await.unwrap();
        }
        assert_eq!(counted(&mut app, table).await, 0, "'{table}' after a local shop");
    }

    let mut theirs = shop.store.snapshot(other).await.unwrap();
    assert_eq!(theirs.head.number, 0);
    for table in TABLES {
        assert!(theirs.all_rows(table).await.unwrap().is_empty(), "'{table}' through a snapshot");
    }
}

#[tokio::test]
async fn a_shop_cannot_write_into_another() {
    let shop = shop().await;
    let mut app = PgConnection::connect(&shop.database.app_url()).await.unwrap();
    let other = ShopId(Uuid::from_u128(0xB));
    shop.store.open_head(other).await.unwrap();
    for statement in [
        format!("INSERT INTO bay VALUES ('{}', 'b', 'B', 'floor', 1, 1)", shop.id),
        format!("UPDATE head SET shop = '{}' WHERE shop = '{other}'", Uuid::from_u128(0xC)),
    ] {
        app.execute(AssertSqlSafe(format!("BEGIN; SET LOCAL leadhand.shop = '{other}'"))).await.unwrap();
        let refused = app.execute(AssertSqlSafe(statement.clone())).await.unwrap_err();
        assert_eq!(code(&refused).as_deref(), Some(INSUFFICIENT_PRIVILEGE), "{statement}");
        app.execute("ROLLBACK").await.unwrap();
    }
    app.execute(AssertSqlSafe(format!("BEGIN; SET LOCAL leadhand.shop = '{other}'"))).await.unwrap();
    let sql = format!("UPDATE head SET recorded_at = now() WHERE shop = '{}'", shop.id);
    assert_eq!(app.execute(AssertSqlSafe(sql)).await.unwrap().rows_affected(), 0, "another's head is out of reach");
}

/// What was recorded is beyond the reach of the server's login, in its own shop too.
#[tokio::test]
async fn the_servers_login_can_neither_change_nor_delete_history() {
    let shop = shop().await;
    let mut app = PgConnection::connect(&shop.database.app_url()).await.unwrap();
    for statement in [
        "UPDATE journal SET kind = 'x'",
        "DELETE FROM journal",
        "DELETE FROM head",
        "UPDATE stock_move SET quantity = 1",
        "DELETE FROM stock_move",
        "UPDATE template_revision SET title = 'x'",
        "UPDATE calendar SET set_n = 1",
        "UPDATE text_body SET body = 'x'",
        "TRUNCATE journal",
        "DELETE FROM job",
        "SELECT * FROM _sqlx_migrations",
        "CREATE TABLE mine (n int)",
        "INSERT INTO head VALUES (gen_random_uuid(), 0, NULL, now())",
    ] {
        let refused = app.execute(statement).await.unwrap_err();
        assert_eq!(code(&refused).as_deref(), Some(INSUFFICIENT_PRIVILEGE), "{statement}");
    }
}

/// Also for a table that a later migration adds.
#[tokio::test]
async fn every_table_is_guarded_and_leads_its_key_with_the_shop() {
    let database = fresh_database().await;
    let mut conn = database.superuser().await.unwrap();
    let tables: Vec<(String, bool, i64, Option<String>)> = sqlx::query_as(
        "SELECT c.relname::text, c.relrowsecurity AND c.relforcerowsecurity,
            (SELECT count(*) FROM pg_policy AS p WHERE p.polrelid = c.oid),
            (SELECT a.attname::text FROM pg_index AS i JOIN pg_attribute AS a
                ON a.attrelid = c.oid AND a.attnum = i.indkey[0] WHERE i.indrelid = c.oid AND i.indisprimary)
        FROM pg_class AS c
        WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p') AND c.relname <> '_sqlx_migrations'",
    )
    .fetch_all(&mut conn)
    .await
    .unwrap();
    // Operators belong to no shop: the server's login sees nothing of theirs.
    assert_eq!(tables.len(), every_table().len() + 1);
    for (table, forced, policies, leads) in tables {
        assert!(forced, "row-level security of '{table}' is not forced");
        if table == "operator_token" {
            assert_eq!(policies, 1, "policies of '{table}'");
            continue;
        }
        assert_eq!(policies, 2, "policies of '{table}'");
        assert_eq!(leads.as_deref(), Some("shop"), "the key of '{table}'");
    }
    let open: Vec<String> = sqlx::query_scalar(
        "SELECT p.oid::regprocedure::text FROM pg_proc AS p
        WHERE p.prosecdef AND (has_function_privilege('public', p.oid, 'EXECUTE')
            OR NOT coalesce(array_to_string(p.proconfig, ',') LIKE 'search_path=pg_catalog, public, pg_temp', false))",
    )
    .fetch_all(&mut conn)
    .await
    .unwrap();
    assert!(open.is_empty(), "definer functions open to everybody or with a path of the caller's: {open:?}");
}

#[tokio::test]
async fn a_login_for_which_row_security_does_not_hold_is_refused() {
    let database = fresh_database().await;
    Store::connect(&database.app_url(), 1).await.unwrap().refuse_unsafe_role().await.unwrap();
    for (url, why) in [(database.owner_url(), "leadhand_owner"), (database.superuser_url(), "superuser")] {
        let store = Store::connect(&url, 1).await.unwrap();
        match store.refuse_unsafe_role().await {
            Err(error @ StoreError::UnsafeRole { .. }) => assert!(error.to_string().contains(why), "{error}"),
            other => panic!("{other:?}"),
        }
    }
    let mut conn = database.superuser().await.unwrap();
    conn.execute("CREATE TABLE stray (n int)").await.unwrap();
    let refused = Store::connect(&database.app_url(), 1).await.unwrap().refuse_unsafe_role().await.unwrap_err();
    assert!(refused.to_string().contains("without forced row-level security"), "{refused}");
}

#[tokio::test]
async fn a_token_is_found_by_its_hash_whatever_its_shop() {
    let shop = shop().await;
    shop.put(&first_rows()).await.unwrap();
    let found = shop.store.holder(&"c".repeat(64)).await.unwrap().expect("the token");
    let Who::Shop { shop: of, token, .. } = found.who else { panic!("{found:?}") };
    assert_eq!((of, token.to_string()), (shop.id, crate::samples::id(6)));
    assert_eq!(found.expires_at.map(|at| at.to_string()), Some(crate::samples::at("18:00")));
    // A session's time ends with its device's token, and it is found by its own hash.
    let session = shop.store.holder(&"f".repeat(64)).await.unwrap().expect("the session");
    let Who::Shop { device, .. } = session.who else { panic!("{session:?}") };
    assert_eq!(device.map(|device| device.to_string()), Some(crate::samples::id(6)));
    assert_eq!(shop.store.holder(&"1".repeat(64)).await.unwrap(), None);
}

/// However many try at the same time, no more are counted than may be.
#[tokio::test(flavor = "multi_thread")]
async fn tries_are_counted_one_after_the_other() {
    let shop = shop().await;
    let all = [Trying { who: Uuid::from_u128(1), most: 10 }, Trying { who: Uuid::from_u128(2), most: 5 }];
    let tries = (0..20).map(|_| shop.store.count_try(shop.id, &all, 15));
    let tried: Vec<Tried> = futures::future::try_join_all(tries).await.unwrap();
    let counted: Vec<_> = tried.iter().filter(|tried| matches!(tried, Tried::Counted(_))).collect();
    assert_eq!(counted.len(), 5, "{tried:?}");
    assert!(tried.iter().all(|tried| !matches!(tried, Tried::TooMany(wait) if *wait > 900)), "{tried:?}");
    let Tried::Counted(at) = counted[0] else { unreachable!() };
    // What was refused for one of them counts for none; a right one is taken back, and clears the person.
    shop.store.forgive_tries(shop.id, Some((all[0].who, *at)), all[1].who).await.unwrap();
    let five = [Trying { who: all[0].who, most: 5 }];
    assert!(matches!(shop.store.count_try(shop.id, &five, 15).await.unwrap(), Tried::Counted(_)));
    assert!(matches!(shop.store.count_try(shop.id, &five, 15).await.unwrap(), Tried::TooMany(_)));
    // A window of no length holds none of them.
    assert!(matches!(shop.store.count_try(shop.id, &five, 0).await.unwrap(), Tried::Counted(_)));
}
