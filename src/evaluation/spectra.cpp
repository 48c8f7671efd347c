#include "provenit/evaluation/spectra.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "provenit/colour/matrix3.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/spectrum_xyz.h"

namespace provenit::evaluation {
namespace {

using colour::Spectrum;

/// Height and place of the top by least squares over the samples around it that reach 85 % of it.
double height_of(const Spectrum& s, int top) {
  int from = top, to = top;
  const double enough = 0.85 * s.values[top];
  while (from > 0 && s.values[from - 1] >= enough) --from;
  while (to + 1 < s.size() && s.values[to + 1] >= enough) ++to;
  if (to - from < 3) return s.values[top];
  // log(v) = a + b x + c x^2 with x from the middle: normal equations of an even grid.
  const double middle = 0.5 * (from + to);
  double n = 0, x2 = 0, x4 = 0, y = 0, xy = 0, x2y = 0;
  for (int i = from; i <= to; ++i) {
    const double x = i - middle, v = std::log(s.values[i]);
    n += 1, x2 += x * x, x4 += x * x * x * x, y += v, xy += x * v, x2y += x * x * v;
  }
  const double c = (n * x2y - x2 * y) / (n * x4 - x2 * x2), b = xy / x2, a = (y - c * x2) / n;
  return c < 0 ? std::exp(a - b * b / (4 * c)) : s.values[top];
}

/// Index where the spectrum crosses `level` on the way from `top` outwards; nullopt if it does not.
std::optional<double> crossing(const Spectrum& s, int top, int direction, double level) {
  for (int i = top; i + direction >= 0 && i + direction < s.size(); i += direction) {
    const double inner = s.values[i], outer = s.values[i + direction];
    if (outer <= level) return i + direction * (inner - level) / (inner - outer);
  }
  return std::nullopt;
}

colour::Vector3<double> as_vector(const colour::AbsoluteXyz<>& c) {
  return {c.X, c.Y, c.Z};
}

}  // namespace

std::optional<SpectralPeak> strongest_peak(const Spectrum& s, double first_nm, double last_nm) {
  int top = -1;
  for (int i = 0; i < s.size(); ++i)
    if (s.wavelength_nm(i) >= first_nm && s.wavelength_nm(i) <= last_nm && (top < 0 || s.values[i] > s.values[top]))
      top = i;
  if (top < 0 || !(s.values[top] > 0)) return std::nullopt;
  const double height = height_of(s, top);
  const auto below = crossing(s, top, -1, height / 2), above = crossing(s, top, +1, height / 2);
  if (!below || !above) return std::nullopt;
  return SpectralPeak{.centre_nm = s.start_nm + s.step_nm * 0.5 * (*below + *above),
                      .width_nm = s.step_nm * (*above - *below),
                      .height = height};
}

Spectrum blurred(const Spectrum& s, double bandwidth_nm) {
  if (!(bandwidth_nm > 0)) return s;
  const double sigma = bandwidth_nm / s.step_nm / (2 * std::sqrt(2 * std::numbers::ln2));
  const int reach = static_cast<int>(std::ceil(4 * sigma));
  std::vector<double> kernel;
  double sum = 0;
  for (int d = -reach; d <= reach; ++d) sum += kernel.emplace_back(std::exp(-d * d / (2 * sigma * sigma)));
  Spectrum out = s;
  for (int i = 0; i < s.size(); ++i) {
    double v = 0;
    for (int d = -reach; d <= reach; ++d) v += kernel[d + reach] * s.values[std::clamp(i + d, 0, s.size() - 1)];
    out.values[i] = v / sum;
  }
  return out;
}

std::optional<SpectralPeak> peak_without_bandwidth(const Spectrum& s, double bandwidth_nm, double first_nm,
                                                   double last_nm) {
  const auto read = strongest_peak(s, first_nm, last_nm);
  const auto twice = strongest_peak(blurred(s, bandwidth_nm), first_nm, last_nm);
  if (!read || !twice) return std::nullopt;
  const double squared = 2 * read->width_nm * read->width_nm - twice->width_nm * twice->width_nm;
  return SpectralPeak{.centre_nm = 2 * read->centre_nm - twice->centre_nm,
                      .width_nm = std::sqrt(std::max(0.0, squared)),
                      .height = read->height};
}

Result<MatchOffset> visual_match_offset(const Spectrum& reference_white, const std::array<Spectrum, 3>& primaries,
                                        colour::Observer observer) {
  using colour::Observer;
  const auto xyz = [](const Spectrum& s, Observer who) {
    return colour::xyz_from_radiance(s, {.observer = who, .summation = colour::Summation::linear});
  };
  const auto white = xyz(reference_white, observer), white_1931 = xyz(reference_white, Observer::cie1931_2deg);
  if (!white) return tl::unexpected(white.error());
  if (!white_1931) return tl::unexpected(white_1931.error());
  colour::Matrix3<> columns;
  std::array<colour::AbsoluteXyz<>, 3> each;
  for (std::size_t c = 0; c < 3; ++c) {
    const auto seen = xyz(primaries[c], observer), seen_1931 = xyz(primaries[c], Observer::cie1931_2deg);
    if (!seen) return tl::unexpected(seen.error());
    if (!seen_1931) return tl::unexpected(seen_1931.error());
    const auto v = as_vector(seen->xyz);
    for (std::size_t k = 0; k < 3; ++k) columns.row[k][c] = v[k];
    each[c] = seen_1931->xyz;
  }
  const auto amounts = colour::inverse(columns) * as_vector(white->xyz);
  colour::AbsoluteXyz<> mixed;
  for (std::size_t c = 0; c < 3; ++c) {
    if (!(amounts[c] >= 0))
      return fail(ErrorCode::out_of_range, "the white to be matched lies outside the second display's gamut",
                  "Take another white, or a display with a larger gamut.");
    mixed.X += amounts[c] * each[c].X;
    mixed.Y += amounts[c] * each[c].Y;
    mixed.Z += amounts[c] * each[c].Z;
  }
  MatchOffset out{.reference = colour::xy_from_xyz(white_1931->xyz), .matched = colour::xy_from_xyz(mixed)};
  out.dx = out.matched.x - out.reference.x;
  out.dy = out.matched.y - out.reference.y;
  return out;
}

}  // namespace provenit::evaluation
