-- Why: who and where. The shop, what was said about its calendar and the windows that follow from
-- it, its bays, persons and tokens. Windows of one kind must not overlap: a moment is inside or
-- outside of hours once, or the time book would count it twice.

CREATE TABLE shop (
    shop uuid PRIMARY KEY,
    name uuid NOT NULL,
    zone text NOT NULL CHECK (zone <> ''),
    calendar_revision integer NOT NULL CHECK (calendar_revision >= 0),
    last_job bigint NOT NULL CHECK (last_job >= 0),
    opened_at timestamptz NOT NULL,
    opened_n bigint NOT NULL CHECK (opened_n > 0)
);

CREATE TABLE text_ref (
    shop uuid NOT NULL,
    text uuid NOT NULL,
    hash text NOT NULL CHECK (hash ~ '^[0-9a-f]{64}$'),
    erased_n bigint CHECK (erased_n > 0),
    PRIMARY KEY (shop, text)
);

CREATE TABLE calendar (
    shop uuid NOT NULL,
    revision integer NOT NULL CHECK (revision > 0),
    change jsonb NOT NULL CHECK (jsonb_typeof(change) = 'object'),
    person uuid,
    from_at timestamptz NOT NULL,
    until_at timestamptz NOT NULL,
    set_n bigint NOT NULL CHECK (set_n > 0),
    PRIMARY KEY (shop, revision),
    CONSTRAINT calendar_span CHECK (until_at >= from_at)
);

CREATE TABLE open_window (
    shop uuid NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz NOT NULL,
    set_n bigint NOT NULL CHECK (set_n > 0),
    PRIMARY KEY (shop, from_at),
    CONSTRAINT open_window_not_empty CHECK (until_at > from_at),
    CONSTRAINT open_window_apart
        EXCLUDE USING gist (shop WITH =, tstzrange(from_at, until_at, '[)') WITH &&)
);

CREATE TABLE shift_window (
    shop uuid NOT NULL,
    person uuid NOT NULL,
    from_at timestamptz NOT NULL,
    until_at timestamptz NOT NULL,
    set_n bigint NOT NULL CHECK (set_n > 0),
    PRIMARY KEY (shop, person, from_at),
    CONSTRAINT shift_window_not_empty CHECK (until_at > from_at),
    CONSTRAINT shift_window_apart
        EXCLUDE USING gist (shop WITH =, person WITH =, tstzrange(from_at, until_at, '[)') WITH &&)
);

CREATE TABLE bay (
    shop uuid NOT NULL,
    bay typed_key NOT NULL,
    name text NOT NULL,
    kind text NOT NULL CHECK (kind IN ('two-post-lift', 'four-post-lift', 'floor', 'pit')),
    rated_kg integer NOT NULL CHECK (rated_kg >= 0),
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, bay)
);

CREATE TABLE person (
    shop uuid NOT NULL,
    person uuid NOT NULL,
    name uuid NOT NULL,
    skills jsonb NOT NULL CHECK (jsonb_typeof(skills) = 'array'),
    forgotten boolean NOT NULL,
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, person)
);

CREATE TABLE token (
    shop uuid NOT NULL,
    token uuid NOT NULL,
    principal uuid NOT NULL,
    person uuid,
    label uuid,
    role text NOT NULL CHECK (role IN ('lead', 'technician', 'parts', 'viewer')),
    prefix text NOT NULL,
    -- SHA-256 of the secret; the secret itself is shown once and kept nowhere.
    hash text NOT NULL CHECK (hash ~ '^[0-9a-f]{64}$'),
    issued_at timestamptz NOT NULL,
    expires_at timestamptz,
    revoked_at timestamptz,
    issued_n bigint NOT NULL CHECK (issued_n > 0),
    PRIMARY KEY (shop, token),
    CONSTRAINT token_secret_once UNIQUE (shop, hash)
);
-- For the look-up by a secret whose shop is not known yet.
CREATE INDEX token_by_hash ON token (hash);
