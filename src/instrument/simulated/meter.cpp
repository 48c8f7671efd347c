#include "provenit/simulated/meter.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <utility>

#include "emitters_internal.h"
#include "provenit/colour/observer.h"
#include "provenit/signal/codes.h"
#include "provenit/simulated/clock.h"
#include "random_internal.h"

namespace provenit::simulated {
namespace {

enum Stream : std::uint64_t { error_stream = 1, noise_stream = 2, sample_stream = 3 };
/// Of the repeatability's variance, what all channels have in common (the rest is each channel's own).
constexpr double kCommonShare = 0.8;

using Matrix = std::array<std::array<double, 3>, 3>;

Vector as_vector(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

colour::AbsoluteXyz<> as_xyz(const Vector& v) {
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}

Vector times(const Matrix& m, const Vector& v) {
  Vector out{};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) out[i] += m[i][j] * v[j];
  return out;
}

/// Gains of X, Y, Z that move white by (dx, dy) and its Y by a factor 1 + scale.
Vector gains_for(const Vector& white, double scale, double dx, double dy) {
  const double sum = white[0] + white[1] + white[2];
  const double x = white[0] / sum + dx, y = white[1] / sum + dy;
  const double luminance = white[1] * (1 + scale);
  return {x / y * luminance / white[0], 1 + scale, (1 - x - y) / y * luminance / white[2]};
}

MeterErrors drawn(const MeterModel& model, const Vector& white, std::uint64_t seed) {
  const Random random(seed, error_stream);
  const auto& c = model.certificate;
  MeterErrors e;
  e.luminance_relative = random.normal(0) * c.luminance_expanded_relative / c.coverage_factor;
  e.x = random.normal(1) * c.x_expanded / c.coverage_factor;
  e.y = random.normal(2) * c.y_expanded / c.coverage_factor;
  for (std::size_t i = 0; i < 3; ++i) e.zero_cdm2[i] = random.normal(3 + i) * c.zero_offset_standard_cdm2;
  const Vector gains = gains_for(white, e.luminance_relative, e.x, e.y);
  const double square = white[0] * white[0] + white[1] * white[1] + white[2] * white[2];
  for (std::size_t i = 0; i < 3; ++i) {
    Vector row{};
    double on_white = 0;
    for (std::size_t j = 0; j < 3; ++j) {
      row[j] = random.normal(10 + 3 * i + j) * model.mismatch;
      on_white += row[j] * white[j];
    }
    // The part of the row that white would see is taken out again: the certificate stays true for white.
    for (std::size_t j = 0; j < 3; ++j)
      e.matrix[i][j] = gains[i] * ((i == j ? 1 : 0) + row[j] - on_white * white[j] / square);
  }
  return e;
}

/// Wavelength on a scale of order 1.
double relative_wavelength(int i) {
  return (kFirstNm + i - 560) / 100;
}

/// Coefficients of a gain 1 + c0 + c1 l + c2 l^2 over wavelength that moves this white just as the gains of X, Y, Z do.
Vector spectral_gain(const Samples& white, const Vector& gains) {
  std::array<Vector, 3> columns{};
  Samples part = white;
  for (std::size_t k = 0; k < 3; ++k) {
    columns[k] = xyz_of(part);
    for (int i = 0; i < kSamples; ++i) part[i] *= relative_wavelength(i);
  }
  Vector wanted{};
  for (std::size_t k = 0; k < 3; ++k) wanted[k] = columns[0][k] * (gains[k] - 1);
  return solve3(columns, wanted);
}

Samples blurred(const Samples& in, double fwhm_nm) {
  if (fwhm_nm <= 0) return in;
  const double sigma = fwhm_nm / 2.354820045030949;  // 2 sqrt(2 ln 2)
  const int reach = static_cast<int>(std::ceil(4 * sigma));
  std::vector<double> kernel(reach + 1);
  double sum = 0;
  for (int d = 0; d <= reach; ++d) {
    kernel[d] = std::exp(-d * d / (2 * sigma * sigma));
    sum += d == 0 ? kernel[d] : 2 * kernel[d];
  }
  Samples out{};
  for (int i = 0; i < kSamples; ++i)
    for (int d = -reach; d <= reach; ++d)
      if (i + d >= 0 && i + d < kSamples) out[i] += in[i + d] * kernel[std::abs(d)] / sum;
  return out;
}

}  // namespace

struct SimulatedMeter::Impl {
  MeterModel model;
  const SimulatedDisplay* display;
  Clock* clock;
  std::uint64_t seed;
  MeterErrors errors;
  Vector spectral{};  ///< coefficients of the spectral gain

  /// Absolute standard deviation of a channel's own noise, beside the common part.
  [[nodiscard]] double own_noise(double value, double integration_s, bool luminance) const {
    const double a = model.capabilities.repeatability_relative, floor = model.capabilities.noise_floor_cdm2;
    const double c = luminance ? 0 : model.chromaticity_repeatability;
    const double b = model.capabilities.shot_noise, shot = b * b * std::max(value, 0.0) / integration_s;
    return std::sqrt(((1 - kCommonShare) * a * a + c * c) * value * value + shot + floor * floor);
  }
  [[nodiscard]] double common_noise() const {
    return model.capabilities.repeatability_relative * std::sqrt(kCommonShare);
  }

  [[nodiscard]] Vector tristimulus(const Vector& light, double integration_s, std::uint64_t index) const {
    const Random random(seed, noise_stream);
    const Vector mean = times(errors.matrix, light);
    Vector out{};
    for (std::size_t k = 0; k < 3; ++k)
      out[k] = mean[k] * (1 + common_noise() * random.normal(4 * index)) + errors.zero_cdm2[k] +
               own_noise(mean[k], integration_s, k == 1) * random.normal(4 * index + 1 + k);
    return out;
  }

  /// The same errors and the same noise of Y, but spread over wavelength.
  [[nodiscard]] Samples spectral_radiance(const Samples& light, double integration_s, std::uint64_t index) const {
    Samples out = blurred(light, model.bandwidth_nm);
    const double luminance = xyz_of(out)[1];
    double sum = 0, squares = 0;
    for (const double y : matching_on_grid()[1]) {
      sum += y;
      squares += y * y;
    }
    constexpr double efficacy = colour::kMaximumLuminousEfficacy;
    const double zero = errors.zero_cdm2[1] / (efficacy * sum);
    const double deviation = own_noise(luminance, integration_s, true) / (efficacy * std::sqrt(squares));
    const double common = 1 + common_noise() * Random(seed, noise_stream).normal(4 * index);
    const Random random(mixed(seed) ^ index, sample_stream);
    for (int i = 0; i < kSamples; ++i) {
      const double l = relative_wavelength(i);
      out[i] = out[i] * (1 + spectral[0] + spectral[1] * l + spectral[2] * l * l) * common + zero +
               deviation * random.normal(static_cast<std::uint64_t>(i));
    }
    return out;
  }

  /// What the meter chooses for this light: whole frames.
  [[nodiscard]] Seconds integration_for(double cdm2) const {
    const auto& wanted = model.capabilities.integration;
    const double span = (wanted.expected({.cdm2 = cdm2}) - wanted.overhead).s, hz = display->physics().refresh_hz;
    return {std::max(1.0, std::ceil(span * hz - 1e-6)) / hz};
  }
};

SimulatedMeter::SimulatedMeter(MeterModel model, const SimulatedDisplay& display, Clock& clock, std::uint64_t seed)
    : impl_(std::make_unique<Impl>()) {
  // The warm display's white; full field, so that any spot sees it.
  signal::Signal white;
  white.patch = white.surround = signal::peak_code(white.encoding);
  const auto state = SimulatedDisplay::settled_thermal();
  const Vector reference = as_vector(display.truth(white, state));
  impl_->model = std::move(model);
  impl_->display = &display;
  impl_->clock = &clock;
  impl_->seed = seed;
  impl_->errors = drawn(impl_->model, reference, seed);
  if (impl_->model.capabilities.spectral) {
    const auto spectrum = display.truth_spectrum(white, state);
    Samples samples{};
    std::copy(spectrum.radiance.begin(), spectrum.radiance.end(), samples.begin());
    const auto& e = impl_->errors;
    impl_->spectral = spectral_gain(samples, gains_for(reference, e.luminance_relative, e.x, e.y));
  }
}
SimulatedMeter::~SimulatedMeter() = default;

Result<instrument::Identity> SimulatedMeter::identify() {
  return instrument::Identity{.name = impl_->model.name, .serial = impl_->model.serial};
}

const instrument::Capabilities& SimulatedMeter::capabilities() const {
  return impl_->model.capabilities;
}

const MeterModel& SimulatedMeter::model() const {
  return impl_->model;
}

const MeterErrors& SimulatedMeter::errors() const {
  return impl_->errors;
}

Result<instrument::Measurement> SimulatedMeter::measure(std::int64_t index) {
  const auto& limits = impl_->model.capabilities;
  const Timestamp start = impl_->clock->now();
  const auto i = static_cast<std::uint64_t>(index);
  instrument::Measurement m;
  m.integration = impl_->integration_for(impl_->display->light(start).Y);
  Vector value{};
  if (limits.spectral) {
    Samples light{};
    // The shape from the middle of the integration, the amount from all of it.
    const Timestamp middle = start + 0.5 * m.integration;
    const auto spectrum = impl_->display->spectrum(middle);
    const double at_middle = impl_->display->light(middle).Y;
    const double amount = at_middle > 0 ? impl_->display->mean_light(start, m.integration).Y / at_middle : 1;
    std::ranges::transform(spectrum.radiance, light.begin(), [amount](double v) { return amount * v; });
    const Samples read = impl_->spectral_radiance(light, m.integration.s, i);
    value = xyz_of(read);
    m.spectrum = {.start_nm = kFirstNm, .step_nm = 1, .radiance = {read.begin(), read.end()}};
  } else {
    value = impl_->tristimulus(as_vector(impl_->display->mean_light(start, m.integration)), m.integration.s, i);
  }
  m.saturated = value[1] > limits.maximum_cdm2;
  m.below_range = value[1] < limits.minimum_cdm2;
  if (m.saturated)
    std::ranges::transform(value, value.begin(), [&](double v) { return std::min(v, limits.maximum_cdm2); });
  m.xyz = as_xyz(value);
  impl_->clock->wait(m.integration);
  impl_->clock->wait(limits.integration.overhead);
  return m;
}

colour::AbsoluteXyz<> SimulatedMeter::without_noise(const colour::AbsoluteXyz<>& light) const {
  Vector v = times(impl_->errors.matrix, as_vector(light));
  for (std::size_t k = 0; k < 3; ++k) v[k] += impl_->errors.zero_cdm2[k];
  return as_xyz(v);
}

Timestamp SimulatedMeter::end_of(Timestamp taken, Seconds integration) const {
  SimulatedClock clock(taken);
  clock.wait(integration);
  clock.wait(impl_->model.capabilities.integration.overhead);
  return clock.now();
}

}  // namespace provenit::simulated
