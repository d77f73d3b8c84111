//! One moment of the whole database, held still while a tool of Postgres reads it.

use crate::clock::instant;
use crate::errors::StoreError;
use crate::migrate::{become_owner, owner_connection};
use crate::read::Head;
use leadhand_facts::{FactId, Instant, ShopId};
use sqlx::{Connection, PgConnection};

/// A moment that another connection can read at, by its name, until it is released.
#[derive(Debug)]
pub struct Moment {
    conn: PgConnection,
    /// What Postgres calls it.
    pub name: String,
    /// The database's clock.
    pub at: Instant,
    /// The server's major version.
    pub postgres: i32,
    /// The newest migration that was applied.
    pub schema: i64,
    /// How far each shop's journal goes.
    pub heads: Vec<(ShopId, Head)>,
}

impl Moment {
    /// Holds the present moment, for a login that may act as the owner of the tables.
    #[tracing::instrument(level = "debug", name = "Moment::hold", skip_all)]
    pub async fn hold(owner_url: &str) -> Result<Self, StoreError> {
        let mut conn = owner_connection(owner_url, "leadhand-backup").await?;
        become_owner(&mut conn).await?;
        // It stands still as long as a tool takes to read everything.
        sqlx::query!("SET idle_in_transaction_session_timeout = 0").execute(&mut conn).await?;
        sqlx::query!("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY").execute(&mut conn).await?;
        let found = sqlx::query!(
            r#"SELECT pg_export_snapshot() AS "name!", clock_timestamp() AS "at!", schema_version() AS "schema!",
                current_setting('server_version_num')::integer / 10000 AS "postgres!""#
        )
        .fetch_one(&mut conn)
        .await?;
        let heads = sqlx::query!("SELECT shop, number, fact_id, recorded_at, format FROM head ORDER BY shop")
            .fetch_all(&mut conn)
            .await?;
        let heads = heads.into_iter().map(|h| {
            let (number, fact_id, format) = (h.number, h.fact_id.map(FactId), h.format);
            (ShopId(h.shop), Head { number, fact_id, recorded_at: instant(h.recorded_at), format })
        });
        let (name, at, schema, postgres) = (found.name, instant(found.at), found.schema, found.postgres);
        Ok(Self { conn, name, at, postgres, schema, heads: heads.collect() })
    }

    /// Lets it go.
    pub async fn release(self) -> Result<(), StoreError> {
        Ok(self.conn.close().await?)
    }
}

/// Whether there is nothing in the database yet that a restored one would collide with.
#[tracing::instrument(level = "debug", skip_all)]
pub async fn is_empty(owner_url: &str) -> Result<bool, StoreError> {
    let mut conn = owner_connection(owner_url, "leadhand-restore").await?;
    become_owner(&mut conn).await?;
    let tables = sqlx::query_scalar!(
        r#"SELECT count(*) AS "tables!" FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p', 'v')"#
    )
    .fetch_one(&mut conn)
    .await?;
    conn.close().await?;
    Ok(tables == 0)
}
