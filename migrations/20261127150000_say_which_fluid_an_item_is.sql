-- Why: which fluid an item is, and how strong a coolant stands on the shelf, was guessed from the words of its name. An item
-- says it now; one of before says nothing, and the older program leaves the column alone.

ALTER TABLE item ADD COLUMN fluid jsonb CONSTRAINT item_fluid CHECK (
    jsonb_typeof(fluid) = 'object'
    AND fluid ->> 'kind' IN (
        'coolant', 'water', 'oil', 'brake-fluid', 'fuel', 'screen-wash', 'refrigerant', 'additive'
    )
    AND (
        NOT fluid ? 'strength'
        OR (fluid ->> 'kind' = 'coolant' AND (fluid ->> 'strength')::bigint BETWEEN 1 AND 100000000)
    )
);
