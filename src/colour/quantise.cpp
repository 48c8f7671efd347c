#include "provenit/colour/quantise.h"

#include <cassert>
#include <cmath>

#include "provenit/colour/ycbcr.h"

namespace provenit::colour {
namespace {

/// code = scale * signal + offset
struct Line {
  double scale, offset;
};

Line line_of(int bits, Range range, Component component) {
  assert(bits >= 8 && bits <= 16);
  const double step = 1 << (bits - 8);
  const bool chroma = component == Component::chroma;
  if (range == Range::narrow) return {.scale = (chroma ? 224 : 219) * step, .offset = (chroma ? 128 : 16) * step};
  return {.scale = 256 * step - 1, .offset = chroma ? 128 * step : 0};
}

}  // namespace

CodeValue quantise(Signal<> signal, int bits, Range range, Component component) {
  assert(!std::isnan(signal.value));
  const Line line = line_of(bits, range, component);
  const CodeLimits limits = video_data_range(bits, range);
  // Negative values are clamped, so that rounding down from x + 0.5 is the document's rounding away from zero.
  const double code = std::floor(line.scale * signal.value + line.offset + 0.5);
  CodeValue result{.value = limits.lowest, .bits = bits, .range = range};
  if (code >= limits.highest)
    result.value = limits.highest;
  else if (code > limits.lowest)
    result.value = static_cast<int>(code);
  return result;
}

Signal<> dequantise(CodeValue code, Component component) {
  const Line line = line_of(code.bits, code.range, component);
  return {.value = (code.value - line.offset) / line.scale};
}

YcbcrCodes quantise(const SignalYcbcr<>& s, int bits, Range range) {
  return {.y = quantise({.value = s.y}, bits, range),
          .cb = quantise({.value = s.cb}, bits, range, Component::chroma),
          .cr = quantise({.value = s.cr}, bits, range, Component::chroma)};
}

SignalYcbcr<> dequantise(const YcbcrCodes& codes) {
  return {.y = dequantise(codes.y).value,
          .cb = dequantise(codes.cb, Component::chroma).value,
          .cr = dequantise(codes.cr, Component::chroma).value};
}

}  // namespace provenit::colour
