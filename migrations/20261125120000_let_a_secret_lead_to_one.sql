-- Why: whoever shows a secret is looked up by its hash before any shop is known, so a hash must lead to one holder
-- in the whole database, not only in its shop. A shop that is taken in from files brings hashes of its own; those that
-- somebody has already are refused, and these indexes hold should two come at once.

CREATE UNIQUE INDEX token_secret_once_everywhere ON token (hash);
CREATE UNIQUE INDEX sign_in_secret_once_everywhere ON sign_in (hash);

-- How many of these hashes somebody has: a token, a session, an operator.
CREATE FUNCTION secrets_taken(wanted text[])
RETURNS bigint
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp
AS $$
    SELECT (SELECT count(*) FROM token AS t WHERE t.hash = ANY (wanted))
        + (SELECT count(*) FROM sign_in AS s WHERE s.hash = ANY (wanted))
        + (SELECT count(*) FROM operator_token AS o WHERE o.hash = ANY (wanted))
$$;
REVOKE ALL ON FUNCTION secrets_taken(text[]) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION secrets_taken(text[]) TO leadhand_app;
