-- Why: an accepted plan forgot which stages had no place in it, and nobody was told why a job had no time. It is kept with the job.
-- Of a plan that was accepted before, nothing is said.
ALTER TABLE plan_job ADD COLUMN nowhere jsonb NOT NULL DEFAULT '[]';
