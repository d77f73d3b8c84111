//! Writing batches in few statements: one for journals, requests, texts and heads, and one for the changed rows of all
//! tables, of however many shops.

mod remove;

use crate::batch::{AcceptedRequest, Outline, Written};
use crate::errors::StoreError;
use crate::read::Head;
use chrono::{DateTime, Utc};
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

/// What one shop writes.
#[derive(Clone, Copy)]
pub(crate) struct Part<'a> {
    /// The shop.
    pub shop: ShopId,
    /// Where its head stands.
    pub head: &'a Head,
    /// When it is.
    pub now: Instant,
    /// What is written.
    pub written: &'a Written<'a>,
}

/// Where the heads stand then, and whether statements have no limit of time any more.
pub(crate) async fn write(conn: &mut PgConnection, parts: &[Part<'_>]) -> Result<(Vec<Head>, bool), StoreError> {
    if parts.is_empty() {
        return Ok((Vec::new(), false));
    }
    let (mut book, mut rows) = (Book::default(), ByTable::new());
    for part in parts {
        book.add(part)?;
        add_rows(&mut rows, part)?;
    }
    let moved = write_book(conn, book).await?;
    for part in parts {
        for (table, keys) in gone(part.written.changes) {
            remove::remove(conn, part.shop, table, Value::Array(keys)).await?;
        }
    }
    let unlimited = !rows.is_empty();
    if unlimited {
        put(conn, rows).await?;
    }
    for part in parts.iter().filter(|part| !part.written.erased_texts.is_empty()) {
        erase(conn, part.shop, part.written.erased_texts).await?;
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

/// Journals, requests, texts and heads, gathered.
#[derive(Default)]
struct Book {
    facts: Vec<Value>,
    requests: Vec<Value>,
    texts: Vec<Value>,
    shops: Vec<Uuid>,
    from: Vec<i64>,
    moved: Vec<Head>,
}

impl Book {
    fn add(&mut self, part: &Part<'_>) -> Result<(), StoreError> {
        let Part { shop, head, now, written } = *part;
        let mut moved = moved_head(head, written.entries)?;
        for entry in written.entries {
            let (fact, format) = stored(shop, entry)?;
            moved.format = moved.format.max(format);
            self.facts.push(fact);
        }
        self.requests.extend(written.requests.iter().map(|request| accepted(shop, request, now)));
        self.texts.extend(written.texts.iter().map(|(text, request)| {
            json!({ "shop": shop, "text": text.id, "salt": text.salt, "body": text.body, "request": request })
        }));
        self.shops.push(shop.0);
        self.from.push(head.number);
        self.moved.push(moved);
        Ok(())
    }
}

/// Journals, requests, texts and heads, in one round trip. Where the heads stand then.
#[tracing::instrument(level = "debug", skip_all, fields(shops = book.shops.len(), facts = book.facts.len()))]
async fn write_book(conn: &mut PgConnection, book: Book) -> Result<Vec<Head>, StoreError> {
    let Book { facts, requests, texts, shops, from, moved } = book;
    let numbers: Vec<i64> = moved.iter().map(|head| head.number).collect();
    let fact_ids: Vec<Option<Uuid>> = moved.iter().map(|head| head.fact_id.map(|id| id.0)).collect();
    let recorded: Vec<DateTime<Utc>> = moved.iter().map(|head| crate::clock::stamp(head.recorded_at)).collect();
    let formats: Vec<i32> = moved.iter().map(|head| head.format).collect();
    let found = sqlx::query!(
        r"WITH facts AS (
            INSERT INTO journal (shop, number, fact_id, kind, version, body, recorded_at, happened_at, principal,
                person, proved, request)
            SELECT f.shop, f.number, f.fact_id, f.kind, f.version, f.body, f.recorded_at, f.happened_at, f.principal,
                f.person, f.proved, f.request
            FROM jsonb_populate_recordset(NULL::journal, $1) AS f
        ), accepted AS (
            INSERT INTO request (shop, request, principal, fingerprint, outline, blanked, answer, first_n, last_n,
                recorded_at)
            SELECT r.shop, r.request, r.principal, decode(r.fingerprint, 'hex'), decode(r.outline, 'hex'), r.blanked,
                r.answer, r.first_n, r.last_n, r.recorded_at
            FROM jsonb_to_recordset($2) AS r (shop uuid, request uuid, principal uuid, fingerprint text, outline text,
                blanked text[], answer jsonb, first_n bigint, last_n bigint, recorded_at timestamptz)
        ), words AS (
            INSERT INTO text_body (shop, text, salt, body, request)
            SELECT t.shop, t.text, t.salt, t.body, t.request FROM jsonb_populate_recordset(NULL::text_body, $3) AS t
        )
        UPDATE head AS h SET number = m.number, fact_id = m.fact_id, recorded_at = m.recorded_at, format = m.format
        FROM unnest($4::uuid[], $5::bigint[], $6::bigint[], $7::uuid[], $8::timestamptz[], $9::integer[])
            AS m (shop, was, number, fact_id, recorded_at, format)
        WHERE h.shop = m.shop AND h.number = m.was",
        Value::Array(facts),
        Value::Array(requests),
        Value::Array(texts),
        &shops,
        &from,
        &numbers,
        &fact_ids as &[Option<Uuid>],
        &recorded,
        &formats
    )
    .execute(conn)
    .await?;
    // The heads are locked, so this is a second call of `write` or a defect.
    if found.rows_affected() == shops.len() as u64 {
        Ok(moved)
    } else {
        let first = |numbers: &[i64]| numbers.first().copied().unwrap_or_default();
        Err(StoreError::NotDense { wanted: first(&from), found: first(&numbers) })
    }
}

/// A fact as a row of the journal, and its format.
fn stored(shop: ShopId, entry: &Entry) -> Result<(Value, i32), StoreError> {
    let as_row = |source| StoreError::Row { table: "journal".to_owned(), source };
    let fact = upcast::store(&entry.fact).map_err(as_row)?;
    let format = upcast::format_of(&fact.kind, fact.version);
    let row = json!({
        "shop": shop,
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

fn accepted(shop: ShopId, request: &AcceptedRequest, now: Instant) -> Value {
    let hex = |bytes: &Vec<u8>| {
        bytes.iter().fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
    };
    json!({
        "shop": shop,
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

/// Rows or keys by table.
type ByTable = BTreeMap<&'static str, Vec<Value>>;

fn add_rows(rows: &mut ByTable, part: &Part<'_>) -> Result<(), StoreError> {
    for change in part.written.changes {
        let RowChange::Put(row) = change else { continue };
        let table = row.table();
        let mut value = row.to_value().map_err(|source| StoreError::Row { table: table.to_owned(), source })?;
        value["shop"] = json!(part.shop);
        rows.entry(table).or_default().push(value);
    }
    Ok(())
}

fn gone(changes: &[RowChange]) -> ByTable {
    let mut gone = ByTable::new();
    for change in changes {
        if let RowChange::Removed { table, key } = change {
            gone.entry(table).or_default().push(key.clone());
        }
    }
    gone
}

/// Writes rows of all tables, new and changed alike, in one round trip, and takes the limit away from the statement that
/// follows, which is the COMMIT mostly. No row of one table refers to another's, so the
/// order of the tables does not matter.
#[tracing::instrument(level = "debug", skip_all, fields(table = rows.len()))]
async fn put(conn: &mut PgConnection, rows: ByTable) -> Result<(), StoreError> {
    let mut parts = Vec::with_capacity(rows.len());
    for (at, (table, rows)) in rows.iter().enumerate() {
        parts.push(format!("put_{table} AS ({})", put_sql(table, rows.first(), at + 1)?));
    }
    let sql = format!("WITH {} SELECT set_config('statement_timeout', '0', true)", parts.join(", "));
    let query = sqlx::query(AssertSqlSafe(sql));
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
        "INSERT INTO {table} ({}) SELECT {} FROM jsonb_populate_recordset(NULL::{table}, ${at}::jsonb) AS r {order}",
        named(""),
        named("r.")
    );
    if !WRITTEN_ONCE.contains(&table) {
        let others = columns.iter().filter(|column| column.as_str() != "shop");
        let set: Vec<String> = others.map(|column| format!("{column} = excluded.{column}")).collect();
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
