//! Items and what is on hand, promised and missing of them.

use super::{Loaded, Sorted, gather};
use crate::errors::StoreError;
use leadhand_facts::ShopId;
use sqlx::PgConnection;

pub(super) async fn load(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &Sorted,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    if !wanted.items.is_empty() {
        load_items(conn, shop, &wanted.items, found).await?;
    }
    if !wanted.stock.is_empty() {
        load_stock(conn, shop, &wanted.stock, found).await?;
    }
    if !wanted.fills_from.is_empty() {
        load_fills(conn, shop, &wanted.fills_from, found).await?;
    }
    if let Some(before) = &wanted.lots_expired {
        load_lots_expired(conn, shop, before, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(items = items.len()))]
async fn load_items(
    conn: &mut PgConnection,
    shop: ShopId,
    items: &[String],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'item' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM item AS t
        WHERE t.shop = $1 AND t.item = ANY($2)"#,
        shop.0,
        items
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_fills(
    conn: &mut PgConnection,
    shop: ShopId,
    items: &[String],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'step' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM step AS t
        JOIN job AS j ON j.shop = $1 AND j.job = t.job AND j.state = 'open'
        WHERE t.shop = $1 AND t.safety #> '{fill,reckoned,from}' ?| $2"#,
        shop.0,
        items
    );
    Ok(())
}

/// Of the places of jobs only those that have something of it: a row that is 0 says no more than none, and every job that is
/// over left one. A bin keeps its row, which says that it had some.
#[tracing::instrument(level = "debug", skip_all, fields(items = items.len()))]
async fn load_stock(
    conn: &mut PgConnection,
    shop: ShopId,
    items: &[String],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"WITH stocked AS (
            SELECT DISTINCT b.item, b.lot FROM balance AS b
            WHERE b.shop = $1 AND b.item = ANY($2) AND b.held AND b.quantity > 0
        ), promised AS (
            SELECT r.* FROM reservation AS r WHERE r.shop = $1 AND r.item = ANY($2) AND r.quantity > 0
        ), missing AS (
            SELECT s.* FROM shortage AS s WHERE s.shop = $1 AND s.item = ANY($2) AND s.closed_n IS NULL
        )
        SELECT 'item' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM item AS t
            WHERE t.shop = $1 AND t.item = ANY($2)
        UNION ALL SELECT 'lot', to_jsonb(t) - 'shop' FROM lot AS t
            WHERE t.shop = $1 AND t.lot IN (SELECT lot FROM stocked)
        UNION ALL SELECT 'balance', to_jsonb(t) - 'shop' FROM stocked AS s
            JOIN balance AS t ON t.shop = $1 AND t.item = s.item AND t.lot = s.lot AND t.held AND t.quantity > 0
        UNION ALL SELECT 'balance', to_jsonb(t) - 'shop' FROM stocked AS s
            JOIN balance AS t ON t.shop = $1 AND t.item = s.item AND t.lot = s.lot AND NOT t.held
        UNION ALL SELECT 'hold', to_jsonb(t) - 'shop' FROM hold AS t
            WHERE t.shop = $1 AND t.item = ANY($2) AND t.on_hand <> 0
        UNION ALL SELECT 'hold', to_jsonb(t) - 'shop' FROM place AS p
            JOIN hold AS t ON t.shop = $1 AND t.item = ANY($2) AND t.place = p.place AND t.on_hand = 0
            WHERE p.shop = $1 AND p.kind <> 'job'
        UNION ALL SELECT 'reservation', to_jsonb(t) - 'shop' FROM promised AS t
        UNION ALL SELECT 'shortage', to_jsonb(t) - 'shop' FROM missing AS t
        UNION ALL SELECT 'demand', to_jsonb(t) - 'shop' FROM (
                SELECT job, stage, step, item FROM promised UNION SELECT job, stage, step, item FROM missing
            ) AS w
            JOIN demand AS t ON t.shop = $1 AND t.job = w.job AND t.stage = w.stage AND t.step = w.step
                AND t.item = w.item"#,
        shop.0,
        items
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_lots_expired(
    conn: &mut PgConnection,
    shop: ShopId,
    before: &str,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    // Days are written YYYY-MM-DD, so their order as text is their order in time.
    gather!(
        conn,
        found,
        r#"SELECT 'lot' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM lot AS t
        WHERE t.shop = $1 AND NOT t.expired AND t.expires_on < $2 AND EXISTS (
            SELECT FROM balance AS b
            WHERE b.shop = $1 AND b.item = t.item AND b.lot = t.lot AND b.held AND b.quantity > 0
        )"#,
        shop.0,
        before
    );
    Ok(())
}
