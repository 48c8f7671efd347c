#include "provenit/colour/light_level.h"

#include <algorithm>
#include <cmath>

namespace provenit::colour {
namespace {

int field(double cdm2) {
  return static_cast<int>(std::min(std::floor(cdm2 + 0.5), 65535.0));
}

}  // namespace

int ContentLightLevel::maxcll_field() const {
  return field(maxcll_cdm2);
}
int ContentLightLevel::maxfall_field() const {
  return field(maxfall_cdm2);
}

ContentLightLevel content_light_level(std::span<const std::vector<AbsoluteRgb<>>> frames) {
  ContentLightLevel level;
  for (const auto& frame : frames) {
    if (frame.empty()) continue;
    double sum = 0;
    for (const auto& pixel : frame) {
      const double light = std::max({pixel.r, pixel.g, pixel.b, 0.0});
      level.maxcll_cdm2 = std::max(level.maxcll_cdm2, light);
      sum += light;
    }
    level.maxfall_cdm2 = std::max(level.maxfall_cdm2, sum / static_cast<double>(frame.size()));
  }
  return level;
}

}  // namespace provenit::colour
