#include <algorithm>
#include <cmath>
#include <numbers>

#include "view_internal.h"

namespace provenit::simulated {
namespace {

/// Exponent of a channel's unevenness at a place, shares of width and height.
double exponent_at(const DisplayPhysics& physics, std::size_t channel, double x, double y) {
  const auto& u = physics.unevenness;
  const double a = 2 * x - 1, b = 2 * y - 1, aspect = physics.aspect;
  const double r2 = (a * a * aspect * aspect + b * b) / (aspect * aspect + 1);
  double sum = -u.corner[channel] * r2 + u.across[channel] * a + u.down[channel] * b;
  for (const auto& lump : u.lumps) {
    const double dx = (x - lump.x) * aspect / lump.width, dy = (y - lump.y) / lump.width;
    sum += lump.amount[channel] * std::exp(-(dx * dx + dy * dy) / 2);
  }
  return sum;
}

}  // namespace

Mixture ViewFactors::applied(Mixture m) const {
  for (std::size_t c = 0; c < 3; ++c) {
    m.base[c] *= channel[c];
    m.level[c] *= channel[c];
    m.cold[c] *= channel[c];
  }
  m.leak *= leak;
  return m;
}

ViewFactors view_factors(const DisplayPhysics& physics, const instrument::Placement& placement) {
  ViewFactors out;
  if (placement == instrument::Placement{}) return out;
  const auto& view = physics.viewing_angle;
  const double angle = std::hypot(placement.horizontal_deg, placement.vertical_deg * view.vertical_ratio);
  double sum = 0;
  for (std::size_t c = 0; c < 3; ++c) {
    const double even = std::exp(exponent_at(physics, c, placement.x, placement.y) - exponent_at(physics, c, 0.5, 0.5));
    out.channel[c] = even / (1 + std::pow(angle / view.half_deg[c], view.power));
    sum += out.channel[c];
  }
  const double sine = std::sin(std::min(angle, 90.0) * std::numbers::pi / 180);
  out.leak = sum / 3 * (1 + view.black_lift * sine * sine);
  return out;
}

}  // namespace provenit::simulated
