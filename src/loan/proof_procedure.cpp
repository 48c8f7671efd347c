// Colours with and without a correction, one after the other.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "correction_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

/// Far from where patches for a model, and those a table is judged by, come from.
constexpr int kUnseenFirst = 300000;
constexpr int kGreysNearBlack = 8;
constexpr int kTriedPerColour = 5;
constexpr double kReached = 0.3;                   // Delta E ITP
constexpr double kDarkest = 0.05, kBrightest = 1;  // cd/m2
/// Of the peak: colours up to the very top would test where the top is, not the colours.
constexpr double kShareOfPeak = 0.97;

}  // namespace

std::vector<signal::CodeRgb> proof_codes(const correct::DisplayModel& model, const colour::Primaries<>& primaries,
                                         colour::Luminance<> peak, int count) {
  const auto& encoding = model.encoding();
  const signal::EncodedLight light(encoding);
  std::vector<signal::CodeRgb> out;
  const auto add = [&](const colour::SignalRgb<>& wanted) {
    // What programmes send are codes.
    const auto code = signal::nearest_code(encoding, wanted);
    const auto asked = light.xyz(signal::signal_of(encoding, code));
    if (model.signal_for(asked).delta_e_itp < kReached) out.push_back(code);
  };
  for (const auto& s : correct::target_signals(encoding, primaries, {.cdm2 = kShareOfPeak * peak.cdm2},
                                               kTriedPerColour * count, kUnseenFirst)) {
    if (static_cast<int>(out.size()) == count) break;
    add(s);
  }
  for (int i = 0; i < kGreysNearBlack; ++i) {
    const double wanted = kDarkest * std::pow(kBrightest / kDarkest, static_cast<double>(i) / (kGreysNearBlack - 1));
    const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = wanted});
    if (code) add(signal::signal_of(encoding, *code));
  }
  return out;
}

Result<std::vector<signal::CodeRgb>> codes_from_json(const nlohmann::json& json) {
  const auto refused =
      fail(ErrorCode::invalid_input, "a proof needs its colours as lists of three codes", {}, {.field = "codes"});
  std::vector<signal::CodeRgb> out;
  for (const auto& row : json) {
    if (!row.is_array() || row.size() != 3) return refused;
    signal::CodeRgb code;
    for (std::size_t c = 0; c < 3; ++c) {
      if (!row[c].is_number_integer()) return refused;
      code.code[c] = row[c];
    }
    out.push_back(code);
  }
  return out;
}

nlohmann::json ProofProcedure::default_parameters() const {
  const ProofRun usual;
  return {{"correction", 0}, {"codes", nlohmann::json::array()}, {"window_percent", 4.0}, {"settle_s", usual.settle_s}};
}

Result<std::optional<procedure::Step>> ProofProcedure::next(const procedure::Context& context,
                                                            std::span<const store::ReadingRecord> readings) const {
  const auto parameters = merged_parameters(*this, context);
  if (!parameters) return tl::unexpected(parameters.error());
  const auto colours = codes_from_json((*parameters)["codes"]);
  if (!colours) return tl::unexpected(colours.error());
  const double window = (*parameters)["window_percent"], settle = (*parameters)["settle_s"];
  const auto read =
      static_cast<std::size_t>(std::ranges::count_if(readings, [](const auto& r) { return r.step != kReferenceStep; }));
  const bool end = read >= 2 * colours->size();
  // A pair is not torn apart.
  if ((read % 2 == 0 && reference_due(readings)) || (end && readings.back().step != kReferenceStep))
    return patch_step(context, kReferenceStep, reference_code(context), window, settle, "reference white");
  if (end) return std::nullopt;
  const std::size_t colour = read / 2;
  const auto& code = (*colours)[colour];
  const colour::SignalRgb<> e = signal::signal_of(context.encoding, code);
  if (read % 2 == 0)
    return patch_step(context, fmt::format("before_{:03}", colour + 1), code, window, settle,
                      fmt::format("colour {} of {}, without the correction", colour + 1, colours->size()));
  const correct::Values values{.encoding = context.encoding};
  const auto& in = table_.input.value_or(values);
  const auto& out = table_.output.value_or(values);
  const correct::Triple numbers =
      correct::evaluate(table_, {correct::number_of(in, {.value = e.r}), correct::number_of(in, {.value = e.g}),
                                 correct::number_of(in, {.value = e.b})});
  const colour::SignalRgb<> corrected{.r = correct::signal_of(out, numbers[0]).value,
                                      .g = correct::signal_of(out, numbers[1]).value,
                                      .b = correct::signal_of(out, numbers[2]).value};
  return patch_step(context, fmt::format("after_{:03}", colour + 1), signal::nearest_code(context.encoding, corrected),
                    window, settle, fmt::format("colour {} of {}, corrected", colour + 1, colours->size()));
}

}  // namespace provenit::loan
