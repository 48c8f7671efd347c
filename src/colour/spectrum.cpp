#include "provenit/colour/spectrum.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace provenit::colour {
namespace {

/// A target this close to a sample (in steps) is that sample: start + i * step is not exact in binary.
constexpr double kOnSample = 1e-9;

/// Sprague's boundary points: two beyond each end, from the outer six samples (CIE 167:2005, table 1), over 209.
constexpr double kOuter[6] = {884, -1960, 3033, -2648, 1080, -180};
constexpr double kInner[6] = {508, -540, 488, -367, 144, -24};

/// Coefficients of x^0 .. x^5 by sample -2 .. +3 around the interval, over 24 (CIE 167:2005).
constexpr double kSprague[6][6] = {{0, 0, 24, 0, 0, 0},       {2, -16, 0, 16, -2, 0},        {-1, 16, -30, 16, -1, 0},
                                   {-9, 39, -70, 66, -33, 7}, {13, -64, 126, -124, 61, -12}, {-5, 25, -50, 50, -25, 5}};

void add_sample(InterpolationTaps& taps, int samples, int index, double weight) {
  if (index >= 0 && index < samples) {
    taps.weight[index - taps.first] += weight;
    return;
  }
  const bool low = index < 0;
  const auto& boundary = (index == -2 || index == samples + 1) ? kOuter : kInner;
  for (int i = 0; i < 6; ++i) taps.weight[low ? i : 5 - i] += weight * boundary[i] / 209;
}

InterpolationTaps sprague_taps(int samples, int interval, double x) {
  InterpolationTaps taps{std::clamp(interval - 2, 0, samples - 6), 6, {}};
  for (int s = 0; s < 6; ++s) {
    double weight = 0;
    for (int power = 5; power >= 0; --power) weight = weight * x + kSprague[power][s] / 24;
    if (weight != 0) add_sample(taps, samples, interval - 2 + s, weight);
  }
  return taps;
}

}  // namespace

Result<void> validate(const Spectrum& spectrum) {
  const auto bad = [](std::string message, std::string advice, std::string field) {
    return fail(ErrorCode::invalid_input, std::move(message), std::move(advice), Where{.field = std::move(field)});
  };
  if (!(spectrum.start_nm > 0) || !std::isfinite(spectrum.start_nm))
    return bad(fmt::format("a spectrum cannot start at {} nm", spectrum.start_nm), "Give the first wavelength in nm.",
               "start");
  if (!(spectrum.step_nm > 0) || !std::isfinite(spectrum.step_nm))
    return bad(fmt::format("a spectrum cannot have a step of {} nm", spectrum.step_nm), "Give a step in nm above 0.",
               "step");
  if (spectrum.size() < 2)
    return bad(fmt::format("a spectrum needs two samples or more, this one has {}", spectrum.size()),
               "Give all samples on equal steps.", "values");
  for (int i = 0; i < spectrum.size(); ++i)
    if (!std::isfinite(spectrum.values[i]))
      return bad(fmt::format("the sample at {} nm is not a finite number", spectrum.wavelength_nm(i)),
                 "Take the reading again, or leave it out.", "values");
  return {};
}

InterpolationTaps interpolation_taps(int samples, double position, Interpolation method) {
  const double nearest = std::round(position);
  if (std::abs(position - nearest) < kOnSample) return {static_cast<int>(nearest), 1, {1}};
  const int interval = std::clamp(static_cast<int>(position), 0, samples - 2);
  const double x = position - interval;
  if (method == Interpolation::linear) return {interval, 2, {1 - x, x}};
  return sprague_taps(samples, interval, x);
}

Result<Spectrum> interpolated(const Spectrum& spectrum, double start_nm, double step_nm, int count,
                              Interpolation method) {
  if (auto valid = validate(spectrum); !valid) return tl::unexpected(valid.error());
  if (!(step_nm > 0) || count < 1)
    return fail(ErrorCode::invalid_input, fmt::format("cannot interpolate to {} samples at {} nm", count, step_nm),
                "Give a step above 0 and at least one sample.");
  if (method == Interpolation::sprague && spectrum.size() < 6)
    return fail(ErrorCode::invalid_input,
                fmt::format("Sprague interpolation needs six samples, this spectrum has {}", spectrum.size()),
                "Use linear interpolation.");
  Spectrum out{start_nm, step_nm, std::vector<double>(static_cast<std::size_t>(count))};
  for (int j = 0; j < count; ++j) {
    const double position = (out.wavelength_nm(j) - spectrum.start_nm) / spectrum.step_nm;
    if (position < -kOnSample || position > spectrum.size() - 1 + kOnSample)
      return fail(ErrorCode::out_of_range,
                  fmt::format("{} nm lies outside the spectrum, which has {} to {} nm", out.wavelength_nm(j),
                              spectrum.start_nm, spectrum.end_nm()),
                  "Ask for wavelengths inside it: nothing is extrapolated.");
    const auto taps = interpolation_taps(spectrum.size(), position, method);
    double sum = 0;
    for (int k = 0; k < taps.count; ++k) sum += taps.weight[k] * spectrum.values[taps.first + k];
    out.values[j] = sum;
  }
  return out;
}

Result<Spectrum> bandpass_corrected(const Spectrum& spectrum) {
  if (auto valid = validate(spectrum); !valid) return tl::unexpected(valid.error());
  constexpr double a = 0.083;
  Spectrum out = spectrum;
  const auto& m = spectrum.values;
  const int last = spectrum.size() - 1;
  for (int i = 0; i <= last; ++i) {
    double correction = 0;
    if (i > 0) correction += m[i] - m[i - 1];
    if (i < last) correction += m[i] - m[i + 1];
    out.values[i] = m[i] + a * correction;
  }
  return out;
}

}  // namespace provenit::colour
