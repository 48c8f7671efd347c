#include "provenit/correct/instrument_matrix.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace provenit::correct {
namespace {

using colour::AbsoluteXyz;
using colour::Matrix3;
using colour::UvPrime;
using colour::Vector3;
using colour::Xy;

constexpr double kLargestChromaticityUncertainty = 0.005;  ///< common practice, no source
/// Twice the area of the triangle of the primaries in x, y (BT.709: 0.22); common practice, no source.
constexpr double kSmallestTriangle = 0.01;
/// Determinant of the normal matrix over the cube of its mean diagonal: 1 for three colours at right angles, 0 in a
/// plane. Three primaries of BT.709: 0.15; a white and its neighbours within 0.01 of x, y: below 1e-6.
constexpr double kSmallestSpread = 1e-4;

tl::unexpected<Error> refuse(const std::string& message, const std::string& advice, const std::string& pair = "") {
  return fail(ErrorCode::invalid_input, message, advice, {.field = pair});
}

double sum_of(const AbsoluteXyz<Uncertain>& c) {
  return c.X.value() + c.Y.value() + c.Z.value();
}
Vector3<Uncertain> vector_of(const AbsoluteXyz<Uncertain>& c) {
  return {c.X, c.Y, c.Z};
}
AbsoluteXyz<Uncertain> applied(const Matrix3<Uncertain>& m, const AbsoluteXyz<Uncertain>& c) {
  const auto v = m * vector_of(c);
  return {.X = v[0], .Y = v[1], .Z = v[2]};
}

double distance(const UvPrime<Uncertain>& a, const UvPrime<Uncertain>& b) {
  return std::hypot(a.u.value() - b.u.value(), a.v.value() - b.v.value());
}

Result<void> has_light(const PairedReading& pair) {
  for (const auto* c : {&pair.colorimeter, &pair.reference}) {
    const bool finite = isfinite(c->X) && isfinite(c->Y) && isfinite(c->Z);
    if (!finite || !(c->Y.value() > 0) || !(sum_of(*c) > 0))
      return refuse(fmt::format("{} reading of '{}' has no light or is not finite",
                                c == &pair.colorimeter ? "the colorimeter's" : "the reference's", pair.name),
                    "Read the pair again; every colour needs light that both instruments read.", pair.name);
  }
  return {};
}

Result<void> is_certain(const PairedReading& pair, const Sources& sources) {
  for (const auto* c : {&pair.colorimeter, &pair.reference}) {
    const Xy<Uncertain> xy = colour::xy_from_xyz(*c);
    const double u = std::max(standard_uncertainty(xy.x, sources), standard_uncertainty(xy.y, sources));
    if (u > kLargestChromaticityUncertainty)
      return refuse(fmt::format("the chromaticity of '{}' is only known to {:.4f}", pair.name, u),
                    "Read a brighter patch, or the same one longer.", pair.name);
  }
  return {};
}

/// No two pairs fit twice as well with their references exchanged. An error that all of the colorimeter's readings
/// share cannot do that: it moves one of the two exchanged distances as far up as the other down.
Result<void> not_swapped(std::span<const PairedReading> pairs) {
  const auto between = [&](const PairedReading& a, const PairedReading& b) {
    return distance(colour::uv_prime_from_xyz(a.colorimeter), colour::uv_prime_from_xyz(b.reference));
  };
  for (std::size_t i = 0; i < pairs.size(); ++i)
    for (std::size_t j = i + 1; j < pairs.size(); ++j) {
      const PairedReading &a = pairs[i], &b = pairs[j];
      if (2 * (between(a, b) + between(b, a)) >= between(a, a) + between(b, b)) continue;
      return refuse(fmt::format("the readings of '{}' and '{}' fit each other's references", a.name, b.name),
                    "Check which patch was shown for each; channels may be swapped.", a.name);
    }
  return {};
}

Result<void> usable(std::span<const PairedReading> pairs, const Sources& sources) {
  for (const PairedReading& pair : pairs) {
    if (auto fine = has_light(pair); !fine) return fine;
    if (auto fine = is_certain(pair, sources); !fine) return fine;
  }
  return not_swapped(pairs);
}

/// Primaries that span a triangle, with the white inside.
Result<void> spans(const std::array<Xy<Uncertain>, 4>& c, const char* instrument) {
  const auto side = [&](std::size_t a, std::size_t b, std::size_t p) {
    return (c[b].x.value() - c[a].x.value()) * (c[p].y.value() - c[a].y.value()) -
           (c[b].y.value() - c[a].y.value()) * (c[p].x.value() - c[a].x.value());
  };
  const double area = side(0, 1, 2);
  if (std::fabs(area) < kSmallestTriangle)
    return refuse(fmt::format("red, green and blue of the {} lie nearly in one line", instrument),
                  "Read the full primaries.");
  for (const auto& [a, b] : {std::pair{0, 1}, {1, 2}, {2, 0}})
    if (side(a, b, 3) * area <= 0)
      return refuse(fmt::format("white of the {} lies outside its red, green and blue", instrument),
                    "Give the pairs in the order red, green, blue, white.");
  return {};
}

PairResidual residual_of(const Matrix3<Uncertain>& m, const PairedReading& pair) {
  const auto c = applied(m, pair.colorimeter);
  const auto ours = colour::uv_prime_from_xyz(c), theirs = colour::uv_prime_from_xyz(pair.reference);
  return {.name = pair.name,
          .du = ours.u - theirs.u,
          .dv = ours.v - theirs.v,
          .relative_luminance = c.Y / pair.reference.Y - 1.0};
}

/// (matrix x colorimeter - reference) / (reference X + Y + Z)
Vector3<Uncertain> weighted_residual(const Matrix3<Uncertain>& m, const PairedReading& pair) {
  const double weight = 1 / sum_of(pair.reference);
  auto v = m * vector_of(pair.colorimeter);
  const auto r = vector_of(pair.reference);
  for (std::size_t i = 0; i < 3; ++i) v[i] = (v[i] - r[i]) * weight;
  return v;
}

struct Normal {
  Matrix3<Uncertain> products, squares;  ///< sum of w r t', sum of w t t'
};
Normal normal_of(std::span<const PairedReading> pairs) {
  Normal n;
  for (const PairedReading& pair : pairs) {
    const double w = 1 / (sum_of(pair.reference) * sum_of(pair.reference));
    const auto t = vector_of(pair.colorimeter), r = vector_of(pair.reference);
    for (std::size_t i = 0; i < 3; ++i)
      for (std::size_t j = 0; j < 3; ++j) {
        n.products(i, j) += w * r[i] * t[j];
        n.squares(i, j) += w * t[i] * t[j];
      }
  }
  return n;
}

Matrix3<> values_of(const Matrix3<Uncertain>& m) {
  Matrix3<> v;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) v(i, j) = m(i, j).value();
  return v;
}

/// See kSmallestSpread.
double spread_of(const Matrix3<>& m) {
  const double determinant = m(0, 0) * (m(1, 1) * m(2, 2) - m(1, 2) * m(2, 1)) -
                             m(0, 1) * (m(1, 0) * m(2, 2) - m(1, 2) * m(2, 0)) +
                             m(0, 2) * (m(1, 0) * m(2, 1) - m(1, 1) * m(2, 0));
  const double mean = (m(0, 0) + m(1, 1) + m(2, 2)) / 3;
  return determinant / (mean * mean * mean);
}

/// Root mean squares of the residuals beyond what the readings' own errors lead to expect (the fit's share taken into
/// account, as the residuals carry the derivatives of the fit).
Vector3<> misfit_of(const InstrumentMatrix& m, std::span<const PairedReading> pairs, const Sources& sources) {
  Vector3<> excess{};
  for (const PairedReading& pair : pairs) {
    const auto residual = weighted_residual(m.matrix, pair);
    for (std::size_t i = 0; i < 3; ++i)
      excess[i] += residual[i].value() * residual[i].value() - variance(residual[i], sources);
  }
  for (double& e : excess) e = std::sqrt(std::max(e, 0.0) / m.degrees_of_freedom);
  return excess;
}

/// Adds the sources of the matrix that follow from the misfit: each row has the covariance misfit^2 squares^-1.
Result<void> carry_misfit(InstrumentMatrix& m, const Matrix3<>& squares, Sources& sources) {
  const Matrix3<> covariance = inverse(squares);
  for (std::size_t i = 0; i < 3; ++i) {
    if (m.misfit[i] == 0) continue;
    std::vector<colour::Source> row;
    std::vector<double> correlation;
    for (std::size_t j = 0; j < 3; ++j) {
      row.push_back({.name = "misfit of the colorimeter's matrix",
                     .standard_uncertainty = m.misfit[i] * std::sqrt(covariance(j, j)),
                     .pool = m.pools[i]});
      for (std::size_t k = 0; k < 3; ++k)
        correlation.push_back(j == k ? 1 : covariance(j, k) / std::sqrt(covariance(j, j) * covariance(k, k)));
    }
    const auto first = sources.add_correlated(row, correlation);
    if (!first) return tl::unexpected(first.error());
    for (std::size_t j = 0; j < 3; ++j) m.matrix(i, j) += Uncertain(0, *first + static_cast<colour::SourceId>(j));
  }
  return {};
}

}  // namespace

Result<InstrumentMatrix> four_colour(std::span<const PairedReading, 4> pairs, const Sources& sources) {
  if (auto fine = usable(pairs, sources); !fine) return tl::unexpected(fine.error());
  std::array<Xy<Uncertain>, 4> colorimeter, reference;
  for (std::size_t i = 0; i < 4; ++i) {
    colorimeter[i] = colour::xy_from_xyz(pairs[i].colorimeter);
    reference[i] = colour::xy_from_xyz(pairs[i].reference);
  }
  if (auto fine = spans(colorimeter, "colorimeter"); !fine) return tl::unexpected(fine.error());
  if (auto fine = spans(reference, "reference"); !fine) return tl::unexpected(fine.error());
  InstrumentMatrix result{.method = MatrixMethod::four_colour,
                          .matrix = four_colour_matrix<Uncertain>(colorimeter, reference)};
  const Uncertain luminance = pairs[3].reference.Y / applied(result.matrix, pairs[3].colorimeter).Y;
  for (auto& row : result.matrix.row)
    for (Uncertain& x : row) x *= luminance;
  for (const PairedReading& pair : pairs) result.residuals.push_back(residual_of(result.matrix, pair));
  return result;
}

Result<InstrumentMatrix> least_squares(std::span<const PairedReading> pairs, Sources& sources) {
  if (pairs.size() < 3)
    return refuse(fmt::format("a matrix needs at least 3 pairs of readings, not {}", pairs.size()),
                  "Read red, green, blue and white with both instruments.");
  if (auto fine = usable(pairs, sources); !fine) return tl::unexpected(fine.error());
  const Normal normal = normal_of(pairs);
  const Matrix3<> squares = values_of(normal.squares);
  if (spread_of(squares) < kSmallestSpread)
    return refuse("the colours of the pairs lie too close together to tell the matrix",
                  "Read red, green and blue as well.");
  InstrumentMatrix result{.method = MatrixMethod::least_squares, .matrix = normal.products * inverse(normal.squares)};
  for (const PairedReading& pair : pairs) result.residuals.push_back(residual_of(result.matrix, pair));
  if (pairs.size() == 3) return result;
  result.degrees_of_freedom = static_cast<double>(pairs.size()) - 3;
  result.misfit = misfit_of(result, pairs, sources);
  for (colour::PoolId& pool : result.pools) pool = sources.add_pool(result.degrees_of_freedom);
  if (auto carried = carry_misfit(result, squares, sources); !carried) return tl::unexpected(carried.error());
  return result;
}

AbsoluteXyz<Uncertain> corrected(const InstrumentMatrix& matrix, const AbsoluteXyz<Uncertain>& reading,
                                 Sources& sources) {
  AbsoluteXyz<Uncertain> c = applied(matrix.matrix, reading);
  const double sum = std::fabs(sum_of(c));
  Uncertain* components[3] = {&c.X, &c.Y, &c.Z};
  for (std::size_t i = 0; i < 3; ++i)
    if (matrix.misfit[i] > 0)
      *components[i] += Uncertain(0, sources.add({.name = "colour that the matrix does not fit",
                                                  .standard_uncertainty = matrix.misfit[i] * sum,
                                                  .pool = matrix.pools[i]}));
  return c;
}

std::vector<std::string> warnings(const MatrixConditions& then, const MatrixConditions& now) {
  std::vector<std::string> said;
  const auto compare = [&](const char* what, const std::string& a, const std::string& b) {
    if (a != b) said.push_back(fmt::format("The matrix was made for the {} '{}', not for '{}'.", what, a, b));
  };
  compare("display", then.display, now.display);
  compare("mode", then.mode, now.mode);
  compare("instrument", then.instrument, now.instrument);
  if (const Seconds age = now.made - then.made; age > kMatrixAge)
    said.push_back(fmt::format("The matrix is {:.0f} days old.", age.s / 86400));
  return said;
}

Result<double> moved_light(const colour::Spectrum& then, const colour::Spectrum& now) {
  if (auto valid = validate(then); !valid) return tl::unexpected(valid.error());
  const auto same_grid =
      colour::interpolated(now, then.start_nm, then.step_nm, then.size(), colour::Interpolation::linear);
  if (!same_grid) return tl::unexpected(same_grid.error());
  const auto sum = [](const colour::Spectrum& s) {
    double total = 0;
    for (const double v : s.values) total += v;
    return total;
  };
  const double before = sum(then), after = sum(*same_grid);
  if (!(before > 0) || !(after > 0)) return refuse("a spectrum has no light", "Read the spectrum of a bright patch.");
  double difference = 0;
  for (std::size_t i = 0; i < then.values.size(); ++i)
    difference += std::fabs(then.values[i] / before - same_grid->values[i] / after);
  return difference / 2;
}

Result<PairCheck> check(const InstrumentMatrix& matrix, const PairedReading& pair, Sources& sources) {
  if (auto fine = has_light(pair); !fine) return tl::unexpected(fine.error());
  const auto c = corrected(matrix, pair.colorimeter, sources);
  const auto ours = colour::uv_prime_from_xyz(c), theirs = colour::uv_prime_from_xyz(pair.reference);
  PairCheck result{.residual = {.name = pair.name,
                                .du = ours.u - theirs.u,
                                .dv = ours.v - theirs.v,
                                .relative_luminance = c.Y / pair.reference.Y - 1.0}};
  const Uncertain &du = result.residual.du, &dv = result.residual.dv;
  const double uu = variance(du, sources), vv = variance(dv, sources), uv = covariance(du, dv, sources);
  const double determinant = uu * vv - uv * uv;
  const double a = du.value(), b = dv.value();
  const bool exact = !(determinant > 0);  // readings without any error agree exactly or do not
  result.distance =
      exact ? (a == 0 && b == 0 ? 0 : HUGE_VAL) : (vv * a * a - 2 * uv * a * b + uu * b * b) / determinant;
  constexpr double kChiSquared2At95 = 5.991464547107979;  // -2 ln 0.05
  result.holds = result.distance <= kChiSquared2At95;
  return result;
}

}  // namespace provenit::correct
