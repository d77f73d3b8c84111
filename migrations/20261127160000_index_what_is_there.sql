-- Why: an item's stock is loaded without the rows that are 0: jobs that are over leave one for each item that they used, and a
-- shop with a past has many more of these than of the others. What a hold has is nothing when nothing is on hand.
CREATE INDEX hold_of_something ON hold (shop, item) WHERE on_hand <> 0;
CREATE INDEX balance_outside ON balance (shop, item, lot) WHERE NOT held;
