#include "slopes.h"

#include <algorithm>
#include <cmath>

#include "eigen.h"

namespace provenit::correct::model {
namespace {

using Column = Eigen::Vector3d;

double light_slope(double pq) {
  constexpr double step = 1e-6;
  return (light_of(pq + step) - light_of(std::max(pq - step, 0.0))) / (step + std::min(pq, step));
}

/// What one channel does at a place.
struct Channel {
  double y = 0, f = 0, together = 1, less = 0;
  double f_by_y = 0, y_by_drive = 0, drive_by_light = 0, y_by_dimming = 0;
  bool on_curve = true;  ///< false: so far below the brightest channel that its own curve does not count
  CurveKnots::Basis basis;
  Column q, q_by_x, q_by_y, light_by_f;  ///< q by its chromaticity; X, Y, Z by f
};

std::array<Channel, 3> channels(const Physics& physics, const Vector& container, const Vector& state,
                                const Vector& drive) {
  const Start& start = physics.start();
  const double* p = physics.parameters().data();
  const Vector asked = physics.asked(container);
  const double most = std::max({drive[0], drive[1], drive[2]});
  std::array<Channel, 3> out;
  for (int c = 0; c < 3; ++c) {
    Channel& ch = out[c];
    const double below = most - drive[c], at = drive[c] - physics.dimming() * below;
    ch.on_curve = at > 0 || below == 0;
    ch.basis = start.knots.basis(at);
    ch.y = physics.lit(c, drive[c], most);
    ch.f = light_of(ch.y);
    ch.f_by_y = light_slope(ch.y);
    constexpr double step = 1e-6;
    const double slope =
        ch.on_curve
            ? (start.knots.value(physics.curve(c), at + step) - start.knots.value(physics.curve(c), at - step)) /
                  (2 * step)
            : 1;
    ch.y_by_drive = below == 0 ? slope : slope * (1 + physics.dimming()) - physics.dimming();
    ch.y_by_dimming = (1 - slope) * below;
    ch.drive_by_light = drive[c] >= start.knots.top() ? 0 : pq_slope(asked[c]);
    ch.less = 1 - std::min(pq_of(ch.f) / pq_of(start.top_cdm2), 1.0);
    ch.q = eigen_of(physics.colour(c, ch.f));
    const double lum = start.luminance[c];
    const double x = start.colour[c].x + p[Layout::kChromaticity + 2 * c] + ch.less * p[Layout::kMoving + 2 * c];
    const double y =
        start.colour[c].y + p[Layout::kChromaticity + 2 * c + 1] + ch.less * p[Layout::kMoving + 2 * c + 1];
    ch.q_by_x = lum * Column(1 / y, 0, -1 / y);
    ch.q_by_y = lum * Column(-x / (y * y), 0, -(1 - x) / (y * y));
  }
  const double top = start.top_cdm2;
  for (int c = 0; c < 3; ++c)
    for (int j = 0; j < 3; ++j) out[c].together += physics.interaction(c, j) * out[j].f / top;
  const auto brightest = static_cast<int>(std::ranges::max_element(out, {}, &Channel::f) - out.begin());
  for (int c = 0; c < 3; ++c) {
    Channel& ch = out[c];
    ch.light_by_f = state[c] * ch.together * ch.q;
    for (int i = 0; i < 3; ++i) ch.light_by_f += state[i] * out[i].f * physics.interaction(i, c) / top * out[i].q;
    if (c == brightest && ch.f > 0) ch.light_by_f += p[Layout::kLeakagePower] / ch.f * eigen_of(physics.leakage(ch.f));
    // The channel's colour moves with its light.
    if (ch.less > 0 && ch.f > 0)
      ch.light_by_f -= state[c] * ch.f * ch.together * pq_slope(ch.f) / pq_of(top) *
                       (p[Layout::kMoving + 2 * c] * ch.q_by_x + p[Layout::kMoving + 2 * c + 1] * ch.q_by_y);
  }
  return out;
}

}  // namespace

bool is_active(int parameter, const ModelTerms& terms) {
  if (parameter < Layout::kLeakage || parameter >= Layout::kCurves) return true;
  if (parameter < Layout::kInteraction) return terms.leakage;
  if (parameter < Layout::kMoving) return terms.interaction;
  return parameter < Layout::kDimming ? terms.moving_primaries : terms.dimming;
}

Eigen::MatrixXd xyz_slopes(const Physics& physics, const Vector& container, const Vector& state,
                           const ModelTerms& terms) {
  const Start& start = physics.start();
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(3, parameter_count(start));
  const Vector drive = physics.drive(container);
  const auto ch = channels(physics, container, state, drive);
  const int steps = start.knots.size() - 1;
  const double brightest = std::max({ch[0].f, ch[1].f, ch[2].f});
  if (terms.leakage && brightest > 0) {
    const double share = brightest / start.top_cdm2, power = physics.parameters()[Layout::kLeakagePower];
    const double size = start.top_cdm2 * std::pow(share, power);
    for (int k = 0; k < 3; ++k) out(k, Layout::kLeakage + k) = size / 1000;
    out.col(Layout::kLeakagePower) = std::log(share) * eigen_of(physics.leakage(brightest));
  }
  if (terms.dimming)
    for (const auto& c : ch) out.col(Layout::kDimming) += c.y_by_dimming * c.f_by_y * c.light_by_f;
  int off = 0;
  for (int i = 0; i < 3; ++i) {
    const Column by_light = ch[i].light_by_f * (ch[i].f_by_y * ch[i].y_by_drive * ch[i].drive_by_light);
    for (int j = 0; j < 3; ++j) {
      if (i == j) continue;
      out.col(Layout::kMixing + off) = by_light * (container[j] - container[i]);
      if (terms.interaction)
        out.col(Layout::kInteraction + off) = state[i] * ch[i].f * ch[j].f / start.top_cdm2 * ch[i].q;
      ++off;
    }
    const Column x = state[i] * ch[i].f * ch[i].together * ch[i].q_by_x;
    const Column y = state[i] * ch[i].f * ch[i].together * ch[i].q_by_y;
    out.col(Layout::kChromaticity + 2 * i) = x;
    out.col(Layout::kChromaticity + 2 * i + 1) = y;
    if (terms.moving_primaries) {
      out.col(Layout::kMoving + 2 * i) = ch[i].less * x;
      out.col(Layout::kMoving + 2 * i + 1) = ch[i].less * y;
    }
    out(i, Layout::kBlack + i) = Layout::kBlackScale;
    if (!ch[i].on_curve) continue;
    // Increment k lifts coefficient k + 1 and all after it.
    double weight = 0;
    for (int b = 3; b >= 0; --b) {
      weight += ch[i].basis.value[b];
      const int k = ch[i].basis.first + b - 1;
      if (k >= 0 && k < steps) out.col(Layout::kCurves + i * steps + k) = weight * ch[i].f_by_y * ch[i].light_by_f;
    }
    for (int k = 0; k < ch[i].basis.first - 1; ++k)
      out.col(Layout::kCurves + i * steps + k) = ch[i].f_by_y * ch[i].light_by_f;
  }
  return out;
}

Eigen::MatrixXd itp_slopes(const Physics& physics, const Vector& container, const Vector& state,
                           const ModelTerms& terms) {
  const Eigen::Matrix3d slope = eigen_of(itp_slope(physics.xyz(physics.drive(container), state)));
  return slope * xyz_slopes(physics, container, state, terms);
}

}  // namespace provenit::correct::model
