//! Writing a batch in few statements: one for journal, requests, texts and head, and one for each
//! table that has changed rows.

mod remove;

use crate::batch::{AcceptedRequest, Outline, Written};
use crate::errors::StoreError;
use crate::read::Head;
use leadhand_domain::state::RowChange;
use leadhand_facts::rows::{CalendarRow, MoveRow, Row, TABLES, TemplateRow};
use leadhand_facts::upcast;
use leadhand_facts::{Entry, Instant, PrincipalId, RequestId, ShopId, TextId};
use serde_json::{Value, json};
use sqlx::{AssertSqlSafe, PgConnection};
use std::collections::BTreeMap;
use std::fmt::Write;
use uuid::Uuid;

/// Tables whose rows are written once; the server's login may not change them.
const WRITTEN_ONCE: [&str; 3] = [CalendarRow::TABLE, TemplateRow::TABLE, MoveRow::TABLE];

/// Tables in which a row may come to be only after another has ended, with the order in which their
/// rows are written. On time: what is changed is only ever the end, so each row then finds the rows
/// before it final, and the closing of an interval comes before the one that follows it.
const ORDERED: [(&str, &str); 8] = [
    ("open_window", "r.from_at"),
    ("shift_window", "r.from_at"),
    ("stay", "r.from_at"),
    ("clocking", "r.from_at"),
    ("tool_loan", "r.from_at"),
    ("overtime_window", "r.from_at"),
    ("job", "r.closed_at NULLS LAST"),
    ("shortage", "r.closed_n NULLS LAST"),
];

/// Where the head stands then, and whether statements have no limit of time any more.
pub(crate) async fn write(
    conn: &mut PgConnection,
    shop: ShopId,
    head: &Head,
    now: Instant,
    written: &Written<'_>,
) -> Result<(Head, bool), StoreError> {
    let mut moved = moved_head(head, written.entries)?;
    let facts = written.entries.iter().map(stored).collect::<Result<Vec<_>, _>>()?;
    moved.format = facts.iter().map(|(_, format)| *format).fold(head.format, i32::max);
    let facts = facts.into_iter().map(|(fact, _)| fact).collect();
    write_book(conn, shop, head, &moved, now, facts, written).await?;
    let (rows, gone) = by_table(written.changes)?;
    for (table, keys) in gone {
        remove::remove(conn, shop, table, Value::Array(keys)).await?;
    }
    let unlimited = !rows.is_empty();
    if unlimited {
        put(conn, shop, rows).await?;
    }
    if !written.erased_texts.is_empty() {
        erase(conn, shop, written.erased_texts).await?;
    }
    Ok((moved, unlimited))
}

/// Where the head stands after these facts. They have to follow it without a gap.
fn moved_head(head: &Head, entries: &[Entry]) -> Result<Head, StoreError> {
    let mut moved = *head;
    for entry in entries {
        let wanted = moved.number + 1;
        if entry.number != wanted {
            return Err(StoreError::NotDense { wanted, found: entry.number });
        }
        moved = Head { number: wanted, fact_id: Some(entry.fact_id), recorded_at: entry.recorded_at, ..moved };
    }
    Ok(moved)
}

/// Journal, requests, texts and head, in one round trip.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, facts = written.entries.len()))]
async fn write_book(
    conn: &mut PgConnection,
    shop: ShopId,
    from: &Head,
    moved: &Head,
    now: Instant,
    facts: Vec<Value>,
    written: &Written<'_>,
) -> Result<(), StoreError> {
    let requests = written.requests.iter().map(|request| accepted(request, now)).collect();
    let texts = written
        .texts
        .iter()
        .map(|(text, request)| json!({ "text": text.id, "salt": text.salt, "body": text.body, "request": request }));
    let found = sqlx::query!(
        r"WITH facts AS (
            INSERT INTO journal (shop, number, fact_id, kind, version, body, recorded_at, happened_at, principal,
                person, proved, request)
            SELECT $1, f.number, f.fact_id, f.kind, f.version, f.body, f.recorded_at, f.happened_at, f.principal,
                f.person, f.proved, f.request
            FROM jsonb_populate_recordset(NULL::journal, $2) AS f
        ), accepted AS (
            INSERT INTO request (shop, request, principal, fingerprint, outline, blanked, answer, first_n, last_n,
                recorded_at)
            SELECT $1, r.request, r.principal, decode(r.fingerprint, 'hex'), decode(r.outline, 'hex'), r.blanked,
                r.answer, r.first_n, r.last_n, r.recorded_at
            FROM jsonb_to_recordset($3) AS r (request uuid, principal uuid, fingerprint text, outline text,
                blanked text[], answer jsonb, first_n bigint, last_n bigint, recorded_at timestamptz)
        ), words AS (
            INSERT INTO text_body (shop, text, salt, body, request)
            SELECT $1, t.text, t.salt, t.body, t.request FROM jsonb_populate_recordset(NULL::text_body, $4) AS t
        )
        UPDATE head SET number = $5, fact_id = $6, recorded_at = $7, format = $9 WHERE shop = $1 AND number = $8",
        shop.0,
        Value::Array(facts),
        Value::Array(requests),
        Value::Array(texts.collect()),
        moved.number,
        moved.fact_id.map(|id| id.0),
        crate::clock::stamp(moved.recorded_at),
        from.number,
        moved.format
    )
    .execute(conn)
    .await?;
    // The head is locked, so this is a second call of `write` or a defect.
    if found.rows_affected() == 1 {
        Ok(())
    } else {
        Err(StoreError::NotDense { wanted: from.number, found: moved.number })
    }
}

/// A fact as a row of the journal, and its format.
fn stored(entry: &Entry) -> Result<(Value, i32), StoreError> {
    let as_row = |source| StoreError::Row { table: "journal".to_owned(), source };
    let fact = upcast::store(&entry.fact).map_err(as_row)?;
    let format = upcast::format_of(&fact.kind, fact.version);
    let row = json!({
        "number": entry.number,
        "fact_id": entry.fact_id,
        "kind": fact.kind,
        "version": fact.version,
        "body": fact.body,
        "recorded_at": entry.recorded_at,
        "happened_at": entry.happened_at,
        "principal": entry.principal,
        "person": entry.person,
        "proved": entry.proved,
        "request": entry.request,
    });
    Ok((row, format))
}

fn accepted(request: &AcceptedRequest, now: Instant) -> Value {
    let hex = |bytes: &Vec<u8>| {
        bytes.iter().fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
    };
    json!({
        "request": request.request,
        "principal": request.principal,
        "fingerprint": request.fingerprint.as_ref().map(hex),
        "outline": request.outline.as_ref().map(|outline| hex(&outline.hash)),
        "blanked": request.outline.as_ref().map(|outline| &outline.blanked),
        "answer": request.answer,
        "first_n": request.first_n,
        "last_n": request.last_n,
        "recorded_at": now,
    })
}

type ByTable = BTreeMap<&'static str, Vec<Value>>;

fn by_table(changes: &[RowChange]) -> Result<(ByTable, ByTable), StoreError> {
    let (mut rows, mut gone) = (ByTable::new(), ByTable::new());
    for change in changes {
        match change {
            RowChange::Put(row) => {
                let table = row.table();
                let value = row.to_value().map_err(|source| StoreError::Row { table: table.to_owned(), source })?;
                rows.entry(table).or_default().push(value);
            }
            RowChange::Removed { table, key } => gone.entry(table).or_default().push(key.clone()),
        }
    }
    Ok((rows, gone))
}

/// Writes rows of all tables, new and changed alike, in one round trip, and takes the limit away from the statement that
/// follows, which is the COMMIT mostly. No row of one table refers to another's, so the
/// order of the tables does not matter.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, table = rows.len()))]
async fn put(
    conn: &mut PgConnection,
    shop: ShopId,
    rows: BTreeMap<&'static str, Vec<Value>>,
) -> Result<(), StoreError> {
    let mut parts = Vec::with_capacity(rows.len());
    for (at, (table, rows)) in rows.iter().enumerate() {
        parts.push(format!("put_{table} AS ({})", put_sql(table, rows.first(), at + 2)?));
    }
    let sql = format!("WITH {} SELECT set_config('statement_timeout', '0', true)", parts.join(", "));
    let query = sqlx::query(AssertSqlSafe(sql)).bind(shop.0);
    rows.into_values().fold(query, |query, rows| query.bind(Value::Array(rows))).execute(conn).await?;
    Ok(())
}

/// The statement that writes rows of a table, given as the parameter `at`. Its columns are the row's own fields, so that none
/// can be forgotten; names come from our own row types and never from outside.
fn put_sql(table: &str, row: Option<&Value>, at: usize) -> Result<String, StoreError> {
    if !TABLES.contains(&table) {
        return Err(StoreError::NoSuchTable(table.to_owned()));
    }
    let order = ORDERED.iter().find(|(ordered, _)| *ordered == table);
    let order = order.map_or(String::new(), |(_, by)| format!("ORDER BY {by}"));
    let columns: Vec<&String> = row.and_then(Value::as_object).into_iter().flat_map(serde_json::Map::keys).collect();
    let named = |prefix: &str| columns.iter().map(|column| format!("{prefix}{column}")).collect::<Vec<_>>().join(", ");
    // Only columns that are known here: one that a newer migration added keeps its default.
    let mut sql = format!(
        "INSERT INTO {table} (shop, {}) SELECT $1::uuid, {} FROM jsonb_populate_recordset(NULL::{table}, ${at}::jsonb) AS r \
         {order}",
        named(""),
        named("r.")
    );
    if !WRITTEN_ONCE.contains(&table) {
        let set: Vec<String> = columns.iter().map(|column| format!("{column} = excluded.{column}")).collect();
        let _ = write!(sql, " ON CONFLICT ON CONSTRAINT {table}_pkey DO UPDATE SET {}", set.join(", "));
    }
    Ok(sql)
}

/// Forgets the words and salts of texts, and the fingerprints of the requests that brought them:
/// a hash over erased words would let somebody try guesses. Their outlines have none of these words.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, texts = texts.len()))]
async fn erase(conn: &mut PgConnection, shop: ShopId, texts: &[TextId]) -> Result<(), StoreError> {
    let ids: Vec<Uuid> = texts.iter().map(|text| text.0).collect();
    sqlx::query!(
        "WITH gone AS (
            DELETE FROM text_body WHERE shop = $1 AND text = ANY($2) RETURNING request
        )
        UPDATE request SET fingerprint = NULL WHERE shop = $1 AND request IN (SELECT request FROM gone)",
        shop.0,
        &ids
    )
    .execute(conn)
    .await?;
    Ok(())
}

/// Which of these requests were accepted before.
#[tracing::instrument(level = "debug", skip_all, fields(%shop, requests = ids.len()))]
pub(crate) async fn seen(
    conn: &mut PgConnection,
    shop: ShopId,
    ids: &[RequestId],
) -> Result<Vec<AcceptedRequest>, StoreError> {
    let ids: Vec<Uuid> = ids.iter().map(|id| id.0).collect();
    let found = sqlx::query!(
        r#"SELECT request, principal, fingerprint, outline, blanked, answer AS "answer: Value", first_n, last_n
        FROM request WHERE shop = $1 AND request = ANY($2)"#,
        shop.0,
        &ids
    )
    .fetch_all(conn)
    .await?;
    let accepted = found.into_iter().map(|row| AcceptedRequest {
        request: RequestId(row.request),
        principal: row.principal.map(PrincipalId),
        fingerprint: row.fingerprint,
        outline: row.outline.zip(row.blanked).map(|(hash, blanked)| Outline { hash, blanked }),
        answer: row.answer,
        first_n: row.first_n,
        last_n: row.last_n,
    });
    Ok(accepted.collect())
}
