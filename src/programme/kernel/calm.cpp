#include "kernel/calm.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace provenit::programme::kernel {
float LocalFit::operator()(float u, bool squared) const {
  const float t = u - center;
  float v = coefficient.back();
  for (std::size_t j = coefficient.size() - 1; j-- > 0;) v = std::fma(v, t, coefficient[j]);
  return squared ? v * v : v;
}

LocalFits::LocalFits(const std::function<double(double)>& light, double largest, const EvenFit& even)
    : highest_(even.high) {
  const auto exact = [&](double u) { return light(std::min((u - even.offset) / even.slope, largest)); };
  const auto root = [&](double u) { return even.squared ? std::sqrt(exact(u)) : exact(u); };
  const auto count = static_cast<int>(std::floor((highest_ - kFirst) * LocalFit::kPerUnit)) + 1;
  for (int n = 0; n < count; ++n) {
    LocalFit fit{.center = static_cast<float>(kFirst + n / LocalFit::kPerUnit)};
    const double low = std::max(-LocalFit::kReach, kFirst - fit.center);
    const double high = std::min(LocalFit::kReach, highest_ - fit.center);
    const auto c = fit_powers<LocalFit::kCoefficients>([&](double t) { return root(fit.center + t); }, low, high);
    std::ranges::transform(c, fit.coefficient.begin(), [](double v) { return static_cast<float>(v); });
    double error = 0;
    constexpr int kPoints = 64;
    for (int i = 0; i <= kPoints; ++i) {
      const auto u = static_cast<float>(fit.center + low + (high - low) * i / kPoints);
      error = std::max(error, std::abs(double{fit(u, even.squared)} / exact(double{u}) - 1));
    }
    fit.good = error <= EvenFit::kMostError;
    if (fit.good) relative_error_ = std::max(relative_error_, error);
    fits_.push_back(fit);
  }
  // Steps within a segment and beyond it: the steepest of fine ones, from the top down.
  double steepest = 0;
  constexpr int kSteps = 16;
  for (int n = EvenFit::kSegments - 1; n >= 0; --n) {
    for (int i = 0; i < kSteps; ++i) {
      const double u = n - 0.5 + static_cast<double>(i) / kSteps, step = 1.0 / kSteps;
      if (u + step > highest_) break;
      steepest = std::max(steepest, std::log(exact(u + step) / exact(u)) / step);
    }
    steepness_[static_cast<std::size_t>(n)] = 1.05 * steepest;
  }
}

double LocalFits::steepness(double low) const {
  const double segment = std::floor(low + 0.5);
  if (!(segment >= 0)) return std::numeric_limits<double>::infinity();
  return steepness_[std::min(static_cast<std::size_t>(segment), steepness_.size() - 1)];
}

NearGrey::NearGrey(const std::array<std::array<float, 3>, 3>& rows) {
  for (std::size_t i = 0; i < 3; ++i) {
    // Row i is c_i + a c_j + b c_k: at least c_i - (what is negative of a and b) max(R,G,B).
    double taken = 0;
    for (std::size_t j = 0; j < 3; ++j)
      if (j != i) taken += std::max(0.0, -static_cast<double>(rows[i][j]));
    below[i] = -std::log(std::max(1.001 * taken, 1e-9));
  }
}

}  // namespace provenit::programme::kernel
