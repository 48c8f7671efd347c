// Patches for a display model: a first set that any model needs, then batches chosen by the model of what was read.
#include <fmt/format.h>

#include <algorithm>

#include "correction_internal.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

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
  const auto choice = correct::patch_choice(context.encoding, *primaries, {.cdm2 = context.expected_peak_cdm2});
  const Seconds settle{parameters["settle_s"].get<double>()};
  const auto cost = [&](const colour::AbsoluteXyz<>& light) {
    return correct::reading_cost(context.capabilities, settle, light);
  };
  std::vector<signal::CodeRgb> out;
  for (const auto& p : correct::next_patches(*model, choice.candidates, choice.targets, cost, count))
    out.push_back(signal::nearest_code(context.encoding, p.signal));
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
    return step(step_name(read), signal::nearest_code(context.encoding, first[read]),
                fmt::format("patch {} of the first {}", read + 1, first.size()));

  std::size_t from = first.size(), size = 0;
  for (;; from += size) {
    size = static_cast<std::size_t>(correct::batch_size(static_cast<int>(from)));
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
