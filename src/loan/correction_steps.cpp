// What the two procedures of a correction have in common.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "correction_internal.h"
#include "provenit/colour/quantise.h"
#include "provenit/procedure/estimate.h"
#include "provenit/signal/codes.h"
#include "provenit/signal/encoding.h"

namespace provenit::loan {
namespace {

constexpr double kReferenceCdm2 = 200, kReferenceShare = 0.2;
constexpr double kLongestGap_s = 60;

}  // namespace

signal::CodeRgb reference_code(const procedure::Context& context) {
  const double wanted = std::min(kReferenceCdm2, kReferenceShare * context.expected_peak_cdm2);
  // An encoding of a lower peak has this light in its range as well: it is a share of it.
  return signal::grey_code(context.encoding, colour::Luminance<>{.cdm2 = wanted})
      .value_or(signal::peak_code(context.encoding));
}

procedure::Step patch_step(const procedure::Context& context, const std::string& key, const signal::CodeRgb& code,
                           double window_percent, double settle_s, const std::string& why) {
  procedure::Step s;
  s.key = key;
  s.signal = {
      .encoding = context.encoding, .patch = code, .surround = signal::black_code(context.encoding), .geometry = {}};
  if (window_percent < 100)
    s.signal.geometry = {.shape = signal::Shape::window, .area_fraction = window_percent / 100};
  else
    s.signal.surround = code;
  s.settle = {settle_s};
  s.expected_cdm2 = procedure::ideal_luminance_cdm2(s.signal, context.expected_peak_cdm2);
  s.why = why;
  return s;
}

double time_taken(std::span<const store::ReadingRecord> readings) {
  double sum = 0;
  for (std::size_t i = 1; i < readings.size(); ++i)
    sum += std::min((readings[i].taken - readings[i - 1].taken).s, kLongestGap_s);
  return sum;
}

bool reference_due(std::span<const store::ReadingRecord> readings) {
  if (readings.empty()) return true;
  int since = 0;
  for (auto r = readings.rbegin(); r != readings.rend() && r->step != kReferenceStep; ++r) ++since;
  return since >= kReferenceEvery;
}

Result<colour::Primaries<>> primaries_named(const std::string& name) {
  if (const auto container = signal::container_from_name(name)) return signal::primaries_of(*container);
  return fail(ErrorCode::invalid_input, fmt::format("'{}' names no primaries", name), "Use bt709, p3_d65 or bt2020.");
}

std::vector<correct::ModelReading> model_readings(const instrument::Capabilities& capabilities,
                                                  std::span<const store::ReadingRecord> readings) {
  std::vector<correct::ModelReading> out;
  for (const auto& r : readings) {
    const auto& m = r.measurement;
    out.push_back({.name = fmt::format("reading {} ({})", r.sequence + 1, r.step),
                   .signal = signal::signal_of(r.signal.encoding, r.signal.patch),
                   .light = m.xyz,
                   .covariance = correct::reading_noise(capabilities, m.xyz, m.integration),
                   .time_s = (r.taken - readings.front().taken).s + m.integration.s / 2,
                   .reference = r.step == kReferenceStep});
  }
  return out;
}

}  // namespace provenit::loan
