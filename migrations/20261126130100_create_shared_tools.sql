-- Why: a shop has one of some tools, and two bays ask for it at once. Who has it is kept as stretches of time, one row a
-- loan; both tables follow from the journal like all others. The exclusion is the second lock on the rule that a tool is
-- never in two places. Steps name the tools that they ask for, and a blocker the one that it waits for; the older program
-- knows neither, and leaves both alone.

CREATE TABLE shared_tool (
    shop uuid NOT NULL,
    tool typed_key NOT NULL,
    name text NOT NULL,
    what text,
    calibration_due text,
    added_n bigint NOT NULL CHECK (added_n > 0),
    retired_n bigint,
    reason uuid,
    PRIMARY KEY (shop, tool),
    CONSTRAINT shared_tool_retired_with_reason CHECK ((retired_n IS NULL) = (reason IS NULL))
);

CREATE TABLE tool_loan (
    shop uuid NOT NULL,
    loan uuid NOT NULL,
    tool typed_key NOT NULL,
    job bigint,
    stage typed_key,
    bay typed_key,
    person uuid,
    from_at timestamptz NOT NULL,
    until_at timestamptz,
    from_n bigint NOT NULL CHECK (from_n > 0),
    until_n bigint,
    PRIMARY KEY (shop, loan),
    CONSTRAINT tool_loan_to_one CHECK (num_nonnulls(job, person) = 1),
    CONSTRAINT tool_loan_placed CHECK (job IS NOT NULL OR num_nonnulls(stage, bay) = 0),
    CONSTRAINT tool_loan_not_empty CHECK (until_at > from_at),
    CONSTRAINT tool_loan_ended CHECK ((until_at IS NULL) = (until_n IS NULL)),
    CONSTRAINT tool_loan_one_place
        EXCLUDE USING gist (shop WITH =, tool WITH =, tstzrange(from_at, until_at, '[)') WITH &&)
);

CREATE INDEX tool_loan_by_tool ON tool_loan (shop, tool, (coalesce(until_at, 'infinity')));
CREATE INDEX tool_loan_by_job ON tool_loan (shop, job) WHERE job IS NOT NULL;

ALTER TABLE step ADD COLUMN shared_tools jsonb NOT NULL DEFAULT '[]' CHECK (jsonb_typeof(shared_tools) = 'array');
CREATE INDEX step_asks_for_tool ON step USING gin (shared_tools) WHERE state = 'pending' AND shared_tools <> '[]';
ALTER TABLE blocker ADD COLUMN tool typed_key;

DO $$
DECLARE
    guarded text;
BEGIN
    FOREACH guarded IN ARRAY ARRAY['shared_tool', 'tool_loan'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY', guarded);
        EXECUTE format('CREATE POLICY owner_sees_all ON %I TO leadhand_owner USING (true) WITH CHECK (true)', guarded);
        EXECUTE format(
            'CREATE POLICY shop_sees_own ON %I TO leadhand_app '
            'USING (shop = nullif(current_setting(''leadhand.shop'', true), '''')::uuid) '
            'WITH CHECK (shop = nullif(current_setting(''leadhand.shop'', true), '''')::uuid)', guarded);
        EXECUTE format('REVOKE ALL ON %I FROM PUBLIC', guarded);
        EXECUTE format('GRANT SELECT, INSERT, UPDATE ON %I TO leadhand_app', guarded);
    END LOOP;
END
$$;

-- A loan that was entered wrongly goes; its fact stays.
GRANT DELETE ON tool_loan TO leadhand_app;
