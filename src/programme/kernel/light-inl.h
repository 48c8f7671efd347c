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

/// The fitted curve. With vectors of 16 its tables live in registers: two make up the 32 segments of one coefficient.
template <bool kSquared>
class Curve {
 public:
  explicit HWY_INLINE Curve(const CurveFit& fit)
      : fit_(fit), low_(hn::Set(F(), fit.low)), high_(hn::Set(F(), fit.high)) {
#if HWY_TARGET <= HWY_AVX3
    for (int j = 0; j < CurveFit::kCoefficients; ++j) {
      table_[j][0] = hn::Load(F(), fit.coefficient[j].data());
      table_[j][1] = hn::Load(F(), fit.coefficient[j].data() + kLanes);
    }
#endif
  }

  /// Variable to light. Four at once: each step is done for all before the next, so that the next is not waited for.
  HWY_INLINE void operator()(V& a) const {
    Lane one = Begin(a);
    Evaluate(one);
    a = Light(one);
  }
  HWY_INLINE void operator()(V& a, V& b, V& c, V& d) const {
    Lane one = Begin(a), two = Begin(b), three = Begin(c), four = Begin(d);
    Evaluate(one, two, three, four);
    a = Light(one);
    b = Light(two);
    c = Light(three);
    d = Light(four);
  }

 private:
  struct Lane {
    hn::Vec<U> segment;
    V t, v;
  };

  HWY_INLINE Lane Begin(V x) const {
    x = hn::Min(hn::Max(x, low_), high_);
    const auto bits = hn::BitCast(U(), x);
    const V begin = hn::BitCast(F(), hn::And(bits, hn::Set(U(), 0xffe00000U)));
    return {hn::ShiftRight<21>(bits), hn::Sub(x, begin), x};
  }
  template <class... Lanes>
  HWY_INLINE void Evaluate(Lanes&... lane) const {
    ((lane.v = Coefficient<5>(lane.segment)), ...);
    (Step<4>(lane), ...);
    (Step<3>(lane), ...);
    (Step<2>(lane), ...);
    (Step<1>(lane), ...);
    (Step<0>(lane), ...);
  }
  template <int kOrder>
  HWY_INLINE void Step(Lane& lane) const {
    lane.v = hn::MulAdd(lane.v, lane.t, Coefficient<kOrder>(lane.segment));
  }
  static HWY_INLINE V Light(const Lane& lane) {
    if constexpr (kSquared) return hn::Mul(lane.v, lane.v);
    return hn::Max(lane.v, hn::Zero(F()));
  }

  template <int kOrder>
  HWY_INLINE V Coefficient(hn::Vec<U> segment) const {
#if HWY_TARGET <= HWY_AVX3
    return V{_mm512_permutex2var_ps(table_[kOrder][0].raw, segment.raw, table_[kOrder][1].raw)};
#else
    return Lookup32(fit_.coefficient[kOrder].data(), segment);
#endif
  }

  const CurveFit& fit_;
  V low_, high_;
#if HWY_TARGET <= HWY_AVX3
  V table_[CurveFit::kCoefficients][2];
#endif
};

/// Light of one row's channels, or the curve's variable before. In place, `count` a multiple of kLanes.
template <bool kSquared>
HWY_INLINE void ApplyCurve(const Curve<kSquared>& curve, float* HWY_RESTRICT values, int count) {
  const F f;
  int i = 0;
  for (; i + 4 * kLanes <= count; i += 4 * kLanes) {
    V a = hn::Load(f, values + i), b = hn::Load(f, values + i + kLanes);
    V c = hn::Load(f, values + i + 2 * kLanes), d = hn::Load(f, values + i + 3 * kLanes);
    curve(a, b, c, d);
    hn::Store(a, f, values + i);
    hn::Store(b, f, values + i + kLanes);
    hn::Store(c, f, values + i + 2 * kLanes);
    hn::Store(d, f, values + i + 3 * kLanes);
  }
  for (; i < count; i += kLanes) {
    V a = hn::Load(f, values + i);
    curve(a);
    hn::Store(a, f, values + i);
  }
}

struct Rgb {
  V r, g, b;
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
