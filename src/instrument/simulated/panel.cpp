#include <algorithm>
#include <cmath>

#include "panel_internal.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::simulated {
namespace {

constexpr double kPanelPower = 2.4;

double quantised(double opening, double largest, int bits) {
  const double steps = std::ldexp(1.0, bits) - 1;
  return largest * std::pow(std::round(std::pow(opening / largest, 1 / kPanelPower) * steps) / steps, kPanelPower);
}

}  // namespace

Panel::Panel(const DisplayPhysics& physics) : physics_(physics) {}

/// What the channel really opens to when it is told to open to `wanted`.
double Panel::opening(std::size_t channel, double wanted) const {
  const Primary& p = physics_.primaries[channel];
  double open = std::min(wanted, p.headroom);
  if (open <= 0) return 0;
  if (physics_.decoding.panel_bits > 0) {
    open = quantised(open, p.headroom, physics_.decoding.panel_bits);
    if (open <= 0) return 0;
  }
  const double e = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = open * physics_.peak_cdm2}).value;
  double exponent = 0;
  for (const auto& d : p.tracking) {
    const double t = (e - d.centre) / d.width;
    exponent += d.amount * std::exp(-t * t / 2);
  }
  if (p.near_black_knee > 0) exponent += p.near_black_exponent * std::log(open / (open + p.near_black_knee));
  return open * std::exp(exponent);
}

Mixture Panel::mixture(const Drive& drive, const Backlight& backlight, const ThermalState& thermal) const {
  Drive open{};
  for (std::size_t c = 0; c < 3; ++c) {
    const double wanted = std::min(drive[c] * backlight.dim, backlight.cap);
    open[c] = opening(c, wanted / std::max(backlight.estimate, 1e-9));
  }
  Mixture m;
  for (std::size_t c = 0; c < 3; ++c) {
    double together = 1;
    for (std::size_t other = 0; other < 3; ++other) together += physics_.interaction[c][other] * open[other];
    const double light = backlight.actual * open[c] * together * thermal.channel[c];
    m.base[c] = light;
    m.level[c] = light * (1 - std::pow(std::min(open[c], 1.0), 0.25));
    m.cold[c] = light * (1 - thermal.warmth);
  }
  m.leak = backlight.actual * thermal.common;
  return m;
}

}  // namespace provenit::simulated
