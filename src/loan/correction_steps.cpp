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
constexpr double kCommonShare = 0.8;
constexpr double kLongestGap_s = 60;

}  // namespace

colour::Matrix3<> reading_noise(const instrument::Capabilities& c, const colour::AbsoluteXyz<>& light,
                                Seconds integration) {
  const double a2 = c.repeatability_relative * c.repeatability_relative;
  const std::array<double, 3> v{light.X, light.Y, light.Z};
  colour::Matrix3<> out;
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) out(i, j) = kCommonShare * a2 * v[i] * v[j];
    out(i, i) += (1 - kCommonShare) * a2 * v[i] * v[i] + c.noise_floor_cdm2 * c.noise_floor_cdm2 +
                 c.shot_noise * c.shot_noise * std::max(v[i], 0.0) / std::max(integration.s, 1e-3);
  }
  return out;
}

signal::CodeRgb code_of(const signal::Encoding& encoding, const colour::SignalRgb<>& signal) {
  const auto code = [&](double e) {
    return colour::quantise({.value = std::clamp(e, 0.0, 1.0)}, encoding.bits, encoding.range).value;
  };
  return {.code = {code(signal.r), code(signal.g), code(signal.b)}};
}

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
                   .covariance = reading_noise(capabilities, m.xyz, m.integration),
                   .time_s = (r.taken - readings.front().taken).s + m.integration.s / 2,
                   .reference = r.step == kReferenceStep});
  }
  return out;
}

}  // namespace provenit::loan
