//! Whether the server's login is one for which row-level security holds.

use crate::errors::StoreError;
use sqlx::PgPool;

/// Refuses a login that is a superuser, gets around row security, or owns tables of ours, by
/// itself or by a role that it may take on; and a database in which a table is unguarded.
#[tracing::instrument(level = "debug", skip_all)]
pub(crate) async fn refuse_unsafe(pool: &PgPool) -> Result<(), StoreError> {
    let found = sqlx::query!(
        r#"WITH reach AS (
            SELECT r.* FROM pg_roles AS r
            WHERE pg_has_role(session_user, r.oid, 'MEMBER') OR pg_has_role(current_user, r.oid, 'MEMBER')
        ), ours AS (
            SELECT c.* FROM pg_class AS c
            WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p')
        )
        SELECT session_user::text AS "login!",
            EXISTS (SELECT FROM reach WHERE rolsuper) AS "is_super!",
            EXISTS (SELECT FROM reach WHERE rolbypassrls) AS "bypasses!",
            EXISTS (SELECT FROM reach JOIN ours ON ours.relowner = reach.oid) AS "owns!",
            EXISTS (SELECT FROM reach WHERE rolname = 'leadhand_owner') AS "is_owner!",
            EXISTS (SELECT FROM reach WHERE rolname = 'leadhand_app') AS "is_app!",
            EXISTS (SELECT FROM ours WHERE relname <> '_sqlx_migrations'
                AND NOT (relrowsecurity AND relforcerowsecurity)) AS "unguarded!""#
    )
    .fetch_one(pool)
    .await?;
    let faults = [
        (found.is_super, "is a superuser, or may become one, for whom row-level security does not hold"),
        (found.bypasses, "bypasses row-level security, or may become a role that does"),
        (found.is_owner, "is a member of leadhand_owner"),
        (found.owns, "owns tables of Leadhand, or may become a role that does"),
        (!found.is_app, "is not a member of leadhand_app"),
        (found.unguarded, "finds a table without forced row-level security in schema public"),
    ];
    match faults.into_iter().find(|(holds, _)| *holds) {
        Some((_, why)) => Err(StoreError::UnsafeRole { login: found.login, why }),
        None => Ok(()),
    }
}
