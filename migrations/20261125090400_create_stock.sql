-- Why: the stock book. A movement takes from one place and gives to another, so it balances by
-- construction; balances and holds are its sums, kept because every promise is made against them.
-- The checks are the second lock on: nothing is promised twice, and a held place never goes below
-- zero. Contra places stand for the world outside and do.

CREATE TABLE item (
    shop uuid NOT NULL,
    item typed_key NOT NULL,
    name text NOT NULL,
    unit text NOT NULL CHECK (unit IN ('1', 'mL', 'L', 'g', 'kg', 'mm', 'm')),
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, item)
);

CREATE TABLE place (
    shop uuid NOT NULL,
    place typed_key NOT NULL,
    kind text NOT NULL CHECK (kind IN ('bin', 'job', 'supplier', 'used', 'scrap', 'waste', 'count')),
    name text NOT NULL,
    job bigint,
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, place),
    CONSTRAINT place_of_a_job CHECK ((kind = 'job') = (job IS NOT NULL))
);
CREATE INDEX place_by_job ON place (shop, job) WHERE job IS NOT NULL;
CREATE INDEX place_of_the_shop ON place (shop) WHERE kind <> 'job';

CREATE TABLE lot (
    shop uuid NOT NULL,
    lot uuid NOT NULL,
    item typed_key NOT NULL,
    received_at timestamptz NOT NULL,
    -- The last good day, in the shop's own calendar.
    expires_on text COLLATE "C" CHECK (expires_on ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}$'),
    expired boolean NOT NULL,
    made_n bigint NOT NULL CHECK (made_n > 0),
    PRIMARY KEY (shop, lot),
    CONSTRAINT lot_expired_with_day CHECK (NOT expired OR expires_on IS NOT NULL)
);
CREATE INDEX lot_by_expiry ON lot (shop, expires_on) WHERE NOT expired AND expires_on IS NOT NULL;

CREATE TABLE balance (
    shop uuid NOT NULL,
    item typed_key NOT NULL,
    lot uuid NOT NULL,
    place typed_key NOT NULL,
    quantity bigint NOT NULL,
    held boolean NOT NULL,
    PRIMARY KEY (shop, item, lot, place),
    CONSTRAINT balance_held_not_negative CHECK (NOT held OR quantity >= 0)
);
CREATE INDEX balance_in_stock ON balance (shop, item, lot) WHERE held AND quantity > 0;

CREATE TABLE hold (
    shop uuid NOT NULL,
    item typed_key NOT NULL,
    place typed_key NOT NULL,
    on_hand bigint NOT NULL,
    expired bigint NOT NULL,
    reserved bigint NOT NULL,
    PRIMARY KEY (shop, item, place),
    CONSTRAINT hold_reserved_not_negative CHECK (reserved >= 0),
    CONSTRAINT hold_expired_not_negative CHECK (expired >= 0),
    CONSTRAINT hold_promised_once CHECK (on_hand - expired >= reserved)
);

CREATE TABLE stock_move (
    shop uuid NOT NULL,
    n bigint NOT NULL CHECK (n > 0),
    item typed_key NOT NULL,
    lot uuid NOT NULL,
    from_place typed_key NOT NULL,
    to_place typed_key NOT NULL,
    quantity bigint NOT NULL CHECK (quantity > 0),
    why text NOT NULL CHECK (why IN ('opening', 'receipt', 'issue', 'return', 'used', 'count', 'scrap')),
    job bigint,
    stage typed_key,
    step integer,
    at timestamptz NOT NULL,
    reason uuid,
    PRIMARY KEY (shop, n),
    CONSTRAINT stock_move_to_another_place CHECK (from_place::text <> to_place::text),
    CONSTRAINT stock_move_whole_wanter CHECK (num_nulls(job, stage, step) IN (0, 3))
);
CREATE INDEX stock_move_by_item ON stock_move (shop, item, n);

CREATE TABLE demand (
    shop uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    step integer NOT NULL,
    item typed_key NOT NULL,
    wanted bigint NOT NULL CHECK (wanted >= 0),
    reserved bigint NOT NULL CHECK (reserved >= 0),
    issued bigint NOT NULL CHECK (issued >= 0),
    short bigint NOT NULL CHECK (short >= 0),
    PRIMARY KEY (shop, job, stage, step, item)
);

CREATE TABLE reservation (
    shop uuid NOT NULL,
    reservation uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    step integer NOT NULL,
    item typed_key NOT NULL,
    place typed_key NOT NULL,
    quantity bigint NOT NULL CHECK (quantity >= 0),
    made_n bigint NOT NULL CHECK (made_n > 0),
    PRIMARY KEY (shop, reservation)
);
CREATE INDEX reservation_by_job ON reservation (shop, job);
CREATE INDEX reservation_open ON reservation (shop, item) WHERE quantity > 0;

CREATE TABLE shortage (
    shop uuid NOT NULL,
    shortage uuid NOT NULL,
    job bigint NOT NULL,
    stage typed_key NOT NULL,
    step integer NOT NULL,
    item typed_key NOT NULL,
    quantity bigint NOT NULL CHECK (quantity >= 0),
    since timestamptz NOT NULL,
    opened_n bigint NOT NULL CHECK (opened_n > 0),
    closed_n bigint CHECK (closed_n > 0),
    PRIMARY KEY (shop, shortage),
    CONSTRAINT shortage_open_until_nothing CHECK ((quantity = 0) = (closed_n IS NOT NULL))
);
CREATE INDEX shortage_by_job ON shortage (shop, job);
CREATE INDEX shortage_open ON shortage (shop, item) WHERE closed_n IS NULL;
-- What a step is short of stands in one row: two would be bought twice.
CREATE UNIQUE INDEX shortage_one_open_a_need ON shortage (shop, job, stage, step, item) WHERE closed_n IS NULL;
