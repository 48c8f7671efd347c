// The figures of one rectangle. Included once per instruction set.
#if defined(PROVENIT_KERNEL_RECT_METER_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_RECT_METER_INL_H_
#undef PROVENIT_KERNEL_RECT_METER_INL_H_
#else
#define PROVENIT_KERNEL_RECT_METER_INL_H_
#endif

#include <limits>

#include "hwy/highway.h"
#include "kernel/blocks-inl.h"
#include "kernel/calm-inl.h"
#include "kernel/level.h"
#include "kernel/light-inl.h"
#include "kernel/rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

/// Light of a rectangle as it is computed, in rows like those of RowReader. What fills up the vectors is 0.
struct Tile {
  float *luminance = nullptr, *max_rgb = nullptr;
  int first = 0, second = 0;  ///< columns before and after the split
  int rows = 0, max_rgb_rows = 0;
  [[nodiscard]] int stride() const { return padded(first) + padded(second); }
  [[nodiscard]] float* luminance_row(int y) const { return luminance + std::ptrdiff_t{y} * stride(); }
  [[nodiscard]] float* max_rgb_row(int y) const { return max_rgb + std::ptrdiff_t{y % max_rgb_rows} * stride(); }
};

/// One rectangle being measured.
template <class T, bool kSquared, bool kHlg>
class RectMeter {
 public:
  static constexpr int kFlush = 4;  ///< rows, or pairs of a block's rows, after which float sums move on
  RectMeter(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& scratch)
      : plan_(plan), picture_(picture), rect_(rect), tally_(tally), scratch_(scratch) {}

  /// Computes the light of all rows. `kKeep` keeps max(R,G,B) of all of them.
  template <bool kKeep>
  RectFigures Run() {
    RowReader<T> reader(plan_, picture_, rect_, scratch_);
    tile_.first = reader.first_count();
    tile_.second = reader.second_count();
    tile_.rows = rect_.height;
    tile_.max_rgb_rows = kKeep ? rect_.height : 2;
    const auto size = static_cast<std::size_t>(tile_.stride());
    tile_.luminance = scratch_.tile.reserve(size * static_cast<std::size_t>(tile_.rows + tile_.max_rgb_rows));
    tile_.max_rgb = tile_.luminance_row(tile_.rows);
    if constexpr (!kKeep) {
      if (BlockReader<T>::Takes(plan_.format, rect_)) return Blocks();
    }
    return SingleRows(reader);
  }
  [[nodiscard]] const Tile& tile() const { return tile_; }

  /// Shares above and below the stated levels, from the tile's luminance.
  void CountLevels(const RectFigures& figures) {
    for (std::size_t i = 0; i < kAboveCdm2.size(); ++i)
      tally_.above[i] += CountReaching(kAboveCdm2[i], figures, [](double v, double level) { return v > level; });
    for (std::size_t i = 0; i < kBelowCdm2.size(); ++i)
      tally_.below[i] +=
          rect_.pixels() - CountReaching(kBelowCdm2[i], figures, [](double v, double level) { return v >= level; });
  }

 private:
  /// Takes vectors of one or two rows, and keeps everything that is kept of their light. `kKeep`: also max(R,G,B).
  template <class ThisCurve, bool kGamut, bool kKeep>
  class Taker {
   public:
    HWY_INLINE Taker(RectMeter& meter, const ThisCurve& curve)
        : meter_(meter), tile_(meter.tile_), curve_(curve), bt709_(meter.plan_.vector.bt709) {
      const F f;
      const auto& share = meter.plan_.vector.luminance;
      red_share_ = hn::Set(f, share[0]);
      green_share_ = hn::Set(f, share[1]);
      blue_share_ = hn::Set(f, share[2]);
      table_ = meter.tally_.histogram.table();
    }
    /// Before a row, or the first of two.
    HWY_INLINE void Begin(int row) {
      constexpr int kRows = kKeep ? 1 : 2;
      luminance_ = tile_.luminance + row * stride_;
      if constexpr (kKeep) max_rgb_ = tile_.max_rgb_row(row);
      above_ = row >= kRows ? luminance_ - kRows * stride_ : nullptr;
    }
    HWY_INLINE void operator()(int row, Pixels p) {
      const F f;
      const VectorConstants& k = meter_.plan_.vector;
      Rgb& c = p.c;
      // What fills up a vector must neither choose its curve nor count.
      const bool whole = HWY_LIKELY(p.count == kLanes);
      const auto real = hn::FirstN(f, static_cast<std::size_t>(p.count));
      if (!whole) Clear(real, c);
      curve_(c);
      if constexpr (kHlg) ApplyOotf(k, c);
      if (!whole) Clear(real, c);
      const V m = hn::Max(c.r, hn::Max(c.g, c.b));
      const V l = hn::MulAdd(red_share_, c.r, hn::MulAdd(green_share_, c.g, hn::Mul(blue_share_, c.b)));
      const std::ptrdiff_t place = std::ptrdiff_t{row} * stride_ + p.place;
      hn::Store(l, f, luminance_ + place);
      if constexpr (kKeep) hn::Store(m, f, max_rgb_ + place);
      // Counting the rows above is work for the scalar units, and goes on beside that of the vector units.
      if (above_ != nullptr) Histogram::count<kLanes>(table_, above_ + place);
      sums_.r = hn::Add(sums_.r, c.r);
      sums_.g = hn::Add(sums_.g, c.g);
      sums_.b = hn::Add(sums_.b, c.b);
      sums_.max_rgb = hn::Add(sums_.max_rgb, m);
      largest_ = hn::Max(largest_, m);
      lightest_ = hn::Max(lightest_, l);
      least_ = hn::Min(least_, whole ? l : hn::IfThenElse(real, l, least_));
      square_ = hn::Min(square_, m);
      if constexpr (kGamut) {
        if (const std::size_t outside = bt709_.Count(c, m); outside > 0) {
          outside_bt709_ += outside;
          if (meter_.plan_.p3.needed) outside_p3_ += OutsideGamut(k.p3).Count(c, m);
        }
      }
    }
    /// The four vectors since the last call hold squares of 2 x 2 pixels.
    HWY_INLINE void EndSquares() {
      squares_ = hn::Max(squares_, square_);
      square_ = Infinity();
      if (++pairs_ % kFlush == 0) Flush();
    }
    HWY_INLINE void Flush() { sums_.Flush(); }
    [[nodiscard]] HWY_INLINE RectFigures Finish() {
      Flush();
      meter_.tally_.outside_bt709 += static_cast<std::int64_t>(outside_bt709_);
      meter_.tally_.outside_p3 += static_cast<std::int64_t>(outside_p3_);
      return {.r = hn::GetLane(hn::SumOfLanes(D(), sums_.r2)),
              .g = hn::GetLane(hn::SumOfLanes(D(), sums_.g2)),
              .b = hn::GetLane(hn::SumOfLanes(D(), sums_.b2)),
              .max_rgb = hn::GetLane(hn::SumOfLanes(D(), sums_.max_rgb2)),
              .max_rgb_max = static_cast<double>(hn::GetLane(hn::MaxOfLanes(F(), largest_))),
              .luminance_max = static_cast<double>(hn::GetLane(hn::MaxOfLanes(F(), lightest_))),
              .luminance_min = static_cast<double>(hn::GetLane(hn::MinOfLanes(F(), least_))),
              .square_bound = static_cast<double>(hn::GetLane(hn::MaxOfLanes(F(), squares_)))};
    }

   private:
    static HWY_INLINE void Clear(hn::Mask<F> real, Rgb& c) {
      c = {hn::IfThenElseZero(real, c.r), hn::IfThenElseZero(real, c.g), hn::IfThenElseZero(real, c.b)};
    }
    static HWY_INLINE V Infinity() { return hn::Set(F(), std::numeric_limits<float>::infinity()); }
    RectMeter& meter_;
    // Copies: a vector that is stored could change what is only referred to, for all the compiler knows.
    const Tile tile_;
    const std::ptrdiff_t stride_ = tile_.stride();
    const ThisCurve curve_;
    const OutsideGamut bt709_;
    V red_share_, green_share_, blue_share_;
    std::uint32_t* table_ = nullptr;
    float *luminance_ = nullptr, *max_rgb_ = nullptr;
    const float* above_ = nullptr;
    Sums sums_;
    V largest_ = hn::Zero(F()), lightest_ = hn::Zero(F()), squares_ = hn::Zero(F());
    V least_ = Infinity(), square_ = Infinity();
    std::size_t outside_bt709_ = 0, outside_p3_ = 0;
    int pairs_ = 0;
  };

  RectFigures Blocks() {
    const Span span = SpanOfRect<T>(plan_, picture_, rect_);
    const bool gamut = plan_.bt709.needed && !span.inside_bt709;
    if (span.fit == nullptr) {
      const Curve<kSquared, kHlg> curve(plan_.vector);
      return gamut ? Blocks<true>(curve, 0) : Blocks<false>(curve, 0);
    }
    const LocalCurve<kSquared> curve(*span.fit);
    return gamut ? Blocks<true>(curve, span.fit->center) : Blocks<false>(curve, span.fit->center);
  }

  /// Not inlined: each has the registers for itself.
  template <bool kGamut, class ThisCurve>
  HWY_NOINLINE RectFigures Blocks(const ThisCurve& curve, float origin) {
    const BlockReader<T> reader(plan_, picture_, rect_, origin);
    Taker<ThisCurve, kGamut, false> taker(*this, curve);
    reader.Read(taker);
    CountLast(2);
    return taker.Finish();
  }

  RectFigures SingleRows(RowReader<T>& reader) {
    const Curve<kSquared, kHlg> curve(plan_.vector);
    return plan_.bt709.needed ? SingleRows<true>(reader, curve) : SingleRows<false>(reader, curve);
  }
  template <bool kGamut>
  HWY_INLINE RectFigures SingleRows(RowReader<T>& reader, const Curve<kSquared, kHlg>& curve) {
    Taker<Curve<kSquared, kHlg>, kGamut, true> taker(*this, curve);
    V squares = hn::Zero(F());
    for (int y = 0; y < rect_.height; ++y) {
      taker.Begin(y);
      reader.Read(rect_.y + y, taker);
      if (y % kFlush == kFlush - 1) taker.Flush();
      if (whole_squares() && y % 2 == 1) BoundSquares(y, squares);
    }
    CountLast(1);
    RectFigures figures = taker.Finish();
    figures.square_bound =
        whole_squares() ? static_cast<double>(hn::GetLane(hn::MaxOfLanes(F(), squares))) : figures.max_rgb_max;
    return figures;
  }

  /// Whether rows and columns pair up, so that the least of aligned blocks bounds every square over them.
  [[nodiscard]] bool whole_squares() const {
    return rect_.x % 2 == 0 && rect_.y % 2 == 0 && rect_.width % 2 == 0 && rect_.height % 2 == 0;
  }

  /// Every 3 x 3 square holds an aligned 2 x 2 block: no square is above the largest of the blocks' least. Where
  /// columns lie in order, aligned pairs of rows do.
  HWY_INLINE void BoundSquares(int y, V& squares) const {
    const F f;
    const float *a = tile_.max_rgb_row(y - 1), *b = tile_.max_rgb_row(y);
    const int odd = padded(tile_.first);
    for (int i = 0; i < tile_.first; i += kLanes) {
      V least = hn::Min(hn::Load(f, a + i), hn::Load(f, b + i));
      if (tile_.second > 0) least = hn::Min(least, hn::Min(hn::Load(f, a + odd + i), hn::Load(f, b + odd + i)));
      squares = hn::Max(squares, least);
    }
  }

  /// The rows that none below has counted, and the padding taken back.
  HWY_INLINE void CountLast(int rows) {
    const float* const last = tile_.luminance_row(tile_.rows - rows);
    for (int i = 0; i < rows * tile_.stride(); i += kLanes)
      Histogram::count<kLanes>(tally_.histogram.table(), last + i);
    tally_.histogram.remove_zeros(
        static_cast<std::uint32_t>((tile_.stride() - tile_.first - tile_.second) * tile_.rows));
  }

  /// Pixels that reach a level as `reached` has it; those the tolerance leaves open are decided in double.
  template <class Reached>
  std::int64_t CountReaching(double level, const RectFigures& figures, const Reached& reached) {
    const double low = plan_.tolerance.below(level), high = plan_.tolerance.above(level);
    if (figures.luminance_max < low) return 0;
    if (figures.luminance_min > high) return rect_.pixels();
    const F f;
    const auto from = static_cast<float>(low), to = static_cast<float>(high);
    std::size_t sure = 0, possible = 0;
    const float* const all = tile_.luminance;
    for (int i = 0; i < tile_.stride() * tile_.rows; i += kLanes) {
      const V l = hn::Load(f, all + i);
      sure += hn::CountTrue(f, hn::Gt(l, hn::Set(f, to)));
      possible += hn::CountTrue(f, hn::Ge(l, hn::Set(f, from)));
    }
    auto count = static_cast<std::int64_t>(sure);
    if (possible == sure) return count;
    for (int y = 0; y < tile_.rows; ++y)
      for (int i = 0; i < tile_.stride(); ++i) {
        const float l = tile_.luminance_row(y)[i];
        if (l < from || l > to) continue;
        count += reached(scratch_.exact.at(plan_, picture_, column(i), rect_.y + y).luminance, level) ? 1 : 0;
      }
    return count;
  }

 public:
  /// Column of the picture at place i of a tile's row; padding is never asked for.
  [[nodiscard]] int column(int i) const {
    if (tile_.second == 0 && horizontal_spacing(plan_.format) == Spacing::full) return rect_.x + i;
    const int odd = padded(tile_.first);
    return i < odd ? (rect_.x + 1) / 2 * 2 + 2 * i : rect_.x / 2 * 2 + 1 + 2 * (i - odd);
  }

 private:
  const Plan& plan_;
  const Picture& picture_;
  const Rect rect_;
  Tally& tally_;
  Scratch& scratch_;
  Tile tile_;
};

}  // namespace HWY_NAMESPACE
}  // namespace provenit::programme::kernel
HWY_AFTER_NAMESPACE();

#endif
