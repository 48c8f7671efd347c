#include <algorithm>
#include <cmath>

#include "provenit/simulated/physics.h"
#include "random_internal.h"

namespace provenit::simulated {
namespace {

/// Draws one after the other.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : random_(seed, 7) {}
  double normal(double deviation) { return deviation * limited(random_.normal(next_++)); }
  /// A factor whose logarithm is normal.
  double factor(double deviation) { return std::exp(normal(deviation)); }
  double between(double low, double high) { return low + (high - low) * random_.uniform(next_++); }

 private:
  /// Units outside 3 standard deviations do not leave the factory.
  static double limited(double z) { return std::clamp(z, -3.0, 3.0); }
  Random random_;
  std::uint64_t next_ = 0;
};

void vary_spectra(DisplayPhysics& p, Draws& draws) {
  for (auto& peak : p.backlight) {
    peak.centre_nm += draws.normal(0.5);
    peak.height *= draws.factor(0.02);
  }
  for (auto& primary : p.primaries) {
    for (auto& peak : primary.emission) peak.centre_nm += draws.normal(0.5);
    for (auto& band : primary.filter) {
      band.from_nm += draws.normal(0.5);
      band.to_nm += draws.normal(0.5);
    }
  }
}

void vary_tracking(Primary& primary, Draws& draws) {
  for (auto& d : primary.tracking) d.amount *= draws.factor(0.3);
  // Each unit also has deviations of its own.
  for (int i = 0; i < 2; ++i)
    primary.tracking.push_back(
        {.centre = draws.between(0.15, 0.75), .width = draws.between(0.05, 0.15), .amount = draws.normal(0.012)});
  primary.near_black_knee *= draws.factor(0.2);
  primary.headroom *= draws.factor(0.01);
}

void vary_limiter(Limiter& limiter, Draws& draws) {
  // One factor for the whole curve keeps it falling; a cap of 1 means no limit and stays.
  const double factor = draws.factor(0.02);
  for (auto& p : limiter.points)
    if (p.cap < 1) p.cap = std::min(1.0, p.cap * factor);
  limiter.attack_s *= draws.factor(0.05);
  limiter.recovery_s *= draws.factor(0.05);
}

void vary_zones(Zones& zones, Draws& draws) {
  zones.minimum_drive = std::min(1.0, zones.minimum_drive * draws.factor(0.1));
  zones.spread_zones *= draws.factor(0.03);
  zones.halo_share = std::min(1.0, zones.halo_share * draws.factor(0.08));
  zones.estimate_error += draws.normal(0.01);
}

void vary_thermal(Thermal& thermal, Draws& draws) {
  thermal.fast_s *= draws.factor(0.1);
  thermal.slow_s *= draws.factor(0.1);
  const double amount = draws.factor(0.2);
  for (std::size_t c = 0; c < 3; ++c) {
    thermal.fast[c] = thermal.fast[c] * amount + draws.normal(0.001);
    thermal.slow[c] = thermal.slow[c] * amount + draws.normal(0.001);
  }
}

void vary_view(DisplayPhysics& p, Draws& draws) {
  auto& u = p.unevenness;
  for (std::size_t c = 0; c < 3; ++c) {
    u.corner[c] = std::max(0.0, u.corner[c] * draws.factor(0.2));
    u.across[c] = u.across[c] * draws.factor(0.2) + draws.normal(0.002);
    u.down[c] = u.down[c] * draws.factor(0.2) + draws.normal(0.002);
    p.viewing_angle.half_deg[c] *= draws.factor(0.02);
  }
  for (auto& lump : u.lumps)
    for (auto& amount : lump.amount) amount = amount * draws.factor(0.3) + draws.normal(0.002);
  p.viewing_angle.black_lift *= draws.factor(0.1);
  p.stay_dimming.depth = std::min(0.9, p.stay_dimming.depth * draws.factor(0.1));
  p.stay_dimming.time_s *= draws.factor(0.1);
  p.stay_dimming.recovery_s *= draws.factor(0.1);
}

void vary_controls(std::vector<PictureControl>& controls, Draws& draws) {
  for (auto& c : controls)
    for (std::size_t k = 0; k < 3; ++k) {
      c.gain[k] *= draws.factor(0.05);
      c.offset[k] *= draws.factor(0.05);
    }
}

}  // namespace

DisplayPhysics vary(const DisplayPhysics& physics, std::uint64_t seed) {
  DisplayPhysics p = physics;
  Draws draws(seed);
  p.peak_cdm2 *= draws.factor(0.015);
  p.white.x += draws.normal(0.0008);
  p.white.y += draws.normal(0.0008);
  vary_spectra(p, draws);
  for (auto& primary : p.primaries) vary_tracking(primary, draws);
  p.leakage.luminance_cdm2 *= draws.factor(0.15);
  for (auto& row : p.interaction)
    for (auto& k : row) k *= draws.factor(0.2);
  vary_limiter(p.limiter, draws);
  if (p.zones) vary_zones(*p.zones, draws);
  vary_thermal(p.thermal, draws);
  // Last, in the order in which they were added, so that units drawn before stay what they were.
  vary_view(p, draws);
  vary_controls(p.controls, draws);
  return p;
}

}  // namespace provenit::simulated
