// One row of a rectangle as vectors want it: luma and interpolated chroma as floats. Included once per instruction set.
#if defined(PROVENIT_KERNEL_ROWS_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_ROWS_INL_H_
#undef PROVENIT_KERNEL_ROWS_INL_H_
#else
#define PROVENIT_KERNEL_ROWS_INL_H_
#endif

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

/// One row. With halved chroma its even columns come first and then, from the next whole vector on, its odd columns, so
/// that no vector has to be shuffled; otherwise all columns in order. What fills up the vectors is any finite number.
struct Row {
  const float* x = nullptr;                  ///< the curve's variable for the luma alone
  const float *cb = nullptr, *cr = nullptr;  ///< zero removed
  int sixteenths = 16;                       ///< of a code that one unit of cb and cr is worth
};

constexpr int padded(int count) {
  return (count + kLanes - 1) / kLanes * kLanes;
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
  const I i32;
  const U u32;
  constexpr int kBits = 8 * static_cast<int>(sizeof(T));
  const auto low = hn::Set(u32, (1U << kBits) - 1);
  const int room = static_cast<int>(odd - even) + from % 2;
  even -= from % 2;
  int i = 0, x = from - from % 2;
  for (; x < to && x + 2 * kLanes <= plane.width && i + kLanes <= room; x += 2 * kLanes, i += kLanes) {
    const auto pairs = LoadPairs(row + x);
    hn::StoreU(line(hn::ConvertTo(f, hn::BitCast(i32, hn::And(pairs, low)))), f, even + i);
    hn::StoreU(line(hn::ConvertTo(f, hn::BitCast(i32, hn::ShiftRight<kBits>(pairs)))), f, odd + i);
  }
  for (; x < to; x += 2, ++i) {
    T a{}, b{};
    std::memcpy(&a, row + x, sizeof(T));
    if (x + 1 < to) std::memcpy(&b, row + x + 1, sizeof(T));
    even[i] = hn::GetLane(line(hn::Set(f, static_cast<float>(a))));
    odd[i] = hn::GetLane(line(hn::Set(f, static_cast<float>(b))));
  }
}

/// Reads the rows of one rectangle, from the first down.
template <class T>
class RowReader {
 public:
  RowReader(const Plan& plan, const Picture& picture, const Rect& rect, Scratch& scratch)
      : picture_(picture),
        rect_(rect),
        zero_(plan.vector.chroma_zero),
        horizontal_(horizontal_spacing(plan.format)),
        vertical_(vertical_spacing(plan.format)) {
    line_.slope = hn::Set(F(), plan.vector.luma_slope);
    line_.offset = hn::Set(F(), plan.vector.luma_offset);
    stride_ = static_cast<std::size_t>(padded(rect.width + 4) + 4 * kLanes);
    buffers_ = scratch.rows.reserve(kBuffers * stride_);
    for (std::size_t i = 0; i < kMixed * stride_; ++i) buffers_[i] = 0;
    Mix(0);
  }

  [[nodiscard]] bool split() const { return horizontal_ != Spacing::full; }
  [[nodiscard]] int first_count() const { return split() ? rect_.width - second_count() : rect_.width; }
  [[nodiscard]] int second_count() const { return split() ? (rect_.x + rect_.width) / 2 - rect_.x / 2 : 0; }

  /// Rows of the rectangle in order, y = 0, 1, ...: valid until the next call.
  HWY_INLINE Row Next(int y) {
    Row row{.x = buffer(kX), .cb = buffer(kCb), .cr = buffer(kCr)};
    if (split())
      ReadSplit(y, row);
    else
      ReadWhole(y);
    return row;
  }

 private:
  enum Buffer { kX, kCb, kCr, kMixed, kRows = kMixed + 4, kBuffers = kRows + 4 };
  /// Aligned, with a vector's room before it.
  [[nodiscard]] float* buffer(int i) const { return buffers_ + static_cast<std::size_t>(i) * stride_ + kLanes; }

  HWY_INLINE void ReadWhole(int y) {
    const F f;
    const bool rgb = picture_.format.chroma == Chroma::rgb;
    float *x = buffer(kX), *cb = buffer(kCb), *cr = buffer(kCr);
    const int row = rect_.y + y;
    LoadRow<T>(picture_.planes[rgb ? 1 : 0], row, rect_.x, rect_.width, 0, x);
    if (picture_.format.chroma != Chroma::grey) {
      LoadRow<T>(picture_.planes[rgb ? 2 : 1], row, rect_.x, rect_.width, zero_, cb);
      LoadRow<T>(picture_.planes[rgb ? 0 : 2], row, rect_.x, rect_.width, zero_, cr);
    }
    for (int i = 0; i < rect_.width; i += kLanes) {
      const V luma = hn::Load(f, x + i);
      hn::Store(line_(luma), f, x + i);
      if (!rgb) continue;
      hn::Store(hn::Sub(hn::Load(f, cb + i), luma), f, cb + i);
      hn::Store(hn::Sub(hn::Load(f, cr + i), luma), f, cr + i);
    }
  }

  HWY_INLINE void ReadSplit(int y, Row& row) {
    const int to = padded(first_count());
    SplitRow<T>(picture_.planes[0], rect_.y + y, rect_.x, rect_.x + rect_.width, line_, buffer(kX), buffer(kX) + to);
    const Mixed& mixed = mixed_[y % 2];
    // Chroma column k is at [k - first_column()].
    const int even = (rect_.x + 1) / 2 - first_column(), odd = rect_.x / 2 - first_column();
    for (int c = 0; c < 2; ++c) {
      const float* from = mixed.row[c];
      float* out = buffer(kCb + c);
      if (horizontal_ == Spacing::even) {
        Sum(from + even, from + even, first_count(), out);
        Sum(from + odd, from + odd + 1, second_count(), out + to);
      } else {
        ThreeToOne(from + even, from + even - 1, first_count(), out);
        ThreeToOne(from + odd, from + odd + 1, second_count(), out + to);
      }
    }
    row.sixteenths = (horizontal_ == Spacing::even ? 2 : 1) * mixed.worth;
    if (y + 1 < rect_.height) Mix(y + 1);
  }

  /// Chroma of row y of the rectangle, mixed from its rows. It is loaded again across the borders of its stores, which
  /// is only fast once they have reached the cache: so it is done a row ahead.
  HWY_INLINE void Mix(int y) {
    if (!split()) return;
    Mixed& mixed = mixed_[y % 2];
    for (int c = 0; c < 2; ++c)
      mixed.row[c] = MixRows(c + 1, rect_.y + y, buffer(kMixed + 2 * (y % 2) + c), mixed.worth);
  }

  [[nodiscard]] int first_column() const { return rect_.x / 2 - 1; }
  [[nodiscard]] int columns() const { return (rect_.x + rect_.width) / 2 + 1 - first_column() + 1; }

  /// Chroma rows for luma row y, mixed: the row itself where one is enough. `worth` is the weight of one unit in
  /// quarters.
  HWY_INLINE const float* MixRows(int plane, int y, float* mixed, int& worth) {
    const Taps v = taps(vertical_, y, picture_.planes[plane].height);
    const float* a = ChromaRow(plane, v.first);
    worth = 4;
    if (v.second_weight == 0) return a;
    const float* b = ChromaRow(plane, v.second);
    if (v.second_weight == 2) {
      Sum(a, b, columns(), mixed);
      worth = 2;
    } else {
      ThreeToOne(a, b, columns(), mixed);
      worth = 1;
    }
    return mixed;
  }

  /// A row of chroma, kept while its neighbours are mixed with it.
  HWY_INLINE const float* ChromaRow(int plane, int row) {
    const int slot = 2 * (plane - 1) + row % 2;
    float* out = buffer(kRows + slot);
    if (kept_[slot] != row) LoadRow<T>(picture_.planes[plane], row, first_column(), columns(), zero_, out);
    kept_[slot] = row;
    return out;
  }

  static HWY_INLINE void Sum(const float* a, const float* b, int count, float* HWY_RESTRICT out) {
    const F f;
    for (int i = 0; i < count; i += kLanes) hn::Store(hn::Add(hn::LoadU(f, a + i), hn::LoadU(f, b + i)), f, out + i);
  }
  static HWY_INLINE void ThreeToOne(const float* a, const float* b, int count, float* HWY_RESTRICT out) {
    const F f;
    const auto three = hn::Set(f, 3.0F);
    for (int i = 0; i < count; i += kLanes)
      hn::Store(hn::MulAdd(three, hn::LoadU(f, a + i), hn::LoadU(f, b + i)), f, out + i);
  }

  struct Mixed {
    const float* row[2] = {nullptr, nullptr};  ///< of Cb and Cr
    int worth = 4;                             ///< quarters of a code that one unit is
  };

  const Picture& picture_;
  Rect rect_;
  int zero_;
  Spacing horizontal_, vertical_;
  Line line_;
  std::size_t stride_ = 0;
  float* buffers_ = nullptr;
  Mixed mixed_[2];
  int kept_[4] = {-1, -1, -1, -1};
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
