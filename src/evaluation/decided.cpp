// The stop rule of a run.
#include <algorithm>
#include <array>
#include <string_view>

#include "provenit/evaluation/measurement_model.h"
#include "provenit/evaluation/verdict.h"

namespace provenit::evaluation {
namespace {

constexpr int kDraws = 400;
constexpr double kRepeatsCannotDecide = 0.05, kOpenIsSettled = 0.2;

// Share of the variance that further repeats would lower. Without shares nothing is known, and repeats may help.
double repeatable_share(const store::FindingRecord& f) {
  if (!f.parts.contains("variance")) return 1;
  constexpr std::array<std::string_view, 5> instrument{"instrument's luminance scale", "instrument's chromaticity",
                                                       kZeroOffset, kColorimeterMatrix, kColorimeterMisfit};
  double others = 1;
  for (const auto& share : f.parts["variance"]) {
    const auto name = share.value("source", std::string());
    if (std::ranges::any_of(instrument, [&](std::string_view known) { return name.starts_with(known); }))
      others -= share.value("fraction", 0.0);
  }
  return others;
}

bool is_settled(const store::FindingRecord& finding, const store::QuestionRecord& question) {
  const auto v = verdict(finding, question);
  if (!v) return repeatable_share(finding) < kOpenIsSettled;
  return v->verdict != store::Verdict::undecided || repeatable_share(finding) < kRepeatsCannotDecide;
}

}  // namespace

bool decided(std::span<const store::ReadingRecord> readings, const std::string& procedure,
             std::span<const store::QuestionRecord> questions, const EvaluationInput& input) {
  if (questions.empty() || readings.empty()) return false;
  std::vector<RunData> runs(1);
  runs[0].run.procedure = procedure;
  runs[0].readings.assign(readings.begin(), readings.end());
  EvaluationInput quick = input;
  quick.monte_carlo_draws = kDraws;
  quick.series = false;
  const auto findings = evaluate(runs, quick);
  if (!findings) return false;
  return std::ranges::all_of(questions, [&](const auto& question) {
    const auto found = std::ranges::find_if(*findings, [&](const auto& f) { return answers(f, question); });
    return found != findings->end() && is_settled(*found, question);
  });
}

}  // namespace provenit::evaluation
