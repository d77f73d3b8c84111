-- Why: a lead who is signed in at a tablet may record for somebody else, or override what stands against
-- it. The journal named that somebody and the tablet, and not the lead, who has to answer for it. The
-- person whose own token or sign-in was used stands beside the one who acted, when they are two. What was
-- written before stays as it is: nobody can say afterwards who was signed in.

ALTER TABLE journal
    ADD COLUMN proved uuid,
    ADD CONSTRAINT journal_proved_is_another CHECK (proved <> person);
