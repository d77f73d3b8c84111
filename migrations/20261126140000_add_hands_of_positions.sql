-- Why: nobody looks at their own work, and a position may be the work of several: `hands` is everybody who put any of it back
-- or tightened it, in that order, and `unnamed` whether somebody without a name did. Of what is there already the last
-- one is known.
ALTER TABLE strip_position
    ADD COLUMN hands uuid[] NOT NULL DEFAULT '{}',
    ADD COLUMN unnamed boolean NOT NULL DEFAULT false;
UPDATE strip_position SET hands = ARRAY[back_by] WHERE back_by IS NOT NULL;
UPDATE strip_position SET unnamed = true WHERE back_n IS NOT NULL AND back_by IS NULL;
ALTER TABLE strip_position ADD CONSTRAINT strip_position_other_eyes CHECK (checked_by IS NULL OR checked_by <> ALL (hands));
