#include "physics.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/ictcp.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::correct::model {
namespace {

/// Cone signals are held at this, cd/m2: below it no reading says anything, and the slope of PQ grows without end.
constexpr double kLeastCone = 1e-4;
constexpr colour::Matrix3<> kRgbFromXyz = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
constexpr colour::Matrix3<> kLmsFromXyz = colour::detail::lms_from_rgb * kRgbFromXyz;
constexpr colour::Matrix3<> kItpFromPq = colour::diagonal(Vector{1, 0.5, 1}) * colour::detail::ictcp_from_lms_pq;

constexpr int kSampled = 385;

}  // namespace

double pq_of(double cdm2) {
  return cdm2 > 0 ? colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value : 0;
}
double light_of(double pq) {
  return pq > 0 ? colour::pq_eotf(colour::Signal<>{.value = pq}).cdm2 : 0;
}

double pq_slope(double cdm2) {
  if (!(cdm2 > 0)) return 0;
  namespace pq = colour::pq;
  const double y = std::pow(cdm2 / pq::peak_cdm2, pq::m1), below = 1 + pq::c3 * y, above = pq::c1 + pq::c2 * y;
  return pq::m2 * std::pow(above / below, pq::m2) * (pq::c2 * below - pq::c3 * above) / (above * below) * pq::m1 * y /
         cdm2;
}

Vector itp_of(const Vector& xyz) {
  Vector lms = kLmsFromXyz * xyz;
  for (double& x : lms) x = pq_of(std::max(x, kLeastCone));
  return kItpFromPq * lms;
}

colour::Matrix3<> itp_slope(const Vector& xyz) {
  Vector lms = kLmsFromXyz * xyz;
  for (double& x : lms) x = pq_slope(std::max(x, kLeastCone));
  return kItpFromPq * colour::diagonal(lms) * kLmsFromXyz;
}

int parameter_count(const Start& start) {
  return Layout::kCurves + 3 * (start.knots.size() - 1);
}

std::vector<double> prior_mean(const Start& start) {
  std::vector<double> mean(parameter_count(start), 0.0);
  std::size_t at = 0;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      if (i != j) mean[Layout::kMixing + at++] = start.mixing(i, j);
  for (int k = 0; k < 3; ++k) mean[Layout::kBlack + k] = start.black[k] / Layout::kBlackScale;
  mean[Layout::kLeakagePower] = 0.8;
  const auto& g = start.knots.greville();
  const int steps = start.knots.size() - 1;
  for (int c = 0; c < 3; ++c)
    for (int i = 0; i < steps; ++i) mean[Layout::kCurves + c * steps + i] = g[i + 1] - g[i];
  return mean;
}

Physics::Physics(const Start& start, std::vector<double> parameters)
    : start_(start), parameters_(std::move(parameters)), pq_of_top_(pq_of(start.top_cdm2)) {
  const double* p = parameters_.data();
  std::size_t at = 0;
  for (int i = 0; i < 3; ++i) {
    double others = 0;
    for (int j = 0; j < 3; ++j) {
      if (i == j) continue;
      mixing_(i, j) = p[Layout::kMixing + at];
      interaction_(i, j) = p[Layout::kInteraction + at];
      others += mixing_(i, j);
      ++at;
    }
    mixing_(i, i) = 1 - others;
  }
  unmixing_ = inverse(mixing_);
  for (int k = 0; k < 3; ++k) {
    black_[k] = p[Layout::kBlack + k] * Layout::kBlackScale;
    leakage_[k] = p[Layout::kLeakage + k] / 1000;
  }
  const int n = start_.knots.size();
  curves_.resize(3 * static_cast<std::size_t>(n));
  for (int c = 0; c < 3; ++c) {
    double sum = 0;
    double* out = curves_.data() + static_cast<std::ptrdiff_t>(c) * n;
    out[0] = 0;
    for (int i = 1; i < n; ++i) out[i] = sum += p[Layout::kCurves + c * (n - 1) + i - 1];
    for (int i = 0; i < kSampled; ++i)
      sampled_[c].push_back(start_.knots.value(out, start_.knots.top() * i / (kSampled - 1)));
  }
}

Vector Physics::drive(const Vector& container_light) const {
  Vector d = asked(container_light);
  for (double& x : d) x = std::min(pq_of(x), start_.knots.top());
  return d;
}

Vector Physics::container_light(const Vector& drive) const {
  return unmixing_ * Vector{light_of(drive[0]), light_of(drive[1]), light_of(drive[2])};
}

Vector Physics::colour(int channel, double f) const {
  const double* p = parameters_.data();
  const bool moves = p[Layout::kMoving + 2 * channel] != 0 || p[Layout::kMoving + 2 * channel + 1] != 0;
  const double less = moves ? 1 - std::min(pq_of(f) / pq_of_top_, 1.0) : 0;
  const double x =
      start_.colour[channel].x + p[Layout::kChromaticity + 2 * channel] + less * p[Layout::kMoving + 2 * channel];
  const double y = start_.colour[channel].y + p[Layout::kChromaticity + 2 * channel + 1] +
                   less * p[Layout::kMoving + 2 * channel + 1];
  const double scale = start_.luminance[channel] / y;
  return {x * scale, start_.luminance[channel], (1 - x - y) * scale};
}

Vector Physics::xyz(const Vector& drive, const Vector& state) const {
  const double most = std::max({drive[0], drive[1], drive[2]});
  Vector f{};
  for (int c = 0; c < 3; ++c) f[c] = light_of(lit(c, drive[c], most));
  const Vector leaked = leakage(std::max({f[0], f[1], f[2]}));
  Vector sum = black_;
  for (int k = 0; k < 3; ++k) sum[k] += leaked[k];
  for (int c = 0; c < 3; ++c) {
    double together = 1;
    for (int j = 0; j < 3; ++j) together += interaction_(c, j) * f[j] / start_.top_cdm2;
    const Vector q = colour(c, f[c]);
    for (int k = 0; k < 3; ++k) sum[k] += state[c] * f[c] * together * q[k];
  }
  return sum;
}

Vector Physics::leakage(double brightest) const {
  if (brightest <= 0 || (leakage_[0] == 0 && leakage_[1] == 0 && leakage_[2] == 0)) return {};
  const double top = start_.top_cdm2;
  const double size = top * std::pow(brightest / top, parameters_[Layout::kLeakagePower]);
  return {leakage_[0] * size, leakage_[1] * size, leakage_[2] * size};
}

double Physics::lit(int channel, double drive, double brightest) const {
  const double shift = dimming() * (brightest - drive), at = drive - shift;
  return at <= 0 ? drive : start_.knots.value(curve(channel), at) + shift;
}

double Physics::inverse_curve(int channel, double y) const {
  const auto& table = sampled_[channel];
  const double step = start_.knots.top() / (kSampled - 1);
  const auto above = std::ranges::lower_bound(table, y);
  if (above == table.begin()) return 0;
  if (above == table.end())
    return step * static_cast<double>(std::ranges::lower_bound(table, table.back()) - table.begin());
  const auto i = static_cast<int>(above - table.begin()) - 1;
  double low = step * i, high = step * (i + 1), y_low = table[i], y_high = table[i + 1];
  // Within one step the curve is nearly straight: false position three times is exact to far below a code.
  double x = low;
  for (int round = 0; round < 3; ++round) {
    x = low + (high - low) * (y - y_low) / (y_high - y_low);
    if (round == 2) break;
    const double v = start_.knots.value(curve(channel), x);
    if (v < y) {
      low = x;
      y_low = v;
    } else {
      high = x;
      y_high = v;
    }
    if (!(y_high > y_low)) break;
  }
  return x;
}

Vector Physics::drives_of(const Vector& f) const {
  Vector y{}, drive{};
  for (int c = 0; c < 3; ++c) drive[c] = inverse_curve(c, y[c] = pq_of(f[c]));
  if (dimming() == 0) return drive;
  // The brightest is where its own curve has it; the others follow it.
  constexpr int kRounds = 6;
  const double most = std::max({drive[0], drive[1], drive[2]});
  for (int round = 0; round < kRounds; ++round)
    for (int c = 0; c < 3; ++c) {
      const double shift = dimming() * std::max(most - drive[c], 0.0);
      drive[c] = y[c] <= shift ? y[c] : std::min(inverse_curve(c, y[c] - shift) + shift, most);
    }
  return drive;
}

Vector Physics::channels_for(const Vector& xyz, Vector f) const {
  constexpr int kSteps = 3;  // those who ask go on from what is left
  double brightest = std::max({f[0], f[1], f[2]});
  for (int step = 0; step < kSteps; ++step) {
    colour::Matrix3<> q;
    for (int c = 0; c < 3; ++c) {
      const Vector column = colour(c, f[c]);
      for (int k = 0; k < 3; ++k) q(k, c) = column[k];
    }
    const Vector leaked = leakage(brightest);
    Vector rest{};
    for (int k = 0; k < 3; ++k) rest[k] = xyz[k] - black_[k] - leaked[k];
    const Vector g = inverse(q) * rest;
    Vector next{};
    for (int c = 0; c < 3; ++c) {
      double together = 1;
      for (int j = 0; j < 3; ++j) together += interaction_(c, j) * f[j] / start_.top_cdm2;
      next[c] = std::clamp(g[c] / together, 0.0, 2 * start_.top_cdm2);
    }
    double moved = 0;
    for (int c = 0; c < 3; ++c) moved = std::max(moved, std::abs(next[c] - f[c]));
    f = next;
    brightest = std::max({f[0], f[1], f[2]});
    if (moved < 1e-6 * start_.top_cdm2) break;
  }
  return f;
}

}  // namespace provenit::correct::model
