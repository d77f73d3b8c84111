-- Why: row-level security separates shops only while the server's login neither owns the tables
-- nor is a superuser. Two roles make that so: leadhand_owner owns, leadhand_app works. Roles belong
-- to the whole cluster, so an administrator makes them once with deploy/roles.sql; here we only
-- refuse to go on without them. The extension is needed by the exclusion constraints (one vehicle a
-- bay); it is trusted, so the owner of the database may create it.

DO $$
DECLARE
    missing text;
BEGIN
    SELECT string_agg(wanted, ', ' ORDER BY wanted) INTO missing
    FROM unnest(ARRAY['leadhand_owner', 'leadhand_app']) AS wanted
    WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = wanted);
    IF missing IS NOT NULL THEN
        RAISE EXCEPTION 'role missing: %; an administrator has to run deploy/roles.sql in this database first', missing;
    END IF;
    IF current_user <> 'leadhand_owner' THEN
        RAISE EXCEPTION 'migrations run as %, but the tables must belong to leadhand_owner; SET ROLE leadhand_owner first',
            current_user;
    END IF;
    IF current_setting('server_version_num')::int < 150000 THEN
        RAISE EXCEPTION 'Postgres % is too old; 15 is the oldest that is supported', current_setting('server_version');
    END IF;
END
$$;

CREATE EXTENSION IF NOT EXISTS btree_gist;

GRANT USAGE ON SCHEMA public TO leadhand_app;

-- What people type to name a thing of the shop.
CREATE DOMAIN typed_key AS text
    CONSTRAINT typed_key_format CHECK (VALUE ~ '^[A-Za-z0-9][A-Za-z0-9._-]{0,62}$');
REVOKE ALL ON DOMAIN typed_key FROM PUBLIC;
GRANT USAGE ON DOMAIN typed_key TO leadhand_app;
