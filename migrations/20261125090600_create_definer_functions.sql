-- Why: a few questions come before a shop is known: whose token is this, which shops are there, how
-- far is each journal, is the schema the one this program needs. They are answered by functions that
-- run as leadhand_owner, each as narrow as its question, so that the server's login needs no way
-- around row-level security. The search path is fixed, temporary tables last, or a caller could put
-- a table of its own in the way.

CREATE FUNCTION token_by_hash(wanted text)
RETURNS TABLE (shop uuid, token uuid, principal uuid, person uuid, role text, expires_at timestamptz, revoked_at timestamptz, expired boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT t.shop, t.token, t.principal, t.person, t.role, t.expires_at, t.revoked_at,
        coalesce(t.expires_at <= clock_timestamp(), false)
    FROM token AS t WHERE t.hash = wanted
$$;

CREATE FUNCTION heads()
RETURNS TABLE (shop uuid, number bigint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$ SELECT h.shop, h.number FROM head AS h ORDER BY h.shop $$;

CREATE FUNCTION shops()
RETURNS TABLE (shop uuid)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$ SELECT h.shop FROM head AS h ORDER BY h.shop $$;

-- Makes the head of a new shop; false when it has one.
CREATE FUNCTION open_head(wanted uuid)
RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    WITH made AS (
        INSERT INTO head (shop, number, fact_id, recorded_at) VALUES (wanted, 0, NULL, clock_timestamp())
        ON CONFLICT (shop) DO NOTHING
        RETURNING 1
    )
    SELECT EXISTS (SELECT FROM made)
$$;

-- The local day of a moment in a zone. The zones that the server accepts may be newer than the
-- database's own table of them; such a shop must not spoil the timer for all others. Its lots then
-- expire a little late: when the day is over in the last place on earth.
CREATE FUNCTION local_day(zone text, at timestamptz)
RETURNS date
LANGUAGE plpgsql STABLE SET search_path = pg_catalog, public, pg_temp
AS $$
BEGIN
    RETURN (at AT TIME ZONE zone)::date;
EXCEPTION WHEN invalid_parameter_value THEN
    RETURN (at AT TIME ZONE 'Etc/GMT+12')::date;
END
$$;

-- Shops in which something has become true by time alone: a planned wait is over, what is left of a
-- lot is past its last good day, or the resolved calendar does not reach far enough ahead: the local
-- day in which it ends is less than 200 days away. A single day may lie far ahead of what is resolved,
-- so it says nothing about that; nobody needs the shift of a person who was forgotten. Each part has to
-- mean what the rules mean by it, or the timer asks in vain. The digest names what is due, so that every
-- replica asks for it under the same request id.
CREATE FUNCTION due_shops()
RETURNS TABLE (shop uuid, due text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT d.shop, md5(string_agg(d.what, ',' ORDER BY d.what))
    FROM (
        SELECT s.shop, concat_ws(' ', 'wait', s.job, s.stage, s.ready_at) AS what
        FROM stage AS s WHERE s.waiting AND s.ready_at <= clock_timestamp()
        UNION ALL
        SELECT l.shop, concat_ws(' ', 'lot', l.lot)
        FROM lot AS l JOIN shop AS p ON p.shop = l.shop
        WHERE NOT l.expired AND l.expires_on < to_char(local_day(p.zone, clock_timestamp()), 'YYYY-MM-DD')
            AND EXISTS (
                SELECT FROM balance AS b WHERE b.shop = l.shop AND b.item = l.item AND b.lot = l.lot AND b.held AND b.quantity > 0
            )
        UNION ALL
        SELECT c.shop, concat_ws(' ', 'hours', c.person, max(c.until_at))
        FROM calendar AS c
        JOIN shop AS p ON p.shop = c.shop
        LEFT JOIN person AS w ON w.shop = c.shop AND w.person = c.person
        WHERE c.change ->> 'what' <> 'day' AND (c.person IS NULL OR NOT w.forgotten)
        GROUP BY c.shop, p.zone, c.person
        HAVING local_day(p.zone, max(c.until_at)) < local_day(p.zone, clock_timestamp()) + 200
    ) AS d
    GROUP BY d.shop
$$;

-- The last migration that was applied. The table is the migrator's own and is there by now.
CREATE FUNCTION schema_version()
RETURNS bigint
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$ SELECT max(m.version) FROM _sqlx_migrations AS m WHERE m.success $$;

REVOKE ALL ON FUNCTION
    token_by_hash(text), heads(), shops(), open_head(uuid), local_day(text, timestamptz), due_shops(), schema_version() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION token_by_hash(text), heads(), shops(), open_head(uuid), due_shops(), schema_version() TO leadhand_app;
