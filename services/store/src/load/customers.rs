//! Customers, their vehicles, and the texts about both.

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
    if !wanted.customers.is_empty() {
        load_customers(conn, shop, &wanted.customers, found).await?;
    }
    if !wanted.customer_books.is_empty() {
        load_books(conn, shop, &wanted.customer_books, found).await?;
    }
    if !wanted.customer_texts.is_empty() {
        load_texts(conn, shop, &wanted.customer_texts, found).await?;
    }
    if !wanted.vehicle_histories.is_empty() {
        load_histories(conn, shop, &wanted.vehicle_histories, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(customers = customers.len()))]
async fn load_customers(
    conn: &mut PgConnection,
    shop: ShopId,
    customers: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'customer' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM customer AS t
        WHERE t.shop = $1 AND t.customer = ANY($2)
        UNION ALL SELECT 'text_ref', to_jsonb(t) - 'shop' FROM text_ref AS t WHERE t.shop = $1 AND t.text IN (
            SELECT unnest(ARRAY[c.name, c.contact, c.about]) FROM customer AS c
            WHERE c.shop = $1 AND c.customer = ANY($2)
        )"#,
        shop.0,
        customers
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(customers = customers.len()))]
async fn load_books(
    conn: &mut PgConnection,
    shop: ShopId,
    customers: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'vehicle' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM vehicle AS t
        WHERE t.shop = $1 AND t.customer = ANY($2)
        UNION ALL SELECT 'job', to_jsonb(t) - 'shop' FROM job AS t WHERE t.shop = $1 AND t.customer = ANY($2)"#,
        shop.0,
        customers
    );
    Ok(())
}

/// What a customer's row and vehicles say, what the customer was told, and whatever was typed in a fact about one of the
/// customer's jobs: every object of the fact that has an id and a hash is a text.
#[tracing::instrument(level = "debug", skip_all, fields(customers = customers.len()))]
async fn load_texts(
    conn: &mut PgConnection,
    shop: ShopId,
    customers: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'text_ref' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM text_ref AS t
        WHERE t.shop = $1 AND t.text IN (
            SELECT unnest(ARRAY[c.name, c.contact, c.about]) FROM customer AS c
            WHERE c.shop = $1 AND c.customer = ANY($2)
            UNION SELECT unnest(ARRAY[v.label, v.plate]) FROM vehicle AS v
            WHERE v.shop = $1 AND v.customer = ANY($2)
            UNION SELECT t.withdrawn_reason FROM job_told AS t WHERE t.shop = $1 AND t.customer = ANY($2)
            UNION SELECT (said.ref ->> 'id')::uuid
            FROM journal AS e
            CROSS JOIN LATERAL jsonb_path_query(e.body, '$.** ? (exists(@.id) && exists(@.hash))') AS said (ref)
            WHERE e.shop = $1 AND jsonb_typeof(said.ref) = 'object'
                AND (
                    coalesce(e.body ->> 'job', e.body #>> '{wanter,job}') IN (
                        SELECT j.job::text FROM job AS j WHERE j.shop = $1 AND j.customer = ANY($2)
                    )
                    OR e.kind = 'somebody_told' AND e.body ->> 'customer' = ANY($2::uuid[]::text[])
                )
        )"#,
        shop.0,
        customers
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(vehicles = vehicles.len()))]
async fn load_histories(
    conn: &mut PgConnection,
    shop: ShopId,
    vehicles: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'vehicle' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM vehicle AS t
        WHERE t.shop = $1 AND t.vehicle = ANY($2)
        UNION ALL SELECT 'customer', to_jsonb(t) - 'shop' FROM customer AS t WHERE t.shop = $1 AND t.customer IN (
            SELECT v.customer FROM vehicle AS v WHERE v.shop = $1 AND v.vehicle = ANY($2)
        )
        UNION ALL SELECT 'text_ref', to_jsonb(t) - 'shop' FROM text_ref AS t WHERE t.shop = $1 AND t.text IN (
            SELECT unnest(ARRAY[v.label, v.plate]) FROM vehicle AS v WHERE v.shop = $1 AND v.vehicle = ANY($2)
        )
        UNION ALL SELECT 'job', to_jsonb(t) - 'shop' FROM job AS t WHERE t.shop = $1 AND t.vehicle = ANY($2)"#,
        shop.0,
        vehicles
    );
    Ok(())
}
