-- Why: a vehicle whose job was called off with it apart comes again under another job, and nobody would ask for what was still
-- off or in it. The job keeps that it went so, and the next one that it came so. And a position of which it was taken back
-- that it came off or was put in is asked for again, whatever became of its step. Of what is there already nothing is known.
ALTER TABLE job
    ADD COLUMN apart boolean NOT NULL DEFAULT false,
    ADD COLUMN came_apart bigint;
ALTER TABLE strip_position ADD COLUMN taken_back boolean NOT NULL DEFAULT false;
