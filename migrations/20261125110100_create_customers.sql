-- Why: a shop's vehicles belong to customers, whose names have to be found, shown to the lead and, when a
-- customer asks for it, forgotten. Names, contacts, notes and plates are erasable texts like those of persons.
-- A job keeps whose it was, since a vehicle may be sold.

CREATE TABLE customer (
    shop uuid NOT NULL,
    customer uuid NOT NULL,
    name uuid NOT NULL,
    contact uuid,
    about uuid,
    forgotten boolean NOT NULL,
    added_n bigint NOT NULL CHECK (added_n > 0),
    PRIMARY KEY (shop, customer)
);
CREATE INDEX customer_by_number ON customer (shop, added_n);

ALTER TABLE vehicle ADD COLUMN plate uuid, ADD COLUMN customer uuid;
CREATE INDEX vehicle_by_customer ON vehicle (shop, customer) WHERE customer IS NOT NULL;

ALTER TABLE job ADD COLUMN customer uuid;
CREATE INDEX job_by_customer ON job (shop, customer) WHERE customer IS NOT NULL;
CREATE INDEX job_by_vehicle ON job (shop, vehicle);

ALTER TABLE customer ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY owner_sees_all ON customer TO leadhand_owner USING (true) WITH CHECK (true);
CREATE POLICY shop_sees_own ON customer TO leadhand_app
    USING (shop = nullif(current_setting('leadhand.shop', true), '')::uuid)
    WITH CHECK (shop = nullif(current_setting('leadhand.shop', true), '')::uuid);
REVOKE ALL ON customer FROM PUBLIC;
GRANT SELECT, INSERT, UPDATE ON customer TO leadhand_app;
