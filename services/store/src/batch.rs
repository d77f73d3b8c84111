//! The write transaction of a shop: several commands, committed together.

use crate::errors::{StoreError, commit_failed};
use crate::read::{Called, Clocked, Head, RawHead, refuse_newer};
use crate::store::{LOCK_TIMEOUT, begin};
use crate::write::{self, Part};
use crate::{load, read};
use leadhand_domain::need::Need;
use leadhand_domain::state::{AnyRow, RowChange};
use leadhand_facts::text::TextBody;
use leadhand_facts::{Entry, FactId, Instant, PrincipalId, RequestId, ShopId, TextId};
use serde_json::Value;
use sqlx::{AssertSqlSafe, Executor, PgPool, Postgres, Transaction};
use std::time::Duration;
use uuid::Uuid;

/// A shop's write transaction. It holds the lock of the shop's head until it ends; dropping it
/// rolls it back. Run it in a task that no client can cancel.
#[derive(Debug)]
pub struct Batch {
    tx: Transaction<'static, Postgres>,
    shop: ShopId,
    /// Whether a statement failed: the server would answer a COMMIT with a quiet rollback.
    broken: bool,
    /// Whether statements have no limit of time any more.
    unlimited: bool,
    /// How far the journal went when the batch began.
    pub head: Head,
    /// The database's clock when the lock was had, never behind the last fact.
    pub now: Instant,
}

/// A command without the words that can be erased.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outline {
    /// Hash of the command without them.
    pub hash: Vec<u8>,
    /// Where they were left out, as JSON pointers.
    pub blanked: Vec<String>,
}

/// A request that was accepted, and the answer that a repeat of it gets.
#[derive(Debug, Clone, PartialEq)]
pub struct AcceptedRequest {
    /// The client's name for it.
    pub request: RequestId,
    /// Whose token was used; nobody for the timer.
    pub principal: Option<PrincipalId>,
    /// Hash of the command; nothing once a text of the request was erased.
    pub fingerprint: Option<Vec<u8>>,
    /// What of it stays when a text is erased; nothing when it brought none, or an older program accepted it.
    pub outline: Option<Outline>,
    /// The answer. Holds ids, never erasable text.
    pub answer: Value,
    /// Its first fact, or the number that would have come next.
    pub first_n: i64,
    /// Its last fact; `first_n - 1` when there was none.
    pub last_n: i64,
}

/// What a batch adds up to.
#[derive(Debug, Clone, Copy, Default)]
pub struct Written<'a> {
    /// Facts, dense, from the head's number on.
    pub entries: &'a [Entry],
    /// Rows that are to be as given, or gone.
    pub changes: &'a [RowChange],
    /// Erasable texts, with the request that brought them.
    pub texts: &'a [(TextBody, RequestId)],
    /// Requests that were accepted.
    pub requests: &'a [AcceptedRequest],
    /// Texts whose words are to be forgotten.
    pub erased_texts: &'a [TextId],
}

/// How long a batch has waited so far. For a connection and for its shop's head together it waits no longer than
/// for either alone, so that its callers are told to come again while they still listen.
struct Waits(tokio::time::Instant);

/// A connection that was had within this time needs no new limit, and so no round trip for it.
const AT_ONCE: Duration = Duration::from_millis(100);

impl Waits {
    fn begin() -> Self {
        Self(tokio::time::Instant::now())
    }

    async fn for_the_rest(&self, tx: &mut Transaction<'static, Postgres>) -> Result<(), StoreError> {
        let waited = self.0.elapsed();
        if waited > AT_ONCE {
            // 0 would be no limit at all.
            let rest = LOCK_TIMEOUT.saturating_sub(waited).as_millis().max(1);
            tx.execute(AssertSqlSafe(format!("SET LOCAL lock_timeout = {rest}"))).await?;
        }
        Ok(())
    }
}

impl Batch {
    #[tracing::instrument(level = "debug", name = "Batch::begin", skip(pool), fields(%shop))]
    pub(crate) async fn begin(pool: &PgPool, shop: ShopId) -> Result<Self, StoreError> {
        let waits = Waits::begin();
        let mut tx = begin(pool, "", shop).await?;
        waits.for_the_rest(&mut tx).await?;
        Self::lock(tx, shop).await
    }

    /// Begins the transaction that makes a shop, with room for its journal; what is rolled back leaves no trace.
    #[tracing::instrument(level = "debug", name = "Batch::begin_new", skip(pool), fields(%shop))]
    pub(crate) async fn begin_new(pool: &PgPool, shop: ShopId) -> Result<Self, StoreError> {
        let mut tx = begin(pool, "", shop).await?;
        sqlx::query_scalar!(r#"SELECT open_head($1) AS "made!""#, shop.0).fetch_one(&mut *tx).await?;
        Self::lock(tx, shop).await
    }

    async fn lock(mut tx: Transaction<'static, Postgres>, shop: ShopId) -> Result<Self, StoreError> {
        // The clock is read above the lock, or a batch that waited would be dated before its wait.
        let found = sqlx::query_as!(
            RawHead,
            r#"WITH locked AS MATERIALIZED (
                SELECT number, fact_id, recorded_at, format FROM head WHERE shop = $1 FOR UPDATE
            )
            SELECT number, fact_id, recorded_at, format, clock_timestamp() AS "clock!" FROM locked"#,
            shop.0
        )
        .fetch_optional(&mut *tx)
        .await?
        .ok_or(StoreError::NoSuchShop(shop))?;
        let Clocked { head, now } = Clocked::new(&found);
        refuse_newer(shop, &head)?;
        Ok(Self { tx, shop, broken: false, unlimited: false, head, now })
    }

    /// The shop that is written.
    pub fn shop(&self) -> ShopId {
        self.shop
    }

    /// Which of these requests were accepted before.
    pub async fn request(&mut self, ids: &[RequestId]) -> Result<Vec<AcceptedRequest>, StoreError> {
        let done = write::seen(&mut self.tx, self.shop, ids).await;
        self.noting(done)
    }

    /// The rows that these needs name. A row that several of them name may come more than once.
    pub async fn load(&mut self, needs: &[Need]) -> Result<Vec<AnyRow>, StoreError> {
        let done = load::load(&mut self.tx, self.shop, needs).await;
        self.noting(done)
    }

    /// The words of these texts, as far as they were not erased.
    pub async fn texts(&mut self, texts: &[TextId]) -> Result<Vec<TextBody>, StoreError> {
        let done = read::texts(&mut self.tx, self.shop, texts).await;
        self.noting(done)
    }

    /// What these persons and customers are called by, and since when. Ids of anything else are passed over.
    pub async fn called(&mut self, ids: &[Uuid]) -> Result<Vec<Called>, StoreError> {
        let done = read::called(&mut self.tx, self.shop, ids).await;
        self.noting(done)
    }

    /// Facts after a number, to catch up with another replica.
    pub async fn journal(&mut self, after: i64, limit: i64) -> Result<Vec<Entry>, StoreError> {
        let done = read::journal(&mut self.tx, self.shop, after, limit).await;
        self.noting(done)
    }

    /// The id of the fact with this number.
    pub async fn fact_id_at(&mut self, number: i64) -> Result<Option<FactId>, StoreError> {
        let done = read::fact_id_at(&mut self.tx, self.shop, number).await;
        self.noting(done)
    }

    /// Writes facts, rows, texts and requests, and moves the head; what follows them may be written by another call. An
    /// error ends the batch.
    pub async fn write(&mut self, written: &Written<'_>) -> Result<(), StoreError> {
        let part = Part { shop: self.shop, head: &self.head, now: self.now, written };
        let done = write::write(&mut self.tx, &[part]).await;
        let (moved, unlimited) = self.noting(done)?;
        if let [moved] = moved[..] {
            self.head = moved;
        }
        self.unlimited |= unlimited;
        Ok(())
    }

    /// Commits. [`StoreError::CommitUnknown`] means what it says; everything else was not written.
    #[tracing::instrument(level = "debug", name = "Batch::commit", skip(self), fields(shop = %self.shop))]
    pub async fn commit(self) -> Result<(), StoreError> {
        if self.broken {
            self.rollback().await?;
            return Err(StoreError::BrokenBatch);
        }
        commit(self.tx, self.unlimited).await
    }

    /// Ends the batch with nothing written.
    pub async fn rollback(self) -> Result<(), StoreError> {
        Ok(self.tx.rollback().await?)
    }

    fn noting<T>(&mut self, done: Result<T, StoreError>) -> Result<T, StoreError> {
        self.broken |= done.is_err();
        done
    }
}

/// Commits a write transaction; its statements have a limit of time until now, or none any more.
pub(crate) async fn commit(mut tx: Transaction<'static, Postgres>, unlimited: bool) -> Result<(), StoreError> {
    // A COMMIT must never be cancelled: with a synchronous standby the server would then
    // answer success for what may yet be lost.
    if !unlimited {
        sqlx::query!("SET LOCAL statement_timeout = 0").execute(&mut *tx).await?;
    }
    tx.commit().await.map_err(commit_failed)
}
