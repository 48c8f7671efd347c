
// AVX-512, AVX2 and SSE4, or NEON; without any, plain double precision.
#ifndef HWY_DISABLED_TARGETS
#define HWY_DISABLED_TARGETS (HWY_AVX3_DL | HWY_SSSE3)
#endif
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "kernel/vector_level.cpp"
#include "hwy/foreach_target.h"  // IWYU pragma: keep
//
#include "hwy/highway.h"
#include "kernel/flat.h"
#include "kernel/level.h"
#include "provenit/simd/levels.h"
#if HWY_TARGET != HWY_SCALAR && !HWY_HAVE_SCALABLE
#include "kernel/rect_meter-inl.h"
#endif

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

#if HWY_TARGET == HWY_SCALAR || HWY_HAVE_SCALABLE

Level ThisLevel() {
  return plain_level();
}

#else

template <class T, bool kSquared, bool kHlg>
RectFigures MeasureAs(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& scratch) {
  RectMeter<T, kSquared, kHlg> meter(plan, picture, rect, tally, scratch);
  const RectFigures figures = meter.template Run<false>();
  meter.CountLevels(figures);
  return figures;
}

template <class T, bool kSquared, bool kHlg>
void EvaluateAs(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch) {
  RectMeter<T, kSquared, kHlg> meter(plan, picture, rect, scratch.discarded, scratch);
  static_cast<void>(meter.template Run<true>());
  const auto pixels = static_cast<std::size_t>(rect.pixels());
  scratch.max_rgb.resize(pixels);
  scratch.luminance.resize(pixels);
  const Tile& tile = meter.tile();
  for (int y = 0; y < rect.height; ++y) {
    const std::ptrdiff_t row = std::ptrdiff_t{y} * rect.width - rect.x;
    for (int i = 0; i < tile.stride(); ++i) {
      if (i == tile.first) i = padded(tile.first);
      if (i >= padded(tile.first) + tile.second) break;
      scratch.max_rgb[static_cast<std::size_t>(row + meter.column(i))] = tile.max_rgb_row(y)[i];
      scratch.luminance[static_cast<std::size_t>(row + meter.column(i))] = tile.luminance_row(y)[i];
    }
  }
}

/// Calls the version of a template for the format's samples and curve.
#define PROVENIT_FOR_FORMAT(function, ...)                                                                            \
  (plan.format.bits == 8 ? (plan.format.transfer == Transfer::hlg ? function<std::uint8_t, true, true>(__VA_ARGS__)   \
                            : plan.vector.curve.squared           ? function<std::uint8_t, true, false>(__VA_ARGS__)  \
                                                                  : function<std::uint8_t, false, false>(__VA_ARGS__))          \
                         : (plan.format.transfer == Transfer::hlg ? function<std::uint16_t, true, true>(__VA_ARGS__)  \
                            : plan.vector.curve.squared           ? function<std::uint16_t, true, false>(__VA_ARGS__) \
                                                                  : function<std::uint16_t, false, false>(__VA_ARGS__)))

RectFigures Measure(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& scratch) {
  if (all_equal(picture, rect)) return measure_flat(plan, picture, rect, tally);
  return PROVENIT_FOR_FORMAT(MeasureAs, plan, picture, rect, tally, scratch);
}

void Evaluate(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch) {
  PROVENIT_FOR_FORMAT(EvaluateAs, plan, picture, rect, scratch);
}

Level ThisLevel() {
  return {.measure = Measure, .evaluate = Evaluate};
}

#endif

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace provenit::programme::kernel {
namespace {

HWY_EXPORT(ThisLevel);

}  // namespace

std::vector<std::string> vector_level_names() {
  return simd::level_names(HWY_TARGETS);
}

Level vector_level(const std::string& name) {
  for (const auto& level : simd::levels(HWY_TARGETS)) {
    if (level.name != name) continue;
#if HWY_IDE || ((HWY_TARGETS & (HWY_TARGETS - 1)) == 0)
    return HWY_STATIC_DISPATCH(ThisLevel)();
#else
    hwy::ChosenTarget chosen;
    chosen.Update(level.target);
    return HWY_DISPATCH_TABLE(ThisLevel)[chosen.GetIndex()]();
#endif
  }
  return plain_level();
}

}  // namespace provenit::programme::kernel
#endif
