//! Two replicas of a new version start at once, and both migrate. Common practice.

use kit::OwnServer;
use kit::process::leadhandd;
use sqlx::{Connection, PgConnection, raw_sql};

pub const ROLES: &str = include_str!("../../deploy/roles.sql");

/// The same login on another database.
pub fn on(url: &str, database: &str) -> String {
    url.rsplit_once('/').map(|(server, _)| format!("{server}/{database}")).unwrap()
}

#[tokio::test]
async fn two_that_migrate_at_once_both_succeed_and_migrate_once() {
    let postgres = OwnServer::start().await.unwrap();
    let mut superuser = PgConnection::connect(&postgres.superuser_url()).await.unwrap();
    raw_sql("CREATE DATABASE empty TEMPLATE template0").execute(&mut superuser).await.unwrap();
    let mut inside = PgConnection::connect(&on(&postgres.superuser_url(), "empty")).await.unwrap();
    raw_sql(ROLES).execute(&mut inside).await.unwrap();

    let (app, owner) = (on(&postgres.app_url(), "empty"), on(&postgres.owner_url(), "empty"));
    let args = ["migrate", "--database-url", &app, "--owner-url", &owner];
    let migrated = futures::future::join_all((0..4).map(|_| leadhandd(&args))).await;
    let expected = format!("migration {}", leadhand_store::newest_migration());
    for output in migrated {
        let output = output.unwrap();
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(said.contains(&expected), "{said}");
    }
    let applied = "SELECT count(*), count(DISTINCT version) FROM _sqlx_migrations WHERE success";
    let applied: (i64, i64) = sqlx::query_as(applied).fetch_one(&mut inside).await.unwrap();
    assert!(applied.0 > 0 && applied.0 == applied.1, "{applied:?}");
    let verified = leadhandd(&["verify", "--database-url", &app]).await.unwrap();
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stderr));
}
