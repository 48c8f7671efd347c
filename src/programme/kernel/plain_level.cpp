#include "kernel/flat.h"
#include "kernel/level.h"

namespace provenit::programme::kernel {
namespace {

RectFigures measure(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& /*unused*/) {
  if (all_equal(picture, rect)) return measure_flat(plan, picture, rect, tally);
  RectFigures figures;
  for (int y = rect.y; y < rect.y + rect.height; ++y)
    for (int x = rect.x; x < rect.x + rect.width; ++x)
      figures.add(measure_flat(plan, picture, {.x = x, .y = y, .width = 1, .height = 1}, tally));
  return figures;
}

void evaluate(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch) {
  scratch.max_rgb.resize(static_cast<std::size_t>(rect.pixels()));
  scratch.luminance.resize(static_cast<std::size_t>(rect.pixels()));
  std::size_t i = 0;
  for (int y = rect.y; y < rect.y + rect.height; ++y)
    for (int x = rect.x; x < rect.x + rect.width; ++x, ++i) {
      const auto rgb = plan.decoder.light(samples_at(picture, x, y));
      scratch.max_rgb[i] = saturated(max_rgb(rgb));
      scratch.luminance[i] = saturated(plan.decoder.xyz(rgb).Y);
    }
}

}  // namespace

const Level& plain_level() {
  static constexpr Level level{.measure = measure, .evaluate = evaluate};
  return level;
}

}  // namespace provenit::programme::kernel
