// Rows two by two, in blocks of columns: chroma goes on from pair to pair in registers. Included once per instruction
// set.
#if defined(PROVENIT_KERNEL_BLOCKS_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_BLOCKS_INL_H_
#undef PROVENIT_KERNEL_BLOCKS_INL_H_
#else
#define PROVENIT_KERNEL_BLOCKS_INL_H_
#endif

#include <algorithm>

#include "hwy/cache_control.h"
#include "hwy/highway.h"
#include "kernel/rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

/// Reads a rectangle of a picture with chroma beside its even columns, whose rows and vectors all come in pairs.
template <class T>
class BlockReader {
 public:
  /// Columns that are read at once.
  static constexpr int kColumns = 2 * kLanes;

  [[nodiscard]] static bool Takes(const PictureFormat& format, const Rect& rect) {
    return horizontal_spacing(format) == Spacing::even && rect.x % 2 == 0 && rect.width % kColumns == 0 &&
           rect.y % 2 == 0 && rect.height % 2 == 0;
  }

  /// `origin` is taken from the curve's variable.
  HWY_INLINE BlockReader(const Plan& plan, const Picture& picture, const Rect& rect, float origin)
      : luma_(picture.planes[0]),
        cb_(picture.planes[1]),
        cr_(picture.planes[2]),
        rect_(rect),
        vertical_(vertical_spacing(plan.format)),
        upper_(plan.vector, taps(vertical_, 0, 2)),
        lower_(plan.vector, taps(vertical_, 1, 2)) {
    line_.slope = hn::Set(F(), plan.vector.luma_slope);
    line_.offset = hn::Set(F(), plan.vector.luma_offset - origin);
    zero_ = hn::Set(I(), plan.vector.chroma_zero);
  }

  /// All rows, block by block. For each pair of a block: sink.Begin(its first row in the rectangle), then four times
  /// sink(row of the pair, pixels), even and odd columns of each, with the curve's variable, then sink.EndSquares() for
  /// the squares of 2 x 2 pixels in them.
  template <class Sink>
  HWY_INLINE void Read(Sink& sink) const {
    for (int i = 0; i < rect_.width / 2; i += kLanes) {
      const int per_pair = vertical_ == Spacing::full ? 2 : 1;
      int at = vertical_ == Spacing::full ? rect_.y : rect_.y / 2;
      Chroma before = vertical_ == Spacing::midway ? ChromaOf(at - 1, i) : Chroma(), own = ChromaOf(at, i);
      for (int y = 0; y < rect_.height; y += 2, at += per_pair) {
        const Chroma next = ChromaOf(at + 1, i);
        sink.Begin(y);
        ReadRow(0, rect_.y + y, i, upper_, own, before, sink);
        ReadRow(1, rect_.y + y + 1, i, lower_, own, next, sink);
        sink.EndSquares();
        if (vertical_ == Spacing::midway) before = own;
        own = vertical_ == Spacing::full ? ChromaOf(at + 2, i) : next;
      }
    }
  }

 private:
  /// At the even columns, and the sum with that of the column on the right.
  struct Chroma {
    V cb, cr, cb_sum, cr_sum;
    HWY_INLINE Chroma() { cb = cr = cb_sum = cr_sum = hn::Zero(F()); }
  };
  /// Of the two rows of chroma that a row takes, own x own_weight + the other.
  struct RowFactors {
    ChromaFactors even, odd;
    V own_weight;
    HWY_INLINE RowFactors(const VectorConstants& v, const Taps& t)
        : even(v, 4 * t.greatest_common_weight()), odd(v, 2 * t.greatest_common_weight()) {
      own_weight = hn::Set(F(), static_cast<float>(t.second_weight > 0 ? t.first_weight / t.second_weight : 1));
    }
  };

  template <class Sink>
  HWY_INLINE void ReadRow(int row, int y, int i, const RowFactors& k, const Chroma& own, const Chroma& other,
                          Sink& sink) const {
    const T* luma = reinterpret_cast<const T*>(luma_.data + y * luma_.stride) + rect_.x + 2 * i;
    hwy::Prefetch(luma + rect_.width);
    const auto pairs = LoadPairs(luma);
    // 4:2:2: each row has its own chroma.
    const bool both = vertical_ != Spacing::full;
    const auto mixed = [&](V a, V b) HWY_ATTR { return both ? hn::MulAdd(k.own_weight, a, b) : row == 0 ? a : b; };
    sink(row, Pixels{i, kLanes,
                     Combined(line_(EvenOf<T>(pairs)), mixed(own.cb, other.cb), mixed(own.cr, other.cr), k.even)});
    sink(row, Pixels{rect_.width / 2 + i, kLanes,
                     Combined(line_(OddOf<T>(pairs)), mixed(own.cb_sum, other.cb_sum), mixed(own.cr_sum, other.cr_sum),
                              k.odd)});
  }

  /// Beyond the first and the last row and column those.
  HWY_INLINE Chroma ChromaOf(int y, int i) const {
    Chroma c;
    Samples(cb_, y, i, c.cb, c.cb_sum);
    Samples(cr_, y, i, c.cr, c.cr_sum);
    return c;
  }
  HWY_INLINE void Samples(const Plane& plane, int y, int i, V& own, V& sum) const {
    const int x = rect_.x / 2 + i;
    const T* row = reinterpret_cast<const T*>(plane.data + std::clamp(y, 0, plane.height - 1) * plane.stride) + x;
    hwy::Prefetch(row + rect_.width);
    own = FloatsOf(row);
    V right;
    if (HWY_LIKELY(x + kLanes < plane.width)) {
      right = FloatsOf(row + 1);
    } else {
      T last[kLanes];
      std::copy_n(row + 1, kLanes - 1, last);
      last[kLanes - 1] = row[kLanes - 1];
      right = FloatsOf(last);
    }
    sum = hn::Add(own, right);
  }
  HWY_INLINE V FloatsOf(const T* samples) const {
    const hn::Rebind<T, F> narrow;
    return hn::ConvertTo(F(), hn::Sub(hn::PromoteTo(I(), hn::LoadU(narrow, samples)), zero_));
  }

  // Copies: a vector that is stored could change what is only referred to, for all the compiler knows.
  const Plane luma_, cb_, cr_;
  const Rect rect_;
  const Spacing vertical_;
  const RowFactors upper_, lower_;
  Line line_;
  hn::Vec<I> zero_;
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
