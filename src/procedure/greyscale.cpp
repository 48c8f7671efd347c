// Greyscale and EOTF tracking: R' = G' = B' windows in rising order, with closer steps near black and around the
// expected peak; then the clip point is searched by halving the gap between codes read, and the roll-off below it gets
// steps of its own. Further passes repeat every code of the first.
// signals  "grey_<code>": window of that code on black
// cost     codes x (settle + reading) per pass; the search adds about log2 of the gap
// source   Rec. ITU-R BT.2100-3 (PQ, HLG), BT.1886: what each code stands for. Steps, order and search are ours; EBU
//          Tech 3325 describes such measurements and was not opened
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "procedures_internal.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr double kFarAbovePeak = 1.3;                          // no even step above this many expected peaks
constexpr std::array kRollOff{0.5, 0.6, 0.7, 0.8, 0.9, 0.95};  // of the luminance found at the clip
constexpr double kNear = 0.005;                                // of E': a step this close serves as well
constexpr double kHighest = 1e12;

using Levels = std::map<int, double>;  // code -> luminance of its first reading

Patch grey(const Setting& setting, int code) {
  const auto& encoding = setting.context.encoding;
  return {fmt::format("grey_{}", code),
          window(encoding, {.code = {code, code, code}}, setting.number("window_percent")),
          fmt::format("grey {}", code)};
}

double target_cdm2(const Setting& setting, int code) {
  return ideal_luminance_cdm2(grey(setting, code).signal, kHighest);
}

Result<int> code_for(const Setting& setting, double luminance_cdm2) {
  const auto code = signal::grey_code(setting.context.encoding, colour::Luminance<>{.cdm2 = luminance_cdm2});
  if (!code) return tl::unexpected(code.error());
  return code->code[0];
}

int code_at(const Setting& setting, double signal) {
  return signal::grey_code(setting.context.encoding, colour::Signal<>{.value = signal}).code[0];
}

/// The codes of the first pass, before anything is known of the display.
Result<std::set<int>> base_codes(const Setting& setting) {
  const auto& context = setting.context;
  const bool pq = context.encoding.transfer == signal::Transfer::pq;
  const double highest = pq ? kFarAbovePeak * context.expected_peak_cdm2 : kHighest;
  const int steps = setting.integer("steps");
  std::vector<double> signals{0, 1};
  for (int i = 1; i < steps; ++i) signals.push_back(static_cast<double>(i) / steps);
  for (double near_black : setting.parameters["near_black"].get<std::vector<double>>()) signals.push_back(near_black);
  // A neighbour of the highest code shows whether light still rises there; PQ has one, far above the peak, anyway.
  if (!pq) signals.push_back(0.99);
  std::set<int> codes{code_at(setting, 0), code_at(setting, 1)};
  for (double value : signals)
    if (const int code = code_at(setting, value); target_cdm2(setting, code) <= highest) codes.insert(code);
  for (double level : setting.parameters["clip_levels"].get<std::vector<double>>()) {
    const auto code = code_for(setting, level * context.expected_peak_cdm2);
    if (!code) return tl::unexpected(code.error());
    codes.insert(*code);
  }
  return codes;
}

Levels levels_of(const Setting& setting) {
  Levels levels;
  for (const auto* reading : setting.taken)
    levels.try_emplace(reading->signal.patch.code[0], reading->measurement.xyz.Y);
  return levels;
}

/// The next code to read around the clip point, by the first readings so far; nullopt when it is found or there is
/// none.
Result<std::optional<int>> refinement(const Setting& setting, const Levels& levels) {
  double highest = 0;
  for (const auto& [code, luminance] : levels) highest = std::max(highest, luminance);
  const double tolerance =
      std::max(setting.number("clip_tolerance_percent") / 100, 4 * setting.context.capabilities.repeatability_relative);
  const auto clipped =
      std::ranges::find_if(levels, [&](const auto& level) { return level.second >= highest * (1 - tolerance); });
  if (clipped == levels.begin()) return std::optional<int>{};
  // A top code alone on its plateau is the end of a curve that still rises; but between PQ's top and the code read
  // below it there is room for a whole display.
  const bool alone = std::next(clipped) == levels.end();
  if (alone && setting.context.encoding.transfer != signal::Transfer::pq) return std::optional<int>{};
  const int below = std::prev(clipped)->first;
  const int resolution = setting.integer("clip_resolution_codes") << std::max(0, setting.context.encoding.bits - 10);
  if (clipped->first - below > resolution) return std::optional<int>{below + (clipped->first - below) / 2};
  for (double share : kRollOff) {
    const auto code = code_for(setting, share * highest);
    if (!code) return tl::unexpected(code.error());
    const double wanted = signal::signal_of(setting.context.encoding, *code).value;
    const bool served = std::ranges::any_of(levels, [&](const auto& level) {
      return std::abs(signal::signal_of(setting.context.encoding, level.first).value - wanted) < kNear;
    });
    if (!served) return std::optional<int>{*code};
  }
  return std::optional<int>{};
}

/// The next code of the first pass: the base codes in rising order, then what the search asks for.
Result<std::optional<int>> first_pass(const Setting& setting, const Levels& levels) {
  const auto base = base_codes(setting);
  if (!base) return tl::unexpected(base.error());
  for (int code : *base)
    if (!levels.contains(code)) return std::optional<int>{code};
  if (!setting.parameters["refine"].get<bool>()) return std::optional<int>{};
  return refinement(setting, levels);
}

class Greyscale final : public Scripted {
 public:
  std::string id() const override { return "greyscale"; }
  int version() const override { return 1; }
  std::string title() const override { return "Greyscale and EOTF tracking"; }
  std::vector<std::string> sources() const override {
    return {"Rec. ITU-R BT.2100-3 (PQ and HLG EOTF)", "Rec. ITU-R BT.1886-0", "EBU Tech 3325 v2.0 (title; not opened)"};
  }
  std::vector<std::string> quantities() const override {
    return {"eotf_mean_delta_e_itp",
            "eotf_max_delta_e_itp",
            "eotf_mean_luminance_part",
            "eotf_mean_chromaticity_part",
            "eotf_max_luminance_deviation",
            "greyscale_max_delta_uv",
            "clip_luminance",
            "clip_signal",
            "roll_off_start",
            "white_tracking_max_delta_uv",
            "clip_softness"};
  }

 protected:
  std::vector<Parameter> parameters() const override {
    return with_common({{"max_repeats", 3, 1, 100},
                        {"window_percent", 10.0, 0.1, 100},
                        {"steps", 20, 2, 200},
                        {"near_black", {0.01, 0.02, 0.03, 0.04, 0.075}, 0, 0.2},
                        {"clip_levels", {0.5, 0.7, 0.85, 0.95, 1.0, 1.1, 1.3}, 0.01, 10},
                        {"clip_tolerance_percent", 0.5, 0.01, 10},
                        {"clip_resolution_codes", 1, 1, 64},
                        {"refine", true}});
  }
  Result<std::optional<Step>> script(const Setting& setting) const override {
    const Levels levels = levels_of(setting);
    // A code read twice shows that the first pass is over; its codes are those of every later one.
    if (levels.size() == setting.taken.size()) {
      const auto code = first_pass(setting, levels);
      if (!code) return tl::unexpected(code.error());
      if (*code) return step_for(setting, grey(setting, **code), 0, false);
    }
    std::vector<Patch> pass;
    for (const auto& [code, luminance] : levels) pass.push_back(grey(setting, code));
    return next_in_passes(setting, pass);
  }
};

}  // namespace

std::unique_ptr<Procedure> make_greyscale() {
  return std::make_unique<Greyscale>();
}

}  // namespace provenit::procedure
