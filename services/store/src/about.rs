//! Everything that is kept about somebody, for whoever asks what that is.

use crate::errors::StoreError;
use crate::read::{Written, entry};
use leadhand_facts::{CustomerId, Entry, PersonId, ShopId};
use serde_json::Value;
use sqlx::PgConnection;

/// A row of some table, columns by name.
struct Found {
    table: String,
    row: Value,
}

/// The rows that are about a person, with their tables.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn person_rows(
    conn: &mut PgConnection,
    shop: ShopId,
    person: PersonId,
) -> Result<Vec<(String, Value)>, StoreError> {
    let found = sqlx::query_as!(
        Found,
        r#"SELECT 'person' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM person AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'token', to_jsonb(t) - 'shop' FROM token AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'proof', to_jsonb(t) - 'shop' FROM proof AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'sign_in', to_jsonb(t) - 'shop' FROM sign_in AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'calendar', to_jsonb(t) - 'shop' FROM calendar AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'shift_window', to_jsonb(t) - 'shop' FROM shift_window AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'clocking', to_jsonb(t) - 'shop' FROM clocking AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'step', to_jsonb(t) - 'shop' FROM step AS t WHERE shop = $1 AND done_by = $2
        UNION ALL SELECT 'strip_position', to_jsonb(t) - 'shop' FROM strip_position AS t
            WHERE shop = $1 AND ($2 IN (off_by, back_by, checked_by) OR $2 = ANY (hands))
        UNION ALL SELECT 'reading', to_jsonb(t) - 'shop' FROM reading AS t WHERE shop = $1 AND $2 IN (taken_by, decided_by)
        UNION ALL SELECT 'job_remark', to_jsonb(t) - 'shop' FROM job_remark AS t WHERE shop = $1 AND said_by = $2
        UNION ALL SELECT 'job_told', to_jsonb(t) - 'shop' FROM job_told AS t WHERE shop = $1 AND told_by = $2
        UNION ALL SELECT 'asked_correction', to_jsonb(t) - 'shop' FROM asked_correction AS t
            WHERE shop = $1 AND $2 IN (person, decided_by)
        UNION ALL SELECT 'strip_attempt', to_jsonb(t) - 'shop' FROM strip_attempt AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'tool_loan', to_jsonb(t) - 'shop' FROM tool_loan AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'vehicle_state', to_jsonb(t) - 'shop' FROM vehicle_state AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'fluid', to_jsonb(t) - 'shop' FROM fluid AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'own_way', to_jsonb(t) - 'shop' FROM own_way AS t WHERE shop = $1 AND $2 IN (person, decided_by)
        UNION ALL SELECT 'plan_stage', to_jsonb(t) - 'shop' FROM plan_stage AS t WHERE shop = $1 AND $2 = ANY (people)
        UNION ALL SELECT 'stage_pin', to_jsonb(t) - 'shop' FROM stage_pin AS t WHERE shop = $1 AND $2 = ANY (people)
        UNION ALL SELECT 'overtime_window', to_jsonb(t) - 'shop' FROM overtime_window AS t WHERE shop = $1 AND person = $2
        UNION ALL SELECT 'blocker', to_jsonb(t) - 'shop' FROM blocker AS t WHERE shop = $1 AND owner = $2"#,
        shop.0,
        person.0
    )
    .fetch_all(conn)
    .await?;
    Ok(found.into_iter().map(|found| (found.table, found.row)).collect())
}

/// The rows that are about a customer, with their tables. Who worked on the customer's jobs, and when, is
/// about somebody else.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn customer_rows(
    conn: &mut PgConnection,
    shop: ShopId,
    customer: CustomerId,
) -> Result<Vec<(String, Value)>, StoreError> {
    let found = sqlx::query_as!(
        Found,
        r#"WITH own AS (SELECT job FROM job WHERE shop = $1 AND customer = $2)
        SELECT 'customer' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM customer AS t
        WHERE shop = $1 AND customer = $2
        UNION ALL SELECT 'vehicle', to_jsonb(t) - 'shop' FROM vehicle AS t WHERE shop = $1 AND customer = $2
        UNION ALL SELECT 'job', to_jsonb(t) - 'shop' FROM job AS t WHERE shop = $1 AND customer = $2
        UNION ALL SELECT 'stay', to_jsonb(t) - 'shop' FROM stay AS t WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'stage', to_jsonb(t) - 'shop' FROM stage AS t WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'step', to_jsonb(t) - 'shop' - 'done_by' FROM step AS t
        WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'strip_position', to_jsonb(t) - 'shop' - 'off_by' - 'back_by' - 'checked_by' - 'hands'
            FROM strip_position AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'reading', to_jsonb(t) - 'shop' - 'taken_by' - 'decided_by' FROM reading AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'job_remark', to_jsonb(t) - 'shop' - 'said_by' FROM job_remark AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'job_told', to_jsonb(t) - 'shop' - 'told_by' FROM job_told AS t
            WHERE shop = $1 AND (job IN (SELECT job FROM own) OR customer = $2)
        UNION ALL SELECT 'strip_attempt', to_jsonb(t) - 'shop' - 'person' FROM strip_attempt AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'tool_loan', to_jsonb(t) - 'shop' FROM tool_loan AS t WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'vehicle_state', to_jsonb(t) - 'shop' - 'person' FROM vehicle_state AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'fluid', to_jsonb(t) - 'shop' - 'person' FROM fluid AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'own_way', to_jsonb(t) - 'shop' - 'person' - 'decided_by' FROM own_way AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'plan_stage', to_jsonb(t) - 'shop' - 'people' FROM plan_stage AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'plan_visit', to_jsonb(t) - 'shop' FROM plan_visit AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'plan_job', to_jsonb(t) - 'shop' FROM plan_job AS t WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'stage_pin', to_jsonb(t) - 'shop' - 'people' FROM stage_pin AS t
            WHERE shop = $1 AND job IN (SELECT job FROM own)
        UNION ALL SELECT 'blocker', to_jsonb(t) - 'shop' - 'owner' FROM blocker AS t
        WHERE shop = $1 AND job IN (SELECT job FROM own)"#,
        shop.0,
        customer.0
    )
    .fetch_all(conn)
    .await?;
    Ok(found.into_iter().map(|found| (found.table, found.row)).collect())
}

/// Facts about a person, and those that were recorded as the person's doing, after a number. With `sent`
/// also what the person's tokens and sign-ins recorded for others.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn person_facts(
    conn: &mut PgConnection,
    shop: ShopId,
    person: PersonId,
    sent: bool,
    after: i64,
    limit: i64,
) -> Result<Vec<Entry>, StoreError> {
    let found = sqlx::query_as!(
        Written,
        r#"SELECT number, fact_id, kind, version, body AS "body: Value", recorded_at, happened_at, principal, person,
            proved, request
        FROM journal AS e WHERE shop = $1 AND number > $3 AND (
            person = $2 OR body ->> 'person' = $2::uuid::text OR body ->> 'owner' = $2::uuid::text
            OR kind = 'stage_pinned' AND body @> jsonb_build_object('people', jsonb_build_array($2::uuid::text))
            OR kind = 'plan_accepted' AND body @> jsonb_build_object('stages', jsonb_build_array(
                jsonb_build_object('people', jsonb_build_array($2::uuid::text))))
            OR $4 AND (
                proved = $2
                OR principal IN (SELECT k.principal FROM token AS k WHERE k.shop = $1 AND k.person = $2)
            )
        ) ORDER BY number LIMIT $5"#,
        shop.0,
        person.0,
        after,
        sent,
        limit
    )
    .fetch_all(conn)
    .await?;
    found.into_iter().map(entry).collect()
}

/// Facts about a customer, the vehicles that are the customer's, and the customer's jobs, after a number;
/// without those that say who worked on them when.
#[tracing::instrument(level = "debug", skip(conn))]
pub(crate) async fn customer_facts(
    conn: &mut PgConnection,
    shop: ShopId,
    customer: CustomerId,
    after: i64,
    limit: i64,
) -> Result<Vec<Entry>, StoreError> {
    let found = sqlx::query_as!(
        Written,
        r#"SELECT number, fact_id, kind, version, body AS "body: Value", recorded_at, happened_at, principal, person,
            proved, request
        FROM journal AS e WHERE shop = $1 AND number > $3
            AND kind NOT IN ('clocked_on', 'clocked_off', 'work_recorded', 'clocking_withdrawn')
            AND (
                body ->> 'customer' = $2::uuid::text
                OR coalesce(body ->> 'job', body #>> '{wanter,job}') IN (
                    SELECT j.job::text FROM job AS j WHERE j.shop = $1 AND j.customer = $2
                )
                OR kind IN ('vehicle_added', 'vehicle_described') AND body ->> 'vehicle' IN (
                    SELECT v.vehicle::text FROM vehicle AS v WHERE v.shop = $1 AND v.customer = $2
                )
            ) ORDER BY number LIMIT $4"#,
        shop.0,
        customer.0,
        after,
        limit
    )
    .fetch_all(conn)
    .await?;
    found.into_iter().map(entry).collect()
}
