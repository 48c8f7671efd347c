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

}  // namespace provenit::programme
