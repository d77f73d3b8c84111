-- Why: what is short has to be ordered before a supplier's cut-off, so a shop lists its suppliers with their delivery
-- rounds, and an item names the one that it comes from. Both follow from the journal like all tables; an item of before
-- names nobody, and the older program leaves the column alone.

CREATE TABLE supplier (
    shop uuid NOT NULL,
    supplier typed_key NOT NULL,
    name text NOT NULL,
    rounds jsonb NOT NULL CHECK (jsonb_typeof(rounds) = 'array' AND jsonb_array_length(rounds) <= 20),
    set_n bigint NOT NULL CHECK (set_n > 0),
    PRIMARY KEY (shop, supplier)
);

ALTER TABLE item ADD COLUMN supplier typed_key;

ALTER TABLE supplier ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON supplier TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON supplier TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON supplier FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON supplier TO leadhand_app;
