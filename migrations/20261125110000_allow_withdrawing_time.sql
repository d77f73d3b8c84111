-- Why: an entry of a person's time that was wrong is withdrawn by a later fact, and then it is no
-- row any more; the journal keeps what was entered and who withdrew it. An entry is named by the
-- number of the fact that began it.

CREATE INDEX clocking_by_number ON clocking (shop, on_n);
GRANT DELETE ON clocking TO leadhand_app;
