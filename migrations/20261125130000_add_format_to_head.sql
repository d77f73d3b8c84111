-- Why: for one version of the product an old replica works beside a new one, and it must not fold what
-- it can't read. A new kind of fact, or a new version of one, has a format of its own; the head of a
-- shop keeps the highest format in its journal, so that every replica sees under the head's lock, with
-- nothing read, whether it is too old for this shop. And a migration that takes something away names
-- the oldest program that can do without it, so that an older one does not start.

ALTER TABLE head ADD COLUMN format integer NOT NULL DEFAULT 1 CONSTRAINT head_format_positive CHECK (format > 0);

-- The newest migration that a program has to know, at the least, to work with these tables. A migration
-- that contracts replaces this function.
CREATE FUNCTION least_program()
RETURNS bigint
LANGUAGE sql IMMUTABLE SET search_path = pg_catalog, public, pg_temp
AS $$ SELECT 0::bigint $$;

REVOKE ALL ON FUNCTION least_program() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION least_program() TO leadhand_app;
