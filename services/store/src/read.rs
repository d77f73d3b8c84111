//! Reads that a write transaction and a snapshot share.

use crate::clock::instant;
use crate::errors::StoreError;
use chrono::{DateTime, Utc};
use leadhand_facts::text::TextBody;
use leadhand_facts::upcast;
use leadhand_facts::{Entry, FactId, Instant, PersonId, PrincipalId, RequestId, ShopId, Stored, TextId};
use serde_json::Value;
use sqlx::PgConnection;
use uuid::Uuid;

/// How far a shop's journal goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// The number of the last fact; 0 before the first.
    pub number: i64,
    /// The last fact's id; nothing before the first.
    pub fact_id: Option<FactId>,
    /// When the last fact was recorded; before the first, when the head was made.
    pub recorded_at: Instant,
    /// The highest format in the journal ([`upcast::format_of`]).
    pub format: i32,
}

/// Refuses a shop that a newer program has written.
pub(crate) fn refuse_newer(shop: ShopId, head: &Head) -> Result<(), StoreError> {
    let (found, known) = (head.format, upcast::FORMAT);
    if found > known { Err(StoreError::NewerShop { shop, found, known }) } else { Ok(()) }
}

/// A head with the database's clock.
pub(crate) struct Clocked {
    pub head: Head,
    pub now: Instant,
}

/// The head's row as it is read, with the database's clock.
pub(crate) struct RawHead {
    pub number: i64,
    pub fact_id: Option<Uuid>,
    pub recorded_at: DateTime<Utc>,
    pub format: i32,
    pub clock: DateTime<Utc>,
}

impl Clocked {
    pub(crate) fn new(head: &RawHead) -> Self {
        let RawHead { number, fact_id, recorded_at, format, clock } = *head;
        let recorded_at = instant(recorded_at);
        let head = Head { number, fact_id: fact_id.map(FactId), recorded_at, format };
        // Another server's clock may have been ahead. Time in a journal never goes back, and it never
        // stands still: what begins now can be ended by the next command.
        Self { head, now: instant(clock).max(Instant(recorded_at.0.saturating_add(1))) }
    }
}

/// The words of these texts, as far as they were not erased.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, texts = texts.len()))]
pub(crate) async fn texts(
    conn: &mut PgConnection,
    shop: ShopId,
    texts: &[TextId],
) -> Result<Vec<TextBody>, StoreError> {
    let ids: Vec<Uuid> = texts.iter().map(|text| text.0).collect();
    let found = sqlx::query!("SELECT text, salt, body FROM text_body WHERE shop = $1 AND text = ANY($2)", shop.0, &ids)
        .fetch_all(conn)
        .await?;
    Ok(found.into_iter().map(|t| TextBody { id: TextId(t.text), salt: t.salt, body: t.body }).collect())
}

/// A person or a customer, and since when the name counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Called {
    /// Who it is.
    pub id: Uuid,
    /// A customer, and not a person.
    pub customer: bool,
    /// Whether there is no name any more.
    pub forgotten: bool,
    /// The number of the fact from which on the name is this one. When the request that gave it is not kept
    /// any more, it is the one from which on there is somebody.
    pub since_n: i64,
}

/// What these persons and customers are called by. The name's text tells which request gave it.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, ids = ids.len()))]
pub(crate) async fn called(conn: &mut PgConnection, shop: ShopId, ids: &[Uuid]) -> Result<Vec<Called>, StoreError> {
    let found = sqlx::query_as!(
        Called,
        r#"WITH bearer AS (
            SELECT person AS id, false AS customer, name, forgotten, added_n FROM person
            WHERE shop = $1 AND person = ANY($2)
            UNION ALL SELECT customer, true, name, forgotten, added_n FROM customer
            WHERE shop = $1 AND customer = ANY($2)
        )
        SELECT b.id AS "id!", b.customer AS "customer!", b.forgotten AS "forgotten!",
            greatest(b.added_n, r.first_n) AS "since_n!"
        FROM bearer AS b
        LEFT JOIN text_body AS t ON t.shop = $1 AND t.text = b.name
        LEFT JOIN request AS r ON r.shop = $1 AND r.request = t.request"#,
        shop.0,
        ids
    )
    .fetch_all(conn)
    .await?;
    Ok(found)
}

/// Facts after a number, in order.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn journal(
    conn: &mut PgConnection,
    shop: ShopId,
    after: i64,
    limit: i64,
) -> Result<Vec<Entry>, StoreError> {
    let found = sqlx::query_as!(
        Written,
        r#"SELECT number, fact_id, kind, version, body AS "body: Value", recorded_at, happened_at, principal, person,
            proved, request
        FROM journal WHERE shop = $1 AND number > $2 ORDER BY number LIMIT $3"#,
        shop.0,
        after,
        limit
    )
    .fetch_all(conn)
    .await?;
    found.into_iter().map(entry).collect()
}

/// The facts with these numbers, in order.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, facts = numbers.len()))]
pub(crate) async fn facts(conn: &mut PgConnection, shop: ShopId, numbers: &[i64]) -> Result<Vec<Entry>, StoreError> {
    let found = sqlx::query_as!(
        Written,
        r#"SELECT number, fact_id, kind, version, body AS "body: Value", recorded_at, happened_at, principal, person,
            proved, request
        FROM journal WHERE shop = $1 AND number = ANY($2) ORDER BY number"#,
        shop.0,
        numbers
    )
    .fetch_all(conn)
    .await?;
    found.into_iter().map(entry).collect()
}

/// Facts of these kinds after a number, in order, up to a number of them.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, after))]
pub(crate) async fn facts_of(
    conn: &mut PgConnection,
    shop: ShopId,
    kinds: &[&str],
    after: i64,
    limit: i64,
) -> Result<Vec<Entry>, StoreError> {
    let kinds: Vec<String> = kinds.iter().map(|kind| (*kind).to_owned()).collect();
    let found = sqlx::query_as!(
        Written,
        r#"SELECT number, fact_id, kind, version, body AS "body: Value", recorded_at, happened_at, principal, person,
            proved, request
        FROM journal WHERE shop = $1 AND number > $2 AND kind = ANY($3) ORDER BY number LIMIT $4"#,
        shop.0,
        after,
        &kinds,
        limit
    )
    .fetch_all(conn)
    .await?;
    found.into_iter().map(entry).collect()
}

/// A row of the journal.
pub(crate) struct Written {
    pub(crate) number: i64,
    pub(crate) fact_id: Uuid,
    pub(crate) kind: String,
    pub(crate) version: i32,
    pub(crate) body: Value,
    pub(crate) recorded_at: DateTime<Utc>,
    pub(crate) happened_at: DateTime<Utc>,
    pub(crate) principal: Option<Uuid>,
    pub(crate) person: Option<Uuid>,
    pub(crate) proved: Option<Uuid>,
    pub(crate) request: Uuid,
}

/// A fact as it was written, in its present form.
pub(crate) fn entry(row: Written) -> Result<Entry, StoreError> {
    let number = row.number;
    let fact = upcast::read(Stored { kind: row.kind, version: row.version, body: row.body })
        .map_err(|source| StoreError::Fact { number, source })?;
    Ok(Entry {
        number,
        fact_id: FactId(row.fact_id),
        recorded_at: instant(row.recorded_at),
        happened_at: instant(row.happened_at),
        principal: row.principal.map(PrincipalId),
        person: row.person.map(PersonId),
        proved: row.proved.map(PersonId),
        request: RequestId(row.request),
        fact,
    })
}

/// The id of the fact with this number.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn fact_id_at(
    conn: &mut PgConnection,
    shop: ShopId,
    number: i64,
) -> Result<Option<FactId>, StoreError> {
    let found = sqlx::query_scalar!("SELECT fact_id FROM journal WHERE shop = $1 AND number = $2", shop.0, number)
        .fetch_optional(conn)
        .await?;
    Ok(found.map(FactId))
}
