-- Why: a step asks for a vehicle in certain states, for a hold point that somebody passed by name, and for fluids that
-- are out; and whoever works may say that the book's way is not safe here. What makes a step safe stands in its row, the
-- condition of the vehicle in tables of its own; all of it follows from the journal. A program that knows less leaves both
-- columns alone: an empty object and nothing mean what it means.

ALTER TABLE step ADD COLUMN safety jsonb NOT NULL DEFAULT '{}';
ALTER TABLE step ADD COLUMN overridden uuid;

CREATE TABLE vehicle_state (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    feature text NOT NULL,
    state text NOT NULL,
    before text NOT NULL,
    person uuid,
    stage text,
    step integer,
    reason uuid,
    set_at timestamptz NOT NULL,
    set_n bigint NOT NULL CHECK (set_n > 0),
    PRIMARY KEY (shop, job, feature),
    CONSTRAINT vehicle_state_of_feature CHECK (starts_with(state, feature || ' ') AND starts_with(before, feature || ' ')),
    CONSTRAINT vehicle_state_step CHECK (num_nonnulls(stage, step) <> 1)
);

CREATE TABLE fluid (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    fluid text NOT NULL,
    stage text,
    step integer,
    what text,
    expected_ml bigint CHECK (expected_ml > 0),
    back text,
    drained_ml bigint NOT NULL CHECK (drained_ml >= 0),
    filled_ml bigint NOT NULL CHECK (filled_ml >= 0),
    person uuid,
    said_at timestamptz,
    said_n bigint,
    note uuid,
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, job, fluid),
    CONSTRAINT fluid_said CHECK (said_n IS NOT NULL OR drained_ml + filled_ml = 0)
);

CREATE TABLE own_way (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage text NOT NULL,
    step integer NOT NULL,
    note uuid NOT NULL,
    reason uuid NOT NULL,
    person uuid,
    proposed_at timestamptz NOT NULL,
    proposed_n bigint NOT NULL CHECK (proposed_n > 0),
    approved boolean,
    decided_by uuid,
    decided_at timestamptz,
    decided_n bigint,
    decided_note uuid,
    PRIMARY KEY (shop, job, stage, step),
    CONSTRAINT own_way_decided CHECK (num_nonnulls(approved, decided_by, decided_at, decided_n) IN (0, 4)),
    CONSTRAINT own_way_in_order CHECK (decided_n IS NULL OR decided_n > proposed_n)
);

ALTER TABLE vehicle_state ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON vehicle_state TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON vehicle_state TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON vehicle_state FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON vehicle_state TO leadhand_app;

ALTER TABLE fluid ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON fluid TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON fluid TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON fluid FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON fluid TO leadhand_app;

ALTER TABLE own_way ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON own_way TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON own_way TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON own_way FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON own_way TO leadhand_app;
