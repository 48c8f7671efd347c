#include "spot.h"

#include <algorithm>
#include <cmath>

#include "channels.h"
#include "zones.h"

namespace provenit::forecast {
namespace {

struct Behind {
  double backlight = 1, cap = 1;
};

Behind behind(const Optics& optics, const Spot& spot) {
  const double patch = *std::ranges::max_element(spot.patch), surround = *std::ranges::max_element(spot.surround);
  if (!optics.zoned()) {
    double load = 0;
    for (std::size_t c = 0; c < 3; ++c)
      load += optics.weight[c] * (spot.share * spot.patch[c] + (1 - spot.share) * spot.surround[c]);
    return {.backlight = 1, .cap = optics.cap_at(load)};
  }
  constexpr double hair = 1e-9;
  std::vector<ZoneContent> content;
  content.reserve(spot.shares.size());
  for (const double s : spot.shares)
    content.push_back({.largest = s > 1 - hair ? patch
                                  : s < hair   ? surround
                                               : std::max(patch, surround),
                       .mean = s * patch + (1 - s) * surround});
  const auto drives = zone_drives(optics, content);
  const double cap = optics.cap_at(mean_of(drives));
  return {.backlight = cap * static_cast<double>(BacklightMap(optics, {spot.x}, {spot.y}).at(drives)[0]), .cap = cap};
}

}  // namespace

Spot spot_of(const Channels& channels, const Optics& grid, const signal::Signal& signal, double x, double y) {
  Spot out{.shares = {},
           .patch = channels.of(container_light(signal.encoding, signal.patch)),
           .surround = channels.of(container_light(signal.encoding, signal.surround)),
           .share = patch_share(signal.geometry),
           .on_patch = shows_patch(signal.geometry, x, y),
           .x = x,
           .y = y};
  if (grid.zoned()) out.shares = patch_shares(grid, signal.geometry);
  return out;
}

SpotLight light_at(const Channels& channels, const Optics& optics, const Unevenness& unevenness, const Spot& spot) {
  const auto at = behind(optics, spot);
  const auto& asked = spot.on_patch ? spot.patch : spot.surround;
  const double room = optics.zoned() ? optics.headroom * at.backlight : at.cap;
  const double dim = optics.dim_at(at.cap);
  colour::Vector3<> f{};
  SpotLight out;
  for (std::size_t c = 0; c < 3; ++c) {
    f[c] = std::min(asked[c] * dim, room);
    out.limited = out.limited || asked[c] * dim > room || dim < 0.99;
    out.asked_cdm2 += channels.light(1, c) * asked[c];
  }
  const double even = unevenness.at(spot.x, spot.y), leak = optics.leak_cdm2 * at.backlight;
  const auto v = channels.light * f;
  const auto& colour = optics.leak_colour;
  out.xyz = {
      .X = even * (v[0] + leak * colour.X), .Y = even * (v[1] + leak * colour.Y), .Z = even * (v[2] + leak * colour.Z)};
  return out;
}

double backlight_at(const Optics& optics, const Spot& spot) {
  return behind(optics, spot).backlight;
}

double Optics::cap_at(double l) const {
  if (load.empty()) return 1;
  const std::size_t n = load.size();
  if (l <= load.front()) return cap.front();
  if (l >= load.back()) return cap.back();
  const auto i = static_cast<std::size_t>(std::ranges::upper_bound(load, l) - load.begin()) - 1;
  const auto width = [this](std::size_t k) { return std::log(load[k + 1] / load[k]); };
  const auto rise = [&](std::size_t k) { return (cap[k + 1] - cap[k]) / width(k); };
  // Slopes that keep it from rising between the loads: Fritsch, Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984), from
  // memory.
  const auto slope = [&](std::size_t k) {
    if (k == 0 || k + 1 == n) return 0.0;
    const double a = rise(k - 1), b = rise(k), h = width(k - 1), w = width(k);
    return a * b > 0 ? 3 * (h + w) / ((2 * w + h) / a + (w + 2 * h) / b) : 0.0;
  };
  const double h = width(i), t = std::log(l / load[i]) / h, rest = 1 - t;
  return cap[i] * (1 + 2 * t) * rest * rest + slope(i) * h * t * rest * rest + cap[i + 1] * t * t * (3 - 2 * t) -
         slope(i + 1) * h * t * t * rest;
}

double Optics::dim_at(double cap_now) const {
  return zoned() ? 1 : 1 - dim * std::max(0.0, 1 - cap_now);
}

double Unevenness::at(double x, double y) const {
  const double u = 2 * x - 1, v = 2 * y - 1;
  return std::exp(c[0] * u + c[1] * v + c[2] * u * u + c[3] * u * v + c[4] * v * v);
}

}  // namespace provenit::forecast
