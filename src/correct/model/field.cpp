#include "field.h"

#include <Eigen/Cholesky>
#include <cmath>
#include <limits>

namespace provenit::correct::model {
namespace {

constexpr std::array<double, 4> kLengths{0.08, 0.14, 0.25, 0.45};
/// Amplitude and rest as shares of the fit's discrepancy.
constexpr std::array<double, 4> kAmplitudes{0.4, 0.8, 1.3, 2.2};
constexpr std::array<double, 3> kRests{0.25, 0.5, 0.9};
/// ln of the factor by which the field must explain the readings better.
constexpr double kWorthIt = 3;

constexpr double kReach = 3;  ///< lengths

/// 1 at 0; 0 from 1 on.
template <class T>
T wendland(T r) {
  const T rest = r < T(1) ? T(1) - r : T(0), cube = rest * rest * rest;
  return cube * cube * (T(35) * r * r + T(18) * r + T(3)) / T(3);
}

double squared(const Vector& a, const Vector& b) {
  double sum = 0;
  for (int k = 0; k < 3; ++k) sum += (a[k] - b[k]) * (a[k] - b[k]);
  return sum;
}

}  // namespace

double Field::covariance(const Vector& a, const Vector& b) const {
  return amplitude_ * amplitude_ * wendland(std::sqrt(squared(a, b)) / (kReach * length_));
}

Vector Field::at(const Vector& drive) const {
  const auto scale = static_cast<float>(1 / (kReach * length_));
  std::array<float, 3> d{};
  for (std::size_t c = 0; c < 3; ++c) d[c] = static_cast<float>(drive[c]);
  std::array<std::array<float, kLanes>, 3> sum{};
  for (const auto& block : blocks_) {
    std::array<float, kLanes> k{};
    for (int i = 0; i < kLanes; ++i) {
      const float r = d[0] - block.drive[0][i], g = d[1] - block.drive[1][i], b = d[2] - block.drive[2][i];
      k[i] = wendland(scale * std::sqrt(r * r + g * g + b * b));
    }
    for (std::size_t c = 0; c < 3; ++c)
      for (int i = 0; i < kLanes; ++i) sum[c][i] += k[i] * block.weight[c][i];
  }
  Vector out{};
  for (std::size_t c = 0; c < 3; ++c)
    for (int i = 0; i < kLanes; ++i) out[c] += sum[c][i];
  return out;
}

Field Field::from(const Fit& fit, std::span<const Point> points) {
  const auto n = static_cast<Eigen::Index>(points.size());
  std::vector<Vector> drives;
  Eigen::MatrixXd values(n, 3), noise(n, 3), distance(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& p = points[static_cast<std::size_t>(i)];
    const Deviation d = deviation(fit.physics, p);
    drives.push_back(fit.physics.drive(p.container));
    for (int k = 0; k < 3; ++k) {
      values(i, k) = d.itp[k];
      noise(i, k) = d.noise(k, k);
    }
  }
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j) distance(i, j) = squared(drives[i], drives[j]);

  // The parameters have followed the readings: what they leave is smaller than what a colour not read will show.
  const Eigen::MatrixXd as_if_unseen = values / std::sqrt(fit.freedom);
  const auto likelihood = [&](double amplitude, double length, double rest, Eigen::MatrixXd* weights) {
    const Eigen::MatrixXd kernel = amplitude * amplitude * distance.unaryExpr([&](double d) {
      return wendland(std::sqrt(d) / (kReach * length));
    });
    double sum = 0;
    for (int k = 0; k < 3; ++k) {
      Eigen::MatrixXd c = kernel;
      c.diagonal() += (noise.col(k).array() + rest * rest).matrix();
      const Eigen::LLT<Eigen::MatrixXd> root(c);
      sum += -0.5 * as_if_unseen.col(k).dot(root.solve(as_if_unseen.col(k))) -
             root.matrixLLT().diagonal().array().log().sum();
      if (weights) weights->col(k) = root.solve(values.col(k));
    }
    return sum;
  };
  Field field;
  field.rest_ = fit.discrepancy;
  double best = likelihood(0, 1, fit.discrepancy, nullptr) + kWorthIt;
  for (const double length : kLengths)
    for (const double a : kAmplitudes)
      for (const double r : kRests) {
        const double here = likelihood(a * fit.discrepancy, length, r * fit.discrepancy, nullptr);
        if (here <= best) continue;
        best = here;
        field.amplitude_ = a * fit.discrepancy;
        field.length_ = length;
        field.rest_ = r * fit.discrepancy;
      }
  if (field.empty()) return field;
  Eigen::MatrixXd weights(n, 3);
  (void)likelihood(field.amplitude_, field.length_, field.rest_, &weights);
  weights *= field.amplitude_ * field.amplitude_;
  field.blocks_.resize((points.size() + kLanes - 1) / kLanes);
  for (Eigen::Index i = 0; i < n; ++i) {
    Block& block = field.blocks_[static_cast<std::size_t>(i / kLanes)];
    for (std::size_t c = 0; c < 3; ++c) {
      block.drive[c][i % kLanes] = static_cast<float>(drives[static_cast<std::size_t>(i)][c]);
      block.weight[c][i % kLanes] = static_cast<float>(weights(i, static_cast<Eigen::Index>(c)));
    }
  }
  return field;
}

}  // namespace provenit::correct::model
