// How far a scaled or sharpened edge goes beyond its two levels.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "captures/places.h"
#include "provenit/evaluation/captures.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

using signal::PixelRectangle;

/// Means across the edge, one per pixel along the way over it, of the lines in the middle of the fields.
struct Profile {
  std::vector<double> mean, error;  ///< error: standard uncertainty of each mean, from the lines
  std::size_t edge = 0;             ///< first pixel beyond the edge
  double lines = 1;                 ///< that each mean is of
};

/// `a` and `b` are neighbours in picture pixels; `scale` goes to pixels of the frame.
Profile profile_of(const CapturedFrame& frame, const PixelRectangle& a, const PixelRectangle& b,
                   const std::array<double, 2>& scale, bool across) {
  const auto way = [&](const PixelRectangle& r) { return across ? r.left : r.top; };
  const auto length = [&](const PixelRectangle& r) { return across ? r.width : r.height; };
  const double along = scale[across ? 0 : 1], side = scale[across ? 1 : 0];
  const int from = static_cast<int>(std::ceil(way(a) * along + 0.25 * length(a) * along));
  const int to = static_cast<int>(std::floor((way(b) + 0.75 * length(b)) * along));
  const int side_from_px = across ? a.top : a.left, side_px = across ? a.height : a.width;
  const int first = static_cast<int>(std::ceil((side_from_px + 0.3 * side_px) * side));
  const int last = static_cast<int>(std::floor((side_from_px + 0.7 * side_px) * side));
  Profile out;
  out.lines = std::max(1, last - first);
  for (int i = from; i < to; ++i) {
    std::vector<double> values;
    for (int k = first; k < last; ++k) values.push_back(mean_of_channels(across ? frame.at(i, k) : frame.at(k, i)));
    out.mean.push_back(colour::mean(values));
    out.error.push_back(colour::standard_deviation(values) / std::sqrt(static_cast<double>(values.size())));
  }
  out.edge = static_cast<std::size_t>(
      std::clamp(static_cast<int>(std::lround(way(b) * along)) - from, 1, static_cast<int>(out.mean.size()) - 1));
  return out;
}

/// Level of a field: mean of the profile's outer third on that side.
struct EdgeLevel {
  double value = 0, error = 0;
};
EdgeLevel level_of(const Profile& p, bool before) {
  const auto count = std::max<std::size_t>(2, (before ? p.edge : p.mean.size() - p.edge) / 3);
  const auto from = before ? 0 : p.mean.size() - count;
  const std::span<const double> part(p.mean.data() + from, count);
  return {colour::mean(part), colour::standard_deviation(part) / std::sqrt(static_cast<double>(count))};
}

/// Means of noise alone go beyond the levels too: the highest of n by about this many standard errors.
double expected_highest(std::size_t n) {
  return std::sqrt(2 * std::log(std::max(2.0, static_cast<double>(n))));
}

// Of two standard normal numbers: mean 1 / sqrt(pi), standard deviation sqrt(1 - 1 / pi).
constexpr double kHigherOfTwo = std::numbers::inv_sqrtpi;
const double kScatterOfHigher = std::sqrt(1 - std::numbers::inv_pi);

Figure overshoot_of(const Profile& p, double lines) {
  const auto first = level_of(p, true), second = level_of(p, false);
  const double step = second.value - first.value, sign = step > 0 ? 1 : -1;
  std::array<double, 2> most{}, error{};  // before and after the edge
  std::size_t looked_at = 0;
  // Inside the two thirds of each field that lie at the edge.
  for (std::size_t i = p.edge / 3; i < p.mean.size() - (p.mean.size() - p.edge) / 3; ++i, ++looked_at) {
    const std::size_t side = i < p.edge ? 0 : 1;
    const double beyond = side == 0 ? sign * (first.value - p.mean[i]) : sign * (p.mean[i] - second.value);
    if (beyond > most[side])
      most[side] = beyond, error[side] = std::hypot(p.error[i], (side == 0 ? first : second).error);
  }
  const std::size_t side = most[0] > most[1] ? 0 : 1;
  const double percent = 100 / std::fabs(step), noise = colour::mean(p.error);
  // The higher of two equal ones, each with this normal error, is read too high by 0.564 of it and scatters by 0.826.
  const bool equal = std::fabs(most[0] - most[1]) < 3 * error[side];
  const double bias = equal ? kHigherOfTwo * error[side] : 0;
  const double scatter = equal ? std::hypot(kScatterOfHigher * error[side], bias / 4) : error[side];
  // Noise of a quarter of a code or more makes rounding average out over the lines.
  const double rounding = noise * std::sqrt(lines) > 0.25 ? 0 : 0.5 / std::sqrt(3.0);
  auto f = figure_of(percent * std::max(0.0, most[side] - bias),
                     {{"noise of the frame", percent * scatter}, {"steps of the code", percent * rounding}}, 1e6);
  // What noise alone would reach is no overshoot.
  if (most[side] < 1.5 * expected_highest(looked_at) * noise + rounding) f.interval.lower = 0;
  f.interval.lower = std::max(0.0, f.interval.lower);
  return f;
}

}  // namespace

Result<std::vector<EdgeOvershoot>> measure_overshoot(const CapturedFrame& frame, const signal::TestPicture& picture) {
  const auto scale = scale_of(frame, picture, "scaling_set", 0.2);
  if (!scale) return tl::unexpected(scale.error());
  const auto places = picture.places(0);
  const auto corner = find_place(places, "edge field, column 1 row 1"),
             right = find_place(places, "edge field, column 2 row 1"),
             below = find_place(places, "edge field, column 1 row 2");
  if (!corner || !right || !below) return fail(ErrorCode::invalid_input, "the picture has no edge fields");
  std::vector<EdgeOvershoot> out;
  for (const bool across : {true, false}) {
    const auto profile = profile_of(frame, *corner, across ? *right : *below, *scale, across);
    const double step = std::fabs(level_of(profile, true).value - level_of(profile, false).value);
    double whole = 0;
    for (const double v : profile.mean) whole = std::max(whole, std::fabs(v));
    const double middle = 0.5 * (level_of(profile, true).value + level_of(profile, false).value);
    const bool in_place = (profile.mean[profile.edge > 3 ? profile.edge - 4 : 0] > middle) !=
                          (profile.mean[std::min(profile.mean.size() - 1, profile.edge + 3)] > middle);
    if (!(step > 0.1 * whole) || !in_place)
      return fail(ErrorCode::invalid_input, "the edge is not where the picture has it",
                  "Check that the frame shows the whole picture, not cut or shifted.");
    out.push_back({across, overshoot_of(profile, profile.lines)});
  }
  return out;
}

}  // namespace provenit::evaluation
