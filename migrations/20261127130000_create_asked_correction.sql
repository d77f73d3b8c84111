-- Why: once a job is handed over its times are changed on a lead's word alone, and whoever worked on it may be the one who
-- knows that they are wrong. What they ask for waits here until a lead decides, and stays with the decision. It follows
-- from the journal; the words lie with all other words that can be erased.

CREATE TABLE asked_correction (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    ask integer NOT NULL CHECK (ask > 0),
    clocking uuid NOT NULL,
    entry bigint NOT NULL CHECK (entry > 0),
    person uuid NOT NULL,
    to_job bigint,
    to_stage text,
    from_at timestamptz,
    until_at timestamptz,
    reason uuid NOT NULL,
    asked_at timestamptz NOT NULL,
    asked_n bigint NOT NULL CHECK (asked_n > 0),
    taken boolean,
    decided_by uuid,
    decided_at timestamptz,
    decided_n bigint,
    answer uuid,
    PRIMARY KEY (shop, job, ask),
    CONSTRAINT asked_correction_wanted CHECK (num_nonnulls(to_job, to_stage, from_at) IN (0, 3)
        AND (from_at IS NOT NULL OR until_at IS NULL) AND until_at > from_at),
    CONSTRAINT asked_correction_decided CHECK (num_nonnulls(taken, decided_at, decided_n, answer) IN (0, 4)
        AND (decided_n IS NOT NULL OR decided_by IS NULL))
);

-- A question waits once for each entry; and what waits is found without looking at what is decided.
CREATE UNIQUE INDEX asked_correction_waits ON asked_correction (shop, clocking) WHERE decided_n IS NULL;

ALTER TABLE asked_correction ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON asked_correction TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON asked_correction TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON asked_correction FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON asked_correction TO leadhand_app;
