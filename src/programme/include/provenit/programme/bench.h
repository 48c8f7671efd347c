#pragma once
// Surveys in the bench.
#include <functional>
#include <span>
#include <vector>

#include "provenit/programme/survey_file.h"
#include "provenit/store/bench.h"

namespace provenit::programme {

/// Puts a finished survey into the bench: all of it or nothing. Errors: those of SurveyFile and Bench::add_survey.
[[nodiscard]] Result<store::Id> add_to_bench(const SurveyFile& survey, store::Bench& bench, Timestamp now);

/// Where the survey of a source is made that goes straight into a bench: a file beside it, of a name that a later call
/// finds again, so that a survey that was stopped goes on.
[[nodiscard]] std::string working_survey_path(const std::string& bench, const std::string& source);
/// Puts the finished survey at `path` into the bench and removes the file; also if that very survey is there already,
/// which is told as conflict. Errors: those of SurveyFile::open and add_to_bench; the file is left then.
[[nodiscard]] Result<store::Id> move_into_bench(const std::string& path, store::Bench& bench, Timestamp now);

struct BenchSurvey {
  store::SurveyRecord record;
  SurveyHeader header;
};
/// That survey, or with 0 the newest. Errors: not_found with what to do; invalid_input for a damaged header.
[[nodiscard]] Result<BenchSurvey> survey_in_bench(const store::Bench& bench, store::Id id);

/// Its frames, chunk by chunk, in order. Errors: invalid_input for a damaged chunk; those that `take` gives.
[[nodiscard]] Result<void> for_each_chunk(const store::Bench& bench, store::Id survey,
                                          const std::function<Result<void>(std::span<const FrameRecord>)>& take);
/// All at once (about 1.4 kB each).
[[nodiscard]] Result<std::vector<FrameRecord>> frames_in_bench(const store::Bench& bench, store::Id survey);

/// The frame at a position of the survey; chunks before it are not unpacked. Errors: out_of_range beyond its end.
[[nodiscard]] Result<FrameRecord> frame_in_bench(const store::Bench& bench, store::Id survey, std::size_t position);

}  // namespace provenit::programme
