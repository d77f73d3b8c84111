//! The shop itself, tokens, templates and texts.

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
    if wanted.shop {
        load_shop(conn, shop, found).await?;
    }
    if wanted.tokens {
        load_tokens(conn, shop, found).await?;
    }
    if !wanted.sign_ins.is_empty() {
        load_sign_ins(conn, shop, &wanted.sign_ins, found).await?;
    }
    if wanted.all_templates {
        load_all_templates(conn, shop, found).await?;
    }
    if !wanted.latest_templates.is_empty() {
        load_latest_templates(conn, shop, &wanted.latest_templates, found).await?;
    }
    if !wanted.templates.is_empty() {
        load_templates(conn, shop, &wanted.templates, found).await?;
    }
    if !wanted.person_names.is_empty() {
        load_person_names(conn, shop, &wanted.person_names, found).await?;
    }
    if !wanted.person_texts.is_empty() {
        load_person_texts(conn, shop, &wanted.person_texts, found).await?;
    }
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_shop(conn: &mut PgConnection, shop: ShopId, found: &mut Vec<Loaded>) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'shop' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM shop AS t WHERE t.shop = $1
        UNION ALL SELECT 'bay', to_jsonb(t) - 'shop' FROM bay AS t WHERE t.shop = $1
        UNION ALL SELECT 'person', to_jsonb(t) - 'shop' FROM person AS t WHERE t.shop = $1
        UNION ALL SELECT 'calendar', to_jsonb(t) - 'shop' FROM calendar AS t WHERE t.shop = $1
        UNION ALL SELECT 'place', to_jsonb(t) - 'shop' FROM place AS t WHERE t.shop = $1 AND t.kind <> 'job'
        UNION ALL SELECT 'shared_tool', to_jsonb(t) - 'shop' FROM shared_tool AS t WHERE t.shop = $1
        UNION ALL SELECT 'tool_loan', to_jsonb(t) - 'shop' FROM tool_loan AS t WHERE t.shop = $1 AND t.until_at IS NULL
        UNION ALL SELECT 'supplier', to_jsonb(t) - 'shop' FROM supplier AS t WHERE t.shop = $1"#,
        shop.0
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_tokens(conn: &mut PgConnection, shop: ShopId, found: &mut Vec<Loaded>) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'token' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM token AS t WHERE t.shop = $1
        UNION ALL SELECT 'proof', to_jsonb(t) - 'shop' FROM proof AS t WHERE t.shop = $1
        UNION ALL SELECT 'text_ref', to_jsonb(t) - 'shop' FROM text_ref AS t WHERE t.shop = $1 AND t.text IN (
            SELECT k.label FROM token AS k WHERE k.shop = $1 UNION SELECT p.secret FROM proof AS p WHERE p.shop = $1
        )"#,
        shop.0
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_sign_ins(
    conn: &mut PgConnection,
    shop: ShopId,
    sessions: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'sign_in' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM sign_in AS t
        WHERE t.shop = $1 AND t.session = ANY($2)"#,
        shop.0,
        sessions
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all)]
async fn load_all_templates(conn: &mut PgConnection, shop: ShopId, found: &mut Vec<Loaded>) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'template_revision' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM (
            SELECT DISTINCT ON (template) * FROM template_revision WHERE shop = $1 ORDER BY template, revision DESC
        ) AS t"#,
        shop.0,
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(templates = keys.len()))]
async fn load_latest_templates(
    conn: &mut PgConnection,
    shop: ShopId,
    keys: &[String],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'template_revision' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[]) AS wanted (template)
        CROSS JOIN LATERAL (
            SELECT * FROM template_revision AS r WHERE r.shop = $1 AND r.template = wanted.template
            ORDER BY r.revision DESC LIMIT 1
        ) AS t"#,
        shop.0,
        keys
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(templates = wanted.len()))]
async fn load_templates(
    conn: &mut PgConnection,
    shop: ShopId,
    wanted: &[(String, i32)],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    let (keys, revisions): (Vec<String>, Vec<i32>) = wanted.iter().cloned().unzip();
    gather!(
        conn,
        found,
        r#"SELECT 'template_revision' AS "table!", to_jsonb(t) - 'shop' AS "row!"
        FROM unnest($2::text[], $3::integer[]) AS wanted (template, revision)
        JOIN template_revision AS t ON t.shop = $1 AND t.template = wanted.template AND t.revision = wanted.revision"#,
        shop.0,
        &keys,
        &revisions
    );
    Ok(())
}

#[tracing::instrument(level = "debug", skip_all, fields(persons = persons.len()))]
async fn load_person_names(
    conn: &mut PgConnection,
    shop: ShopId,
    persons: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'text_ref' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM text_ref AS t
        WHERE t.shop = $1 AND t.text IN (
            SELECT p.name FROM person AS p WHERE p.shop = $1 AND p.person = ANY($2)
        )"#,
        shop.0,
        persons
    );
    Ok(())
}

/// A person's name and the labels of the person's tokens; notes and reasons in facts about the
/// person, and in facts that the person's requests made, also those that a lead sent for somebody
/// else, with a token or signed in at a device. What others are called, vehicles' labels and the
/// wording of jobs stay: they are about somebody or something else.
#[tracing::instrument(level = "debug", skip_all)]
async fn load_person_texts(
    conn: &mut PgConnection,
    shop: ShopId,
    persons: &[Uuid],
    found: &mut Vec<Loaded>,
) -> Result<(), StoreError> {
    gather!(
        conn,
        found,
        r#"SELECT 'text_ref' AS "table!", to_jsonb(t) - 'shop' AS "row!" FROM text_ref AS t
        WHERE t.shop = $1 AND t.text IN (
            SELECT p.name FROM person AS p WHERE p.shop = $1 AND p.person = ANY($2)
            UNION SELECT k.label FROM token AS k WHERE k.shop = $1 AND k.person = ANY($2)
            UNION SELECT (note.ref ->> 'id')::uuid
            FROM journal AS e
            CROSS JOIN LATERAL (VALUES
                (e.body -> 'note'), (e.body -> 'reason'), (e.body -> 'overridden'), (e.body -> 'kept_at'),
(e.body -> 'words'), (e.body -> 'whom'), (e.body -> 'instrument'), (e.body -> 'repair'), (e.body -> 'plan'), (e.body #> '{change,reason}')
            ) AS note (ref)
            WHERE e.shop = $1 AND jsonb_typeof(note.ref) = 'object' AND (
                e.person = ANY($2)
                OR e.proved = ANY($2)
                OR e.principal IN (SELECT k.principal FROM token AS k WHERE k.shop = $1 AND k.person = ANY($2))
                OR e.body ->> 'person' = ANY($2::uuid[]::text[])
                OR e.body ->> 'owner' = ANY($2::uuid[]::text[])
            )
            UNION SELECT (line.ref #>> '{reason,id}')::uuid
            FROM journal AS e
            CROSS JOIN LATERAL jsonb_path_query(
                e.body, CASE e.kind WHEN 'job_completed' THEN '$.lines[*]'::jsonpath ELSE '$.overruled[*]' END
            ) AS line (ref)
            WHERE e.shop = $1 AND e.kind IN ('job_completed', 'position_off', 'position_back') AND (
                e.person = ANY($2)
                OR e.proved = ANY($2)
                OR e.principal IN (SELECT k.principal FROM token AS k WHERE k.shop = $1 AND k.person = ANY($2))
            )
        )"#,
        shop.0,
        persons
    );
    Ok(())
}
