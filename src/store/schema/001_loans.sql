-- What a loan is about: display, instrument, room, the loan itself, its questions.
-- Every table is STRICT; JSON columns hold canonical text (keys sorted) and are read by this program only as a whole.
CREATE TABLE bench (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  title TEXT NOT NULL,
  evaluator TEXT NOT NULL,
  created REAL NOT NULL  -- seconds since 1970-01-01T00:00:00Z, as every time in this file
) STRICT;

CREATE TABLE displays (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  technology TEXT NOT NULL,
  encoding TEXT NOT NULL,
  details TEXT NOT NULL
) STRICT;

CREATE TABLE instruments (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  kind TEXT NOT NULL,
  -- the calibration certificate, expanded uncertainties as printed
  luminance_expanded_relative REAL NOT NULL,
  x_expanded REAL NOT NULL,
  y_expanded REAL NOT NULL,
  coverage_factor REAL NOT NULL,
  zero_offset_standard_cdm2 REAL NOT NULL,
  certificate_number TEXT NOT NULL,
  certificate_issuer TEXT NOT NULL,
  certificate_date TEXT NOT NULL,
  -- what it can do
  spectral INTEGER NOT NULL CHECK (spectral IN (0, 1)),
  minimum_cdm2 REAL NOT NULL,
  maximum_cdm2 REAL NOT NULL,
  integration_overhead_s REAL NOT NULL,
  integration_minimum_s REAL NOT NULL,
  integration_maximum_s REAL NOT NULL,
  integration_reference_s REAL NOT NULL,
  integration_reference_cdm2 REAL NOT NULL,
  integration_exponent REAL NOT NULL,
  repeatability_relative REAL NOT NULL,
  noise_floor_cdm2 REAL NOT NULL,
  details TEXT NOT NULL
) STRICT;

CREATE TABLE rooms (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL,
  surround_cdm2 REAL,
  screen_illuminance_lx REAL,
  details TEXT NOT NULL
) STRICT;

CREATE TABLE loans (
  id INTEGER PRIMARY KEY,
  display INTEGER NOT NULL REFERENCES displays,
  instrument INTEGER NOT NULL REFERENCES instruments,
  room INTEGER NOT NULL REFERENCES rooms,
  starts REAL NOT NULL,
  ends REAL NOT NULL,
  purpose TEXT NOT NULL,
  seed INTEGER NOT NULL  -- unsigned 64-bit number, kept in SQLite's signed 64 bits (two's complement)
) STRICT;

CREATE TABLE questions (
  id INTEGER PRIMARY KEY,
  loan INTEGER NOT NULL REFERENCES loans,
  "key" TEXT NOT NULL,
  "set" TEXT NOT NULL,
  text TEXT NOT NULL,
  quantity TEXT NOT NULL,
  conditions TEXT NOT NULL,
  comparison TEXT NOT NULL CHECK (comparison IN ('at_least', 'at_most', 'within', 'equal_set')),
  lower REAL,
  upper REAL,
  unit TEXT NOT NULL,
  clause TEXT NOT NULL,
  source TEXT NOT NULL,
  mark TEXT NOT NULL CHECK (mark IN
    ('seen', 'second_hand', 'calculated', 'common_practice', 'claim', 'from_memory', 'unset')),
  weight REAL NOT NULL,
  UNIQUE (loan, "set", "key")
) STRICT;
