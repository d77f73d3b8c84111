-- Makes the two roles that Leadhand needs, and gives the database to the first. Run once by an
-- administrator, in Leadhand's own database:
--
--     createdb leadhand
--     psql -v ON_ERROR_STOP=1 -d leadhand -f deploy/roles.sql
--
-- leadhand_owner  owns the tables; only migrations run as it
-- leadhand_app    is what the server works as; row-level security holds for it
--
-- Both may log in but have no password here; set one, or map the logins in pg_ident.conf:
--
--     ALTER ROLE leadhand_app PASSWORD '…';
--
-- Running it again changes nothing.

DO $$
DECLARE
    wanted text;
BEGIN
    FOREACH wanted IN ARRAY ARRAY['leadhand_owner', 'leadhand_app'] LOOP
        BEGIN
            EXECUTE format('CREATE ROLE %I LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS', wanted);
        EXCEPTION
            -- Another database of the cluster has them, or somebody runs this at the same time.
            WHEN duplicate_object OR unique_violation THEN NULL;
        END;
    END LOOP;
    EXECUTE format('ALTER DATABASE %I OWNER TO leadhand_owner', current_database());
    EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
    EXECUTE format('GRANT CONNECT ON DATABASE %I TO leadhand_app', current_database());
    REVOKE CREATE ON SCHEMA public FROM PUBLIC;
END
$$;
