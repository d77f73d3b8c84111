//! Migrating: by whom, and what happens when two do it at once.

use kit::{TestDatabase, fresh_database};
use leadhand_store::{Store, StoreError, migrate, newest_migration};
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};

/// A database beside the test's own, without a table.
async fn blank(database: &TestDatabase) -> String {
    let name = format!("{}_blank", database.name());
    let mut conn = database.superuser().await.unwrap();
    conn.execute(AssertSqlSafe(format!("CREATE DATABASE {name} OWNER leadhand_owner TEMPLATE template0")))
        .await
        .unwrap();
    name
}

async fn drop_blank(database: &TestDatabase, name: &str) {
    let mut conn = database.superuser().await.unwrap();
    conn.execute(AssertSqlSafe(format!("DROP DATABASE {name} WITH (FORCE)"))).await.unwrap();
}

#[tokio::test]
async fn two_migrators_at_once_are_safe_and_a_third_finds_nothing_to_do() {
    let database = fresh_database().await;
    let name = blank(&database).await;
    let owner = database.owner_url().replace(database.name(), &name);
    let app = database.app_url().replace(database.name(), &name);

    let before = Store::connect(&app, 1).await.unwrap().refuse_other_schema().await;
    assert!(matches!(before, Err(StoreError::SchemaBehind { found: 0, .. })), "{before:?}");
    let (first, second) = tokio::join!(migrate(&owner), migrate(&owner));
    first.unwrap();
    second.unwrap();
    migrate(&owner).await.unwrap();

    Store::connect(&app, 1).await.unwrap().refuse_other_schema().await.unwrap();
    let mut conn = PgConnection::connect(&database.superuser_url().replace(database.name(), &name)).await.unwrap();
    let (count, newest): (i64, i64) =
        sqlx::query_as("SELECT count(*), max(version) FROM _sqlx_migrations WHERE success")
            .fetch_one(&mut conn)
            .await
            .unwrap();
    assert_eq!(newest, newest_migration());
    let files = std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../migrations")).unwrap().count();
    assert_eq!(usize::try_from(count).unwrap(), files, "each migration was applied once");
    conn.close().await.unwrap();
    drop_blank(&database, &name).await;
}

#[tokio::test]
async fn an_administrators_login_migrates_as_the_owner_and_the_servers_login_may_not() {
    let database = fresh_database().await;
    let name = blank(&database).await;
    let refused = migrate(&database.app_url().replace(database.name(), &name)).await;
    assert!(matches!(refused, Err(StoreError::NotOwner { .. })), "{refused:?}");

    let url = database.superuser_url().replace(database.name(), &name);
    migrate(&url).await.unwrap();
    let mut conn = PgConnection::connect(&url).await.unwrap();
    let strays: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'
            AND relowner <> 'leadhand_owner'::regrole",
    )
    .fetch_one(&mut conn)
    .await
    .unwrap();
    assert_eq!(strays, 0, "every table belongs to leadhand_owner");
    conn.close().await.unwrap();
    drop_blank(&database, &name).await;
}
