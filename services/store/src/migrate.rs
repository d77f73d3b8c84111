//! Bringing the database's schema up to what this program needs.

use crate::errors::StoreError;
use sqlx::Connection;
use sqlx::migrate::Migrator;
use sqlx::postgres::{PgConnectOptions, PgConnection};
use std::str::FromStr;

/// A database that is further is left as it is: whether this program can work with it is asked by
/// [`Store::refuse_other_schema`](crate::Store::refuse_other_schema).
static MIGRATOR: Migrator = Migrator { ignore_missing: true, ..sqlx::migrate!("../../migrations") };

/// The number of the newest migration that this program brings along.
pub fn newest_migration() -> i64 {
    MIGRATOR.iter().map(|migration| migration.version).max().unwrap_or_default()
}

/// Applies what is missing. The login has to be `leadhand_owner` or able to act as it. Two that
/// migrate at once wait for each other; the second finds nothing to do.
#[tracing::instrument(level = "info", skip_all)]
pub async fn migrate(owner_url: &str) -> Result<(), StoreError> {
    let mut conn = owner_connection(owner_url, "leadhand-migrate").await?;
    become_owner(&mut conn).await?;
    MIGRATOR.run(&mut conn).await?;
    conn.close().await?;
    Ok(())
}

pub(crate) async fn owner_connection(owner_url: &str, name: &str) -> Result<PgConnection, StoreError> {
    let options = PgConnectOptions::from_str(owner_url)?
        .application_name(name)
        .options([("search_path", "public"), ("client_min_messages", "warning")]);
    Ok(PgConnection::connect_with(&options).await?)
}

/// Acts as the owner of the tables from here on.
pub(crate) async fn become_owner(conn: &mut PgConnection) -> Result<(), StoreError> {
    let found = sqlx::query!(
        r#"SELECT current_user::text AS "login!",
            (SELECT count(*) FROM pg_roles WHERE rolname IN ('leadhand_owner', 'leadhand_app')) AS "roles!",
            (SELECT pg_has_role(current_user, r.oid, 'MEMBER') FROM pg_roles AS r WHERE r.rolname = 'leadhand_owner')
                AS is_member"#
    )
    .fetch_one(&mut *conn)
    .await?;
    let refused = |why| Err(StoreError::NotOwner { login: found.login.clone(), why });
    if found.roles < 2 {
        return refused(
            "role leadhand_owner or leadhand_app is missing; an administrator has to run deploy/roles.sql in this \
             database first",
        );
    }
    if found.is_member != Some(true) {
        return refused("it is not a member of leadhand_owner; migrate with a login that is");
    }
    sqlx::query!("SET ROLE leadhand_owner").execute(conn).await?;
    Ok(())
}
