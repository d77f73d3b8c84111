-- Why: some work can't be left half done overnight, such as a brake system that stands open. A template, or whoever adds a stage,
-- says so, and a plan has to know it. What is there already may pause, as it was planned so far.
ALTER TABLE stage ADD COLUMN in_one_go boolean NOT NULL DEFAULT false;
