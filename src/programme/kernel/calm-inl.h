// Rectangles whose signals stay close together: what their codes span, and the curve for them. Included once per
// instruction set.
#if defined(PROVENIT_KERNEL_CALM_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_CALM_INL_H_
#undef PROVENIT_KERNEL_CALM_INL_H_
#else
#define PROVENIT_KERNEL_CALM_INL_H_
#endif

#include <algorithm>

#include "hwy/highway.h"
#include "kernel/light-inl.h"
#include "kernel/rows-inl.h"
#include "kernel/span.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

using Wide = hn::Repartition<std::uint16_t, F>;
using Narrow = hn::Rebind<std::uint16_t, F>;

template <class D16>
HWY_INLINE hn::Vec<D16> LoadCodes(D16 d, const std::uint16_t* row) {
  return hn::LoadU(d, row);
}
template <class D16>
HWY_INLINE hn::Vec<D16> LoadCodes(D16 d, const std::uint8_t* row) {
  return hn::PromoteTo(d, hn::LoadU(hn::Rebind<std::uint8_t, D16>(), row));
}

HWY_INLINE Codes Reduced(Narrow /*tag*/, hn::Vec<Narrow> low, hn::Vec<Narrow> high) {
  const I i32;
  return {static_cast<int>(hn::GetLane(hn::MinOfLanes(i32, hn::PromoteTo(i32, low)))),
          static_cast<int>(hn::GetLane(hn::MaxOfLanes(i32, hn::PromoteTo(i32, high))))};
}
HWY_INLINE Codes Reduced(Wide /*tag*/, hn::Vec<Wide> low, hn::Vec<Wide> high) {
  const Narrow half;
  return Reduced(half, hn::Min(hn::LowerHalf(half, low), hn::UpperHalf(half, low)),
                 hn::Max(hn::LowerHalf(half, high), hn::UpperHalf(half, high)));
}

/// Smallest and largest sample of rows [top, bottom] in columns [left, left + count), at least a vector of `d`.
template <class T, class D16>
HWY_INLINE Codes CodesOf(D16 d, const Plane& plane, int top, int bottom, int left, int count) {
  constexpr int kStep = static_cast<int>(hn::MaxLanes(D16()));
  auto low = hn::Set(d, 0xffff), high = hn::Zero(d);
  for (int y = top; y <= bottom; ++y) {
    const T* row = reinterpret_cast<const T*>(plane.data + y * plane.stride) + left;
    const auto take = [&](int i) HWY_ATTR {
      const auto samples = LoadCodes(d, row + i);
      low = hn::Min(low, samples);
      high = hn::Max(high, samples);
    };
    int i = 0;
    for (; i + kStep <= count; i += kStep) take(i);
    if (i < count) take(count - kStep);
  }
  return Reduced(d, low, high);
}

/// Of a rectangle that BlockReader takes.
template <class T>
HWY_NOINLINE Span SpanOfRect(const Plan& plan, const Picture& picture, const Rect& rect) {
  const Plane& chroma = picture.planes[1];
  const int columns = std::min(rect.width / 2 + 1, chroma.width - rect.x / 2);
  const int bottom = rect.y + rect.height - 1;
  const bool all_rows = vertical_spacing(plan.format) == Spacing::full;
  const int first = all_rows ? rect.y : std::max(rect.y / 2 - 1, 0);
  const int last = all_rows ? bottom : std::min(bottom / 2 + 1, chroma.height - 1);
  const auto chroma_codes = [&](const Plane& plane) HWY_ATTR {
    return columns < 2 * kLanes ? CodesOf<T>(Narrow(), plane, first, last, rect.x / 2, columns)
                                : CodesOf<T>(Wide(), plane, first, last, rect.x / 2, columns);
  };
  return span_of(plan.vector, CodesOf<T>(Wide(), picture.planes[0], rect.y, bottom, rect.x, rect.width),
                 chroma_codes(chroma), chroma_codes(picture.planes[2]));
}

/// LocalFit, of u less its centre. Its coefficients stay in registers.
template <bool kSquared>
class LocalCurve {
 public:
  explicit HWY_INLINE LocalCurve(const LocalFit& fit) {
    for (int i = 0; i < LocalFit::kCoefficients; ++i)
      c_[i] = hn::Set(F(), fit.coefficient[static_cast<std::size_t>(i)]);
  }
  HWY_INLINE void operator()(Rgb& c) const { c = {Light(c.r), Light(c.g), Light(c.b)}; }

 private:
  HWY_INLINE V Light(V t) const {
    static_assert(LocalFit::kCoefficients == 8);
    // Written out: the compiler keeps a loop as one.
    V v = hn::MulAdd(c_[7], t, c_[6]);
    v = hn::MulAdd(v, t, c_[5]);
    v = hn::MulAdd(v, t, c_[4]);
    v = hn::MulAdd(v, t, c_[3]);
    v = hn::MulAdd(v, t, c_[2]);
    v = hn::MulAdd(v, t, c_[1]);
    v = hn::MulAdd(v, t, c_[0]);
    return kSquared ? hn::Mul(v, v) : v;
  }
  V c_[LocalFit::kCoefficients];
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
