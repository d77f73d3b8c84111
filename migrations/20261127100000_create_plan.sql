-- Why: a plan that a lead accepted has to be there for every screen and after every restart, so it follows from the journal
-- like all tables: the stages with their bays, people and times, the stays of vehicles, and when each job is ready. What
-- belongs to a job goes when the job is over, and everything when another plan is accepted. What a lead pinned, and the
-- overtime that a lead opened, count for every plan. The older program leaves these tables alone.

CREATE TABLE plan (
    shop uuid NOT NULL,
    made_n bigint NOT NULL CHECK (made_n > 0),
    made_at timestamptz NOT NULL,
    accepted_at timestamptz NOT NULL,
    accepted_n bigint NOT NULL,
    PRIMARY KEY (shop),
    CONSTRAINT plan_made_before CHECK (made_n < accepted_n AND made_at <= accepted_at)
);

CREATE TABLE plan_stage (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    bay typed_key,
    people uuid[] NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz NOT NULL,
    PRIMARY KEY (shop, job, stage),
    CONSTRAINT plan_stage_forward CHECK (from_at <= until_at)
);

CREATE TABLE plan_visit (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    from_at timestamptz NOT NULL,
    bay typed_key NOT NULL,
    until_at timestamptz NOT NULL,
    PRIMARY KEY (shop, job, from_at),
    CONSTRAINT plan_visit_forward CHECK (from_at <= until_at)
);

CREATE TABLE plan_job (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    ready_at timestamptz,
    likely_at timestamptz,
    safe_at timestamptz,
    PRIMARY KEY (shop, job),
    CONSTRAINT plan_job_safe_after_likely CHECK (likely_at <= safe_at)
);

CREATE TABLE stage_pin (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    bay typed_key,
    people uuid[] NOT NULL,
    from_at timestamptz,
    pinned_n bigint NOT NULL CHECK (pinned_n > 0),
    PRIMARY KEY (shop, job, stage),
    CONSTRAINT stage_pin_says_something CHECK (bay IS NOT NULL OR from_at IS NOT NULL OR people <> '{}')
);

CREATE TABLE overtime_window (
    shop uuid NOT NULL,
    person uuid NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz NOT NULL,
    opened_n bigint NOT NULL CHECK (opened_n > 0),
    PRIMARY KEY (shop, person, from_at),
    CONSTRAINT overtime_window_forward CHECK (from_at < until_at),
    CONSTRAINT overtime_window_once EXCLUDE USING gist
        (shop WITH =, person WITH =, tstzrange(from_at, until_at) WITH &&)
);

ALTER TABLE plan ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON plan TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON plan TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON plan FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON plan TO leadhand_app;
ALTER TABLE plan_stage ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON plan_stage TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON plan_stage TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON plan_stage FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE, DELETE ON plan_stage TO leadhand_app;
ALTER TABLE plan_visit ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON plan_visit TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON plan_visit TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON plan_visit FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE, DELETE ON plan_visit TO leadhand_app;
ALTER TABLE plan_job ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON plan_job TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON plan_job TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON plan_job FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE, DELETE ON plan_job TO leadhand_app;
ALTER TABLE stage_pin ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON stage_pin TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON stage_pin TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON stage_pin FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE, DELETE ON stage_pin TO leadhand_app;
ALTER TABLE overtime_window ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON overtime_window TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON overtime_window TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON overtime_window FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE, DELETE ON overtime_window TO leadhand_app;
