-- Why: an accepted plan forgot that its times hold only if something ends of which nobody said until when, and told them as if
-- nothing could come of it. Of a plan that was accepted before, nothing is said.
ALTER TABLE plan_job ADD COLUMN hangs_on jsonb NOT NULL DEFAULT '[]';
