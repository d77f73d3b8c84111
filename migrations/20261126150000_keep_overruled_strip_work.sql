-- Why: what a lead overrules when something comes off or goes back is on the record like any other override: which rule,
-- with which reason, on whose word. And the step that fits new pieces of a position names it, so that nobody has to read its
-- words. Of what is there already nothing was kept apart from the note, and no step names one.
ALTER TABLE strip_position
    ADD COLUMN off_overruled jsonb NOT NULL DEFAULT '[]',
    ADD COLUMN back_overruled jsonb NOT NULL DEFAULT '[]';
ALTER TABLE step ADD COLUMN fits text;
