//! Rows that go.

use crate::errors::StoreError;
use leadhand_facts::ShopId;
use leadhand_facts::rows::{
    ClockingRow, LoanRow, OpenWindowRow, OvertimeRow, PlanJobRow, PlanStageRow, PlanVisitRow, Row, ShiftWindowRow,
    StagePinRow,
};
use serde_json::Value;
use sqlx::PgConnection;

/// Takes rows away. Only windows ever go, which are resolved anew, time that is withdrawn, loans that were none, and what
/// was planned.
#[tracing::instrument(level = "debug", skip(conn, keys), fields(%shop))]
pub(super) async fn remove(conn: &mut PgConnection, shop: ShopId, table: &str, keys: Value) -> Result<(), StoreError> {
    match table {
        OpenWindowRow::TABLE => {
            sqlx::query!(
                "DELETE FROM open_window AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.from_at = (k ->> 0)::timestamptz",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        ShiftWindowRow::TABLE => {
            sqlx::query!(
                "DELETE FROM shift_window AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.person = (k ->> 0)::uuid AND t.from_at = (k ->> 1)::timestamptz",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        ClockingRow::TABLE => {
            sqlx::query!(
                "DELETE FROM clocking AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.clocking = (k ->> 0)::uuid",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        LoanRow::TABLE => {
            sqlx::query!(
                "DELETE FROM tool_loan AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.loan = (k ->> 0)::uuid",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        other => return remove_planned(conn, shop, other, keys).await,
    };
    Ok(())
}

async fn remove_planned(conn: &mut PgConnection, shop: ShopId, table: &str, keys: Value) -> Result<(), StoreError> {
    match table {
        PlanStageRow::TABLE => {
            sqlx::query!(
                "DELETE FROM plan_stage AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.job = (k ->> 0)::bigint AND t.stage = k ->> 1",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        PlanVisitRow::TABLE => {
            sqlx::query!(
                "DELETE FROM plan_visit AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.job = (k ->> 0)::bigint AND t.from_at = (k ->> 1)::timestamptz",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        PlanJobRow::TABLE => {
            sqlx::query!(
                "DELETE FROM plan_job AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.job = (k ->> 0)::bigint",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        StagePinRow::TABLE => {
            sqlx::query!(
                "DELETE FROM stage_pin AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.job = (k ->> 0)::bigint AND t.stage = k ->> 1",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        OvertimeRow::TABLE => {
            sqlx::query!(
                "DELETE FROM overtime_window AS t USING jsonb_array_elements($2::jsonb) AS k
                WHERE t.shop = $1 AND t.person = (k ->> 0)::uuid AND t.from_at = (k ->> 1)::timestamptz",
                shop.0,
                keys
            )
            .execute(conn)
            .await?
        }
        _ => return Err(StoreError::NoSuchTable(format!("{table} (with rows that may be removed)"))),
    };
    Ok(())
}
