-- What was computed from the readings. A finding is never changed: a later set supersedes an earlier one.
CREATE TABLE finding_sets (
  id INTEGER PRIMARY KEY,
  loan INTEGER NOT NULL REFERENCES loans
) STRICT;
CREATE INDEX finding_sets_by_loan ON finding_sets (loan);

CREATE TABLE methods (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,  -- with its edition, e.g. "eotf-tracking/BT.2100-3"
  version INTEGER NOT NULL,
  UNIQUE (name, version)
) STRICT;

CREATE TABLE sources (
  id INTEGER PRIMARY KEY,
  document TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE findings (
  id INTEGER PRIMARY KEY,
  finding_set INTEGER NOT NULL REFERENCES finding_sets,
  quantity TEXT NOT NULL,
  conditions TEXT NOT NULL,
  value REAL NOT NULL,
  unit TEXT NOT NULL,
  standard_uncertainty REAL NOT NULL,
  lower95 REAL NOT NULL,
  upper95 REAL NOT NULL,
  interval_method TEXT NOT NULL,
  dominant TEXT NOT NULL,
  method INTEGER NOT NULL REFERENCES methods,
  parts TEXT NOT NULL,
  series TEXT NOT NULL,
  computed REAL NOT NULL,
  software TEXT NOT NULL
) STRICT;
CREATE INDEX findings_by_set ON findings (finding_set);
CREATE INDEX findings_by_method ON findings (method);

CREATE TABLE finding_readings (
  finding INTEGER NOT NULL REFERENCES findings,
  position INTEGER NOT NULL,
  reading INTEGER NOT NULL REFERENCES readings,
  PRIMARY KEY (finding, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_readings_by_reading ON finding_readings (reading);

CREATE TABLE finding_sources (
  finding INTEGER NOT NULL REFERENCES findings,
  position INTEGER NOT NULL,
  source INTEGER NOT NULL REFERENCES sources,
  PRIMARY KEY (finding, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX finding_sources_by_source ON finding_sources (source);

CREATE TABLE verdicts (
  id INTEGER PRIMARY KEY,
  question INTEGER NOT NULL REFERENCES questions,
  finding INTEGER NOT NULL REFERENCES findings,
  verdict TEXT NOT NULL CHECK (verdict IN ('meets', 'fails', 'undecided')),
  margin REAL,
  decides TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX verdicts_by_finding ON verdicts (finding);
CREATE INDEX verdicts_by_question ON verdicts (question);

CREATE TRIGGER finding_sets_refuse_update BEFORE UPDATE ON finding_sets
BEGIN SELECT RAISE(ABORT, 'findings are never changed'); END;
CREATE TRIGGER finding_sets_refuse_delete BEFORE DELETE ON finding_sets
BEGIN SELECT RAISE(ABORT, 'findings are never removed'); END;

CREATE TRIGGER findings_refuse_update BEFORE UPDATE ON findings
BEGIN SELECT RAISE(ABORT, 'a finding is never changed'); END;
CREATE TRIGGER findings_refuse_delete BEFORE DELETE ON findings
BEGIN SELECT RAISE(ABORT, 'a finding is never removed'); END;
CREATE TRIGGER findings_refuse_replace BEFORE INSERT ON findings
WHEN EXISTS (SELECT 1 FROM findings WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a finding is never changed'); END;

CREATE TRIGGER methods_refuse_update BEFORE UPDATE ON methods
BEGIN SELECT RAISE(ABORT, 'the method of a finding is never changed'); END;
CREATE TRIGGER methods_refuse_delete BEFORE DELETE ON methods
BEGIN SELECT RAISE(ABORT, 'the method of a finding is never removed'); END;
CREATE TRIGGER methods_refuse_replace BEFORE INSERT ON methods
WHEN EXISTS (SELECT 1 FROM methods WHERE id = NEW.id OR (name = NEW.name AND version = NEW.version))
BEGIN SELECT RAISE(ABORT, 'the method of a finding is never changed'); END;

CREATE TRIGGER sources_refuse_update BEFORE UPDATE ON sources
BEGIN SELECT RAISE(ABORT, 'the source of a finding is never changed'); END;
CREATE TRIGGER sources_refuse_delete BEFORE DELETE ON sources
BEGIN SELECT RAISE(ABORT, 'the source of a finding is never removed'); END;
CREATE TRIGGER sources_refuse_replace BEFORE INSERT ON sources
WHEN EXISTS (SELECT 1 FROM sources WHERE id = NEW.id OR document = NEW.document)
BEGIN SELECT RAISE(ABORT, 'the source of a finding is never changed'); END;

-- Links are written together with their finding; none is added to an earlier one.
CREATE TRIGGER finding_readings_refuse_update BEFORE UPDATE ON finding_readings
BEGIN SELECT RAISE(ABORT, 'the readings of a finding are never changed'); END;
CREATE TRIGGER finding_readings_refuse_delete BEFORE DELETE ON finding_readings
BEGIN SELECT RAISE(ABORT, 'the readings of a finding are never removed'); END;
CREATE TRIGGER finding_readings_with_their_finding BEFORE INSERT ON finding_readings
WHEN NEW.finding IS NOT (SELECT max(id) FROM findings)
  OR EXISTS (SELECT 1 FROM finding_readings WHERE finding = NEW.finding AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'the readings of a finding are never changed'); END;

CREATE TRIGGER finding_sources_refuse_update BEFORE UPDATE ON finding_sources
BEGIN SELECT RAISE(ABORT, 'the sources of a finding are never changed'); END;
CREATE TRIGGER finding_sources_refuse_delete BEFORE DELETE ON finding_sources
BEGIN SELECT RAISE(ABORT, 'the sources of a finding are never removed'); END;
CREATE TRIGGER finding_sources_with_their_finding BEFORE INSERT ON finding_sources
WHEN NEW.finding IS NOT (SELECT max(id) FROM findings)
  OR EXISTS (SELECT 1 FROM finding_sources WHERE finding = NEW.finding AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'the sources of a finding are never changed'); END;

CREATE TRIGGER verdicts_refuse_update BEFORE UPDATE ON verdicts
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed'); END;
CREATE TRIGGER verdicts_refuse_delete BEFORE DELETE ON verdicts
BEGIN SELECT RAISE(ABORT, 'a verdict is never removed'); END;
CREATE TRIGGER verdicts_refuse_replace BEFORE INSERT ON verdicts
WHEN EXISTS (SELECT 1 FROM verdicts WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a verdict is never changed'); END;
