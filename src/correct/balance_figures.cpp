// How far a level is from its target, as read and with its interval.
#include <algorithm>
#include <array>
#include <cmath>

#include "balance_internal.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/spaces.h"

namespace provenit::correct {
namespace balance {
namespace {

using colour::AbsoluteXyz;
using colour::Sources;
using colour::Uncertain;

constexpr double kDark = 0.1;  ///< of the reference's cube root: less is as good as no light, where luminance is free
constexpr double kLightIsClear = 3;  ///< standard deviations of the noise that luminance must stand above

AbsoluteXyz<> target_of(const BalanceLevel& level, double luminance_cdm2) {
  const double scale = luminance_cdm2 / level.white.y;
  return {.X = scale * level.white.x, .Y = luminance_cdm2, .Z = scale * (1 - level.white.x - level.white.y)};
}

template <class T>
bool has_light(const AbsoluteXyz<T>& c) {
  return c.Y > 0.0 && c.X + 15.0 * c.Y + 3.0 * c.Z > 0.0;
}

/// Largest standard uncertainty of the error vector in any direction, times the t-factor there.
double half_width(std::span<const Uncertain> d, const Sources& sources) {
  const auto n = static_cast<Eigen::Index>(d.size());
  Eigen::MatrixXd c(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j <= i; ++j) c(i, j) = c(j, i) = covariance(d[i], d[j], sources);
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> axes(c);
  Uncertain along;
  for (Eigen::Index i = 0; i < n; ++i) along += d[i] * axes.eigenvectors()(i, n - 1);
  const auto result = linear_result(along, sources);
  return result.standard_uncertainty > 0 ? result.factor * result.standard_uncertainty : 0;
}

BalanceFigure figure_of(std::span<const Uncertain> d, const Sources& sources,
                        std::span<const colour::SourceId> common) {
  BalanceFigure out;
  std::vector<Uncertain> noise;
  for (const auto& component : d) {
    out.value = std::hypot(out.value, component.value());
    noise.push_back(noise_only(component, common));
  }
  const auto around = [&](double half) {
    return colour::Interval{.lower = std::max(0.0, out.value - half), .upper = out.value + half};
  };
  out.interval = around(half_width(d, sources));
  out.by_noise = around(half_width(noise, sources));
  return out;
}

void count(LevelFigures& out, const BalanceFigure& figure, double tolerance) {
  const auto larger = [&](double& ratio, double value) { ratio = std::max(ratio, value / tolerance); };
  larger(out.ratio, figure.value);
  larger(out.upper_ratio, figure.interval.upper);
  larger(out.lower_ratio, figure.interval.lower);
  larger(out.upper_ratio_by_noise, figure.by_noise.upper);
}

}  // namespace

double Errors::ratio() const {
  return together ? e.norm() : std::max(e.head<2>().norm(), std::fabs(e[2]));
}

Errors errors_of(const BalanceTask& task, std::size_t level, const AbsoluteXyz<>& light) {
  const BalanceLevel& l = task.levels[level];
  const BalanceTolerance& t = task.tolerance;
  Errors out{.together = t.itp.has_value()};
  if (!has_light(light)) {
    out.e[0] = kNoLight;
    return out;
  }
  if (t.itp) {
    const auto d = colour::itp_difference(target_of(l, *l.luminance_cdm2), light);
    out.e = 720 / *t.itp * Eigen::Vector3d(d.di, d.dt, d.dp);
    return out;
  }
  const auto wanted = colour::uv_prime_from_xyz(target_of(l, 1)), got = colour::uv_prime_from_xyz(light);
  out.e = {(got.u - wanted.u) / t.uv, (got.v - wanted.v) / t.uv, 0};
  if (l.luminance_cdm2) out.e[2] = (light.Y / *l.luminance_cdm2 - 1) / t.luminance_relative;
  return out;
}

Coordinates::Coordinates(const BalanceTask& task, std::span<const BalanceVisit> visits) {
  for (std::size_t l = 0; l < task.levels.size(); ++l) {
    double scale = task.levels[l].luminance_cdm2.value_or(0);
    if (!(scale > 0))
      for (const auto& visit : visits)
        if (visit.levels[l].readings > 0) scale = std::max(scale, visit.levels[l].light.Y.value());
    const auto t = target_of(task.levels[l], scale > 0 ? scale : 1);
    reference_.emplace_back(t.X, t.Y, t.Z);
  }
}

Eigen::Vector3d Coordinates::z(std::size_t level, const AbsoluteXyz<>& light) const {
  const Eigen::Vector3d relative = Eigen::Vector3d(light.X, light.Y, light.Z).cwiseQuotient(reference_[level]);
  return 3 * (relative.unaryExpr([](double r) { return std::cbrt(r); }).array() - 1).matrix();
}

AbsoluteXyz<> Coordinates::light(std::size_t level, const Eigen::Vector3d& z) const {
  // The line goes on where there is no light; the colour does not.
  const Eigen::Vector3d root = (1 + z.array() / 3).max(0.02).matrix();
  const Eigen::Vector3d xyz = root.array().cube().matrix().cwiseProduct(reference_[level]);
  return {.X = xyz[0], .Y = xyz[1], .Z = xyz[2]};
}

Errors errors_at(const BalanceTask& task, const Coordinates& coordinates, std::size_t level, const Eigen::Vector3d& z) {
  Errors out = errors_of(task, level, coordinates.light(level, z));
  const double root = 1 + z[1] / 3;
  if (!task.levels[level].luminance_cdm2 && root < kDark) out.e[2] = kNoLight * (kDark - root);
  return out;
}

Linear linear(const BalanceTask& task, const Coordinates& coordinates, std::size_t level, const Eigen::Vector3d& z) {
  constexpr double h = 1e-4;
  const auto at = [&](const Eigen::Vector3d& where) { return errors_at(task, coordinates, level, where).e; };
  Linear out{.e = at(z), .slope = {}};
  for (int k = 0; k < 3; ++k) {
    const Eigen::Vector3d step = h * Eigen::Vector3d::Unit(k);
    out.slope.col(k) = (at(z + step) - at(z - step)) / (2 * h);
  }
  return out;
}

Uncertain noise_only(const Uncertain& value, std::span<const colour::SourceId> common) {
  Uncertain out(value.value());
  for (const auto& term : value.terms())
    if (std::ranges::find(common, term.source) == common.end()) out += Uncertain(0, term.source, term.derivative);
  return out;
}

}  // namespace balance

LevelFigures level_figures(const BalanceTask& task, std::size_t level,
                           const colour::AbsoluteXyz<colour::Uncertain>& light, const colour::Sources& sources,
                           std::span<const colour::SourceId> common) {
  const BalanceLevel& l = task.levels[level];
  LevelFigures out;
  const double noise = standard_uncertainty(balance::noise_only(light.Y, common), sources);
  if (!balance::has_light(light) || light.Y.value() < balance::kLightIsClear * noise) return out;
  out.has_light = true;
  out.ratio = out.upper_ratio = out.lower_ratio = out.upper_ratio_by_noise = 0;
  const auto wanted = colour::uv_prime_from_xyz(balance::target_of(l, 1));
  const auto got = colour::uv_prime_from_xyz(light);
  out.uv = balance::figure_of(std::array{got.u - wanted.u, got.v - wanted.v}, sources, common);
  if (!task.tolerance.itp) balance::count(out, out.uv, task.tolerance.uv);
  if (!l.luminance_cdm2) return out;
  out.luminance = balance::figure_of(std::array{light.Y / *l.luminance_cdm2 - 1.0}, sources, common);
  if (!task.tolerance.itp) {
    balance::count(out, *out.luminance, task.tolerance.luminance_relative);
    return out;
  }
  const auto d = colour::itp_difference(balance::target_of(l, *l.luminance_cdm2), light);
  out.itp = balance::figure_of(std::array{720.0 * d.di, 720.0 * d.dt, 720.0 * d.dp}, sources, common);
  balance::count(out, *out.itp, *task.tolerance.itp);
  return out;
}

}  // namespace provenit::correct
