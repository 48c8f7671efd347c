#include <algorithm>

#include "zone_light_internal.h"

namespace provenit::simulated {

ZoneLight::ZoneLight(const Zones& zones, double aspect)
    : columns_(zones.columns),
      rows_(zones.rows),
      across_(zones.columns * kParts + 1),
      down_(zones.rows * kParts + 1),
      weights_across_(2 * zones.columns * kParts + 1) {
  const double all_actual = Spread(zones, aspect, 0.5, 0.5, 0).of_all();
  const double all_estimate = Spread(zones, aspect, 0.5, 0.5, zones.estimate_error).of_all();
  const int half_x = columns_ * kParts, half_y = rows_ * kParts;
  weights_.reserve(static_cast<std::size_t>(weights_across_) * static_cast<std::size_t>(2 * half_y + 1));
  for (int dy = -half_y; dy <= half_y; ++dy)
    for (int dx = -half_x; dx <= half_x; ++dx) {
      // The first zone, seen from a spot that lies so far left of it and above it.
      const double x = -static_cast<double>(dx) / half_x, y = -static_cast<double>(dy) / half_y;
      weights_.push_back({Spread(zones, aspect, x, y, 0).of_zone(0, 0) / all_actual,
                          Spread(zones, aspect, x, y, zones.estimate_error).of_zone(0, 0) / all_estimate});
    }
}

ZoneLight::Nodes ZoneLight::nodes(const ZoneField::Drives& drives) const {
  Nodes out(static_cast<std::size_t>(across_) * static_cast<std::size_t>(down_));
  for (int ny = 0; ny < down_; ++ny)
    for (int nx = 0; nx < across_; ++nx) {
      ZoneField::Response sum;
      for (int row = 0; row < rows_; ++row) {
        const auto* weights = &weights_[static_cast<std::size_t>((row + rows_) * kParts - ny) * weights_across_ +
                                        static_cast<std::size_t>(columns_ * kParts - nx)];
        const double* drive = &drives[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns_)];
        for (int column = 0; column < columns_; ++column) {
          sum.actual += weights[column * kParts].actual * drive[column];
          sum.estimate += weights[column * kParts].estimate * drive[column];
        }
      }
      out[static_cast<std::size_t>(ny) * static_cast<std::size_t>(across_) + static_cast<std::size_t>(nx)] = sum;
    }
  return out;
}

ZoneField::Response ZoneLight::at(const Nodes& nodes, double x, double y) const {
  const double u = std::clamp(x, 0.0, 1.0) * (across_ - 1), v = std::clamp(y, 0.0, 1.0) * (down_ - 1);
  const int i = std::min(static_cast<int>(u), across_ - 2), j = std::min(static_cast<int>(v), down_ - 2);
  const double s = u - i, t = v - j;
  const auto* p = &nodes[static_cast<std::size_t>(j) * static_cast<std::size_t>(across_) + static_cast<std::size_t>(i)];
  const auto mix = [&](double a, double b, double c, double d) {
    return (1 - t) * ((1 - s) * a + s * b) + t * ((1 - s) * c + s * d);
  };
  return {mix(p[0].actual, p[1].actual, p[across_].actual, p[across_ + 1].actual),
          mix(p[0].estimate, p[1].estimate, p[across_].estimate, p[across_ + 1].estimate)};
}

}  // namespace provenit::simulated
