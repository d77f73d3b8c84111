-- Why: what will not move is tried by the rungs of a ladder, and each attempt is kept in its order; something may soak
-- before its turn; and an earlier repair is found when something comes off. All of it follows from the journal like the
-- rest. The checks are the second lock: nothing is tried with no piece, and the last safe try has a plan to get out what
-- breaks, or a lead's word.

ALTER TABLE strip_position
    ADD COLUMN repair uuid,
    ADD COLUMN soak_until timestamptz,
    ADD COLUMN soak_n bigint;

CREATE TABLE strip_attempt (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    position text NOT NULL,
    attempt integer NOT NULL CHECK (attempt > 0),
    rung integer NOT NULL CHECK (rung > 0),
    measure text NOT NULL,
    last_safe boolean NOT NULL,
    outcome text NOT NULL CHECK (outcome IN ('moved', 'not-moved', 'rounded', 'broken', 'thread-gone')),
    pieces integer NOT NULL CHECK (pieces > 0),
    person uuid,
    at timestamptz NOT NULL,
    n bigint NOT NULL,
    plan uuid,
    note uuid,
    overridden uuid,
    PRIMARY KEY (shop, job, position, attempt),
    CONSTRAINT strip_attempt_planned CHECK (NOT last_safe OR num_nonnulls(plan, overridden) > 0)
);

ALTER TABLE strip_attempt ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON strip_attempt TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON strip_attempt TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON strip_attempt FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON strip_attempt TO leadhand_app;
