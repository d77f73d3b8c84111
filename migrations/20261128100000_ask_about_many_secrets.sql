-- Why: a replica looks every two seconds whether the tokens of its streams still count. One question for each took as many
-- round trips as there are tokens; this is one question for all of them, and the one way to find a holder.

-- Whose secrets these are, as holder_by_hash says of one: a session counts no longer than its device's token, what the
-- person showed, and the person. The older function stays for older replicas.
CREATE FUNCTION holders_by_hash(wanted text[])
RETURNS TABLE (hash text, shop uuid, token uuid, principal uuid, person uuid, device uuid, role text,
    expires_at timestamptz, over boolean, expired boolean)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT t.hash, t.shop, t.token, t.principal, t.person, NULL::uuid, t.role, t.expires_at,
        t.revoked_at IS NOT NULL, coalesce(t.expires_at <= clock_timestamp(), false)
    FROM token AS t WHERE t.hash = ANY (wanted)
    UNION ALL
    SELECT s.hash, s.shop, s.session, s.principal, s.person, s.device, s.role, least(s.expires_at, d.expires_at),
        s.ended_at IS NOT NULL OR d.revoked_at IS NOT NULL OR p.withdrawn_at IS NOT NULL OR p.set_n <> s.proof_n OR w.forgotten,
        least(s.expires_at, d.expires_at) <= clock_timestamp()
    FROM sign_in AS s
    JOIN token AS d ON d.shop = s.shop AND d.token = s.device
    JOIN proof AS p ON p.shop = s.shop AND p.person = s.person AND p.proof = s.proof
    JOIN person AS w ON w.shop = s.shop AND w.person = s.person
    WHERE s.hash = ANY (wanted)
    UNION ALL
    SELECT o.hash, NULL::uuid, o.operator, o.operator, NULL::uuid, NULL::uuid, NULL::text, o.expires_at,
        o.revoked_at IS NOT NULL, coalesce(o.expires_at <= clock_timestamp(), false)
    FROM operator_token AS o WHERE o.hash = ANY (wanted)
$$;
REVOKE ALL ON FUNCTION holders_by_hash(text[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION holders_by_hash(text[]) TO leadhand_app;
