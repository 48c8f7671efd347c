// What the controls do, from the readings: Bayesian linear regression, weighted around one setting.
#include <algorithm>
#include <cmath>

#include "balance_internal.h"

namespace provenit::correct::balance {
namespace {

// Common practice, no source, each of the four; the tests hold them against 100 displays.
constexpr double kPriorSlope = 6;         ///< standard deviation of z over the whole range of a control
constexpr double kRestlessness = 0.0005;  ///< of a display between two readings, relative
constexpr double kBend = 0.3;             ///< how much of a slope may change over the whole range of a control
constexpr double kStepError = 0.1;        ///< of a control's step, of it: steps are not all alike
constexpr double kPriorLevel = 10;        ///< standard deviation of z at the centre before anything was read

/// One visit at its own place, or what a probe changed from the visit it set out from: that says what the control does,
/// also when both lie far from the centre.
struct Row {
  double level = 1;      ///< 0: a change
  Eigen::VectorXd t;     ///< settings as shares, or their change
  Eigen::VectorXd from;  ///< of a change: its middle
  Eigen::Vector3d z;
  double noise = 0;  ///< variance of each component of z
};

/// Mean over the components of z, from each one's own noise.
double noise_of(const Coordinates& coordinates, std::size_t level, const BalanceVisit::Level& read,
                const colour::Sources& sources, std::span<const colour::SourceId> common) {
  const auto u = [&](const colour::Uncertain& c) { return standard_uncertainty(noise_only(c, common), sources); };
  const auto& c = read.light;
  const colour::AbsoluteXyz<> v{.X = c.X.value(), .Y = c.Y.value(), .Z = c.Z.value()};
  const double x = u(c.X), y = u(c.Y), z = u(c.Z);
  const Eigen::Vector3d up = coordinates.z(level, {.X = v.X + x, .Y = v.Y + y, .Z = v.Z + z});
  const Eigen::Vector3d down = coordinates.z(level, {.X = v.X - x, .Y = v.Y - y, .Z = v.Z - z});
  return ((up - down) / 2).squaredNorm() / 3 + kRestlessness * kRestlessness;
}

/// Largest change of a component of z that the slopes b (controls x 3) make on the way t, every control counted
/// upwards.
double moved(const Eigen::VectorXd& t, const Eigen::MatrixXd& b) {
  return (b.cwiseAbs().transpose() * t.cwiseAbs()).maxCoeff();
}

/// How far a straight line may be off at a row, as a variance, for slopes b.
double bend_of(const BalanceTask& task, const Row& row, const Eigen::MatrixXd& b) {
  double variance = 0;
  for (Eigen::Index j = 0; j < row.t.size(); ++j) {
    if (row.t[j] == 0) continue;
    const Control& control = task.controls[static_cast<std::size_t>(j)];
    const double size = b.row(j).norm();
    if (row.level > 0) variance += std::pow(kBend * size * row.t[j] * row.t[j], 2);
    variance += std::pow(kStepError * size * control.step / (control.highest - control.lowest), 2);
  }
  if (row.level > 0) return variance + std::pow(kBend * std::pow(moved(row.t, b), 2), 2);
  const double far = row.from.squaredNorm() + std::pow(moved(row.from, b), 2);
  return variance + std::pow(kBend * moved(row.t, b), 2) * far;
}

Response fitted(const std::vector<Row>& rows, const std::vector<double>& variance, Eigen::Index controls) {
  Eigen::MatrixXd information = Eigen::MatrixXd::Identity(1 + controls, 1 + controls) / (kPriorSlope * kPriorSlope);
  information(0, 0) = 1 / (kPriorLevel * kPriorLevel);
  Eigen::MatrixXd right = Eigen::MatrixXd::Zero(1 + controls, 3);
  Eigen::VectorXd phi(1 + controls);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    phi << rows[i].level, rows[i].t;
    information += phi * phi.transpose() / variance[i];
    right += phi * rows[i].z.transpose() / variance[i];
  }
  const Eigen::LDLT<Eigen::MatrixXd> solver(information);
  return {.mean = solver.solve(right),
          .covariance = solver.solve(Eigen::MatrixXd::Identity(1 + controls, 1 + controls))};
}

Response response(const BalanceTask& task, const std::vector<Row>& rows) {
  const auto controls = static_cast<Eigen::Index>(task.controls.size());
  std::vector<double> variance;
  variance.reserve(rows.size());
  for (const auto& row : rows) variance.push_back(row.noise);
  Response out = fitted(rows, variance, controls);
  // How far off a straight line may be depends on the slopes, which depend on it.
  for (int pass = 0; pass < 3; ++pass) {
    for (std::size_t i = 0; i < rows.size(); ++i)
      variance[i] = rows[i].noise + bend_of(task, rows[i], out.mean.bottomRows(controls));
    out = fitted(rows, variance, controls);
  }
  // Readings that lie further from the line than all of this lets expect widen what is said.
  double misfit = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Eigen::Vector3d said =
        rows[i].level * out.mean.row(0).transpose() + out.mean.bottomRows(controls).transpose() * rows[i].t;
    misfit += (rows[i].z - said).squaredNorm() / 3 / variance[i];
  }
  const auto spare = static_cast<double>(rows.size()) - static_cast<double>(1 + controls);
  if (spare > 0) out.covariance *= std::max(1.0, misfit / spare);
  return out;
}

Row row_of(const BalanceTask& task, const BalanceVisit& visit, std::size_t level, const Coordinates& coordinates,
           const ControlSettings& centre, const colour::Sources& sources, std::span<const colour::SourceId> common) {
  const auto& read = visit.levels[level];
  const colour::AbsoluteXyz<> light{.X = read.light.X.value(), .Y = read.light.Y.value(), .Z = read.light.Z.value()};
  return {.t = shares(task, visit.settings, centre),
          .from = {},
          .z = coordinates.z(level, light),
          .noise = noise_of(coordinates, level, read, sources, common)};
}

}  // namespace

const BalanceVisit* base_of(const BalanceVisit& probe, std::span<const BalanceVisit> visits) {
  for (const auto& visit : visits) {
    if (&visit == &probe) break;
    std::size_t other = 0;
    for (std::size_t j = 0; j < probe.settings.size(); ++j) other += visit.settings[j] != probe.settings[j] ? 1 : 0;
    if (other == 1 && visit.move != BalanceMove::probe) return &visit;
  }
  return nullptr;
}

Eigen::Vector3d Response::z(const Eigen::VectorXd& t) const {
  return mean.row(0).transpose() + mean.bottomRows(t.size()).transpose() * t;
}

double Response::variance(const Eigen::VectorXd& t) const {
  Eigen::VectorXd phi(1 + t.size());
  phi << 1, t;
  return phi.dot(covariance * phi);
}

Eigen::VectorXd shares(const BalanceTask& task, const ControlSettings& settings, const ControlSettings& centre) {
  Eigen::VectorXd t(static_cast<Eigen::Index>(settings.size()));
  for (std::size_t j = 0; j < settings.size(); ++j)
    t[static_cast<Eigen::Index>(j)] = (settings[j] - centre[j]) / (task.controls[j].highest - task.controls[j].lowest);
  return t;
}

std::vector<Response> responses(const BalanceTask& task, std::span<const BalanceVisit> visits, const Lit& lit,
                                const Coordinates& coordinates, std::size_t centre, const colour::Sources& sources,
                                std::span<const colour::SourceId> common) {
  const ControlSettings& from = visits[centre].settings;
  std::vector<Response> out;
  for (std::size_t l = 0; l < task.levels.size(); ++l) {
    const auto counts = [&](const BalanceVisit& v) {
      return v.levels[l].readings > 0 && (!lit[centre][l] || lit[static_cast<std::size_t>(&v - visits.data())][l]);
    };
    std::vector<Row> rows;
    for (const auto& visit : visits) {
      if (!counts(visit)) continue;
      Row row = row_of(task, visit, l, coordinates, from, sources, common);
      const auto* base = visit.move == BalanceMove::probe ? base_of(visit, visits) : nullptr;
      if (base != nullptr && counts(*base)) {
        const Row before = row_of(task, *base, l, coordinates, from, sources, common);
        row.level = 0;
        row.from = (row.t + before.t) / 2;
        row.t -= before.t;
        row.z -= before.z;
        row.noise += before.noise;
      }
      rows.push_back(std::move(row));
    }
    out.push_back(response(task, rows));
  }
  return out;
}

double Model::score(const ControlSettings& settings, bool expected) const {
  const Eigen::VectorXd t = shares(task, settings, centre);
  double worst = 0;
  for (std::size_t l = 0; l < levels.size(); ++l) {
    const Eigen::Vector3d z = levels[l].z(t);
    const Errors errors = errors_at(task, coordinates, l, z);
    double ratio = errors.ratio();
    if (expected) {
      const auto slope = linear(task, coordinates, l, z).slope;
      const double variance = levels[l].variance(t);
      // Of the errors that count together.
      const double own = errors.together ? slope.squaredNorm()
                                         : std::max(slope.topRows<2>().squaredNorm(), slope.row(2).squaredNorm());
      ratio = std::sqrt(ratio * ratio + variance * own);
    }
    worst = std::max(worst, ratio);
  }
  return worst;
}

Strength strength_at(const Model& model, std::size_t control, std::size_t level, double deviations) {
  const auto j = static_cast<Eigen::Index>(control) + 1;
  const Response& r = model.levels[level];
  const double deviation = std::sqrt(r.covariance(j, j));
  const Eigen::Vector3d b = r.mean.row(j).transpose();
  const auto slope = linear(model.task, model.coordinates, level, r.mean.row(0).transpose()).slope;
  return {.tolerances = (slope * b).norm() + deviations * deviation * slope.norm(),
          .deviations = b.cwiseAbs().maxCoeff() / deviation};
}

Strength strength_of(const Model& model, std::size_t control, double deviations) {
  Strength out;
  for (std::size_t l = 0; l < model.levels.size(); ++l) {
    const Strength at = strength_at(model, control, l, deviations);
    out = {.tolerances = std::max(out.tolerances, at.tolerances),
           .deviations = std::max(out.deviations, at.deviations)};
  }
  return out;
}

std::vector<ControlEffect> effects_of(const Model& model) {
  std::vector<ControlEffect> out;
  const BalanceTask& task = model.task;
  for (std::size_t j = 0; j < task.controls.size(); ++j) {
    ControlEffect effect{.acts = strength_of(model, j, 0).deviations > 3, .levels = {}};
    const double step = task.controls[j].step / (task.controls[j].highest - task.controls[j].lowest);
    for (std::size_t l = 0; l < model.levels.size(); ++l) {
      const Eigen::Vector3d z = model.levels[l].mean.row(0).transpose();
      const Eigen::Vector3d moved = z + step * model.levels[l].mean.row(static_cast<Eigen::Index>(j) + 1).transpose();
      BalanceTask plain = task;  // errors in u', v' and relative luminance, whatever the tolerance is in
      plain.tolerance = {.uv = 1, .luminance_relative = 1, .itp = {}};
      plain.levels[l].luminance_cdm2 = model.coordinates.light(l, z).Y;
      const Eigen::Vector3d d = errors_of(plain, l, model.coordinates.light(l, moved)).e -
                                errors_of(plain, l, model.coordinates.light(l, z)).e;
      effect.levels.push_back({.du = d[0], .dv = d[1], .luminance_relative = d[2]});
    }
    out.push_back(std::move(effect));
  }
  return out;
}

}  // namespace provenit::correct::balance
