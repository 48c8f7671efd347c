#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string_view>
#include <unordered_map>

#include "provenit/base/text.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr const char* kReference = "reference";

Result<void> check_range(const Parameter& rule, const nlohmann::json& value, const std::string& procedure) {
  const auto outside = [&](double number) { return !(number >= rule.lowest && number <= rule.highest); };
  const auto refuse = [&](double number) {
    return fail(ErrorCode::out_of_range, fmt::format("{}: {} = {}", procedure, rule.key, number),
                fmt::format("Give a value from {} to {}.", rule.lowest, rule.highest), {.field = rule.key});
  };
  if (value.is_number() && outside(value.get<double>())) return refuse(value.get<double>());
  if (!value.is_array()) return {};
  if (value.empty())
    return fail(ErrorCode::out_of_range, fmt::format("{}: {} is empty", procedure, rule.key),
                "Give at least one value.", {.field = rule.key});
  for (const auto& item : value) {
    if (!item.is_number())
      return fail(ErrorCode::invalid_input, fmt::format("{}: {} holds {}", procedure, rule.key, item.dump()),
                  "Give numbers.", {.field = rule.key});
    if (outside(item.get<double>())) return refuse(item.get<double>());
  }
  return {};
}

/// Share of the display's full output that a signal asks for: area x light.
double load_of(const signal::Signal& signal, double expected_peak_cdm2) {
  const double patch = ideal_luminance_cdm2(signal, expected_peak_cdm2) / expected_peak_cdm2;
  switch (signal.geometry.shape) {
    case signal::Shape::full_field:
      return patch;
    case signal::Shape::window:
      return patch * signal.geometry.area_fraction;
    case signal::Shape::checkerboard:
      return 0.5;
  }
  return 0;
}

/// How long the signal of the last reading has been read without a break, by the times stored.
Seconds dwell(std::span<const store::ReadingRecord> readings) {
  const auto& last = readings.back();
  std::size_t first = readings.size() - 1;
  while (first > 0 && readings[first - 1].signal == last.signal) --first;
  return (last.taken - readings[first].taken) + last.measurement.integration;
}

/// Rest on black: so that what was shown before does not heat or dim this one, and no bright patch stays on too long.
Seconds rest_before(const Step& step, const Setting& setting, std::span<const store::ReadingRecord> readings) {
  const double rest = setting.number("rest_s");
  if (readings.empty()) return {};
  const signal::Signal& shown = readings.back().signal;
  const double peak = setting.context.expected_peak_cdm2;
  if (shown == step.signal) {
    const bool bright = ideal_luminance_cdm2(shown, peak) > setting.number("reference_cdm2");
    const auto stood = instrument::placement_from_json(readings.back().context.value("placement", nlohmann::json()));
    const Seconds move = stood && *stood != step.placement ? step.move : Seconds{0};
    const Seconds more = move + reading_time(step, setting.context.capabilities);
    return bright && (dwell(readings) + step.settle + more).s > setting.number("max_bright_dwell_s") ? Seconds{rest}
                                                                                                     : Seconds{0};
  }
  const double load = load_of(shown, peak);
  return load > 0.1 ? Seconds{rest * load} : Seconds{0};
}

Result<void> check_dwell(const Step& step, const Setting& setting) {
  const double limit = setting.number("max_bright_dwell_s");
  const Seconds needed = step.settle + reading_time(step, setting.context.capabilities);
  if (ideal_luminance_cdm2(step.signal, setting.context.expected_peak_cdm2) <= setting.number("reference_cdm2") ||
      needed.s <= limit)
    return {};
  return fail(ErrorCode::out_of_range,
              fmt::format("step '{}' would stay on for {:.1f} s, longer than max_bright_dwell_s = {}", step.key,
                          needed.s, number_text(limit)),
              "Settle for less time, or raise the limit if the display's maker allows it.",
              {.field = "max_bright_dwell_s"});
}

}  // namespace

int Setting::count(const std::string& step) const {
  return static_cast<int>(std::ranges::count_if(taken, [&](const auto* reading) { return reading->step == step; }));
}

double Setting::mean_cdm2(const std::string& step, int at_most) const {
  double sum = 0;
  int n = 0;
  for (const auto* reading : taken)
    if (reading->step == step && n < at_most) sum += reading->measurement.xyz.Y, ++n;
  return n > 0 ? sum / n : std::numeric_limits<double>::quiet_NaN();
}

std::vector<Parameter> with_common(const std::vector<Parameter>& own) {
  std::vector<Parameter> all{{"settle_s", 2.0, 0, 600},
                             {"repeats", 1, 1, 100},
                             {"max_repeats", 1, 1, 100},
                             {"reference_cdm2", 100.0, 0.1, 10000},
                             {"reference_window_percent", 10.0, 0.1, 100},
                             {"reference_interval_s", 120.0, 1, 36000},
                             {"rest_s", 10.0, 0, 600},
                             {"max_bright_dwell_s", 30.0, 1, 3600}};
  for (const Parameter& parameter : own) {
    const auto common = std::ranges::find(all, parameter.key, &Parameter::key);
    if (common == all.end())
      all.push_back(parameter);
    else
      *common = parameter;
  }
  return all;
}

nlohmann::json Scripted::default_parameters() const {
  nlohmann::json all = nlohmann::json::object();
  for (const Parameter& rule : parameters()) all[rule.key] = rule.standard;
  return all;
}

Result<Setting> Scripted::setting(const Context& context, std::span<const store::ReadingRecord> readings) const {
  auto merged = merged_parameters(*this, context);
  if (!merged) return tl::unexpected(merged.error());
  for (const Parameter& rule : parameters())
    if (auto ok = check_range(rule, (*merged)[rule.key], id()); !ok) return tl::unexpected(ok.error());
  if (merged->contains("repeats") && (*merged)["max_repeats"] < (*merged)["repeats"])
    return fail(ErrorCode::out_of_range,
                fmt::format("{}: max_repeats = {} is less than repeats = {}", id(), (*merged)["max_repeats"].dump(),
                            (*merged)["repeats"].dump()),
                "Raise max_repeats or lower repeats.", {.field = "max_repeats"});
  if (!(context.expected_peak_cdm2 > 0))
    return fail(ErrorCode::out_of_range, fmt::format("expected peak of {} cd/m2", context.expected_peak_cdm2),
                "Give a peak above 0 cd/m2.", {.field = "expected_peak_cdm2"});
  Setting setting{.context = context, .parameters = std::move(*merged), .taken = {}};
  for (const auto& reading : readings)
    if (reading.step != kReference) setting.taken.push_back(&reading);
  return setting;
}

Result<Step> Scripted::reference(const Setting& setting) const {
  return reference_step(setting);
}

Result<std::optional<Step>> Scripted::next(const Context& context,
                                           std::span<const store::ReadingRecord> readings) const {
  auto now = setting(context, readings);
  if (!now) return tl::unexpected(now.error());
  auto own = script(*now);
  if (!own) return own;
  auto bracket = reference(*now);
  if (!bracket) return tl::unexpected(bracket.error());
  Step step = *bracket;
  if (!readings.empty()) {
    const bool at_reference = readings.back().step == kReference;
    if (!*own && at_reference) return std::optional<Step>{};
    const auto last =
        std::find_if(readings.rbegin(), readings.rend(), [](const auto& r) { return r.step == kReference; });
    const bool due =
        last == readings.rend() || (readings.back().taken - last->taken).s > now->number("reference_interval_s");
    // Where a run switches the display's mode, the reference does not switch it back before its time.
    const bool elsewhere = *own && (*own)->local_dimming != step.local_dimming;
    if (*own && (at_reference || !due || elsewhere)) step = std::move(**own);
  }
  step.rest = rest_before(step, *now, readings);
  if (auto ok = check_dwell(step, *now); !ok) return tl::unexpected(ok.error());
  return std::optional<Step>{std::move(step)};
}

std::optional<Step> next_in_passes(const Setting& setting, const std::vector<Patch>& pass) {
  const int required = setting.integer("repeats");
  const int most = setting.context.optional_repeats ? setting.integer("max_repeats") : required;
  std::unordered_map<std::string_view, int> done;
  for (const auto* reading : setting.taken) ++done[reading->step];
  // The pass that is not complete is that of the patch read least; its first such patch is next.
  const Patch* next = nullptr;
  for (const Patch& patch : pass)
    if (!next || done[patch.key] < done[next->key]) next = &patch;
  if (!next || done[next->key] >= most) return std::nullopt;
  return step_for(setting, *next, done[next->key], done[next->key] >= required);
}

std::optional<Step> next_by_place(const Setting& setting, const std::vector<Patch>& places) {
  for (const Patch& place : places)
    if (const int done = setting.count(place.key); done < setting.integer("repeats"))
      return step_for(setting, place, done, false);
  return next_in_passes(setting, places);
}

Step step_for(const Setting& setting, const Patch& patch, int repeat, bool optional) {
  Step step{.key = patch.key,
            .signal = patch.signal,
            .placement = patch.placement,
            .local_dimming = patch.local_dimming,
            .settle = {setting.number("settle_s")}};
  step.move = {setting.parameters.value("move_s", instrument::kUsualMove.s)};
  step.expected_cdm2 = std::max(ideal_luminance_cdm2(patch.signal, setting.context.expected_peak_cdm2),
                                setting.context.expected_black_cdm2);
  step.optional_repeat = optional;
  const int most = setting.parameters.value("max_repeats", 1);
  step.why = most > 1 ? fmt::format("{}, reading {} of {}{}", patch.words, repeat + 1, optional ? "at most " : "", most)
                      : patch.words;
  return step;
}

Result<Step> reference_step(const Setting& setting) {
  const auto& encoding = setting.context.encoding;
  const auto code = signal::grey_code(encoding, colour::Luminance<>{.cdm2 = setting.number("reference_cdm2")});
  if (!code) return tl::unexpected(code.error());
  Step step = step_for(setting, {kReference, window(encoding, *code, setting.number("reference_window_percent")), ""},
                       0, false);
  step.why = "reference patch, to follow drift";
  return step;
}

signal::Signal full_field(const signal::Encoding& encoding, const signal::CodeRgb& code) {
  return {.encoding = encoding, .patch = code, .surround = code, .geometry = {}};
}

signal::Signal window(const signal::Encoding& encoding, const signal::CodeRgb& code, double area_percent) {
  if (area_percent >= 100) return full_field(encoding, code);
  return {.encoding = encoding,
          .patch = code,
          .surround = signal::black_code(encoding),
          .geometry = {.shape = signal::Shape::window, .area_fraction = area_percent / 100}};
}

std::string number_text(double value) {
  return exact_text(value);
}

Result<nlohmann::json> merged_parameters(const Procedure& procedure, const Context& context) {
  nlohmann::json merged = procedure.default_parameters();
  if (!context.parameters.is_object())
    return fail(ErrorCode::invalid_input, fmt::format("parameters of {} are no object", procedure.id()),
                "Give keys and values.", {.field = "parameters"});
  for (const auto& [key, value] : context.parameters.items()) {
    if (!merged.contains(key)) {
      std::vector<std::string> known;
      for (const auto& [name, ignored] : merged.items()) known.push_back(name);
      return fail(ErrorCode::invalid_input, fmt::format("{} has no parameter '{}'", procedure.id(), key),
                  fmt::format("It knows {}.", fmt::join(known, ", ")), {.field = key});
    }
    const nlohmann::json& standard = merged[key];
    const bool whole = !standard.is_number_integer() || value.is_number_integer();
    const bool fits = standard.is_number() ? value.is_number() && whole : value.type() == standard.type();
    if (!fits)
      return fail(ErrorCode::invalid_input,
                  fmt::format("{}: {} = {} is not of the kind of its default {}", procedure.id(), key, value.dump(),
                              standard.dump()),
                  "Give the same kind of value.", {.field = key});
    merged[key] = value;
  }
  return merged;
}

}  // namespace provenit::procedure
