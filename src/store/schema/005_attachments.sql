-- Files that a loan keeps as they are: what a light sensor, a camera or a frame grabber recorded. Never changed, never
-- removed; chained by hashes as readings are (docs/bench-file.md).
CREATE TABLE attachments (
  id INTEGER PRIMARY KEY,
  loan INTEGER NOT NULL REFERENCES loans,
  run INTEGER REFERENCES runs,  -- the run during which it was recorded, if there was one
  kind TEXT NOT NULL CHECK (kind IN ('trace', 'still', 'clip')),
  recording TEXT NOT NULL,  -- what it was recorded for
  name TEXT NOT NULL,       -- of the file, without folders
  conditions TEXT NOT NULL,
  added REAL NOT NULL,
  content_hash TEXT NOT NULL CHECK (length(content_hash) = 64),
  hash TEXT NOT NULL CHECK (length(hash) = 64),
  content BLOB NOT NULL,
  UNIQUE (loan, recording, content_hash, conditions)
) STRICT;

CREATE TABLE finding_attachments (
  finding INTEGER NOT NULL REFERENCES findings,
  position INTEGER NOT NULL,
  attachment INTEGER NOT NULL REFERENCES attachments,
  PRIMARY KEY (finding, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_attachments_by_attachment ON finding_attachments (attachment);

CREATE TRIGGER attachments_refuse_update BEFORE UPDATE ON attachments
BEGIN SELECT RAISE(ABORT, 'an attachment is never changed'); END;
CREATE TRIGGER attachments_refuse_delete BEFORE DELETE ON attachments
BEGIN SELECT RAISE(ABORT, 'an attachment is never removed'); END;
-- INSERT OR REPLACE removes the old row without asking the trigger above, by whichever key it clashes.
CREATE TRIGGER attachments_refuse_replace BEFORE INSERT ON attachments
WHEN EXISTS (SELECT 1 FROM attachments WHERE id = NEW.id OR (loan = NEW.loan AND recording = NEW.recording
  AND content_hash = NEW.content_hash AND conditions = NEW.conditions))
BEGIN SELECT RAISE(ABORT, 'an attachment is never changed'); END;

CREATE TRIGGER finding_attachments_refuse_update BEFORE UPDATE ON finding_attachments
BEGIN SELECT RAISE(ABORT, 'the attachments of a finding are never changed'); END;
CREATE TRIGGER finding_attachments_refuse_delete BEFORE DELETE ON finding_attachments
BEGIN SELECT RAISE(ABORT, 'the attachments of a finding are never removed'); END;
CREATE TRIGGER finding_attachments_with_their_finding BEFORE INSERT ON finding_attachments
WHEN NEW.finding IS NOT (SELECT max(id) FROM findings)
  OR EXISTS (SELECT 1 FROM finding_attachments WHERE finding = NEW.finding AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'the attachments of a finding are never changed'); END;
