// One row of a rectangle as vectors want it: luma and interpolated chroma as floats. Included once per instruction set.
#if defined(PROVENIT_KERNEL_ROWS_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_ROWS_INL_H_
#undef PROVENIT_KERNEL_ROWS_INL_H_
#else
#define PROVENIT_KERNEL_ROWS_INL_H_
#endif

#include "hwy/cache_control.h"
#include "hwy/highway.h"
#include "kernel/level.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {
namespace hn = hwy::HWY_NAMESPACE;

using F = hn::ScalableTag<float>;
using V = hn::Vec<F>;
using I = hn::RebindToSigned<F>;
using U = hn::RebindToUnsigned<F>;
inline constexpr int kLanes = static_cast<int>(hn::MaxLanes(F()));

constexpr int padded(int count) {
  return (count + kLanes - 1) / kLanes * kLanes;
}

/// Asks for as many samples behind the next `count` ones: those the rectangle beside this one will read. Rows of a
/// rectangle lie far apart, which the processor does not foresee.
template <class T>
HWY_INLINE void AskForNext(const T* next, int count) {
  constexpr int kSamplesPerLine = 64 / sizeof(T);
  for (int i = 0; i < count; i += kSamplesPerLine) hwy::Prefetch(next + count + i);
}

/// Samples [from, from + count) of a row as floats minus `zero`, columns beyond the plane as the nearest inside. May
/// write up to kLanes - 1 floats more.
template <class T>
HWY_INLINE void LoadRow(const Plane& plane, int y, int from, int count, int zero, float* HWY_RESTRICT out) {
  const auto* row = reinterpret_cast<const T*>(plane.data + y * plane.stride);
  const F f;
  const I i32;
  const hn::Rebind<T, F> narrow;
  const auto offset = hn::Set(i32, zero);
  AskForNext(row + from, count);
  const auto scalar = [&](int i) {
    const int x = from + i < 0 ? 0 : from + i >= plane.width ? plane.width - 1 : from + i;
    T value{};
    std::memcpy(&value, row + x, sizeof(T));
    out[i] = static_cast<float>(static_cast<int>(value) - zero);
  };
  int i = 0;
  for (; i < count && from + i < 0; ++i) scalar(i);
  for (; i < count && from + i + kLanes <= plane.width; i += kLanes) {
    const auto code = hn::PromoteTo(i32, hn::LoadU(narrow, row + from + i));
    hn::StoreU(hn::ConvertTo(f, hn::Sub(code, offset)), f, out + i);
  }
  for (; i < count; ++i) scalar(i);
}

/// 2 kLanes samples as kLanes pairs, the first of each pair in the lower bits.
HWY_INLINE hn::Vec<U> LoadPairs(const std::uint16_t* row) {
  return hn::BitCast(U(), hn::LoadU(hn::Repartition<std::uint16_t, U>(), row));
}
HWY_INLINE hn::Vec<U> LoadPairs(const std::uint8_t* row) {
  const hn::Rebind<std::uint16_t, U> half;
  return hn::PromoteTo(U(), hn::BitCast(half, hn::LoadU(hn::Repartition<std::uint8_t, decltype(half)>(), row)));
}

template <class T>
HWY_INLINE V EvenOf(hn::Vec<U> pairs) {
  const auto low = hn::Set(U(), (1U << (8 * sizeof(T))) - 1);
  return hn::ConvertTo(F(), hn::BitCast(I(), hn::And(pairs, low)));
}
template <class T>
HWY_INLINE V OddOf(hn::Vec<U> pairs) {
  return hn::ConvertTo(F(), hn::BitCast(I(), hn::ShiftRight<8 * static_cast<int>(sizeof(T))>(pairs)));
}

/// From samples to the curve's variable.
struct Line {
  V slope, offset;
  [[nodiscard]] HWY_INLINE V operator()(V sample) const { return hn::MulAdd(sample, slope, offset); }
};

/// Columns [from, to) of a row: even ones to `even`, which has room for one float before and padded(their count), odd
/// ones to `odd` right behind.
template <class T>
HWY_INLINE void SplitRow(const Plane& plane, int y, int from, int to, const Line& line, float* even, float* odd) {
  const auto* row = reinterpret_cast<const T*>(plane.data + y * plane.stride);
  const F f;
  AskForNext(row + from, to - from);
  const int room = static_cast<int>(odd - even) + from % 2;
  even -= from % 2;
  int i = 0, x = from - from % 2;
  for (; x < to && x + 2 * kLanes <= plane.width && i + kLanes <= room; x += 2 * kLanes, i += kLanes) {
    const auto pairs = LoadPairs(row + x);
    hn::StoreU(line(EvenOf<T>(pairs)), f, even + i);
    hn::StoreU(line(OddOf<T>(pairs)), f, odd + i);
  }
  for (; x < to; x += 2, ++i) {
    T a{}, b{};
    std::memcpy(&a, row + x, sizeof(T));
    if (x + 1 < to) std::memcpy(&b, row + x + 1, sizeof(T));
    even[i] = hn::GetLane(line(hn::Set(f, static_cast<float>(a))));
    odd[i] = hn::GetLane(line(hn::Set(f, static_cast<float>(b))));
  }
}

/// Factors from chroma to the variable of the curve, for one unit of the row's chroma.
struct ChromaFactors {
  V red_cr, green_cr, green_cb, blue_cb;
  /// `sixteenths`: what the unit is worth, a power of two up to 16.
  HWY_INLINE ChromaFactors(const VectorConstants& v, int sixteenths) {
    const F f;
    const auto& k = v.chroma[static_cast<std::size_t>(sixteenths)];
    red_cr = hn::Set(f, k.red_cr);
    green_cr = hn::Set(f, k.green_cr);
    green_cb = hn::Set(f, k.green_cb);
    blue_cb = hn::Set(f, k.blue_cb);
  }
};

struct Rgb {
  V r, g, b;
};
/// A vector of pixels on its way: its place in the row, how many of its lanes are pixels, and R, G, B: first the
/// curve's variable, then light.
struct Pixels {
  int place, count;
  Rgb c;
};
HWY_INLINE Rgb Combined(V x, V cb, V cr, const ChromaFactors& k) {
  return {hn::MulAdd(cr, k.red_cr, x), hn::MulAdd(cb, k.green_cb, hn::MulAdd(cr, k.green_cr, x)),
          hn::MulAdd(cb, k.blue_cb, x)};
}

/// Reads the rows of one rectangle, from the first down. With halved chroma the even columns of a row come first and
/// then, from the next whole vector on, its odd columns, so that no vector has to be shuffled; otherwise all columns in
/// order. What fills up the vectors is any finite number.
template <class T>
class RowReader {
 public:
  RowReader(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch)
      : picture_(picture),
        constants_(plan.vector),
        rect_(rect),
        zero_(plan.vector.chroma_zero),
        horizontal_(horizontal_spacing(plan.format)),
        vertical_(vertical_spacing(plan.format)) {
    line_.slope = hn::Set(F(), plan.vector.luma_slope);
    line_.offset = hn::Set(F(), plan.vector.luma_offset);
    const int stride = padded(rect.width + 4) + 4 * kLanes;
    stride_ = static_cast<std::size_t>(stride);
    buffers_ = scratch.rows.reserve(kBuffers * stride_);
    // They hold what was last in them: finite numbers.
  }

  [[nodiscard]] bool split() const { return horizontal_ != Spacing::full; }
  [[nodiscard]] int first_count() const { return split() ? rect_.width - second_count() : rect_.width; }
  [[nodiscard]] int second_count() const { return split() ? (rect_.x + rect_.width) / 2 - rect_.x / 2 : 0; }

  /// Calls sink(0, pixels) for each vector of row y of the picture, with the curve's variable.
  template <class Sink>
  HWY_INLINE void Read(int y, Sink& sink) {
    const int sixteenths = split() ? ReadSplit(y) : ReadInOrder(y);
    const F f;
    const ChromaFactors k(constants_, sixteenths);
    const int odd = padded(first_count()), all = odd + padded(second_count());
    for (int i = 0; i < all; i += kLanes) {
      const int left = i < odd ? first_count() - i : odd + second_count() - i;
      sink(0, Pixels{i, left < kLanes ? left : kLanes,
                     Combined(hn::Load(f, buffer(kX) + i), hn::Load(f, buffer(kCb) + i), hn::Load(f, buffer(kCr) + i),
                              k)});
    }
  }

 private:
  enum Buffer { kX, kCb, kCr, kMixed, kRows = kMixed + 2, kBuffers = kRows + 8 };
  /// Aligned, with a vector's room before it.
  [[nodiscard]] float* buffer(int i) const { return buffers_ + static_cast<std::size_t>(i) * stride_ + kLanes; }

  HWY_INLINE int ReadInOrder(int y) {
    const F f;
    const bool rgb = picture_.format.chroma == Chroma::rgb;
    float *x = buffer(kX), *cb = buffer(kCb), *cr = buffer(kCr);
    LoadRow<T>(picture_.planes[rgb ? 1 : 0], y, rect_.x, rect_.width, 0, x);
    if (picture_.format.chroma != Chroma::grey) {
      LoadRow<T>(picture_.planes[rgb ? 2 : 1], y, rect_.x, rect_.width, zero_, cb);
      LoadRow<T>(picture_.planes[rgb ? 0 : 2], y, rect_.x, rect_.width, zero_, cr);
    }
    for (int i = 0; i < rect_.width; i += kLanes) {
      const V luma = hn::Load(f, x + i);
      hn::Store(line_(luma), f, x + i);
      if (!rgb) continue;
      hn::Store(hn::Sub(hn::Load(f, cb + i), luma), f, cb + i);
      hn::Store(hn::Sub(hn::Load(f, cr + i), luma), f, cr + i);
    }
    return 16;
  }

  /// Fills the buffers; returns what a unit of the chroma is worth, in sixteenths of a code.
  HWY_INLINE int ReadSplit(int y) {
    const int first = first_count(), second = second_count(), to = padded(first);
    SplitRow<T>(picture_.planes[0], y, rect_.x, rect_.x + rect_.width, line_, buffer(kX), buffer(kX) + to);
    const Taps v = taps(vertical_, y, picture_.planes[1].height);
    for (int c = 0; c < 2; ++c) {
      const float* mixed = Mix(c + 1, v, buffer(kMixed + c));
      Interpolate(mixed, first, second, buffer(kCb + c), buffer(kCb + c) + to);
    }
    return (horizontal_ == Spacing::even ? 2 : 1) * v.greatest_common_weight();
  }

  /// Chroma at the even and the odd columns, from the chroma samples from column rect.x / 2 on.
  HWY_INLINE void Interpolate(const float* from, int first, int second, float* even, float* odd) const {
    const F f;
    const V three = hn::Set(f, 3.0F);
    const float* const even_from = from + rect_.x % 2;
    if (horizontal_ == Spacing::even) {
      for (int i = 0; i < first; i += kLanes) {
        const V own = hn::LoadU(f, even_from + i);
        hn::Store(hn::Add(own, own), f, even + i);
      }
      for (int i = 0; i < second; i += kLanes)
        hn::Store(hn::Add(hn::Load(f, from + i), hn::LoadU(f, from + i + 1)), f, odd + i);
      return;
    }
    for (int i = 0; i < first; i += kLanes)
      hn::Store(hn::MulAdd(three, hn::LoadU(f, even_from + i), hn::LoadU(f, even_from + i - 1)), f, even + i);
    for (int i = 0; i < second; i += kLanes)
      hn::Store(hn::MulAdd(three, hn::Load(f, from + i), hn::LoadU(f, from + i + 1)), f, odd + i);
  }

  /// Chroma between two rows in units of the taps' greatest common weight; a row itself where one is enough.
  HWY_INLINE const float* Mix(int plane, const Taps& v, float* mixed) {
    const F f;
    const float* a = ChromaRow(plane, v.first);
    if (v.second_weight == 0) return a;
    const float* b = ChromaRow(plane, v.second);
    const int ratio = v.first_weight / v.second_weight;
    const V weight = hn::Set(f, static_cast<float>(ratio));
    for (int i = horizontal_ == Spacing::even ? 0 : -kLanes; i < columns(); i += kLanes)
      hn::Store(hn::MulAdd(weight, hn::Load(f, a + i), hn::Load(f, b + i)), f, mixed + i);
    return mixed;
  }

  /// Chroma samples up to the one right of the last needed.
  [[nodiscard]] int columns() const { return (rect_.x + rect_.width) / 2 - rect_.x / 2 + 1; }

  /// A row of chroma from column rect.x / 2 on, kept while its neighbours are mixed with it.
  HWY_INLINE const float* ChromaRow(int plane, int y) {
    const int slot = 4 * (plane - 1) + y % 4;
    float* out = buffer(kRows + slot);
    if (kept_[slot] == y) return out;
    kept_[slot] = y;
    LoadRow<T>(picture_.planes[plane], y, rect_.x / 2, columns(), zero_, out);
    if (horizontal_ == Spacing::midway) LoadRow<T>(picture_.planes[plane], y, rect_.x / 2 - 1, 1, zero_, out - 1);
    return out;
  }

  const Picture& picture_;
  const VectorConstants& constants_;
  Rect rect_;
  int zero_;
  Spacing horizontal_, vertical_;
  Line line_;
  std::size_t stride_ = 0;
  float* buffers_ = nullptr;
  int kept_[8] = {-1, -1, -1, -1, -1, -1, -1, -1};  ///< rows of Cb and of Cr, by the row mod 4
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
