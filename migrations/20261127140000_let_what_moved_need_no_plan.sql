-- Why: what moved at the last safe try has moved; nobody has to say any more how to get out what breaks. Only a try that
-- left it where it was, or ruined it, is planned or let go by a lead. Whether somebody had said it at an earlier try is
-- looked at by the rules and by the auditor: a row sees no other row.

ALTER TABLE strip_attempt DROP CONSTRAINT strip_attempt_planned;
