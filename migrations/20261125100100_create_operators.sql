-- Why: somebody makes shops, and helps a lead who lost the token, without belonging to any shop. Such
-- an operator stands outside of every journal but is named as the one who acted in those of the shops
-- concerned. The table belongs to no shop, so the server's login does not see it at all: it asks the
-- functions below, each as narrow as its question.

CREATE TABLE operator_token (
    operator uuid PRIMARY KEY,
    label text NOT NULL CHECK (char_length(label) BETWEEN 1 AND 200),
    prefix text NOT NULL,
    -- SHA-256 of the secret; the secret itself is shown once and kept nowhere.
    hash text NOT NULL UNIQUE CHECK (hash ~ '^[0-9a-f]{64}$'),
    issued_at timestamptz NOT NULL,
    expires_at timestamptz,
    revoked_at timestamptz,
    CONSTRAINT operator_token_not_empty CHECK (expires_at > issued_at)
);
ALTER TABLE operator_token ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON operator_token TO leadhand_owner USING (true) WITH CHECK (true);
REVOKE ALL ON operator_token FROM PUBLIC;

CREATE FUNCTION issue_operator(operator uuid, label text, prefix text, hash text, expires_at timestamptz)
RETURNS void
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    INSERT INTO operator_token (operator, label, prefix, hash, issued_at, expires_at)
    VALUES (operator, label, prefix, hash, clock_timestamp(), expires_at)
$$;

-- False when there is no such operator.
CREATE FUNCTION revoke_operator(wanted uuid)
RETURNS boolean
LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    WITH revoked AS (
        UPDATE operator_token AS o SET revoked_at = coalesce(o.revoked_at, clock_timestamp())
        WHERE o.operator = wanted RETURNING 1
    )
    SELECT EXISTS (SELECT FROM revoked)
$$;

CREATE FUNCTION operators()
RETURNS TABLE (operator uuid, label text, prefix text, issued_at timestamptz, expires_at timestamptz, revoked_at timestamptz, expired boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT o.operator, o.label, o.prefix, o.issued_at, o.expires_at, o.revoked_at,
        coalesce(o.expires_at <= clock_timestamp(), false)
    FROM operator_token AS o ORDER BY o.issued_at, o.operator
$$;

-- Shops for an operator: nothing of what they are called or of who works there.
CREATE FUNCTION opened_shops()
RETURNS TABLE (shop uuid, opened_at timestamptz, number bigint)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT h.shop, s.opened_at, h.number FROM head AS h LEFT JOIN shop AS s ON s.shop = h.shop ORDER BY s.opened_at, h.shop
$$;

-- Whose secret this is: a token's, a session's, or an operator's. A session counts no longer than its
-- device's token, what the person showed, and the person.
CREATE FUNCTION holder_by_hash(wanted text)
RETURNS TABLE (kind text, shop uuid, token uuid, principal uuid, person uuid, device uuid, role text,
    expires_at timestamptz, over boolean, expired boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT 'token', t.shop, t.token, t.principal, t.person, NULL::uuid, t.role, t.expires_at,
        t.revoked_at IS NOT NULL, coalesce(t.expires_at <= clock_timestamp(), false)
    FROM token AS t WHERE t.hash = wanted
    UNION ALL
    SELECT 'session', s.shop, s.session, s.principal, s.person, s.device, s.role, least(s.expires_at, d.expires_at),
        s.ended_at IS NOT NULL OR d.revoked_at IS NOT NULL OR p.withdrawn_at IS NOT NULL OR p.set_n <> s.proof_n OR w.forgotten,
        least(s.expires_at, d.expires_at) <= clock_timestamp()
    FROM sign_in AS s
    JOIN token AS d ON d.shop = s.shop AND d.token = s.device
    JOIN proof AS p ON p.shop = s.shop AND p.person = s.person AND p.proof = s.proof
    JOIN person AS w ON w.shop = s.shop AND w.person = s.person
    WHERE s.hash = wanted
    UNION ALL
    SELECT 'operator', NULL::uuid, o.operator, o.operator, NULL::uuid, NULL::uuid, NULL::text, o.expires_at,
        o.revoked_at IS NOT NULL, coalesce(o.expires_at <= clock_timestamp(), false)
    FROM operator_token AS o WHERE o.hash = wanted
$$;

REVOKE ALL ON FUNCTION
    issue_operator(uuid, text, text, text, timestamptz), revoke_operator(uuid), operators(), opened_shops(), holder_by_hash(text) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION
    issue_operator(uuid, text, text, text, timestamptz), revoke_operator(uuid), operators(), opened_shops(), holder_by_hash(text)
    TO leadhand_app;
