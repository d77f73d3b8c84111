-- Why: a tablet in a bay is a device, and what has to be answered for by name needs a person at it.
-- A person shows a badge code or a PIN and gets a session that lasts minutes. Both tables follow from
-- the journal like all others. The tries are no part of the record: they only slow guessing down, and
-- they are counted here, in the one place that every replica sees, before anything is compared.

CREATE TABLE proof (
    shop uuid NOT NULL,
    person uuid NOT NULL,
    proof text NOT NULL CHECK (proof IN ('badge', 'pin')),
    role text NOT NULL CHECK (role IN ('lead', 'technician', 'parts')),
    -- SHA-256 of a badge code of 80 random bits. A PIN has none: its slow hash is an erasable text.
    hash text CHECK (hash ~ '^[0-9a-f]{64}$'),
    secret uuid,
    set_at timestamptz NOT NULL,
    set_n bigint NOT NULL CHECK (set_n > 0),
    withdrawn_at timestamptz,
    PRIMARY KEY (shop, person, proof),
    CONSTRAINT proof_one_form CHECK (num_nonnulls(hash, secret) <= 1),
    CONSTRAINT proof_pin_until_withdrawn CHECK (proof = 'badge' OR (secret IS NULL) = (withdrawn_at IS NOT NULL))
);
CREATE UNIQUE INDEX proof_badge_once ON proof (shop, hash) WHERE withdrawn_at IS NULL;

CREATE TABLE sign_in (
    shop uuid NOT NULL,
    session uuid NOT NULL,
    device uuid NOT NULL,
    principal uuid NOT NULL,
    person uuid NOT NULL,
    role text NOT NULL CHECK (role IN ('lead', 'technician', 'parts')),
    proof text NOT NULL CHECK (proof IN ('badge', 'pin')),
    proof_n bigint NOT NULL CHECK (proof_n > 0),
    prefix text NOT NULL,
    hash text NOT NULL CHECK (hash ~ '^[0-9a-f]{64}$'),
    begun_at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    ended_at timestamptz,
    begun_n bigint NOT NULL CHECK (begun_n > 0),
    PRIMARY KEY (shop, session),
    CONSTRAINT sign_in_secret_once UNIQUE (shop, hash),
    CONSTRAINT sign_in_not_empty CHECK (expires_at > begun_at)
);
-- For the look-up by a secret whose shop is not known yet.
CREATE INDEX sign_in_by_hash ON sign_in (hash);

-- One row for whoever tries: a person (or what was typed in the place of one), or a device. `tries` are
-- the wrong ones, and those that are still being looked at, of the last quarter of an hour.
CREATE TABLE sign_in_try (
    shop uuid NOT NULL,
    who uuid NOT NULL,
    tries timestamptz[] NOT NULL,
    last_at timestamptz NOT NULL,
    PRIMARY KEY (shop, who),
    CONSTRAINT sign_in_try_few CHECK (cardinality(tries) <= 100)
);
CREATE INDEX sign_in_try_by_age ON sign_in_try (shop, last_at);

DO $$
DECLARE
    guarded text;
BEGIN
    FOREACH guarded IN ARRAY ARRAY['proof', 'sign_in', 'sign_in_try'] LOOP
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
-- Tries that are over are of no use to anybody.
GRANT DELETE ON sign_in_try TO leadhand_app;
