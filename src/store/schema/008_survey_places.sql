-- Where the frames of a survey lie, without their content: walking survey_chunks itself reads every chunk whole.
CREATE INDEX survey_chunks_places ON survey_chunks (survey, position, frames);
