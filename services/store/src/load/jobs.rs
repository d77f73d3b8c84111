//! Jobs with everything about them.

use super::{Loaded, Sorted, gather};
use crate::errors::StoreError;
use leadhand_facts::ShopId;
use sqlx::PgConnection;
use uuid::Uuid;

pub(super) async fn load(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &Sorted,
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let mut jobs = wanted.jobs.clone();
    if wanted.open_jobs {
        jobs.extend(open_jobs(conn, shop).await?);
    }
    if !jobs.is_empty() {
        load_jobs(conn, shop, &jobs, found).await?;
    }
    if !wanted.vehicle_jobs.is_empty() {
        load_vehicle_jobs(conn, shop, &wanted.vehicle_jobs, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn open_jobs(conn: &mut PgConnection, shop: ShopId) -> Result<Vec<i64>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT job FROM job WHERE shop = $1 AND state = 'open'", shop.0).fetch_all(conn).await?)
}

#[tracing::instrument(level = "debug", skip_all, fields(jobs = jobs.len()))]
async fn load_jobs(
    conn: &mut PgConnection,
    shop: ShopId,
    jobs: &[i64],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'job' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM job AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'vehicle', to_jsonb(t) - 'shop' FROM vehicle AS t WHERE t.shop = $1
            AND t.vehicle IN (SELECT j.vehicle FROM job AS j WHERE j.shop = $1 AND j.job = ANY($2))
        UNION ALL SELECT 'place', to_jsonb(t) - 'shop' FROM place AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'stay', to_jsonb(t) - 'shop' FROM stay AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'stage', to_jsonb(t) - 'shop' FROM stage AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'stage_after', to_jsonb(t) - 'shop' FROM stage_after AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'step', to_jsonb(t) - 'shop' FROM step AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'strip_position', to_jsonb(t) - 'shop' FROM strip_position AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'reading', to_jsonb(t) - 'shop' FROM reading AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'job_remark', to_jsonb(t) - 'shop' FROM job_remark AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'job_told', to_jsonb(t) - 'shop' FROM job_told AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'asked_correction', to_jsonb(t) - 'shop' FROM asked_correction AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'strip_attempt', to_jsonb(t) - 'shop' FROM strip_attempt AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'vehicle_state', to_jsonb(t) - 'shop' FROM vehicle_state AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'fluid', to_jsonb(t) - 'shop' FROM fluid AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'own_way', to_jsonb(t) - 'shop' FROM own_way AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'blocker', to_jsonb(t) - 'shop' FROM blocker AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'clocking', to_jsonb(t) - 'shop' FROM clocking AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'tool_loan', to_jsonb(t) - 'shop' FROM tool_loan AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'demand', to_jsonb(t) - 'shop' FROM demand AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'reservation', to_jsonb(t) - 'shop' FROM reservation AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'shortage', to_jsonb(t) - 'shop' FROM shortage AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'plan_stage', to_jsonb(t) - 'shop' FROM plan_stage AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'plan_visit', to_jsonb(t) - 'shop' FROM plan_visit AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'plan_job', to_jsonb(t) - 'shop' FROM plan_job AS t WHERE t.shop = $1 AND t.job = ANY($2)
        UNION ALL SELECT 'stage_pin', to_jsonb(t) - 'shop' FROM stage_pin AS t WHERE t.shop = $1 AND t.job = ANY($2)"#,
        shop.0,
        jobs
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_vehicle_jobs(
    conn: &mut PgConnection,
    shop: ShopId,
    vehicles: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'job' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM job AS t
        WHERE t.shop = $1 AND t.vehicle = ANY($2) AND t.state = 'open'"#,
        shop.0,
        vehicles
    );
    Ok(())
}
