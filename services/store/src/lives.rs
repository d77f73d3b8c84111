//! What the time of very many stages depends on, column by column: rows as JSON would cost most of a year's audit.

use crate::clock::{instant, stamp};
use crate::errors::StoreError;
use crate::snapshot::JobFilter;
use chrono::{DateTime, Utc};
use leadhand_domain::labels::{Held, Opening, Work};
use leadhand_domain::view::lives::Lived;
use leadhand_facts::words::{Cause, StageKind, StageState};
use leadhand_facts::{BlockerNo, Instant, JobNo, PersonId, ShopId, StageKey, TemplateKey, TextId, Window};
use sqlx::PgConnection;
use std::collections::HashMap;

/// A word that the table's own check should not let through.
fn unknown(table: &str, word: &str) -> StoreError {
    let source = std::io::Error::other(format!("'{word}' is no word that is known"));
    StoreError::Row { table: table.to_owned(), source: serde_json::Error::io(source) }
}

/// The stages of the jobs that a filter lets through; its states and its page do not count.
#[tracing::instrument(level = "debug", skip_all, fields(%shop))]
pub(crate) async fn lives(
    conn: &mut PgConnection,
    shop: ShopId,
    job: Option<JobNo>,
    filter: &JobFilter,
) -> Result<Vec<Lived>, StoreError> {
    let (template, job) = (filter.template.as_ref().map(TemplateKey::as_str), job.map(|job| job.0));
    let (from, until) = (filter.opened_from.map(stamp), filter.opened_until.map(stamp));
    let found = sqlx::query!(
        "SELECT s.job, j.template AS \"template?: String\", s.stage AS \"stage: String\", s.ordinal, s.title, s.title_text,
            s.kind, s.state, s.ready_at, s.started_at, s.ended_at, s.low, s.likely, s.high
        FROM job AS j JOIN stage AS s ON s.shop = j.shop AND s.job = j.job
        WHERE j.shop = $1 AND ($2::text IS NULL OR j.template = $2) AND ($3::bigint IS NULL OR j.job = $3)
            AND ($4::timestamptz IS NULL OR j.opened_at >= $4) AND ($5::timestamptz IS NULL OR j.opened_at < $5)",
        shop.0,
        template,
        job,
        from,
        until
    )
    .fetch_all(&mut *conn)
    .await?;
    let mut all = Vec::with_capacity(found.len());
    for row in found {
        all.push(Lived {
            job: JobNo(row.job),
            template: row.template.map(TemplateKey),
            stage: StageKey(row.stage),
            place: row.ordinal,
            title: row.title,
            title_text: row.title_text.map(TextId),
            kind: StageKind::from_word(&row.kind).ok_or_else(|| unknown("stage", &row.kind))?,
            state: StageState::from_word(&row.state).ok_or_else(|| unknown("stage", &row.state))?,
            ready_at: row.ready_at.map(instant),
            started_at: row.started_at.map(instant),
            ended_at: row.ended_at.map(instant),
            minutes: [row.low, row.likely, row.high],
            work: Vec::new(),
            blockers: Vec::new(),
        });
    }
    let range = all.iter().map(|lived| lived.job.0).fold(None, |range: Option<(i64, i64)>, job| {
        Some(range.map_or((job, job), |(first, last)| (first.min(job), last.max(job))))
    });
    if let Some(range) = range {
        add_work(conn, shop, range, &mut all).await?;
        add_blockers(conn, shop, range, &mut all).await?;
    }
    Ok(all)
}

/// Where each stage stands in the list.
fn places(all: &[Lived]) -> HashMap<(i64, StageKey), usize> {
    all.iter().enumerate().map(|(at, lived)| ((lived.job.0, lived.stage.clone()), at)).collect()
}

async fn add_work(
    conn: &mut PgConnection,
    shop: ShopId,
    (first, last): (i64, i64),
    all: &mut [Lived],
) -> Result<(), StoreError> {
    let found = sqlx::query!(
        "SELECT job, stage AS \"stage: String\", person, from_at, until_at, on_n, off_n FROM clocking
        WHERE shop = $1 AND job BETWEEN $2 AND $3",
        shop.0,
        first,
        last
    )
    .fetch_all(conn)
    .await?;
    let places = places(all);
    for row in found {
        // Jobs in between, which the filter does not let through, have no place.
        if let Some(at) = places.get(&(row.job, StageKey(row.stage))) {
            all[*at].work.push(Work {
                from: instant(row.from_at),
                until: row.until_at.map(instant),
                person: PersonId(row.person),
                on_n: row.on_n,
                off_n: row.off_n,
            });
        }
    }
    Ok(())
}

async fn add_blockers(
    conn: &mut PgConnection,
    shop: ShopId,
    (first, last): (i64, i64),
    all: &mut [Lived],
) -> Result<(), StoreError> {
    let found = sqlx::query!(
        "SELECT job, stage AS \"stage: String\", blocker, cause, since, cleared_at, raised_n, cleared_n FROM blocker
        WHERE shop = $1 AND job BETWEEN $2 AND $3",
        shop.0,
        first,
        last
    )
    .fetch_all(conn)
    .await?;
    if found.is_empty() {
        return Ok(());
    }
    let places = places(all);
    for row in found {
        if let Some(at) = places.get(&(row.job, StageKey(row.stage))) {
            all[*at].blockers.push(Held {
                from: instant(row.since),
                until: row.cleared_at.map(instant),
                cause: Cause::from_word(&row.cause).ok_or_else(|| unknown("blocker", &row.cause))?,
                blocker: BlockerNo(row.blocker),
                raised_n: row.raised_n,
                cleared_n: row.cleared_n,
            });
        }
    }
    Ok(())
}

/// When the shop was open after an instant, in order.
#[tracing::instrument(level = "debug", skip_all, fields(%shop))]
pub(crate) async fn openings(
    conn: &mut PgConnection,
    shop: ShopId,
    after: Instant,
) -> Result<Vec<Opening>, StoreError> {
    struct Row {
        from_at: DateTime<Utc>,
        until_at: DateTime<Utc>,
        set_n: i64,
    }
    let found = sqlx::query_as!(
        Row,
        "SELECT from_at, until_at, set_n FROM open_window WHERE shop = $1 AND until_at > $2 ORDER BY from_at",
        shop.0,
        stamp(after)
    )
    .fetch_all(conn)
    .await?;
    let opening = |row: Row| Opening {
        window: Window { from: instant(row.from_at), until: instant(row.until_at) },
        set_n: row.set_n,
    };
    Ok(found.into_iter().map(opening).collect())
}
