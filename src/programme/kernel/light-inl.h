// From luma and chroma to light, and what is summed over it. Included once per instruction set.
#if defined(PROVENIT_KERNEL_LIGHT_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_LIGHT_INL_H_
#undef PROVENIT_KERNEL_LIGHT_INL_H_
#else
#define PROVENIT_KERNEL_LIGHT_INL_H_
#endif

#include "hwy/highway.h"
#include "kernel/rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

using D = hn::Repartition<double, F>;

/// table[index mod 32]. With vectors of 16 two registers hold the table, with vectors of 8 four; their entries are
/// looked up side by side and chosen by the index's upper bits, which is still faster than reading one by one.
HWY_INLINE V Lookup32(const float* table, hn::Vec<U> index) {
#if HWY_TARGET <= HWY_AVX3
  return V{_mm512_permutex2var_ps(hn::Load(F(), table).raw, index.raw, hn::Load(F(), table + kLanes).raw)};
#elif HWY_TARGET == HWY_AVX2
  const __m256 bit3 = hn::BitCast(F(), hn::ShiftLeft<28>(index)).raw,
               bit4 = hn::BitCast(F(), hn::ShiftLeft<27>(index)).raw;
  const auto look = [&](int part)
                        HWY_ATTR { return _mm256_permutevar8x32_ps(hn::Load(F(), table + 8 * part).raw, index.raw); };
  const __m256 low = _mm256_blendv_ps(look(0), look(1), bit3), high = _mm256_blendv_ps(look(2), look(3), bit3);
  return V{_mm256_blendv_ps(low, high, bit4)};
#else
  return hn::GatherIndex(F(), table, hn::BitCast(I(), hn::And(index, hn::Set(U(), 31U))));
#endif
}

/// CurveFit, for what lies outside the even segments.
template <bool kSquared>
class WideCurve {
 public:
  explicit HWY_INLINE WideCurve(const VectorConstants& k) : k_(k) {}

  HWY_INLINE Rgb operator()(V r, V g, V b) const {
    Lane red = Begin(r), green = Begin(g), blue = Begin(b);
    Step<4>(red, green, blue);
    Step<3>(red, green, blue);
    Step<2>(red, green, blue);
    Step<1>(red, green, blue);
    Step<0>(red, green, blue);
    return {Light(red.v), Light(green.v), Light(blue.v)};
  }

 private:
  struct Lane {
    hn::Vec<U> segment;
    V t, v;
  };
  HWY_INLINE Lane Begin(V u) const {
    const F f;
    const CurveFit& fit = k_.curve;
    const V low = hn::Set(f, fit.low);
    V x = hn::MulAdd(hn::Sub(u, hn::Set(f, k_.black)), hn::Set(f, k_.curve_slope), low);
    x = hn::Min(hn::Max(x, low), hn::Set(f, fit.high));
    const auto bits = hn::BitCast(U(), x), segment = hn::ShiftRight<21>(bits);
    const V begin = hn::BitCast(f, hn::And(bits, hn::Set(U(), 0xffe00000U)));
    return {segment, hn::Sub(x, begin), Lookup32(fit.coefficient[CurveFit::kCoefficients - 1].data(), segment)};
  }
  template <std::size_t kOrder>
  HWY_INLINE void Step(Lane& a, Lane& b, Lane& c) const {
    const float* const table = k_.curve.coefficient[kOrder].data();
    a.v = hn::MulAdd(a.v, a.t, Lookup32(table, a.segment));
    b.v = hn::MulAdd(b.v, b.t, Lookup32(table, b.segment));
    c.v = hn::MulAdd(c.v, c.t, Lookup32(table, c.segment));
  }
  static HWY_INLINE V Light(V v) { return kSquared ? hn::Mul(v, v) : hn::Max(v, hn::Zero(F())); }
  const VectorConstants& k_;
};
/// The fitted curve. With vectors of 16 its tables live in registers: two make up the 32 segments of one coefficient.
template <bool kSquared, bool kClamped>
class Curve {
 public:
  explicit HWY_INLINE Curve(const VectorConstants& k) : k_(k), magic_(hn::Set(F(), 0x1.8p23F)) {
    if constexpr (kClamped) high_ = hn::Set(F(), k.even.high);
#if HWY_TARGET <= HWY_AVX3
    SetTable(0);
    SetTable(1);
    SetTable(2);
    SetTable(3);
#endif
  }

  /// Variable to light.
  HWY_INLINE void operator()(Rgb& c) const {
    if constexpr (kClamped) c = {hn::Min(c.r, high_), hn::Min(c.g, high_), hn::Min(c.b, high_)};
    // Adding 1.5 x 2^23 rounds to a whole number, which is then the lower bits of the float.
    const Rgb n{hn::Add(c.r, magic_), hn::Add(c.g, magic_), hn::Add(c.b, magic_)};
    const auto bits = hn::Or3(hn::BitCast(U(), n.r), hn::BitCast(U(), n.g), hn::BitCast(U(), n.b));
    const auto beyond = hn::And(bits, hn::Set(U(), 0x003fffe0U));
    if (HWY_UNLIKELY(!hn::AllTrue(U(), hn::Eq(beyond, hn::Zero(U()))))) {
      c = WideCurve<kSquared>(k_)(c.r, c.g, c.b);
      return;
    }
    Lane r = Begin(c.r, n.r), g = Begin(c.g, n.g), b = Begin(c.b, n.b);
    Evaluate(r, g, b);
    c = {Light(r), Light(g), Light(b)};
  }

 private:
  /// One channel on its way: distance from the middle of its segment, then the root's value.
  struct Lane {
    hn::Vec<U> segment;
    V t, v;
  };
  HWY_INLINE Lane Begin(V u, V n) const { return {hn::BitCast(U(), n), hn::Sub(u, hn::Sub(n, magic_)), u}; }
  static HWY_INLINE V Light(const Lane& lane) { return kSquared ? hn::Mul(lane.v, lane.v) : lane.v; }

#if HWY_TARGET <= HWY_AVX3
  HWY_INLINE void SetTable(int order) {
    const float* const entries = k_.even.coefficient[static_cast<std::size_t>(order)].data();
    table_[order][0] = hn::Load(F(), entries);
    table_[order][1] = hn::Load(F(), entries + kLanes);
  }
  template <int kOrder>
  HWY_INLINE V Entry(const Lane& lane) const {
    return V{_mm512_permutex2var_ps(table_[kOrder][0].raw, lane.segment.raw, table_[kOrder][1].raw)};
  }
  template <int kOrder>
  HWY_INLINE void Step(Lane& lane) const {
    lane.v = hn::MulAdd(lane.v, lane.t, Entry<kOrder>(lane));
  }
  template <class... Lanes>
  HWY_INLINE void Evaluate(Lanes&... lane) const {
    ((lane.v = Entry<3>(lane)), ...);
    (Step<2>(lane), ...);
    (Step<1>(lane), ...);
    (Step<0>(lane), ...);
  }
#else
  template <class... Lanes>
  HWY_INLINE void Evaluate(Lanes&... lane) const {
    (EvaluateOne(lane), ...);
  }
  /// The coefficients of a segment lie side by side: one load for each pixel, then a transposition.
  HWY_INLINE void EvaluateOne(Lane& lane) const {
    const F f;
    HWY_ALIGN std::uint32_t n[kLanes];
    hn::Store(hn::And(lane.segment, hn::Set(U(), EvenFit::kSegments - 1)), U(), n);
    const V a = Segments(n, 0), b = Segments(n, 1), c = Segments(n, 2), d = Segments(n, 3);
    const V ac_low = hn::InterleaveLower(f, a, c), ac_high = hn::InterleaveUpper(f, a, c);
    const V bd_low = hn::InterleaveLower(f, b, d), bd_high = hn::InterleaveUpper(f, b, d);
    lane.v = hn::MulAdd(hn::InterleaveUpper(f, ac_high, bd_high), lane.t, hn::InterleaveLower(f, ac_high, bd_high));
    lane.v = hn::MulAdd(lane.v, lane.t, hn::InterleaveUpper(f, ac_low, bd_low));
    lane.v = hn::MulAdd(lane.v, lane.t, hn::InterleaveLower(f, ac_low, bd_low));
  }
  /// The coefficients for pixel i of each group of four.
  HWY_INLINE V Segments(const std::uint32_t* n, int i) const {
    const hn::Full128<float> four;
    const auto load = [&](int pixel) HWY_ATTR { return hn::Load(four, k_.even.by_segment[n[pixel]].data()); };
#if HWY_TARGET == HWY_AVX2
    return hn::Combine(F(), load(i + 4), load(i));
#else
    return load(i);
#endif
  }
#endif

  const VectorConstants& k_;
  V magic_, high_;
#if HWY_TARGET <= HWY_AVX3
  V table_[EvenFit::kCoefficients][2];
#endif
};

/// HLG's OOTF: scene light to display light by L_W Y_S^(gamma - 1), BT.2100-3 Table 5.
HWY_INLINE void ApplyOotf(const VectorConstants& v, Rgb& c) {
  const F f;
  const U u32;
  V y = hn::MulAdd(hn::Set(f, 0.2627F), c.r, hn::MulAdd(hn::Set(f, 0.6780F), c.g, hn::Mul(hn::Set(f, 0.0593F), c.b)));
  y = hn::Max(y, hn::Set(f, 0x1p-31F));
  const auto bits = hn::BitCast(u32, y);
  const V m = hn::BitCast(f, hn::Or(hn::And(bits, hn::Set(u32, 0x007fffffU)), hn::Set(u32, 0x3f800000U)));
  const V t = hn::Sub(m, hn::Set(f, 1.0F));
  V gain = hn::Set(f, v.hlg_power.back());
  for (std::size_t i = v.hlg_power.size() - 1; i-- > 0;) gain = hn::MulAdd(gain, t, hn::Set(f, v.hlg_power[i]));
  gain = hn::Mul(gain, Lookup32(v.hlg_scale.data(), hn::ShiftRight<23>(bits)));
  c = {hn::Mul(c.r, gain), hn::Mul(c.g, gain), hn::Mul(c.b, gain)};
}

/// Where a colour has a component below zero in a gamut (see VectorConstants).
class OutsideGamut {
 public:
  // The constants are held here: memory that is written to between could change them, for all the compiler knows.
  explicit HWY_INLINE OutsideGamut(const std::array<std::array<float, 3>, 3>& rows) {
    const F f;
    red_g_ = hn::Set(f, rows[0][1]);
    red_b_ = hn::Set(f, rows[0][2]);
    green_r_ = hn::Set(f, rows[1][0]);
    green_b_ = hn::Set(f, rows[1][2]);
    blue_r_ = hn::Set(f, rows[2][0]);
    blue_g_ = hn::Set(f, rows[2][1]);
    tiny_ = hn::Set(f, 1e-6F / 1.3F);
  }
  HWY_INLINE std::size_t Count(const Rgb& c, V max_rgb) const {
    const V tiny = hn::Mul(max_rgb, tiny_);
    const V red = hn::Add(c.r, hn::MulAdd(red_g_, c.g, hn::MulAdd(red_b_, c.b, tiny)));
    const V green = hn::Add(c.g, hn::MulAdd(green_r_, c.r, hn::MulAdd(green_b_, c.b, tiny)));
    const V blue = hn::Add(c.b, hn::MulAdd(blue_r_, c.r, hn::MulAdd(blue_g_, c.g, tiny)));
    return hn::CountTrue(F(), hn::Lt(hn::Min(red, hn::Min(green, blue)), hn::Zero(F())));
  }

 private:
  V red_g_, red_b_, green_r_, green_b_, blue_r_, blue_g_, tiny_;
};

/// Sums in float over a few vectors, then in double, always in the same order.
struct Sums {
  V r, g, b, max_rgb;
  hn::Vec<D> r2, g2, b2, max_rgb2;

  // Written out: an implicit constructor would not be compiled for the instruction set.
  HWY_INLINE Sums() {
    r = g = b = max_rgb = hn::Zero(F());
    r2 = g2 = b2 = max_rgb2 = hn::Zero(D());
  }

  /// Called after each block of rows, 16 vectors where cells have 64 samples: a float sum of so many equal terms is
  /// good to 2.4e-7.
  HWY_INLINE void Flush() {
    Move(r, r2);
    Move(g, g2);
    Move(b, b2);
    Move(max_rgb, max_rgb2);
  }

 private:
  static HWY_INLINE void Move(V& from, hn::Vec<D>& to) {
    const D d;
    const hn::Half<F> half;
    to = hn::Add(to, hn::Add(hn::PromoteTo(d, hn::LowerHalf(half, from)), hn::PromoteTo(d, hn::UpperHalf(half, from))));
    from = hn::Zero(F());
  }
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
