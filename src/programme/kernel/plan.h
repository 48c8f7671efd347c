#pragma once
// All that follows from a format alone, made once per meter.
#include <limits>

#include "kernel/cells.h"
#include "kernel/curve_fit.h"
#include "kernel/decoder.h"
#include "provenit/colour/matrix3.h"

namespace provenit::programme::kernel {

/// Tests whether a colour lies outside a gamut: some component of rows x RGB < -1e-6 max(R,G,B).
struct GamutTest {
  bool needed = false;  ///< false: nothing in the picture's own gamut lies outside
  colour::Matrix3<> to_gamut;
  [[nodiscard]] bool outside(const colour::AbsoluteRgb<>& rgb) const;
};

/// As float; infinite above its range.
[[nodiscard]] inline float saturated(double v) {
  using Limits = std::numeric_limits<float>;
  return v > static_cast<double>(Limits::max()) ? Limits::infinity() : static_cast<float>(v);
}

/// How far a level's luminance or max(R,G,B) may be from the exact v: relative x v + absolute.
struct Tolerance {
  double relative = 0, absolute = 0;
  [[nodiscard]] double above(double v) const { return v + relative * v + absolute; }
  [[nodiscard]] double below(double v) const { return v - relative * v - absolute; }
};

/// The format in the numbers of the vector code. The curve's variable is x = 1 + slope (signal), see curve_fit.h; luma
/// gives x directly, chroma (in sixteenths of a code, zero removed) adds to it.
struct VectorConstants {
  CurveFit curve;
  float luma_slope = 0, luma_offset = 0;
  float red_cr = 0, green_cr = 0, green_cb = 0, blue_cb = 0;  ///< per sixteenth of a code
  int chroma_zero = 0;
  float hlg_exponent = 0, hlg_peak = 0;  ///< gamma - 1, L_W
};

struct Plan {
  explicit Plan(const PictureFormat& format);
  PictureFormat format;
  Grid grid;
  Decoder decoder;
  GamutTest bt709, p3;
  double highest = 0;    ///< max(R,G,B) and luminance of the highest signal; infinite where it is not known
  bool vectors = false;  ///< whether the vector code takes this format
  VectorConstants vector;
  Tolerance tolerance;  ///< of the level that measures
};

}  // namespace provenit::programme::kernel
