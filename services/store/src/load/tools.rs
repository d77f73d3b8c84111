//! Shared tools: who had one, and which steps ask for one.

use super::{Loaded, Sorted, gather};
use crate::clock::stamp;
use crate::errors::StoreError;
use chrono::{DateTime, Utc};
use leadhand_facts::{Instant, ShopId};
use sqlx::PgConnection;

pub(super) async fn load(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &Sorted,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    if !wanted.tool_loans.is_empty() {
        load_loans(conn, shop, &wanted.tool_loans, found).await?;
    }
    if !wanted.last_loans.is_empty() {
        load_last(conn, shop, &wanted.last_loans, found).await?;
    }
    if !wanted.tools_wanted.is_empty() {
        load_wanting(conn, shop, &wanted.tools_wanted, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_loans(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(String, Instant)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (tools, after): (Vec<String>, Vec<DateTime<Utc>>) =
        wanted.iter().map(|(tool, at)| (tool.clone(), stamp(*at))).unzip();
    gather!(
        conn,
        found,
        r#"SELECT 'tool_loan' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[], $3::timestamptz[]) AS wanted (tool, after)
        JOIN tool_loan AS t ON t.shop = $1 AND t.tool = wanted.tool AND coalesce(t.until_at, 'infinity') > wanted.after"#,
        shop.0,
        &tools,
        &after
    );
    Ok(())
}

/// Loans of a tool lie one after the other, so the last one is the one that ends last, which the index knows.
#[tracing::instrument(level = "debug", skip_all)]
async fn load_last(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(String, Option<Instant>)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (tools, ended_by): (Vec<String>, Vec<Option<DateTime<Utc>>>) =
        wanted.iter().map(|(tool, at)| (tool.clone(), at.map(stamp))).unzip();
    gather!(
        conn,
        found,
        r#"SELECT 'tool_loan' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[], $3::timestamptz[]) AS wanted (tool, ended_by)
        CROSS JOIN LATERAL (
            SELECT * FROM tool_loan AS l
            WHERE l.shop = $1 AND l.tool = wanted.tool
            AND coalesce(l.until_at, 'infinity') <= coalesce(wanted.ended_by, 'infinity')
            ORDER BY coalesce(l.until_at, 'infinity') DESC LIMIT 1
        ) AS t"#,
        shop.0,
        &tools,
        &ended_by[..] as &[Option<DateTime<Utc>>]
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_wanting(
    conn: &mut PgConnection,
    shop: ShopId,
    tools: &[String],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'step' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM step AS t
        JOIN job AS j ON j.shop = $1 AND j.job = t.job AND j.state = 'open'
        WHERE t.shop = $1 AND t.state = 'pending' AND t.shared_tools <> '[]' AND t.shared_tools ?| $2"#,
        shop.0,
        tools
    );
    Ok(())
}
