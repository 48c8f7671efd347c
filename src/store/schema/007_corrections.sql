-- Corrections that were solved for a loan: the file as it was written, and what it is for. Never changed, never removed.
CREATE TABLE corrections (
  id INTEGER PRIMARY KEY,
  loan INTEGER NOT NULL REFERENCES loans,
  run INTEGER NOT NULL REFERENCES runs,  -- whose readings it was solved from
  name TEXT NOT NULL,                    -- of the file, without folders
  goal TEXT NOT NULL,                    -- what the corrected display is to show, and how well the model says it does
  added REAL NOT NULL,
  content_hash TEXT NOT NULL CHECK (length(content_hash) = 64),
  content BLOB NOT NULL
) STRICT;
CREATE INDEX corrections_by_loan ON corrections (loan);

CREATE TRIGGER corrections_refuse_update BEFORE UPDATE ON corrections
BEGIN SELECT RAISE(ABORT, 'a correction is never changed'); END;
CREATE TRIGGER corrections_refuse_delete BEFORE DELETE ON corrections
BEGIN SELECT RAISE(ABORT, 'a correction is never removed'); END;
CREATE TRIGGER corrections_refuse_replace BEFORE INSERT ON corrections
WHEN EXISTS (SELECT 1 FROM corrections WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a correction is never changed'); END;
