//! The way in: a pool of connections, and the few questions that come before a shop is known.

use crate::batch::Batch;
use crate::clock::stamp;
use crate::errors::StoreError;
use crate::joint::{Joint, Known};
use crate::migrate::newest_migration;
use crate::snapshot::Snapshot;
use crate::wake::{self, Wakes};
use leadhand_facts::{Instant, ShopId};
use sqlx::pool::PoolConnection;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::{AssertSqlSafe, Connection, PgConnection, PgPool, Postgres, Transaction};
use std::str::FromStr;
use std::time::Duration;

/// How long a caller waits for a connection of the pool.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(2);

/// How long a statement waits for a lock; [`SETTINGS`] say the same to each connection.
pub(crate) const LOCK_TIMEOUT: Duration = Duration::from_secs(2);

/// A connection that was in use this long ago is taken to be alive.
const TRUSTED: Duration = Duration::from_millis(500);

/// What every connection is told at its start. A writer that hangs in the middle of a batch (a
/// stopped process, a cut network) must not hold its shop for ever. Notices are of no use here,
/// and the rollback after each release would give one every time.
const SETTINGS: [(&str, &str); 5] = [
    ("search_path", "public"),
    ("lock_timeout", "2s"),
    ("statement_timeout", "30s"),
    ("idle_in_transaction_session_timeout", "30s"),
    ("client_min_messages", "error"),
];

/// A database with Leadhand's tables.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) pool: PgPool,
    listening: PgConnectOptions,
}

impl Store {
    /// Connects with the server's login. Fails at once when the database can't be reached.
    pub async fn connect(app_url: &str, max_connections: u32) -> Result<Self, StoreError> {
        let options = PgConnectOptions::from_str(app_url)?.options(SETTINGS);
        // The pool tries until its time is up and forgets why it failed; a first connection says it at once.
        PgConnection::connect_with(&options).await?.close().await?;
        let pool = PgPoolOptions::new()
            .max_connections(max_connections)
            .acquire_timeout(ACQUIRE_TIMEOUT)
            // Each connection is looked at as it comes back; looking again before it is lent out is a round trip that
            // only one which lay idle is worth.
            .test_before_acquire(false)
            .before_acquire(|conn, about| {
                Box::pin(async move {
                    if about.idle_for > TRUSTED {
                        conn.ping().await?;
                    }
                    Ok(true)
                })
            })
            .connect_lazy_with(options.clone().application_name("leadhand"));
        Ok(Self { pool, listening: options.application_name("leadhand-listen") })
    }

    /// Closes every connection.
    pub async fn close(&self) {
        self.pool.close().await;
    }

    /// Refuses a login for which row-level security does not hold.
    pub async fn refuse_unsafe_role(&self) -> Result<(), StoreError> {
        crate::role::refuse_unsafe(&self.pool).await
    }

    /// Refuses a database that lacks a migration, or that has one which took away what this program
    /// needs. One that is further in other ways is accepted: migrations expand before they contract,
    /// so that replicas can be replaced one after the other.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn refuse_other_schema(&self) -> Result<(), StoreError> {
        let wanted = newest_migration();
        let found = match sqlx::query_scalar!("SELECT schema_version()").fetch_one(&mut *self.connection().await?).await
        {
            Ok(found) => found.unwrap_or_default(),
            // undefined_function: nothing was migrated yet
            Err(error) if has_code(&error, "42883") => 0,
            Err(error) => return Err(error.into()),
        };
        if found < wanted {
            return Err(StoreError::SchemaBehind { found, wanted });
        }
        let needed = sqlx::query_scalar!("SELECT least_program()").fetch_one(&mut *self.connection().await?).await?;
        let needed = needed.unwrap_or_default();
        if needed > wanted { Err(StoreError::SchemaAhead { needed, known: wanted }) } else { Ok(()) }
    }

    /// Whether the database answers.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn ping(&self) -> Result<(), StoreError> {
        sqlx::query_scalar!(r#"SELECT 1 AS "one!""#).fetch_one(&mut *self.connection().await?).await?;
        Ok(())
    }

    /// Begins a write transaction of a shop, with the shop's head locked.
    pub async fn begin(&self, shop: ShopId) -> Result<Batch, StoreError> {
        Batch::begin(&self.pool, shop).await
    }

    /// Begins a write transaction of those of these shops that nobody else holds and whose journals are as they are known,
    /// without waiting for any.
    pub async fn begin_joint(&self, known: &[Known]) -> Result<Joint, StoreError> {
        Joint::begin(&self.pool, known).await
    }

    /// Begins the transaction that makes a shop. The head of one that is there already is given as it is.
    pub async fn begin_new(&self, shop: ShopId) -> Result<Batch, StoreError> {
        Batch::begin_new(&self.pool, shop).await
    }

    /// Begins a read of a shop in which everything is as of one moment.
    pub async fn snapshot(&self, shop: ShopId) -> Result<Snapshot, StoreError> {
        Snapshot::begin(&self.pool, shop).await
    }

    /// How far each shop's journal goes.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn heads(&self) -> Result<Vec<(ShopId, i64)>, StoreError> {
        let found = sqlx::query!(r#"SELECT shop AS "shop!", number AS "number!" FROM heads()"#)
            .fetch_all(&mut *self.connection().await?)
            .await?;
        Ok(found.into_iter().map(|head| (ShopId(head.shop), head.number)).collect())
    }

    /// Every shop.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn shops(&self) -> Result<Vec<ShopId>, StoreError> {
        let found = sqlx::query_scalar!(r#"SELECT shop AS "shop!" FROM shops()"#)
            .fetch_all(&mut *self.connection().await?)
            .await?;
        Ok(found.into_iter().map(ShopId).collect())
    }

    /// Shops in which something is due by time alone, with a digest of what it is.
    #[tracing::instrument(level = "debug", skip_all)]
    pub async fn due_shops(&self) -> Result<Vec<(ShopId, String)>, StoreError> {
        let found = sqlx::query!(r#"SELECT shop AS "shop!", due AS "due!" FROM due_shops()"#)
            .fetch_all(&mut *self.connection().await?)
            .await?;
        Ok(found.into_iter().map(|row| (ShopId(row.shop), row.due)).collect())
    }

    /// Makes room for a new shop's journal; `false` when the shop has it already.
    #[tracing::instrument(level = "debug", skip_all, fields(%shop))]
    pub async fn open_head(&self, shop: ShopId) -> Result<bool, StoreError> {
        Ok(sqlx::query_scalar!(r#"SELECT open_head($1) AS "made!""#, shop.0)
            .fetch_one(&mut *self.connection().await?)
            .await?)
    }

    /// Forgets requests of a shop that were accepted before this instant, and says how many.
    #[tracing::instrument(level = "debug", skip_all, fields(%shop))]
    pub async fn purge_requests(&self, shop: ShopId, before: Instant) -> Result<u64, StoreError> {
        let mut tx = begin(&self.pool, "", shop).await?;
        let gone = sqlx::query!("DELETE FROM request WHERE shop = $1 AND recorded_at < $2", shop.0, stamp(before))
            .execute(&mut *tx)
            .await?;
        tx.commit().await?;
        Ok(gone.rows_affected())
    }

    /// Tells the other replicas that these shops' journals went on. In a transaction of its own,
    /// because a notification takes a lock that all commits of the cluster would wait for.
    pub async fn notify(&self, shops: &[ShopId]) -> Result<(), StoreError> {
        wake::notify(&self.pool, shops).await
    }

    pub(crate) async fn connection(&self) -> Result<PoolConnection<Postgres>, StoreError> {
        let taken = all_taken(&self.pool);
        self.pool.acquire().await.map_err(|error| no_connection(&self.pool, taken, error))
    }

    /// Hears what the other replicas tell, on a connection of its own, until it is ended or dropped. Needs a tokio
    /// runtime.
    pub fn listen(&self) -> Wakes {
        wake::listen(self.listening.clone())
    }
}

/// Begins a transaction of one shop.
pub(crate) async fn begin(
    pool: &PgPool,
    mode: &str,
    shop: ShopId,
) -> Result<Transaction<'static, Postgres>, StoreError> {
    begin_for(pool, mode, &[shop]).await
}

/// Begins a transaction and says whose it is, in one round trip. A UUID needs no quoting.
///
/// In a task of its own: a beginning that its caller dropped half-way would leave a connection with its transaction open,
/// and the next borrower would write into it. So it goes on to its end, and what is dropped then is rolled back.
pub(crate) async fn begin_for(
    pool: &PgPool,
    mode: &str,
    shops: &[ShopId],
) -> Result<Transaction<'static, Postgres>, StoreError> {
    let shops = shops.iter().map(ToString::to_string).collect::<Vec<_>>().join(",");
    let sql = format!("BEGIN {mode}; SET LOCAL leadhand.shop = '{shops}'");
    let taken = all_taken(pool);
    let begun = tokio::spawn({
        let pool = pool.clone();
        async move { pool.begin_with(AssertSqlSafe(sql)).await }
    });
    let begun = begun.await.unwrap_or(Err(sqlx::Error::WorkerCrashed));
    begun.map_err(|error| no_connection(pool, taken, error))
}

/// Whether somebody has each of the connections that the pool may make, or is making it.
fn all_taken(pool: &PgPool) -> bool {
    let used = pool.size() as usize - pool.num_idle().min(pool.size() as usize);
    used >= pool.options().get_max_connections() as usize
}

/// The pool says the same whether all its connections are taken or the database is gone. They were taken when all of
/// them were before the wait as well: at its end one whose user gave up may just have been closed.
fn no_connection(pool: &PgPool, were_taken: bool, error: sqlx::Error) -> StoreError {
    let full = were_taken || pool.size() >= pool.options().get_max_connections();
    if matches!(error, sqlx::Error::PoolTimedOut) && !full { StoreError::Unavailable(error) } else { error.into() }
}

fn has_code(error: &sqlx::Error, code: &str) -> bool {
    error.as_database_error().and_then(sqlx::error::DatabaseError::code).is_some_and(|found| found == code)
}
