-- Why: what is measured on a job decides whether the work goes on, so it is kept with its limits, how it came out and
-- what a lead decided; remarks are what a customer takes home in writing. Rows follow from the journal like all others.
-- The checks are the second lock on what the rules decide: a reading that was taken has figures and an outcome, and
-- only what is out of its limits is decided about.

ALTER TABLE job ADD COLUMN overruled jsonb NOT NULL DEFAULT '[]';
ALTER TABLE step ADD COLUMN follow_up text;
ALTER TABLE blocker ADD COLUMN reading text;

CREATE TABLE reading (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    reading text NOT NULL,
    stage text NOT NULL,
    step integer,
    what text,
    what_text uuid,
    detail jsonb NOT NULL,
    unplanned boolean NOT NULL,
    added_n bigint NOT NULL CHECK (added_n > 0),
    taken_at timestamptz,
    taken_by uuid,
    taken_n bigint,
    figures jsonb NOT NULL,
    verdict text CHECK (verdict IN ('in-limits', 'out-of-limits', 'no-limits')),
    off_limits jsonb NOT NULL,
    instrument uuid,
    note uuid,
    decided_at timestamptz,
    decided_by uuid,
    decided_n bigint,
    decision text CHECK (decision IN ('accept', 'measure-again', 'repair')),
    decided_reason uuid,
    PRIMARY KEY (shop, job, reading),
    CONSTRAINT reading_named CHECK (num_nonnulls(what, what_text) = 1),
    CONSTRAINT reading_taken CHECK ((taken_n IS NULL) = (verdict IS NULL) AND (taken_n IS NULL) = (figures = '[]')),
    CONSTRAINT reading_out CHECK ((verdict = 'out-of-limits') = (off_limits <> '[]') OR verdict IS NULL AND off_limits = '[]'),
    CONSTRAINT reading_decided CHECK (
        decision IS NULL
        OR (verdict = 'out-of-limits' AND num_nonnulls(decided_at, decided_by, decided_n, decided_reason) = 4)
    )
);

CREATE TABLE job_remark (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    remark integer NOT NULL CHECK (remark > 0),
    what text NOT NULL CHECK (what IN ('follow-up', 'advice-declined')),
    words uuid NOT NULL,
    said_at timestamptz NOT NULL,
    said_by uuid,
    said_n bigint NOT NULL,
    withdrawn_n bigint,
    withdrawn_reason uuid,
    PRIMARY KEY (shop, job, remark),
    CONSTRAINT job_remark_withdrawn CHECK ((withdrawn_n IS NULL) = (withdrawn_reason IS NULL))
);

ALTER TABLE reading ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON reading TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON reading TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON reading FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON reading TO leadhand_app;

ALTER TABLE job_remark ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON job_remark TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON job_remark TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON job_remark FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON job_remark TO leadhand_app;
