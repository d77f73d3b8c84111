-- Why: once a word of a request is erased its fingerprint is gone, and then any other command under the
-- same request id got the first answer. An outline stays: a salted hash over the command without whatever
-- was typed by hand, with the places at which something was left out. No word can be guessed from it. A
-- request that an older program has accepted has none, and is answered as before.

ALTER TABLE request ADD COLUMN outline bytea;
ALTER TABLE request ADD COLUMN blanked text[];
ALTER TABLE request ADD CONSTRAINT request_outline_whole CHECK ((outline IS NULL) = (blanked IS NULL));
