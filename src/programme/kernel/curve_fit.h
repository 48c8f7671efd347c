#pragma once
// An EOTF as piecewise polynomials whose coefficients fit into vector registers.
#include <array>
#include <functional>

namespace provenit::programme::kernel {

/// For x in [1, 256), x = offset + slope e of a signal e: 8 octaves of 4 segments each, found by the float's exponent
/// and the first two bits of its fraction, so that segments are short where the curve is steep. Within a segment that
/// begins at b: root(L) = c0 + c1 t + ... + c5 t^5, t = x - b, where root is the square root or nothing.
struct CurveFit {
  static constexpr int kSegments = 32, kCoefficients = 6;
  double offset = 1, slope = 1;
  float low = 1, high = 1;  ///< x of signal 0 and of the largest signal: x is clamped to them
  bool squared = true;      ///< the polynomial gives the square root of the light
  alignas(64) std::array<std::array<float, kSegments>, kCoefficients> coefficient{};  ///< [order][segment]
  double relative_error = 0;  ///< largest found where the light is at least 1e-7 of the highest, in float arithmetic
  double absolute_error = 0;  ///< below that, as light

  /// Segment of x, in the order of the tables: the low 5 bits of the float's upper bits.
  [[nodiscard]] static int segment_of(float x);
  /// The approximation, in float arithmetic as vectors do it.
  [[nodiscard]] float operator()(float x) const;
};

/// The part of the curve that most pixels lie in, by even segments and lower order: u = offset + slope e, segment n
/// holds u in [n - 1/2, n + 1/2], root(L) = c0 + c1 t + c2 t^2 + c3 t^3, t = u - n. Outside its segments CurveFit is
/// asked.
struct EvenFit {
  static constexpr int kSegments = 32, kCoefficients = 4;
  static constexpr double kMostError = 8e-7;  ///< relative, aimed at
  double offset = 0, slope = 1;
  float high = 0;  ///< u of the largest signal. Where the curve has a join, u is clamped to it; else segments end there
  double relative_error = 0;  ///< largest found, in float arithmetic
  bool squared = true;        ///< as in CurveFit
  alignas(64) std::array<std::array<float, kSegments>, kCoefficients> coefficient{};  ///< [order][segment]
  alignas(64) std::array<std::array<float, kCoefficients>, kSegments> by_segment{};   ///< the same, [segment][order]

  /// Segment of u, which may lie outside 0 .. kSegments - 1.
  [[nodiscard]] static int segment_of(float u);
  /// The approximation, in float arithmetic as vectors do it. segment_of(u) must be one there is.
  [[nodiscard]] float operator()(float u) const;
};

/// Fits light(e) for e up to largest and from as low as the order allows. One code of `codes` (from signal 0 to 1, with
/// signal 0 at code `zero`) is an exact float in u, and so is every code. `join` is a signal where the curve's parts
/// meet; where it lies inside the segments, it lies between two; 0: none.
[[nodiscard]] EvenFit fit_evenly(const std::function<double(double)>& light, double largest, double join, int bits,
                                 double codes, double zero, bool squared);

/// Fits light(e), e in [0, largest]; light(0) = 0. offset >= 1 and offset + slope x largest < 256.
[[nodiscard]] CurveFit fit_curve(const std::function<double(double)>& light, double largest, double offset,
                                 double slope, bool squared);

/// Powers of t of f for t in [low, high]: through its values at the Chebyshev nodes.
template <std::size_t kCount>
[[nodiscard]] std::array<double, kCount> fit_powers(const std::function<double(double)>& f, double low, double high);

/// x^exponent over [1, 2] as powers of x - 1, relative error below 1e-8 for exponents in [-0.5, 1].
using PowerFit = std::array<double, 10>;
[[nodiscard]] PowerFit fit_power(double exponent);

}  // namespace provenit::programme::kernel
