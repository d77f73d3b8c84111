//! What the time of very many stages depends on, column by column: rows as JSON would cost most of a year's audit.

use crate::clock::{instant, stamp};
use crate::errors::StoreError;
use crate::snapshot::JobFilter;
use chrono::{DateTime, Utc};
use leadhand_domain::labels::{Held, Opening, Work};
use leadhand_domain::view::lives::{Lived, LivedStage};
use leadhand_facts::words::{Cause, StageKind, StageState};
use leadhand_facts::{BlockerNo, Instant, JobNo, PersonId, ShopId, StageKey, TemplateKey, TextId, Window};
use sqlx::PgConnection;
use std::collections::HashMap;
use uuid::Uuid;

/// A word that the table's own check should not let through.
fn unknown(table: &str, word: &str) -> StoreError {
    let source = std::io::Error::other(format!("'{word}' is no word that is known"));
    StoreError::Row { table: table.to_owned(), source: serde_json::Error::io(source) }
}

/// The stages of the jobs that a filter lets through, by template; its states and its page do not count. Each column of a
/// stage comes as one array of all of its jobs: a row for each of them would cost more to take apart than to find.
#[tracing::instrument(level = "debug", skip_all, fields(%shop))]
pub(crate) async fn lives(
    conn: &mut PgConnection,
    shop: ShopId,
    job: Option<JobNo>,
    filter: &JobFilter,
) -> Result<Vec<LivedStage>, StoreError> {
    let which = Which {
        shop: shop.0,
        template: filter.template.as_ref().map(TemplateKey::as_str),
        job: job.map(|job| job.0),
        from: filter.opened_from.map(stamp),
        until: filter.opened_until.map(stamp),
    };
    let mut stages = stages(conn, &which).await?;
    if stages.is_empty() {
        return Ok(stages);
    }
    let places: Places =
        stages.iter().enumerate().map(|(at, one)| ((one.template.clone(), one.stage.clone()), at)).collect();
    add_work(conn, &which, &places, &mut stages).await?;
    add_blockers(conn, &which, &places, &mut stages).await?;
    Ok(stages)
}

/// Which jobs; what is nothing does not restrict.
struct Which<'a> {
    shop: Uuid,
    template: Option<&'a str>,
    job: Option<i64>,
    from: Option<DateTime<Utc>>,
    until: Option<DateTime<Utc>>,
}

/// Where each stage stands in the list.
type Places = HashMap<(Option<TemplateKey>, StageKey), usize>;

type At = Option<DateTime<Utc>>;

async fn stages(conn: &mut PgConnection, which: &Which<'_>) -> Result<Vec<LivedStage>, StoreError> {
    let found = sqlx::query!(
        r#"SELECT j.template AS "template?: String", s.stage AS "stage: String", min(s.ordinal) AS "place!",
            (array_agg(s.title))[1] AS title, (array_agg(s.title_text))[1] AS title_text,
            array_agg(s.job) AS "job!: Vec<i64>", array_agg(s.kind) AS "kind!: Vec<String>",
            array_agg(s.state) AS "state!: Vec<String>", array_agg(s.ready_at) AS "ready_at!: Vec<At>",
            array_agg(s.started_at) AS "started_at!: Vec<At>", array_agg(s.ended_at) AS "ended_at!: Vec<At>",
            array_agg(s.low) AS "low!: Vec<i32>", array_agg(s.likely) AS "likely!: Vec<i32>",
            array_agg(s.high) AS "high!: Vec<i32>"
        FROM job AS j JOIN stage AS s ON s.shop = j.shop AND s.job = j.job
        WHERE j.shop = $1 AND ($2::text IS NULL OR j.template = $2) AND ($3::bigint IS NULL OR j.job = $3)
            AND ($4::timestamptz IS NULL OR j.opened_at >= $4) AND ($5::timestamptz IS NULL OR j.opened_at < $5)
        GROUP BY j.template, s.stage"#,
        which.shop,
        which.template,
        which.job,
        which.from,
        which.until
    )
    .fetch_all(conn)
    .await?;
    let mut stages = Vec::with_capacity(found.len());
    for row in found {
        let mut lives = Vec::with_capacity(row.job.len());
        for (at, job) in row.job.iter().enumerate() {
            lives.push(Lived {
                job: JobNo(*job),
                kind: StageKind::from_word(&row.kind[at]).ok_or_else(|| unknown("stage", &row.kind[at]))?,
                state: StageState::from_word(&row.state[at]).ok_or_else(|| unknown("stage", &row.state[at]))?,
                ready_at: row.ready_at[at].map(instant),
                started_at: row.started_at[at].map(instant),
                ended_at: row.ended_at[at].map(instant),
                minutes: [row.low[at], row.likely[at], row.high[at]],
                work: Vec::new(),
                blockers: Vec::new(),
            });
        }
        lives.sort_unstable_by_key(|life| life.job);
        stages.push(LivedStage {
            template: row.template.map(TemplateKey),
            stage: StageKey(row.stage),
            place: row.place,
            title: row.title,
            title_text: row.title_text.map(TextId),
            lives,
        });
    }
    Ok(stages)
}

/// The lives of a stage, which stand in the order of their jobs.
fn lives_of<'a>(
    places: &Places,
    stages: &'a mut [LivedStage],
    template: Option<String>,
    stage: String,
) -> &'a mut [Lived] {
    let at = places.get(&(template.map(TemplateKey), StageKey(stage)));
    at.and_then(|at| stages.get_mut(*at)).map_or(&mut [], |stage| &mut stage.lives)
}

fn life(lives: &mut [Lived], job: i64) -> Option<&mut Lived> {
    let at = lives.binary_search_by_key(&job, |life| life.job.0).ok()?;
    lives.get_mut(at)
}

async fn add_work(
    conn: &mut PgConnection,
    which: &Which<'_>,
    places: &Places,
    stages: &mut [LivedStage],
) -> Result<(), StoreError> {
    let found = sqlx::query!(
        r#"SELECT j.template AS "template?: String", c.stage AS "stage: String", array_agg(c.job) AS "job!: Vec<i64>",
            array_agg(c.person) AS "person!: Vec<Uuid>", array_agg(c.from_at) AS "from_at!: Vec<DateTime<Utc>>",
            array_agg(c.until_at) AS "until_at!: Vec<At>", array_agg(c.on_n) AS "on_n!: Vec<i64>",
            array_agg(c.off_n) AS "off_n!: Vec<Option<i64>>"
        FROM job AS j JOIN clocking AS c ON c.shop = j.shop AND c.job = j.job
        WHERE j.shop = $1 AND ($2::text IS NULL OR j.template = $2) AND ($3::bigint IS NULL OR j.job = $3)
            AND ($4::timestamptz IS NULL OR j.opened_at >= $4) AND ($5::timestamptz IS NULL OR j.opened_at < $5)
        GROUP BY j.template, c.stage"#,
        which.shop,
        which.template,
        which.job,
        which.from,
        which.until
    )
    .fetch_all(conn)
    .await?;
    for row in found {
        let lives = lives_of(places, stages, row.template, row.stage);
        for (at, job) in row.job.iter().enumerate() {
            let Some(life) = life(lives, *job) else { continue };
            life.work.push(Work {
                from: instant(row.from_at[at]),
                until: row.until_at[at].map(instant),
                person: PersonId(row.person[at]),
                on_n: row.on_n[at],
                off_n: row.off_n[at],
            });
        }
    }
    Ok(())
}

async fn add_blockers(
    conn: &mut PgConnection,
    which: &Which<'_>,
    places: &Places,
    stages: &mut [LivedStage],
) -> Result<(), StoreError> {
    let found = sqlx::query!(
        r#"SELECT j.template AS "template?: String", b.stage AS "stage: String", array_agg(b.job) AS "job!: Vec<i64>",
            array_agg(b.blocker) AS "blocker!: Vec<i32>", array_agg(b.cause) AS "cause!: Vec<String>",
            array_agg(b.since) AS "since!: Vec<DateTime<Utc>>", array_agg(b.cleared_at) AS "cleared_at!: Vec<At>",
            array_agg(b.raised_n) AS "raised_n!: Vec<i64>", array_agg(b.cleared_n) AS "cleared_n!: Vec<Option<i64>>"
        FROM job AS j JOIN blocker AS b ON b.shop = j.shop AND b.job = j.job
        WHERE j.shop = $1 AND ($2::text IS NULL OR j.template = $2) AND ($3::bigint IS NULL OR j.job = $3)
            AND ($4::timestamptz IS NULL OR j.opened_at >= $4) AND ($5::timestamptz IS NULL OR j.opened_at < $5)
        GROUP BY j.template, b.stage"#,
        which.shop,
        which.template,
        which.job,
        which.from,
        which.until
    )
    .fetch_all(conn)
    .await?;
    for row in found {
        let lives = lives_of(places, stages, row.template, row.stage);
        for (at, job) in row.job.iter().enumerate() {
            let Some(life) = life(lives, *job) else { continue };
            life.blockers.push(Held {
                from: instant(row.since[at]),
                until: row.cleared_at[at].map(instant),
                cause: Cause::from_word(&row.cause[at]).ok_or_else(|| unknown("blocker", &row.cause[at]))?,
                blocker: BlockerNo(row.blocker[at]),
                raised_n: row.raised_n[at],
                cleared_n: row.cleared_n[at],
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
