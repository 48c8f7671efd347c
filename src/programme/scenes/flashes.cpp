// Flashing by ITU-R BT.1702 (signal/flash.h) on the block map.
#include <algorithm>
#include <cmath>

#include "block_map.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/programme/scenes.h"
#include "provenit/signal/flash.h"

namespace provenit::programme {
namespace {

double light_of(std::uint16_t code) {
  static const std::vector<double> table = [] {
    std::vector<double> t(65536);
    for (std::size_t i = 0; i < t.size(); ++i)
      t[i] = colour::pq_eotf(colour::Signal<>{.value = static_cast<double>(i) / 65535}).cdm2;
    return t;
  }();
  return table[code];
}

}  // namespace

std::vector<FlashCaution> flash_cautions(std::span<const FrameRecord> frames, int width, int height) {
  const scenes::Grid grid = scenes::grid_of(frames, width, height);
  std::vector<FlashCaution> cautions;
  if (grid.count() == 0) return cautions;
  signal::FlashWatch watch(std::vector<double>(grid.share.begin(), grid.share.end()));
  std::vector<double> light(grid.count());
  for (std::size_t t = 0; t < frames.size(); ++t) {
    for (std::size_t i = 0; i < light.size(); ++i) light[i] = light_of(frames[t].blocks[i]);
    const auto f = watch.step(frames[t].figures.time_s, light);
    if (!f.above) continue;
    if (cautions.empty() || f.from > cautions.back().last + 1) cautions.push_back({.first = f.from, .last = t});
    FlashCaution& c = cautions.back();
    c.last = t;
    c.flashes = std::max(c.flashes, f.flashes);
    c.area = std::max(c.area, f.area);
    c.change_cdm2 = std::max(c.change_cdm2, f.change_cdm2);
  }
  return cautions;
}

}  // namespace provenit::programme
