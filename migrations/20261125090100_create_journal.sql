-- Why: the journal is the record; every other table is what its facts add up to. One head row a
-- shop gives numbers without gaps and is the lock under which a shop's commands stand in line.
--
-- No foreign keys here or in the tables that follow: each would cost a look-up and a row lock per
-- written row, all rows of a shop are written under the lock of its head, and `leadhandd verify`
-- proves far more than a reference could.

CREATE TABLE head (
    shop uuid PRIMARY KEY,
    number bigint NOT NULL CHECK (number >= 0),
    fact_id uuid,
    -- Of the last fact, or of the opening of the head while there is none.
    recorded_at timestamptz NOT NULL,
    CONSTRAINT head_fact_named CHECK ((number = 0) = (fact_id IS NULL))
);

CREATE TABLE journal (
    shop uuid NOT NULL,
    number bigint NOT NULL CHECK (number > 0),
    fact_id uuid NOT NULL,
    kind text NOT NULL CHECK (kind <> ''),
    version integer NOT NULL CHECK (version > 0),
    body jsonb NOT NULL CHECK (jsonb_typeof(body) = 'object'),
    recorded_at timestamptz NOT NULL,
    happened_at timestamptz NOT NULL,
    principal uuid,
    person uuid,
    request uuid NOT NULL,
    PRIMARY KEY (shop, number),
    -- Number and id together name one history, so neither may come twice.
    CONSTRAINT journal_fact_once UNIQUE (shop, fact_id),
    CONSTRAINT journal_happened_before_recorded CHECK (happened_at <= recorded_at)
);

-- Requests that were accepted, so that a repeat gets the first answer. The fingerprint goes when a
-- text of the request is erased: a hash of erased words would let somebody try guesses.
CREATE TABLE request (
    shop uuid NOT NULL,
    request uuid NOT NULL,
    principal uuid,
    fingerprint bytea,
    answer jsonb NOT NULL,
    first_n bigint NOT NULL CHECK (first_n > 0),
    -- One below first_n when the request was accepted without a fact.
    last_n bigint NOT NULL,
    recorded_at timestamptz NOT NULL,
    PRIMARY KEY (shop, request),
    CONSTRAINT request_span CHECK (last_n >= first_n - 1)
);
CREATE INDEX request_by_age ON request (shop, recorded_at);

-- Names and free text, apart from the facts, so that they can be forgotten. Salt and words go
-- together; the hash in the fact then says nothing.
CREATE TABLE text_body (
    shop uuid NOT NULL,
    text uuid NOT NULL,
    salt text NOT NULL CHECK (salt ~ '^[0-9a-f]{32}$'),
    body text NOT NULL CHECK (char_length(body) <= 2000),
    request uuid NOT NULL,
    PRIMARY KEY (shop, text)
);
