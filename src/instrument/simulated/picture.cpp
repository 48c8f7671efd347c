#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "picture_internal.h"

namespace provenit::simulated {
namespace {

double largest(const Drive& d) {
  return std::max({d[0], d[1], d[2]});
}

/// What is left of a move upwards and of one downwards.
struct Left {
  double up, down;
  [[nodiscard]] double moved(double from, double to) const { return to + (from - to) * (to > from ? up : down); }
};

}  // namespace

Optics::Optics(const DisplayPhysics& physics, PictureControls controls, double spot_x, double spot_y)
    : physics_(physics),
      spot_x_(spot_x),
      spot_y_(spot_y),
      decoder_(physics.decoding),
      controls_(std::move(controls)),
      limiter_(physics.limiter.points) {
  if (physics.zones) zones_.emplace(*physics.zones, physics.aspect, spot_x, spot_y);
}

Demand Optics::demand(const signal::Signal& signal, bool local_dimming) const {
  const Drive patch = controls_.applied(decoder_.drive(signal.encoding, signal.patch));
  const Drive surround = controls_.applied(decoder_.drive(signal.encoding, signal.surround));
  Demand out;
  out.at_spot = is_patch_at(signal.geometry, spot_x_, spot_y_) ? patch : surround;
  if (zones_) {
    out.zones = local_dimming ? zones_->drives(signal.geometry, largest(patch), largest(surround))
                              : zones_->drives(signal::Geometry{}, 1, 1);
    out.load = std::accumulate(out.zones.begin(), out.zones.end(), 0.0) / static_cast<double>(out.zones.size());
  } else {
    const double share = patch_share(signal.geometry, 0, 1, 0, 1);
    for (std::size_t c = 0; c < 3; ++c)
      out.load += physics_.limiter.channel_weight[c] * (share * patch[c] + (1 - share) * surround[c]);
  }
  out.cap = limiter_.cap(out.load);
  return out;
}

Demand Optics::demand(const std::vector<ZoneContent>& zones, const Drive& channels) const {
  Demand out;
  if (zones_) {
    out.zones = zones_->drives(zones);
    out.load = std::accumulate(out.zones.begin(), out.zones.end(), 0.0) / static_cast<double>(out.zones.size());
  } else {
    for (std::size_t c = 0; c < 3; ++c) out.load += physics_.limiter.channel_weight[c] * channels[c];
  }
  out.cap = limiter_.cap(out.load);
  return out;
}

Backlight Optics::backlight(double cap, const ZoneField::Drives& zones) const {
  Backlight b{.cap = cap, .dim = std::pow(cap, physics_.limiter.dim_share)};
  if (zones_) {
    const auto response = zones_->response(zones);
    b.actual = response.actual * cap;
    b.estimate = response.estimate * cap;
  }
  return b;
}

Backlight Optics::settled(const Demand& demand) const {
  return backlight(demand.cap, demand.zones);
}

Backlight Optics::backlight(const Standing& standing) const {
  return backlight(standing.cap, standing.zones);
}

Standing Optics::standing(const Standing& from, const Demand& to, Seconds since) const {
  const auto& limiter = physics_.limiter;
  const Left limiting{.up = remaining(since, limiter.recovery_s), .down = remaining(since, limiter.attack_s)};
  Standing now{.cap = limiting.moved(from.cap, to.cap), .zones = to.zones};
  if (!zones_) return now;
  const Left zoning{.up = remaining(since, physics_.zones->rise_s), .down = remaining(since, physics_.zones->fall_s)};
  for (std::size_t i = 0; i < now.zones.size(); ++i) now.zones[i] = zoning.moved(from.zones[i], to.zones[i]);
  return now;
}

Seconds Optics::lag() const {
  double slowest = 0;
  if (!physics_.limiter.points.empty()) slowest = std::max(physics_.limiter.attack_s, physics_.limiter.recovery_s);
  if (zones_) slowest = std::max({slowest, physics_.zones->rise_s, physics_.zones->fall_s});
  return {kMoveEnds * slowest};
}

}  // namespace provenit::simulated
