//! One write transaction for the batches of several shops that wait at the same moment: a batch of one costs as many round
//! trips as a large one, and with many shops nearly every batch is one.
//!
//! It takes only shops whose journals stand where their writers left them and which accepted none of the requests yet, and it
//! waits for none. So nothing has to be caught up with or loaded, nobody waits for another shop's lock, and what does
//! not fit is left to the shop's own [`Batch`](crate::Batch).

use crate::batch::{Written, commit};
use crate::errors::StoreError;
use crate::read::{Clocked, Head, RawHead};
use crate::store::begin_for;
use crate::write::{self, Part};
use leadhand_facts::{FactId, Instant, RequestId, ShopId, upcast};
use sqlx::{PgPool, Postgres, Transaction};
use uuid::Uuid;

/// A shop as its writer knows it, and what it is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// The shop.
    pub shop: ShopId,
    /// The number of the last fact.
    pub number: i64,
    /// The id of the last fact.
    pub fact_id: FactId,
    /// The requests that are to be new.
    pub requests: Vec<RequestId>,
}

/// A shop whose head is locked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// The shop.
    pub shop: ShopId,
    /// How far its journal goes: as far as it was known.
    pub head: Head,
    /// The database's clock, never behind the last fact.
    pub now: Instant,
}

/// A write transaction of several shops. It holds the locks of their heads until it ends; dropping it rolls it back. Run it in
/// a task that no client can cancel.
#[derive(Debug)]
pub struct Joint {
    tx: Transaction<'static, Postgres>,
    /// The shops that it has.
    pub taken: Vec<Taken>,
}

impl Joint {
    #[tracing::instrument(level = "debug", name = "Joint::begin", skip_all, fields(shops = known.len()))]
    pub(crate) async fn begin(pool: &PgPool, known: &[Known]) -> Result<Self, StoreError> {
        let shops: Vec<ShopId> = known.iter().map(|known| known.shop).collect();
        let mut tx = begin_for(pool, "", &shops).await?;
        let taken = take(&mut tx, known).await?;
        Ok(Self { tx, taken })
    }

    /// Writes what some of the shops have decided, all or nothing, and commits. [`StoreError::CommitUnknown`] means what it
    /// says for each of them; after everything else nothing was written.
    #[tracing::instrument(level = "debug", name = "Joint::commit", skip_all, fields(shops = all.len()))]
    pub async fn commit(mut self, all: &[(Taken, Written<'_>)]) -> Result<(), StoreError> {
        let parts: Vec<Part<'_>> = all
            .iter()
            .map(|(taken, written)| Part { shop: taken.shop, head: &taken.head, now: taken.now, written })
            .collect();
        let (_, unlimited) = write::write(&mut self.tx, &parts).await?;
        commit(self.tx, unlimited).await
    }

    /// Ends it with nothing written.
    pub async fn rollback(self) -> Result<(), StoreError> {
        Ok(self.tx.rollback().await?)
    }
}

/// Locks the heads that fit, in the order of the shops. A head that moved between the statement's beginning and its lock is
/// looked at again as it is then (PostgreSQL manual, 13.2.1), and fits no longer; one that did not move has no request that
/// the statement could have missed.
async fn take(tx: &mut Transaction<'static, Postgres>, known: &[Known]) -> Result<Vec<Taken>, StoreError> {
    struct Row {
        shop: Uuid,
        number: i64,
        fact_id: Option<Uuid>,
        recorded_at: chrono::DateTime<chrono::Utc>,
        format: i32,
        clock: chrono::DateTime<chrono::Utc>,
    }
    let shops: Vec<Uuid> = known.iter().map(|known| known.shop.0).collect();
    let numbers: Vec<i64> = known.iter().map(|known| known.number).collect();
    let fact_ids: Vec<Uuid> = known.iter().map(|known| known.fact_id.0).collect();
    let of = |known: &Known| known.requests.iter().map(|request| (known.shop.0, request.0)).collect::<Vec<_>>();
    let (of, requests): (Vec<Uuid>, Vec<Uuid>) = known.iter().flat_map(of).unzip();
    let found = sqlx::query_as!(
        Row,
        r#"WITH repeated AS MATERIALIZED (
            SELECT r.shop FROM unnest($4::uuid[], $5::uuid[]) AS w (shop, request)
            JOIN request AS r ON r.shop = w.shop AND r.request = w.request
        ), locked AS MATERIALIZED (
            SELECT h.shop, h.number, h.fact_id, h.recorded_at, h.format
            FROM unnest($1::uuid[], $2::bigint[], $3::uuid[]) AS k (shop, number, fact_id)
            JOIN head AS h ON h.shop = k.shop AND h.number = k.number AND h.fact_id = k.fact_id
            WHERE h.format <= $6 AND h.shop NOT IN (SELECT shop FROM repeated)
            ORDER BY h.shop FOR UPDATE OF h SKIP LOCKED
        )
        SELECT shop, number, fact_id, recorded_at, format, clock_timestamp() AS "clock!" FROM locked"#,
        &shops,
        &numbers,
        &fact_ids,
        &of,
        &requests,
        upcast::FORMAT
    )
    .fetch_all(&mut **tx)
    .await?;
    let taken = |row: Row| {
        let Row { shop, number, fact_id, recorded_at, format, clock } = row;
        let Clocked { head, now } = Clocked::new(&RawHead { number, fact_id, recorded_at, format, clock });
        Taken { shop: ShopId(shop), head, now }
    };
    Ok(found.into_iter().map(taken).collect())
}
