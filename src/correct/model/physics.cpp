#include "physics.h"

#include <algorithm>
#include <cmath>

#include "provenit/colour/ictcp.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/encoding.h"

namespace provenit::correct::model {
namespace {

/// Cone signals are held at this, cd/m2: below it no reading says anything, and the slope of PQ grows without end.
constexpr double kLeastCone = 1e-4;
constexpr colour::Matrix3<> kRgbFromXyz = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
constexpr colour::Matrix3<> kLmsFromXyz = colour::detail::lms_from_rgb * kRgbFromXyz;
constexpr colour::Matrix3<> kItpFromPq = colour::diagonal(Vector{1, 0.5, 1}) * colour::detail::ictcp_from_lms_pq;

double slope_of_pq(double cdm2) {
  const double step = 1e-4 * cdm2;
  return (pq_of(cdm2 + step) - pq_of(cdm2 - step)) / (2 * step);
}

colour::HlgDisplay<> hlg_of(const signal::Encoding& e) {
  return colour::hlg_display(colour::Luminance<>{.cdm2 = e.nominal_peak_cdm2}, colour::Luminance<>{.cdm2 = 0});
}
colour::Bt1886Display<> bt1886_of(const signal::Encoding& e) {
  return {.peak = {.cdm2 = e.nominal_peak_cdm2}, .black = {.cdm2 = 0}};
}

}  // namespace

EncodedLight::EncodedLight(const signal::Encoding& encoding) : encoding_(encoding) {
  most_ = light({.r = 1, .g = 1, .b = 1})[1];
}

Vector EncodedLight::light(const colour::SignalRgb<>& s) const {
  colour::AbsoluteRgb<> l;
  switch (encoding_.transfer) {
    case signal::Transfer::pq:
      l = colour::pq_eotf(s);
      break;
    case signal::Transfer::hlg:
      l = colour::hlg_eotf(s, hlg_of(encoding_));
      break;
    case signal::Transfer::bt1886:
      l = colour::bt1886_eotf(s, bt1886_of(encoding_));
      break;
  }
  return {l.r, l.g, l.b};
}

colour::SignalRgb<> EncodedLight::signal(const Vector& light) const {
  const colour::AbsoluteRgb<> l{
      .r = std::max(light[0], 0.0), .g = std::max(light[1], 0.0), .b = std::max(light[2], 0.0)};
  colour::SignalRgb<> s;
  switch (encoding_.transfer) {
    case signal::Transfer::pq:
      s = colour::pq_inverse_eotf(l);
      break;
    case signal::Transfer::hlg:
      s = colour::hlg_inverse_eotf(l, hlg_of(encoding_));
      break;
    case signal::Transfer::bt1886:
      s = colour::bt1886_inverse_eotf(l, bt1886_of(encoding_));
      break;
  }
  for (double* x : {&s.r, &s.g, &s.b}) *x = std::isfinite(*x) ? std::clamp(*x, 0.0, 1.0) : 0.0;
  return s;
}

double pq_of(double cdm2) {
  return cdm2 > 0 ? colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value : 0;
}
double light_of(double pq) {
  return pq > 0 ? colour::pq_eotf(colour::Signal<>{.value = pq}).cdm2 : 0;
}

Vector itp_of(const Vector& xyz) {
  Vector lms = kLmsFromXyz * xyz;
  for (double& x : lms) x = pq_of(std::max(x, kLeastCone));
  return kItpFromPq * lms;
}

colour::Matrix3<> itp_slope(const Vector& xyz) {
  Vector lms = kLmsFromXyz * xyz;
  for (double& x : lms) x = slope_of_pq(std::max(x, kLeastCone));
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
  const auto& g = start.knots.greville();
  const int steps = start.knots.size() - 1;
  for (int c = 0; c < 3; ++c)
    for (int i = 0; i < steps; ++i) mean[Layout::kCurves + c * steps + i] = g[i + 1] - g[i];
  return mean;
}

Physics::Physics(const Start& start, std::vector<double> parameters)
    : start_(start), parameters_(std::move(parameters)) {
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
  const double less = 1 - std::min(pq_of(f) / pq_of(start_.top_cdm2), 1.0);
  const double* p = parameters_.data();
  const double x = start_.colour[channel].x + p[Layout::kChromaticity + 2 * channel] +
                   less * p[Layout::kMoving + 2 * channel];
  const double y = start_.colour[channel].y + p[Layout::kChromaticity + 2 * channel + 1] +
                   less * p[Layout::kMoving + 2 * channel + 1];
  const double scale = start_.luminance[channel] / y;
  return {x * scale, start_.luminance[channel], (1 - x - y) * scale};
}

Vector Physics::xyz(const Vector& drive, const Vector& state) const {
  Vector f{};
  for (int c = 0; c < 3; ++c) f[c] = light_of(start_.knots.value(curve(c), drive[c]));
  const double brightest = std::max({f[0], f[1], f[2]});
  Vector sum = black_;
  for (int k = 0; k < 3; ++k) sum[k] += leakage_[k] * brightest;
  for (int c = 0; c < 3; ++c) {
    double together = 1;
    for (int j = 0; j < 3; ++j) together += interaction_(c, j) * f[j] / start_.top_cdm2;
    const Vector q = colour(c, f[c]);
    for (int k = 0; k < 3; ++k) sum[k] += state[c] * f[c] * together * q[k];
  }
  return sum;
}

Vector Physics::drive_for(const Vector& xyz) const {
  constexpr int kSteps = 6;
  Vector f{start_.top_cdm2 / 2, start_.top_cdm2 / 2, start_.top_cdm2 / 2};
  double brightest = 0;
  for (int step = 0; step < kSteps; ++step) {
    colour::Matrix3<> q;
    for (int c = 0; c < 3; ++c) {
      const Vector column = colour(c, f[c]);
      for (int k = 0; k < 3; ++k) q(k, c) = column[k];
    }
    Vector rest{};
    for (int k = 0; k < 3; ++k) rest[k] = xyz[k] - black_[k] - leakage_[k] * brightest;
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
    if (moved < 1e-9 * start_.top_cdm2) break;
  }
  Vector drive{};
  for (int c = 0; c < 3; ++c) drive[c] = start_.knots.inverse(curve(c), pq_of(f[c]));
  return drive;
}

}  // namespace provenit::correct::model
