#include "provenit/procedure/estimate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "colour_codes_internal.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/encoding.h"
#include "scripted_internal.h"

namespace provenit::procedure {
namespace {

constexpr int kMostReadings = 20000;  // of one run: far above any procedure's, so that a faulty one cannot hang us

/// A display warming up as such displays do (ours, no source): 2 % within a minute and 3 % more within half an hour.
double typical_warm_up(Seconds since) {
  return 1 - 0.02 * std::exp(-since.s / 60) - 0.03 * std::exp(-since.s / 1500);
}

enum class Play {
  typical,  ///< an ideal display, warming up if that is what is watched
  restless  ///< light never comes to rest: the longest run the parameters allow
};

store::ReadingRecord imagined(const Step& step, const Context& context, Play play, Timestamp now, std::size_t index) {
  store::ReadingRecord reading{
      .sequence = static_cast<std::int64_t>(index), .step = step.key, .taken = now, .signal = step.signal};
  double luminance = step.expected_cdm2;
  if (play == Play::restless) luminance *= index % 2 == 0 ? 1.1 : 0.9;
  if (play == Play::typical && step.interval.s > 0) luminance *= typical_warm_up({now.unix_s});
  reading.context = {{"placement", instrument::to_json(step.placement)}};
  if (step.local_dimming != instrument::LocalDimming::as_found)
    reading.context["local_dimming"] = instrument::name_of(step.local_dimming);
  if (!step.controls.empty()) reading.context["controls"] = instrument::to_json(step.controls);
  reading.measurement.xyz = {.X = 0.9505 * luminance, .Y = luminance, .Z = 1.089 * luminance};
  reading.measurement.integration =
      reading_time(step, context.capabilities) - context.capabilities.integration.overhead;
  return reading;
}

/// Luminance that was read at this step, if it was read before: better than any ideal.
double known_luminance(const Step& step, std::span<const store::ReadingRecord> readings) {
  for (const auto& reading : readings)
    if (reading.step == step.key && reading.signal == step.signal) return reading.measurement.xyz.Y;
  return step.expected_cdm2;
}

/// A run played to its end: the readings it began with, then those that were imagined.
struct Played {
  std::vector<store::ReadingRecord> readings;
  Estimate estimate;  ///< of the imagined part
};

instrument::Placement placement_of(const store::ReadingRecord& reading) {
  const auto kept = reading.context.find("placement");
  if (kept == reading.context.end()) return {};
  return instrument::placement_from_json(*kept).value_or(instrument::Placement{});
}

instrument::LocalDimming local_dimming_of(const store::ReadingRecord& reading) {
  const auto kept = reading.context.value("local_dimming", std::string());
  return instrument::local_dimming_from_name(kept).value_or(instrument::LocalDimming::as_found);
}

/// Plays the rest of the run.
Result<Played> play(const Procedure& procedure, const Context& context, std::vector<store::ReadingRecord> readings,
                    Play how) {
  const std::size_t before = readings.size();
  Timestamp now{readings.empty() ? 0 : readings.back().taken.unix_s};
  if (!readings.empty())
    now = now + readings.back().measurement.integration + context.capabilities.integration.overhead;
  const Timestamp start = now;
  bool shown = before > 0;
  Timestamp shown_since = now;
  instrument::Placement placed = readings.empty() ? instrument::Placement{} : placement_of(readings.back());
  while (readings.size() < before + kMostReadings) {
    auto step = procedure.next(context, readings);
    if (!step) return tl::unexpected(step.error());
    if (!*step) {
      const Estimate estimate{
          .readings = static_cast<int>(readings.size() - before), .total = now - start, .at_most = now - start};
      return Played{std::move(readings), estimate};
    }
    (*step)->expected_cdm2 = known_luminance(**step, {readings.data(), before});
    shown = shown && (*step)->rest.s <= 0 && !readings.empty() && readings.back().signal == (*step)->signal;
    if (placed != (*step)->placement) now = now + (*step)->move;
    placed = (*step)->placement;
    now = now + (*step)->rest;
    if (!shown) {
      shown_since = now;
      now = now + (*step)->settle;
    }
    now = std::max(now, shown_since + (*step)->stay);
    if (!readings.empty()) now = std::max(now, readings.back().taken + (*step)->interval);
    readings.push_back(imagined(**step, context, how, now, readings.size()));
    now = now + reading_time(**step, context.capabilities);
    shown = true;
  }
  return fail(ErrorCode::out_of_range,
              fmt::format("{} would take more than {} readings", procedure.id(), kMostReadings),
              "Ask for fewer repeats or steps.");
}

Result<Estimate> both(const Procedure& procedure, const Context& context, std::vector<store::ReadingRecord> readings) {
  const auto longest = play(procedure, context, readings, Play::restless);
  if (!longest) return tl::unexpected(longest.error());
  const auto expected = play(procedure, context, std::move(readings), Play::typical);
  if (!expected) return tl::unexpected(expected.error());
  Estimate out = expected->estimate;
  out.at_most = std::max(out.total, longest->estimate.total);
  return out;
}

}  // namespace

double ideal_luminance_cdm2(const signal::Signal& signal, double expected_peak_cdm2) {
  const auto light = light_of(signal.encoding, signal.patch);
  const auto y = colour::rgb_to_xyz_matrix(signal::primaries_of(signal.encoding.container)).row[1];
  const auto shown = [&](double channel) { return std::min(channel, expected_peak_cdm2); };
  return y[0] * shown(light.r) + y[1] * shown(light.g) + y[2] * shown(light.b);
}

Seconds reading_time(const Step& step, const instrument::Capabilities& capabilities) {
  return capabilities.integration.expected(colour::Luminance<>{.cdm2 = step.expected_cdm2});
}

Result<Estimate> estimate(const Procedure& procedure, const Context& context, int repeats) {
  if (repeats < 1)
    return fail(ErrorCode::out_of_range, fmt::format("{} repeats", repeats), "Ask for at least one.",
                {.field = "repeats"});
  Context fixed = context;
  const nlohmann::json known = procedure.default_parameters();
  for (const char* key : {"repeats", "max_repeats"})
    if (known.contains(key)) fixed.parameters[key] = repeats;
  return both(procedure, fixed, {});
}

Result<Estimate> estimate_rest(const Procedure& procedure, const Context& context,
                               std::span<const store::ReadingRecord> readings) {
  std::vector<store::ReadingRecord> copy(readings.begin(), readings.end());
  for (auto& reading : copy) reading.measurement.spectrum.reset();
  return both(procedure, context, std::move(copy));
}

Result<std::vector<NamedSignal>> signals_of(const Procedure& procedure, const Context& context) {
  Context required = context;
  required.optional_repeats = false;
  const auto played = play(procedure, required, {}, Play::typical);
  if (!played) return tl::unexpected(played.error());
  std::vector<NamedSignal> out;
  for (const auto& reading : played->readings)
    if (std::ranges::find(out, reading.step, &NamedSignal::step) == out.end())
      out.push_back({reading.step, reading.signal, placement_of(reading), local_dimming_of(reading)});
  return out;
}

}  // namespace provenit::procedure
