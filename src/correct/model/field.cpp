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

double squared(const Vector& a, const Vector& b) {
  double sum = 0;
  for (int k = 0; k < 3; ++k) sum += (a[k] - b[k]) * (a[k] - b[k]);
  return sum;
}

}  // namespace

double Field::covariance(const Vector& a, const Vector& b) const {
  return amplitude_ * amplitude_ * std::exp(-squared(a, b) / (2 * length_ * length_));
}

Vector Field::at(const Vector& drive) const {
  const auto scale = static_cast<float>(-1 / (2 * length_ * length_));
  const std::array<float, 3> d{static_cast<float>(drive[0]), static_cast<float>(drive[1]),
                               static_cast<float>(drive[2])};
  std::array<float, 3> sum{};
  for (std::size_t i = 0; i < drives_.size(); ++i) {
    const auto& p = drives_[i];
    const float r = d[0] - p[0], g = d[1] - p[1], b = d[2] - p[2];
    const float k = std::exp(scale * (r * r + g * g + b * b));
    for (std::size_t c = 0; c < 3; ++c) sum[c] += k * weights_[i][c];
  }
  return {sum[0], sum[1], sum[2]};
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

  const auto likelihood = [&](double amplitude, double length, double rest, Eigen::MatrixXd* weights) {
    const Eigen::MatrixXd kernel =
        amplitude * amplitude * (-distance.array() / (2 * length * length)).exp().matrix();
    double sum = 0;
    for (int k = 0; k < 3; ++k) {
      Eigen::MatrixXd c = kernel;
      c.diagonal() += (noise.col(k).array() + rest * rest).matrix();
      const Eigen::LLT<Eigen::MatrixXd> root(c);
      const Eigen::VectorXd w = root.solve(values.col(k));
      sum += -0.5 * values.col(k).dot(w) - root.matrixLLT().diagonal().array().log().sum();
      if (weights) weights->col(k) = w;
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
  for (Eigen::Index i = 0; i < n; ++i) {
    field.drives_.push_back({static_cast<float>(drives[i][0]), static_cast<float>(drives[i][1]),
                             static_cast<float>(drives[i][2])});
    field.weights_.push_back({static_cast<float>(weights(i, 0)), static_cast<float>(weights(i, 1)),
                              static_cast<float>(weights(i, 2))});
  }
  return field;
}

}  // namespace provenit::correct::model
