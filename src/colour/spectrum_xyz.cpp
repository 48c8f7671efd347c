#include "provenit/colour/spectrum_xyz.h"

#include <fmt/format.h>

#include <cmath>

namespace provenit::colour {
namespace {

MatchingFunctions missing_share(Observer observer, double first_nm, double last_nm) {
  const auto range = range_of(observer);
  const auto all = table_sums(observer);
  MatchingFunctions outside;
  for (double nm = range.first_nm; nm <= range.last_nm; nm += 1) {
    if (nm >= first_nm && nm <= last_nm) continue;
    const auto m = matching_functions(observer, {.nm = nm});
    outside.x += m.x;
    outside.y += m.y;
    outside.z += m.z;
  }
  return {outside.x / all.x, outside.y / all.y, outside.z / all.z};
}

void add(MatchingFunctions& to, const MatchingFunctions& m, double factor) {
  to.x += factor * m.x;
  to.y += factor * m.y;
  to.z += factor * m.z;
}

/// The correction is a symmetric matrix, so applying it to the weights equals applying it to the samples.
void fold_in_bandpass_correction(std::vector<MatchingFunctions>& weights) {
  const auto correct = [&](double MatchingFunctions::*part) {
    Spectrum column{1, 1, {}};
    for (const auto& w : weights) column.values.push_back(w.*part);
    const auto corrected = bandpass_corrected(column);
    for (std::size_t i = 0; i < weights.size(); ++i) weights[i].*part = corrected->values[i];
  };
  correct(&MatchingFunctions::x);
  correct(&MatchingFunctions::y);
  correct(&MatchingFunctions::z);
}

}  // namespace

Result<SpectralWeights> spectral_weights(double start_nm, double step_nm, int samples, const XyzMethod& method) {
  const Spectrum shape{start_nm, step_nm, std::vector<double>(static_cast<std::size_t>(samples > 0 ? samples : 0))};
  if (auto valid = validate(shape); !valid) return tl::unexpected(valid.error());
  if (!(method.km_lm_per_w > 0))
    return fail(ErrorCode::invalid_input, fmt::format("Km of {} lm/W is not above 0", method.km_lm_per_w),
                "Use 683 lm/W.");
  const bool cut = step_nm > 1 && method.summation != Summation::native;
  const auto interpolation = method.summation == Summation::linear ? Interpolation::linear : Interpolation::sprague;
  if (cut && interpolation == Interpolation::sprague && samples < 6)
    return fail(ErrorCode::invalid_input,
                fmt::format("Sprague interpolation needs six samples, this spectrum has {}", samples),
                "Use the linear or the native summation.");
  const int parts = cut ? static_cast<int>(std::ceil(step_nm)) : 1;
  SpectralWeights out{std::vector<MatchingFunctions>(static_cast<std::size_t>(samples)),
                      missing_share(method.observer, shape.start_nm, shape.end_nm())};
  const double width_nm = step_nm / parts;
  for (int j = 0; j <= (samples - 1) * parts; ++j) {
    const double position = static_cast<double>(j) / parts;
    const auto m = matching_functions(method.observer, {.nm = start_nm + position * step_nm});
    const auto taps = interpolation_taps(samples, position, interpolation);
    for (int k = 0; k < taps.count; ++k)
      add(out.per_sample[taps.first + k], m, method.km_lm_per_w * width_nm * taps.weight[k]);
  }
  if (method.bandpass_correction) fold_in_bandpass_correction(out.per_sample);
  return out;
}

Result<SpectralXyz> xyz_from_radiance(const Spectrum& radiance, const XyzMethod& method) {
  if (auto valid = validate(radiance); !valid) return tl::unexpected(valid.error());
  const auto weights = spectral_weights(radiance.start_nm, radiance.step_nm, radiance.size(), method);
  if (!weights) return tl::unexpected(weights.error());
  return SpectralXyz{weighted_xyz<double>(*weights, radiance.values), weights->missing};
}

}  // namespace provenit::colour
