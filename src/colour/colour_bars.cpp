#include "provenit/colour/colour_bars.h"

#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_hlg.h"
#include "provenit/colour/transfer_pq.h"

namespace provenit::colour {
namespace {

RelativeRgb<> colour_of(Bar bar) {
  switch (bar) {
    case Bar::white:
      return {.r = 1, .g = 1, .b = 1};
    case Bar::yellow:
      return {.r = 1, .g = 1, .b = 0};
    case Bar::cyan:
      return {.r = 0, .g = 1, .b = 1};
    case Bar::green:
      return {.r = 0, .g = 1, .b = 0};
    case Bar::magenta:
      return {.r = 1, .g = 0, .b = 1};
    case Bar::red:
      return {.r = 1, .g = 0, .b = 0};
    case Bar::blue:
      return {.r = 0, .g = 0, .b = 1};
    case Bar::black:
      break;
  }
  return {};
}

}  // namespace

SignalRgb<> bt709_bar_signal(Bar bar, BarSystem system, double level) {
  const auto c = rgb_from_rgb(colour_of(bar), rgb_to_rgb_matrix(bt709_primaries, bt2020_primaries));
  if (system == BarSystem::hlg_scene) {
    const double white = hlg_inverse_oetf(Signal<>{.value = level}).value;
    return hlg_oetf(RelativeRgb<>{.r = white * c.r, .g = white * c.g, .b = white * c.b});
  }
  const double white = pq_eotf(Signal<>{.value = level}).cdm2;
  return pq_inverse_eotf(AbsoluteRgb<>{.r = white * c.r, .g = white * c.g, .b = white * c.b});
}

std::array<CodeValue, 3> bt709_bar_codes(Bar bar, BarSystem system, double level, int bits, Range range) {
  const auto s = bt709_bar_signal(bar, system, level);
  return {quantise({.value = s.r}, bits, range), quantise({.value = s.g}, bits, range),
          quantise({.value = s.b}, bits, range)};
}

}  // namespace provenit::colour
