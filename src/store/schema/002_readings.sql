-- What was read. A reading is never changed and never removed: the triggers refuse it whoever asks, and a chained hash
-- shows it where a trigger has been taken away (docs/bench-file.md).
CREATE TABLE runs (
  id INTEGER PRIMARY KEY,
  loan INTEGER NOT NULL REFERENCES loans,
  procedure TEXT NOT NULL,
  procedure_version INTEGER NOT NULL,
  parameters TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('open', 'finished', 'aborted')),
  started REAL NOT NULL,
  ended REAL,
  origin TEXT NOT NULL,
  -- set when the run ends: how many readings it has and the hash of the last, so that a missing tail is noticed
  closing_count INTEGER,
  closing_hash TEXT,
  CHECK ((state = 'open') = (ended IS NULL)),
  CHECK ((state = 'open') = (closing_count IS NULL)),
  CHECK ((state = 'open') = (closing_hash IS NULL))
) STRICT;
CREATE INDEX runs_by_loan ON runs (loan);

-- Equal signals are stored once.
CREATE TABLE signals (
  id INTEGER PRIMARY KEY,
  content TEXT NOT NULL UNIQUE
) STRICT;

-- Measured numbers are ANY with a check, not REAL: a REAL column stores -0.0 as 0.0, and a reading is kept to the bit.
CREATE TABLE readings (
  id INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES runs,
  sequence INTEGER NOT NULL CHECK (sequence >= 0),
  step TEXT NOT NULL,
  repeat INTEGER NOT NULL CHECK (repeat >= 0),
  taken ANY NOT NULL CHECK (typeof(taken) = 'real'),
  signal INTEGER NOT NULL REFERENCES signals,
  x_cdm2 ANY NOT NULL CHECK (typeof(x_cdm2) = 'real'),
  y_cdm2 ANY NOT NULL CHECK (typeof(y_cdm2) = 'real'),
  z_cdm2 ANY NOT NULL CHECK (typeof(z_cdm2) = 'real'),
  integration_s ANY NOT NULL CHECK (typeof(integration_s) = 'real'),
  saturated INTEGER NOT NULL CHECK (saturated IN (0, 1)),
  below_range INTEGER NOT NULL CHECK (below_range IN (0, 1)),
  -- spectral radiance in W/(sr m2 nm) at equal steps: 8-byte IEEE 754 doubles, little-endian
  spectrum_start_nm ANY CHECK (typeof(spectrum_start_nm) IN ('real', 'null')),
  spectrum_step_nm ANY CHECK (typeof(spectrum_step_nm) IN ('real', 'null')),
  spectrum BLOB CHECK (length(spectrum) % 8 = 0),
  raw_reply BLOB NOT NULL,  -- the bytes that came over the line
  context TEXT NOT NULL,
  hash TEXT NOT NULL CHECK (length(hash) = 64),
  UNIQUE (run, sequence),
  CHECK ((spectrum IS NULL) = (spectrum_start_nm IS NULL) AND (spectrum IS NULL) = (spectrum_step_nm IS NULL))
) STRICT;
CREATE INDEX readings_by_signal ON readings (signal);

CREATE TABLE events (
  id INTEGER PRIMARY KEY,
  run INTEGER NOT NULL REFERENCES runs,
  at REAL NOT NULL,
  kind TEXT NOT NULL,
  text TEXT NOT NULL
) STRICT;
CREATE INDEX events_by_run ON events (run);

CREATE TRIGGER readings_refuse_update BEFORE UPDATE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never changed'); END;
CREATE TRIGGER readings_refuse_delete BEFORE DELETE ON readings
BEGIN SELECT RAISE(ABORT, 'a reading is never removed'); END;
-- INSERT OR REPLACE removes the old row without asking the trigger above, so it is refused here.
CREATE TRIGGER readings_refuse_replace BEFORE INSERT ON readings
WHEN EXISTS (SELECT 1 FROM readings WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a reading is never changed'); END;
CREATE TRIGGER readings_in_order BEFORE INSERT ON readings
WHEN NEW.sequence IS NOT (SELECT coalesce(max(sequence) + 1, 0) FROM readings WHERE run = NEW.run)
BEGIN SELECT RAISE(ABORT, 'the sequence number is not the next one of its run'); END;
CREATE TRIGGER readings_need_open_run BEFORE INSERT ON readings
WHEN (SELECT state FROM runs WHERE id = NEW.run) <> 'open'
BEGIN SELECT RAISE(ABORT, 'the run has ended and takes no more readings'); END;

CREATE TRIGGER runs_begin_open BEFORE INSERT ON runs
WHEN NEW.state <> 'open' OR EXISTS (SELECT 1 FROM runs WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'a run begins open'); END;
CREATE TRIGGER runs_end_once BEFORE UPDATE ON runs
WHEN OLD.state <> 'open' OR NEW.state = 'open'
BEGIN SELECT RAISE(ABORT, 'a run ends once'); END;
CREATE TRIGGER runs_keep_what_they_are BEFORE UPDATE ON runs
WHEN NEW.id <> OLD.id OR NEW.loan <> OLD.loan OR NEW.procedure <> OLD.procedure
  OR NEW.procedure_version <> OLD.procedure_version OR NEW.parameters <> OLD.parameters
  OR NEW.started <> OLD.started OR NEW.origin <> OLD.origin
BEGIN SELECT RAISE(ABORT, 'only the end of a run is written later'); END;
CREATE TRIGGER runs_refuse_delete BEFORE DELETE ON runs
BEGIN SELECT RAISE(ABORT, 'a run is never removed'); END;

CREATE TRIGGER signals_refuse_update BEFORE UPDATE ON signals
BEGIN SELECT RAISE(ABORT, 'a signal that was shown is never changed'); END;
CREATE TRIGGER signals_refuse_delete BEFORE DELETE ON signals
BEGIN SELECT RAISE(ABORT, 'a signal that was shown is never removed'); END;
CREATE TRIGGER signals_refuse_replace BEFORE INSERT ON signals
WHEN EXISTS (SELECT 1 FROM signals WHERE id = NEW.id OR content = NEW.content)
BEGIN SELECT RAISE(ABORT, 'a signal that was shown is never changed'); END;

CREATE TRIGGER events_refuse_update BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER events_refuse_delete BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'an event is never removed'); END;
CREATE TRIGGER events_refuse_replace BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
