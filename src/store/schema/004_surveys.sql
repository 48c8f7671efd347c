-- Surveys of programmes: what a title's frames measure. A survey is never changed; another look at a title is another one.
CREATE TABLE surveys (
  id INTEGER PRIMARY KEY,
  title TEXT NOT NULL,
  hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
  frames INTEGER NOT NULL CHECK (frames >= 0),
  header TEXT NOT NULL,
  added REAL NOT NULL
) STRICT;

CREATE TABLE survey_chunks (
  survey INTEGER NOT NULL REFERENCES surveys,
  position INTEGER NOT NULL CHECK (position >= 0),
  frames INTEGER NOT NULL CHECK (frames > 0),
  content BLOB NOT NULL,
  PRIMARY KEY (survey, position)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER surveys_refuse_update BEFORE UPDATE ON surveys
BEGIN SELECT RAISE(ABORT, 'a survey is never changed'); END;
CREATE TRIGGER survey_chunks_refuse_update BEFORE UPDATE ON survey_chunks
BEGIN SELECT RAISE(ABORT, 'a survey is never changed'); END;
CREATE TRIGGER survey_chunks_refuse_delete BEFORE DELETE ON survey_chunks
BEGIN SELECT RAISE(ABORT, 'a survey is never changed'); END;
CREATE TRIGGER survey_chunks_refuse_replace BEFORE INSERT ON survey_chunks
WHEN EXISTS (SELECT 1 FROM survey_chunks WHERE survey = NEW.survey AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'a survey is never changed'); END;
