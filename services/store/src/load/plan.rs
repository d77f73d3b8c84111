//! The accepted plan, and overtime.

use super::{Loaded, Sorted, gather};
use crate::clock::stamp;
use crate::errors::StoreError;
use leadhand_facts::{Instant, ShopId};
use sqlx::PgConnection;

pub(super) async fn load(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &Sorted,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    if wanted.plan {
        load_plan(conn, shop, found).await?;
    }
    if let Some(after) = wanted.overtime {
        load_overtime(conn, shop, after, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_plan(conn: &mut PgConnection, shop: ShopId, found: &mut Vec<Loaded>) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'plan' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM plan AS t WHERE t.shop = $1
        UNION ALL SELECT 'plan_stage', to_jsonb(t) - 'shop' FROM plan_stage AS t WHERE t.shop = $1
        UNION ALL SELECT 'plan_visit', to_jsonb(t) - 'shop' FROM plan_visit AS t WHERE t.shop = $1
        UNION ALL SELECT 'plan_job', to_jsonb(t) - 'shop' FROM plan_job AS t WHERE t.shop = $1"#,
        shop.0
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_overtime(
    conn: &mut PgConnection,
    shop: ShopId,
    after: Instant,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'overtime_window' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM overtime_window AS t
        WHERE t.shop = $1 AND t.until_at > $2"#,
        shop.0,
        stamp(after)
    );
    Ok(())
}
