-- Why: whatever comes off a vehicle or is put in for the work has to be accounted for before the vehicle is handed
-- over. One row a position of a job; it follows from the journal like all others. The checks are the second lock on
-- what the rules decide: nothing goes back that is not off, no more places are settled than there are, no more pieces
-- than came off, and nobody looks at their own work.

ALTER TABLE job ADD COLUMN overridden uuid;

CREATE TABLE strip_position (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    position text NOT NULL,
    stage text NOT NULL,
    step integer,
    what text,
    what_text uuid,
    detail jsonb NOT NULL,
    unplanned boolean NOT NULL,
    added_n bigint NOT NULL CHECK (added_n > 0),
    off_at timestamptz,
    off_by uuid,
    off_n bigint,
    found integer NOT NULL CHECK (found >= 0),
    missing integer NOT NULL CHECK (missing >= 0),
    damaged integer NOT NULL CHECK (damaged BETWEEN 0 AND found),
    keep text,
    kept_at uuid,
    note uuid,
    back_at timestamptz,
    back_by uuid,
    back_n bigint,
    refitted integer NOT NULL CHECK (refitted >= 0),
    renewed integer NOT NULL CHECK (renewed >= 0),
    left_out integer NOT NULL CHECK (left_out >= 0),
    scrapped integer NOT NULL CHECK (scrapped >= 0),
    kept integer NOT NULL CHECK (kept >= 0),
    tightness text CHECK (tightness IN ('loose', 'finger-tight', 'final')),
    reason uuid,
    checked_at timestamptz,
    checked_by uuid,
    checked_n bigint,
    PRIMARY KEY (shop, job, position),
    CONSTRAINT strip_position_named CHECK (num_nonnulls(what, what_text) = 1),
    CONSTRAINT strip_position_off_first CHECK (off_n IS NOT NULL OR (back_n IS NULL AND found + missing = 0)),
    CONSTRAINT strip_position_places CHECK (refitted + renewed + left_out <= found + missing),
    CONSTRAINT strip_position_pieces CHECK (refitted + scrapped + kept <= found),
    CONSTRAINT strip_position_second_person CHECK (checked_by IS NULL OR (back_n IS NOT NULL AND checked_by IS DISTINCT FROM back_by))
);

ALTER TABLE strip_position ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON strip_position TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON strip_position TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON strip_position FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON strip_position TO leadhand_app;
