#pragma once
// All that follows from a format alone, made once per meter.
#include <array>
#include <limits>
#include <tuple>

#include "kernel/calm.h"
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

/// The format in the numbers of the vector code. The curve's variable is u of EvenFit, see curve_fit.h; luma gives u
/// directly, chroma (in sixteenths of a code, zero removed) adds to it.
struct VectorConstants {
  EvenFit even;
  CurveFit curve;  ///< for what lies outside the even segments
  LocalFits local;
  NearGrey near_grey;  ///< for BT.709
  /// x of CurveFit = curve.low + curve_slope (u - black): exact about black, where the difference is.
  float curve_slope = 0, black = 0;
  float luma_slope = 0, luma_offset = 0;
  struct ChromaFactors {
    float red_cr = 0, green_cr = 0, green_cb = 0, blue_cb = 0;
  };
  std::array<ChromaFactors, 17> chroma{};  ///< [n]: for n sixteenths of a code
  std::array<float, 3> luminance{};        ///< of R, G, B
  /// Row i of the matrix to BT.709 and P3 over its element i, i: R_i outside if R_i + a R_j + b R_k < -tiny max(R,G,B).
  std::array<std::array<float, 3>, 3> bt709{}, p3{};
  int chroma_zero = 0;
  /// HLG's gain L_W Y_S^(gamma - 1) for Y_S = 2^e m: hlg_scale[e mod 32] by the polynomial in m - 1.
  alignas(64) std::array<float, 32> hlg_scale{};
  std::array<float, std::tuple_size_v<PowerFit>> hlg_power{};
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
