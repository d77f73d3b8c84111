//! An upgrade over running shops: the server under test plays the old replica, and what a new one would have done is
//! written behind its back. Outside source: common practice ("expand, then contract").

use std::time::Duration;

use kit::{Leadhandd, TestDatabase, fresh_database, process};
use leadhand_proto::v1::{AddBayRequest, Bay, BayKind, GetShopRequest};
use leadhand_sdk::{Client, Code, Endpoint, SdkError};
use sqlx::{AssertSqlSafe, Executor};

/// A migration of a version to come.
const NEXT: i64 = 29_990_101_000_000;

/// What it does: it only adds, as the rules for migrations ask.
const EXPAND: &str = "ALTER TABLE bay ADD COLUMN depth_mm integer NOT NULL DEFAULT 0;
    ALTER TABLE journal ADD COLUMN device text NOT NULL DEFAULT '';
    INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time)
        VALUES (29990101000000, 'add depth', true, '', 0)";

/// A fact of a kind to come, in the newest shop, as the new replica writes it.
const WRITE_NEW_KIND: &str = "WITH newest AS (SELECT shop FROM head ORDER BY recorded_at DESC LIMIT 1), fact AS (
        INSERT INTO journal (shop, number, fact_id, kind, version, body, recorded_at, happened_at, request)
        SELECT h.shop, h.number + 1, gen_random_uuid(), 'vehicle_weighed', 1, '{}', now(), now(), gen_random_uuid()
        FROM head AS h JOIN newest USING (shop) RETURNING *)
    UPDATE head AS h SET number = f.number, fact_id = f.fact_id, recorded_at = f.recorded_at, format = 2
    FROM fact AS f WHERE f.shop = h.shop";

/// Takes it back, as restoring an older state does.
const TAKE_BACK: &str = "WITH gone AS (DELETE FROM journal WHERE kind = 'vehicle_weighed' RETURNING shop, number)
    UPDATE head AS h SET number = l.number, fact_id = l.fact_id, recorded_at = l.recorded_at, format = 1
    FROM gone JOIN journal AS l ON l.shop = gone.shop AND l.number = gone.number - 1 WHERE h.shop = gone.shop";

async fn behind(database: &TestDatabase, sql: String) {
    database.superuser().await.unwrap().execute(AssertSqlSafe(sql)).await.unwrap();
}

/// A client that does not try again by itself.
fn client(server: &Leadhandd, token: &str) -> Client {
    Client::connect(Endpoint::new(server.url()).token(token).budget(Duration::ZERO)).unwrap()
}

async fn add_bay(client: &Client, bay: &str) -> Result<(), SdkError> {
    let added = Bay { bay: bay.to_owned(), name: bay.to_owned(), kind: BayKind::Pit.into(), rated_kg: 3000 };
    client.add_bay(AddBayRequest { bay: Some(added), ..AddBayRequest::default() }).await.map(|_| ())
}

async fn bays(client: &Client) -> Result<usize, SdkError> {
    Ok(client.get_shop(GetShopRequest::default()).await?.bays.len())
}

fn says_too_old<T: std::fmt::Debug>(answer: Result<T, SdkError>) {
    let error = answer.expect_err("an old server neither reads nor writes what a new one wrote");
    assert_eq!((error.code, error.reason.as_str()), (Code::Unavailable, "SERVER_TOO_OLD"), "{error}");
    assert!(error.to_string().contains("have this one upgraded"), "{error}");
}

#[tokio::test(flavor = "multi_thread")]
async fn an_old_replica_goes_on_with_what_it_can_read_and_refuses_the_rest() {
    let database = fresh_database().await;
    let mut old = Leadhandd::over(&database.app_url()).unwrap();
    old.start().await.unwrap();
    let plain = client(&old, &process::open_shop(&database.app_url(), "Plain Yard").await.unwrap());
    let ahead = client(&old, &process::open_shop(&database.app_url(), "New Yard").await.unwrap());
    add_bay(&plain, "a").await.unwrap();
    add_bay(&ahead, "a").await.unwrap();

    behind(&database, format!("{EXPAND}; {WRITE_NEW_KIND}")).await;
    add_bay(&plain, "b").await.unwrap();
    assert_eq!(bays(&plain).await.unwrap(), 2);
    // The shop is cached by the writer here.
    says_too_old(add_bay(&ahead, "b").await);
    says_too_old(bays(&ahead).await);

    // Started anew it knows nothing of either shop, and notices all the same.
    old.stop(Duration::from_secs(20)).await.unwrap();
    old.start().await.unwrap();
    says_too_old(add_bay(&ahead, "b").await);
    add_bay(&plain, "c").await.unwrap();
    assert_eq!(bays(&plain).await.unwrap(), 3);

    behind(&database, TAKE_BACK.to_owned()).await;
    add_bay(&ahead, "b").await.unwrap();
    assert_eq!(bays(&ahead).await.unwrap(), 2);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_program_that_a_migration_left_behind_does_not_start_and_says_what_to_do() {
    let database = fresh_database().await;
    behind(&database, EXPAND.to_owned()).await;
    // Migrating with an older program than the tables changes nothing and is no fault.
    let owner = database.owner_url();
    let app = database.app_url();
    let migrated = process::leadhandd(&["migrate", "--database-url", &app, "--owner-url", &owner]).await.unwrap();
    assert!(migrated.status.success(), "{}", String::from_utf8_lossy(&migrated.stderr));

    let contract = "CREATE OR REPLACE FUNCTION least_program() RETURNS bigint LANGUAGE sql IMMUTABLE
        SET search_path = pg_catalog, public, pg_temp AS";
    behind(&database, format!("{contract} 'SELECT {NEXT}::bigint'")).await;
    let serve = ["serve", "--database-url", &app, "--listen", "127.0.0.1:0", "--http-listen", "127.0.0.1:0"];
    let refused = process::leadhandd(&serve).await.unwrap();
    let why = String::from_utf8_lossy(&refused.stderr);
    assert_eq!(refused.status.code(), Some(1), "{why}");
    assert!(why.contains("put a newer leadhandd in its place"), "{why}");
}
