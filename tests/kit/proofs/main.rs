//! The kit keeps its word: separate databases, the right owner, nothing left behind, and a server that can be killed.
//! Outside source: common practice.

use kit::{OwnServer, fresh_database};
use sqlx::{Connection, Executor, PgConnection, Row};

async fn exists(connection: &mut PgConnection, database: &str) -> bool {
    sqlx::query_scalar("select exists (select from pg_database where datname = $1)")
        .bind(database)
        .fetch_one(connection)
        .await
        .expect("the list of databases")
}

#[tokio::test]
async fn two_databases_share_nothing() {
    let (first, second) = (fresh_database().await, fresh_database().await);
    first.superuser().await.unwrap().execute("create table only_here (n int)").await.unwrap();
    let known: bool = sqlx::query_scalar("select to_regclass('only_here') is not null")
        .fetch_one(&mut second.superuser().await.unwrap())
        .await
        .unwrap();
    assert!(!known, "a table made in {} is seen in {}", first.name(), second.name());
}

#[tokio::test]
async fn the_owner_owns_and_the_app_neither_owns_nor_bypasses() {
    let database = fresh_database().await;
    let mut owner = PgConnection::connect(&database.owner_url()).await.unwrap();
    owner.execute("create schema proof").await.unwrap();
    let mut app = PgConnection::connect(&database.app_url()).await.unwrap();
    let refused = app.execute("create schema another").await.unwrap_err();
    // 42501 is insufficient_privilege (PostgreSQL manual, appendix A).
    assert_eq!(refused.as_database_error().unwrap().code().as_deref(), Some("42501"));
    let role = app.fetch_one("select rolsuper, rolbypassrls from pg_roles where rolname = current_user").await.unwrap();
    assert_eq!((role.get(0), role.get(1)), (false, false));
}

#[tokio::test]
async fn a_database_is_gone_with_its_value() {
    let (database, watcher) = (fresh_database().await, fresh_database().await);
    let mut connection = watcher.superuser().await.unwrap();
    let name = database.name().to_owned();
    assert!(exists(&mut connection, &name).await);
    drop(database);
    assert!(!exists(&mut connection, &name).await, "{name} outlived its value");
}

#[tokio::test]
async fn an_own_server_keeps_what_it_acknowledged_over_kill_9() {
    let mut server = OwnServer::start().await.unwrap();
    let mut before = PgConnection::connect(&server.owner_url()).await.unwrap();
    before.execute("create table kept (n int)").await.unwrap();
    for number in 1..=3 {
        sqlx::query("insert into kept values ($1)").bind(number).execute(&mut before).await.unwrap();
        server.kill9().unwrap();
        assert!(before.execute("select 1").await.is_err(), "a killed server answered");
        server.restart().await.unwrap();
        before = PgConnection::connect(&server.owner_url()).await.unwrap();
        let rows: i64 = sqlx::query_scalar("select count(*) from kept").fetch_one(&mut before).await.unwrap();
        assert_eq!(rows, i64::from(number));
    }
}
