#include "provenit/procedure/decision.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "provenit/colour/statistics.h"

namespace provenit::procedure {
namespace {

/// One line of the model. Spreads and parts marked relative are multiplied by the value.
struct Sensitivity {
  std::string_view quantity;
  double spread_relative = 0, spread = 0;  ///< of the belief: the larger of the two counts
  double scale_relative = 0, scale = 0;    ///< times the certificate's u(L)/L
  double chromaticity = 0;                 ///< times the certificate's u(x)
  double repeat_relative = 0, repeat = 0;  ///< times the relative repeatability of one reading
  bool black = false;                      ///< zero offset and noise floor act on it directly
  bool over_black = false;                 ///< a ratio over a black of (peak / value)
  double method = 0;                       ///< absolute, of the method itself: step width, interpolation
};

// Factors for u(x) = u(y) at D65, first order: u' 0.79, v' 0.56, Duv 0.65, Delta E ITP 650, CCT 6e4 K; 75 Delta E ITP
// for a relative luminance of 1 at 100 cd/m2 and above. Spreads: ours, no source.
constexpr std::array<Sensitivity, 67> kSensitivities{{
    {.quantity = "settle_time", .spread_relative = 0.5, .spread = 120, .method = 15},
    {.quantity = "drift", .spread = 1, .repeat = 100, .method = 0.1},
    {.quantity = "black_luminance", .spread_relative = 0.5, .scale_relative = 1, .black = true},
    {.quantity = "peak_luminance", .spread_relative = 0.1, .scale_relative = 1, .repeat_relative = 1},
    {.quantity = "loading", .spread = 10, .repeat = 141},
    {.quantity = "sequential_contrast", .spread_relative = 0.5, .repeat_relative = 1, .over_black = true},
    {.quantity = "eotf_mean_delta_e_itp", .spread = 2, .scale = 75, .chromaticity = 650, .repeat = 20, .method = 0.05},
    {.quantity = "eotf_max_delta_e_itp", .spread = 4, .scale = 75, .chromaticity = 650, .repeat = 75, .method = 0.2},
    {.quantity = "eotf_mean_luminance_part", .spread = 2, .scale = 75, .repeat = 20, .method = 0.05},
    {.quantity = "eotf_mean_chromaticity_part", .spread = 1, .chromaticity = 650, .repeat = 20, .method = 0.05},
    {.quantity = "eotf_max_luminance_deviation", .spread = 5, .scale = 100, .repeat = 100, .method = 0.2},
    {.quantity = "greyscale_max_delta_uv", .spread = 0.003, .chromaticity = 0.75, .method = 0.0002},
    {.quantity = "clip_luminance", .spread_relative = 0.1, .scale_relative = 1, .repeat_relative = 1},
    {.quantity = "clip_signal", .spread = 0.02, .method = 0.0006},
    {.quantity = "roll_off_start", .spread_relative = 0.2, .scale_relative = 1, .repeat_relative = 1, .method = 5},
    {.quantity = "white_u_prime", .spread = 0.003, .chromaticity = 0.79, .repeat = 0.3},
    {.quantity = "white_v_prime", .spread = 0.003, .chromaticity = 0.56, .repeat = 0.3},
    {.quantity = "white_delta_uv", .spread = 0.003, .chromaticity = 0.75, .repeat = 0.3},
    {.quantity = "white_delta_e_itp_chromaticity", .spread = 2, .chromaticity = 650, .repeat = 200},
    {.quantity = "white_cct", .spread = 200, .chromaticity = 6e4, .repeat = 2e4},
    {.quantity = "white_duv", .spread = 0.003, .chromaticity = 0.65, .repeat = 0.2},
    {.quantity = "primary_delta_uv", .spread = 0.01, .chromaticity = 1, .repeat = 0.3},
    {.quantity = "gamut_coverage", .spread = 5, .chromaticity = 300, .repeat = 50},
    {.quantity = "gamut_area_ratio", .spread = 5, .chromaticity = 400, .repeat = 50},
    {.quantity = "checkerboard_contrast", .spread_relative = 0.5, .repeat_relative = 1.5, .over_black = true},
    {.quantity = "additivity_error", .spread = 3, .repeat = 200, .method = 0.1},
    {.quantity = "dimming_checkerboard_contrast", .spread_relative = 0.5, .repeat_relative = 1.5, .over_black = true},
    {.quantity = "checkerboard_black", .spread_relative = 0.5, .scale_relative = 1, .black = true},
    {.quantity = "luminance_nonuniformity", .spread = 5, .repeat = 140, .method = 0.1},
    {.quantity = "uniformity_max_delta_uv", .spread = 0.003, .repeat = 0.3, .method = 0.0001},
    {.quantity = "off_axis_luminance", .spread = 15, .repeat = 100, .method = 0.8},
    {.quantity = "off_axis_delta_uv", .spread = 0.005, .repeat = 0.3, .method = 0.0002},
    {.quantity = "halo_luminance", .spread_relative = 1, .scale_relative = 1, .black = true},
    {.quantity = "halo_half_distance", .spread_relative = 0.5, .method = 0.3},
    {.quantity = "halo_bar_share", .spread_relative = 1, .repeat_relative = 1.5},
    {.quantity = "sustained_luminance", .spread_relative = 0.2, .scale_relative = 1, .repeat_relative = 1},
    {.quantity = "sustained_change", .spread = 10, .repeat = 141},
    {.quantity = "sustained_settle_time", .spread_relative = 0.5, .spread = 60, .method = 30},
    {.quantity = "recovery_luminance", .spread = 5, .repeat = 141},
    {.quantity = "stability_slope", .spread = 0.5, .repeat = 20},
    {.quantity = "stability_wander", .spread = 0.5, .repeat = 100},
    {.quantity = "stability_max_delta_uv", .spread = 0.0005, .repeat = 0.2},
    {.quantity = "white_tracking_max_delta_uv", .spread = 0.003, .repeat = 0.4, .method = 0.0003},
    {.quantity = "clip_softness", .spread = 3, .repeat = 100, .method = 0.3},
    {.quantity = "near_black_mean_luminance_part", .spread = 2, .method = 0.3},
    {.quantity = "near_black_max_delta_uv", .spread = 0.005, .chromaticity = 0.75, .method = 0.001},
    {.quantity = "near_black_first_code", .spread_relative = 0.5, .spread = 3, .method = 1},
    {.quantity = "near_black_reversals", .spread = 1, .method = 0.5},
    {.quantity = "steps_resolved", .spread = 20, .method = 5},
    {.quantity = "effective_bits", .spread = 0.5, .method = 0.1},
    {.quantity = "colour_volume", .spread_relative = 0.1, .scale_relative = 0.3, .repeat_relative = 1},
    {.quantity = "colour_volume_coverage", .spread = 5, .chromaticity = 300, .repeat = 50},
    {.quantity = "volume_mean_delta_e_itp",
     .spread = 2,
     .scale = 75,
     .chromaticity = 650,
     .repeat = 20,
     .method = 0.05},
    {.quantity = "volume_p95_delta_e_itp", .spread = 4, .scale = 75, .chromaticity = 650, .repeat = 50, .method = 0.2},
    {.quantity = "volume_max_delta_e_itp", .spread = 6, .scale = 75, .chromaticity = 650, .repeat = 75, .method = 0.2},
    {.quantity = "chart_mean_delta_e_itp", .spread = 2, .scale = 75, .chromaticity = 650, .repeat = 20, .method = 0.05},
    {.quantity = "chart_p95_delta_e_itp", .spread = 3, .scale = 75, .chromaticity = 650, .repeat = 50, .method = 0.2},
    {.quantity = "chart_max_delta_e_itp", .spread = 4, .scale = 75, .chromaticity = 650, .repeat = 75, .method = 0.2},
    {.quantity = "chart_mean_ciede2000", .spread = 1, .scale = 25, .chromaticity = 500, .repeat = 10, .method = 0.05},
    {.quantity = "chart_p95_ciede2000", .spread = 1.5, .scale = 25, .chromaticity = 500, .repeat = 20, .method = 0.1},
    {.quantity = "chart_max_ciede2000", .spread = 2, .scale = 25, .chromaticity = 500, .repeat = 30, .method = 0.1},
    {.quantity = "hue_linearity_error", .spread = 3, .chromaticity = 1000, .repeat = 300},
    {.quantity = "clip_hue_shift", .spread = 5, .chromaticity = 500, .repeat = 200},
    {.quantity = "peak_wavelength", .spread = 3, .method = 0.3},
    {.quantity = "peak_width", .spread = 5, .method = 0.2},
    {.quantity = "emitter_class", .spread = 0.3, .method = 0.05},
    {.quantity = "white_delta_uv_by_observer", .spread = 0.003, .chromaticity = 0.75, .repeat = 0.3},
}};

const Sensitivity& sensitivity_of(const Quantity& quantity) {
  static constexpr Sensitivity kUnknown{.spread_relative = 0.5, .scale_relative = 1, .repeat_relative = 1};
  const auto* found = std::ranges::find(kSensitivities, quantity.key, &Sensitivity::quantity);
  return found == kSensitivities.end() ? kUnknown : *found;
}

}  // namespace

double ExpectedUncertainty::after(int repeats) const {
  return std::hypot(common, single / std::sqrt(static_cast<double>(repeats)));
}

Belief belief_from_limit(const Quantity& quantity, const store::QuestionRecord& question) {
  const double lower = question.lower.value_or(question.upper.value_or(0));
  const double mean = 0.5 * (lower + question.upper.value_or(lower));
  const Sensitivity& s = sensitivity_of(quantity);
  return {.mean = mean, .spread = std::max(s.spread, s.spread_relative * std::abs(mean))};
}

ExpectedUncertainty expected_uncertainty(const Quantity& quantity, double value,
                                         const instrument::Certificate& certificate,
                                         const instrument::Capabilities& capabilities, double expected_peak_cdm2) {
  const Sensitivity& s = sensitivity_of(quantity);
  const double size = std::abs(value);
  const double scale = certificate.luminance_expanded_relative / certificate.coverage_factor;
  const double xy = std::max(certificate.x_expanded, certificate.y_expanded) / certificate.coverage_factor;
  const double repeat = capabilities.repeatability_relative;
  double zero = s.black ? certificate.zero_offset_standard_cdm2 : 0;
  double noise = s.black ? capabilities.noise_floor_cdm2 : 0;
  if (s.over_black && size > 0) {
    // value = peak / black: d(value) = value / black x d(black)
    const double per_cdm2 = size * size / expected_peak_cdm2;
    zero = per_cdm2 * certificate.zero_offset_standard_cdm2;
    noise = per_cdm2 * capabilities.noise_floor_cdm2;
  }
  const double common_scale = (s.scale_relative * size + s.scale) * scale;
  return {.common = std::hypot(std::hypot(common_scale, s.chromaticity * xy), std::hypot(zero, s.method)),
          .single = std::hypot((s.repeat_relative * size + s.repeat) * repeat, noise)};
}

double decision_probability(std::optional<double> lower, std::optional<double> upper, const Belief& belief,
                            double standard_uncertainty) {
  const double reach = colour::normal_factor() * standard_uncertainty;
  if (reach <= 0) return 1;
  const double sd = std::hypot(belief.spread, standard_uncertainty);
  const auto mass = [&](double from, double to) {
    return colour::normal_probability((to - belief.mean) / sd) - colour::normal_probability((from - belief.mean) / sd);
  };
  if (lower && upper && *upper - *lower < 2 * reach) return 1 - mass(*lower - reach, *upper + reach);
  double undecided = 0;
  if (lower) undecided += mass(*lower - reach, *lower + reach);
  if (upper) undecided += mass(*upper - reach, *upper + reach);
  return std::clamp(1 - undecided, 0.0, 1.0);
}

bool is_decided(const store::QuestionRecord& question, const store::FindingRecord& finding) {
  const auto holds = [&](const std::optional<double>& limit) {
    return limit && finding.lower95 <= *limit && *limit <= finding.upper95;
  };
  return (question.lower || question.upper) && !holds(question.lower) && !holds(question.upper);
}

}  // namespace provenit::procedure
