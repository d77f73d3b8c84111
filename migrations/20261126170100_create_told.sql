-- Why: what somebody was told about a job, and what was promised with it, has to be there when they ask again, whoever
-- picks up the telephone. It follows from the journal; the words, and who was told when it was not the customer, lie with
-- all other words that can be erased. Nothing is edited: a slip is withdrawn with a reason.

CREATE TABLE job_told (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    told integer NOT NULL CHECK (told > 0),
    customer uuid,
    whom uuid,
    words uuid NOT NULL,
    promised_at timestamptz,
    told_at timestamptz NOT NULL,
    told_by uuid,
    told_n bigint NOT NULL CHECK (told_n > 0),
    withdrawn_n bigint,
    withdrawn_reason uuid,
    PRIMARY KEY (shop, job, told),
    CONSTRAINT job_told_to_one CHECK (num_nonnulls(customer, whom) = 1),
    CONSTRAINT job_told_ahead CHECK (promised_at > told_at),
    CONSTRAINT job_told_withdrawn CHECK ((withdrawn_n IS NULL) = (withdrawn_reason IS NULL))
);

ALTER TABLE job_told ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON job_told TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON job_told TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON job_told FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON job_told TO leadhand_app;
