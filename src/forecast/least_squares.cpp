#include "least_squares.h"

#include <Eigen/Dense>
#include <cmath>

namespace provenit::forecast {
namespace {

using Vector = Eigen::VectorXd;
using Matrix = Eigen::MatrixXd;

Vector vector_of(const std::vector<double>& v) {
  return Eigen::Map<const Vector>(v.data(), static_cast<Eigen::Index>(v.size()));
}

Matrix slopes(const Residuals& residuals, const std::vector<double>& at, const Vector& here) {
  constexpr double step = 1e-4;
  Matrix out(here.size(), static_cast<Eigen::Index>(at.size()));
  auto moved = at;
  for (std::size_t i = 0; i < at.size(); ++i) {
    moved[i] = at[i] + step;
    out.col(static_cast<Eigen::Index>(i)) = (vector_of(residuals(moved)) - here) / step;
    moved[i] = at[i];
  }
  return out;
}

}  // namespace

Minimum least_squares(const Residuals& residuals, std::vector<double> start) {
  constexpr int most_rounds = 60;
  constexpr double enough = 1e-7;
  Minimum out{.at = std::move(start), .deviation = {}, .cost = 0};
  Vector here = vector_of(residuals(out.at));
  out.cost = here.squaredNorm();
  double damping = 1e-3;
  Matrix slope = slopes(residuals, out.at, here);
  for (int round = 0; round < most_rounds; ++round) {
    Matrix normal = slope.transpose() * slope;
    normal.diagonal() *= 1 + damping;
    const Vector move = normal.ldlt().solve(-slope.transpose() * here);
    auto tried = out.at;
    for (std::size_t i = 0; i < tried.size(); ++i) tried[i] += move[static_cast<Eigen::Index>(i)];
    const Vector there = vector_of(residuals(tried));
    const double cost = there.squaredNorm();
    if (std::isfinite(cost) && cost < out.cost) {
      const bool done = out.cost - cost < enough * out.cost;
      out.at = std::move(tried);
      here = there;
      out.cost = cost;
      damping = std::max(damping / 5, 1e-9);
      slope = slopes(residuals, out.at, here);
      if (done) break;
    } else {
      damping *= 4;
      if (damping > 1e8) break;
    }
  }
  const Matrix covariance = (slope.transpose() * slope).ldlt().solve(Matrix::Identity(slope.cols(), slope.cols()));
  for (Eigen::Index i = 0; i < slope.cols(); ++i) out.deviation.push_back(std::sqrt(std::max(covariance(i, i), 0.0)));
  return out;
}

}  // namespace provenit::forecast
