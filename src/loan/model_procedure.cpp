// Patches for a display model: a first set that any model needs, then batches chosen by the model of what was read.
#include <fmt/format.h>

#include <algorithm>

#include "correction_internal.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

constexpr int kSmallestBatch = 16, kTargets = 200, kCandidates = 300, kCandidatesFirst = 1000, kGreys = 40;
/// A batch is this share of what was read before it: early models are poor, late ones cost time to fit.
constexpr int kBatchShare = 3;

std::string step_name(std::size_t number) {
  return fmt::format("patch_{:04}", number + 1);
}

}  // namespace

nlohmann::json ModelProcedure::default_parameters() const {
  const ModelRun usual;
  return {{"minutes", usual.minutes},
          {"window_percent", usual.window_percent},
          {"primaries", usual.primaries},
          {"settle_s", usual.settle_s}};
}

Result<std::vector<signal::CodeRgb>> ModelProcedure::batch(const procedure::Context& context,
                                                           const nlohmann::json& parameters,
                                                           std::span<const store::ReadingRecord> readings,
                                                           int count) const {
  const auto primaries = primaries_named(parameters["primaries"]);
  if (!primaries) return tl::unexpected(primaries.error());
  const auto model = correct::DisplayModel::fit(context.encoding, model_readings(context.capabilities, readings),
                                                {.diagnose = false, .refuse_outliers = false});
  if (!model) return tl::unexpected(model.error());
  const colour::Luminance<> peak{.cdm2 = context.expected_peak_cdm2};
  auto candidates =
      correct::target_signals(context.encoding, *primaries, {.cdm2 = 1.05 * peak.cdm2}, kCandidates, kCandidatesFirst);
  for (const auto& s : correct::first_patches(context.encoding, peak)) candidates.push_back(s);
  const auto top = correct::first_patches(context.encoding, {.cdm2 = 1.1 * peak.cdm2})[1];
  for (int i = 1; i < kGreys; ++i) {
    const double part = static_cast<double>(i) / (kGreys - 1);
    candidates.push_back({.r = part * top.r, .g = part * top.g, .b = part * top.b});
  }
  auto targets = correct::target_signals(context.encoding, *primaries, {.cdm2 = 0.97 * peak.cdm2}, kTargets);
  const auto dark = correct::grey_signals(context.encoding, {.cdm2 = 0.03}, {.cdm2 = 2}, 60);
  targets.insert(targets.end(), dark.begin(), dark.end());
  candidates.insert(candidates.end(), dark.begin(), dark.end());
  const double settle = parameters["settle_s"];
  const auto cost = [&](const colour::AbsoluteXyz<>& light) {
    const auto& how = context.capabilities.integration;
    const Seconds whole = how.expected({.cdm2 = light.Y});
    return correct::ReadingCost{.seconds = settle + whole.s,
                                .covariance = reading_noise(context.capabilities, light, whole - how.overhead)};
  };
  std::vector<signal::CodeRgb> out;
  for (const auto& p : correct::next_patches(*model, candidates, targets, cost, count))
    out.push_back(code_of(context.encoding, p.signal));
  return out;
}

Result<std::optional<procedure::Step>> ModelProcedure::next(const procedure::Context& context,
                                                            std::span<const store::ReadingRecord> readings) const {
  const auto parameters = merged_parameters(*this, context);
  if (!parameters) return tl::unexpected(parameters.error());
  const double minutes = (*parameters)["minutes"], window = (*parameters)["window_percent"],
               settle = (*parameters)["settle_s"];
  if (!(minutes > 0 && minutes <= 24 * 60 && window > 0 && window <= 100 && settle >= 0 && settle <= 600))
    return fail(ErrorCode::out_of_range, "a run for a display model needs minutes, a window and a settling time",
                "Use minutes above 0, window_percent from above 0 to 100, settle_s from 0 to 600.");
  const auto step = [&](const std::string& key, const signal::CodeRgb& code, const std::string& why) {
    return patch_step(context, key, code, window, settle, why);
  };
  const auto reference = [&] { return step(kReferenceStep, reference_code(context), "reference white"); };
  if (reference_due(readings)) return reference();

  const auto first = correct::first_patches(context.encoding, {.cdm2 = context.expected_peak_cdm2});
  const auto read =
      static_cast<std::size_t>(std::ranges::count_if(readings, [](const auto& r) { return r.step != kReferenceStep; }));
  if (read >= first.size() && time_taken(readings) >= 60 * minutes) {
    if (readings.back().step == kReferenceStep) return std::nullopt;
    return reference();
  }
  if (read < first.size())
    return step(step_name(read), code_of(context.encoding, first[read]),
                fmt::format("patch {} of the first {}", read + 1, first.size()));

  std::size_t from = first.size(), size = 0;
  for (;; from += size) {
    size = std::max<std::size_t>(kSmallestBatch, from / kBatchShare);
    if (read < from + size) break;
  }
  if (batch_from_ != from || batch_.empty()) {
    // The readings before this batch, references among them.
    std::size_t before = 0;
    for (std::size_t patches = 0; before < readings.size() && patches < from; ++before)
      if (readings[before].step != kReferenceStep) ++patches;
    auto made = batch(context, *parameters, readings.first(before), static_cast<int>(size));
    if (!made) return tl::unexpected(made.error());
    batch_ = std::move(*made);
    batch_from_ = from;
  }
  if (read - from >= batch_.size()) {  // nothing more can be gained
    if (readings.back().step == kReferenceStep) return std::nullopt;
    return reference();
  }
  return step(step_name(read), batch_[read - from],
              fmt::format("patch {}, chosen by what {} patches say", read + 1, from));
}

}  // namespace provenit::loan
