//! Windows, stays, clockings and what is due: rows found by when.

use super::{Loaded, Sorted, gather};
use crate::clock::stamp;
use crate::errors::StoreError;
use chrono::{DateTime, Utc};
use leadhand_facts::{Instant, ShopId};
use sqlx::PgConnection;
use uuid::Uuid;

pub(super) async fn load(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &Sorted,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    if let Some(after) = wanted.open_windows {
        load_open_windows(conn, shop, after, found).await?;
    }
    if !wanted.shift_windows.is_empty() {
        load_shift_windows(conn, shop, &wanted.shift_windows, found).await?;
    }
    if !wanted.bay_stays.is_empty() {
        load_bay_stays(conn, shop, &wanted.bay_stays, found).await?;
    }
    if !wanted.bay_misfits.is_empty() {
        load_bay_misfits(conn, shop, &wanted.bay_misfits, found).await?;
    }
    if !wanted.vehicle_stays.is_empty() {
        load_vehicle_stays(conn, shop, &wanted.vehicle_stays, found).await?;
    }
    if !wanted.person_clockings.is_empty() {
        load_person_clockings(conn, shop, &wanted.person_clockings, found).await?;
    }
    if !wanted.clockings.is_empty() {
        load_clockings(conn, shop, &wanted.clockings, found).await?;
    }
    if let Some(until) = wanted.waits_over {
        load_waits_over(conn, shop, until, found).await?;
    }
    Ok(())
}

fn split<K: Clone>(wanted: &[(K, Instant)]) -> (Vec<K>, Vec<DateTime<Utc>>) {
    wanted.iter().map(|(key, at)| (key.clone(), stamp(*at))).unzip()
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_open_windows(
    conn: &mut PgConnection,
    shop: ShopId,
    after: Instant,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'open_window' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM open_window AS t
        WHERE t.shop = $1 AND t.until_at > $2"#,
        shop.0,
        stamp(after)
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_shift_windows(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(Uuid, Instant)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (persons, after) = split(wanted);
    gather!(
        conn,
        found,
        r#"SELECT 'shift_window' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::uuid[], $3::timestamptz[]) AS wanted (person, after)
        JOIN shift_window AS t ON t.shop = $1 AND t.person = wanted.person AND t.until_at > wanted.after"#,
        shop.0,
        &persons,
        &after
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_bay_stays(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(String, Instant)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (bays, after) = split(wanted);
    gather!(
        conn,
        found,
        r#"SELECT 'stay' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[], $3::timestamptz[]) AS wanted (bay, after)
        JOIN stay AS t ON t.shop = $1 AND t.bay = wanted.bay AND coalesce(t.until_at, 'infinity') > wanted.after"#,
        shop.0,
        &bays,
        &after
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_bay_misfits(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(String, String)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (bays, kinds): (Vec<String>, Vec<String>) = wanted.iter().cloned().unzip();
    gather!(
        conn,
        found,
        r#"SELECT 'stay' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[], $3::text[]) AS wanted (bay, kind)
        JOIN stay AS t ON t.shop = $1 AND t.bay = wanted.bay
        WHERE EXISTS (
            SELECT FROM clocking AS c JOIN stage AS s ON s.shop = $1 AND s.job = c.job AND s.stage = c.stage
            WHERE c.shop = $1 AND c.job = t.job AND s.bays <> '[]' AND NOT s.bays ? wanted.kind
                AND c.from_at < coalesce(t.until_at, 'infinity') AND coalesce(c.until_at, 'infinity') > t.from_at
        )"#,
        shop.0,
        &bays,
        &kinds
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_vehicle_stays(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(Uuid, Instant)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (vehicles, after) = split(wanted);
    gather!(
        conn,
        found,
        r#"SELECT 'vehicle' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM vehicle AS t
        WHERE t.shop = $1 AND t.vehicle = ANY($2)
        UNION ALL SELECT 'stay', to_jsonb(t) - 'shop'
        FROM unnest($2::uuid[], $3::timestamptz[]) AS wanted (vehicle, after)
        JOIN stay AS t
            ON t.shop = $1 AND t.vehicle = wanted.vehicle AND coalesce(t.until_at, 'infinity') > wanted.after"#,
        shop.0,
        &vehicles,
        &after
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_person_clockings(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(Uuid, Instant)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (persons, after) = split(wanted);
    gather!(
        conn,
        found,
        r#"SELECT 'clocking' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::uuid[], $3::timestamptz[]) AS wanted (person, after)
        JOIN clocking AS t
            ON t.shop = $1 AND t.person = wanted.person AND coalesce(t.until_at, 'infinity') > wanted.after"#,
        shop.0,
        &persons,
        &after
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_clockings(
    conn: &mut PgConnection,
    shop: ShopId,
    numbers: &[i64],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'clocking' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM clocking AS t
        WHERE t.shop = $1 AND t.on_n = ANY($2)"#,
        shop.0,
        numbers
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_waits_over(
    conn: &mut PgConnection,
    shop: ShopId,
    until: Instant,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'stage' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM stage AS t
        WHERE t.shop = $1 AND t.waiting AND t.ready_at <= $2"#,
        shop.0,
        stamp(until)
    );
    Ok(())
}
