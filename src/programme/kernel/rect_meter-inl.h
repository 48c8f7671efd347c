// The figures of one rectangle. Included once per instruction set.
#if defined(PROVENIT_KERNEL_RECT_METER_INL_H_) == defined(HWY_TARGET_TOGGLE)
#ifdef PROVENIT_KERNEL_RECT_METER_INL_H_
#undef PROVENIT_KERNEL_RECT_METER_INL_H_
#else
#define PROVENIT_KERNEL_RECT_METER_INL_H_
#endif

#include <limits>

#include "hwy/highway.h"
#include "kernel/level.h"
#include "kernel/light-inl.h"
#include "kernel/rows-inl.h"

HWY_BEFORE_NAMESPACE();
namespace provenit::programme::kernel {
namespace HWY_NAMESPACE {

/// Light of a rectangle as it is computed, in rows like those of RowReader. What fills up the vectors is 0.
struct Tile {
  static constexpr int kBlock = 4;  ///< rows computed together, so that the units do not run dry after each
  float *luminance = nullptr, *max_rgb = nullptr, *rgb = nullptr;
  int first = 0, second = 0;  ///< columns before and after the split
  int rows = 0, max_rgb_rows = 0;
  [[nodiscard]] int stride() const { return padded(first) + padded(second); }
  [[nodiscard]] bool is_padded() const { return first + second != stride(); }
  [[nodiscard]] float* luminance_row(int y) const { return luminance + std::ptrdiff_t{y} * stride(); }
  [[nodiscard]] float* max_rgb_row(int y) const { return max_rgb + std::ptrdiff_t{y % max_rgb_rows} * stride(); }
  [[nodiscard]] float* channel(int i) const { return rgb + std::ptrdiff_t{i} * kBlock * stride(); }
};

/// One rectangle being measured.
template <class T, bool kSquared, bool kHlg>
class RectMeter {
 public:
  RectMeter(const Plan& plan, const Picture& picture, const Rect& rect, Tally& tally, Scratch& scratch)
      : plan_(plan), picture_(picture), rect_(rect), tally_(tally), scratch_(scratch) {}

  /// Computes the light of all rows. `keep` keeps max(R,G,B) of all of them.
  RectFigures Run(bool keep) {
    RowReader<T> reader(plan_, picture_, rect_, scratch_);
    tile_.first = reader.first_count();
    tile_.second = reader.second_count();
    tile_.rows = rect_.height;
    tile_.max_rgb_rows = keep ? rect_.height : Tile::kBlock;
    const auto size = static_cast<std::size_t>(tile_.stride());
    tile_.luminance =
        scratch_.tile.reserve(size * static_cast<std::size_t>(tile_.rows + tile_.max_rgb_rows + 3 * Tile::kBlock));
    tile_.max_rgb = tile_.luminance_row(tile_.rows);
    tile_.rgb = tile_.max_rgb + size * static_cast<std::size_t>(tile_.max_rgb_rows);
    RectFigures figures = Rows(reader);
    if (tile_.is_padded()) figures.luminance_min = LeastWithoutPadding();
    CountLast();
    return figures;
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
  struct Extremes {
    V max_rgb, luminance, square, least;
    HWY_INLINE Extremes() {
      max_rgb = luminance = square = hn::Zero(F());
      least = hn::Set(F(), std::numeric_limits<float>::infinity());
    }
  };

  HWY_INLINE RectFigures Rows(RowReader<T>& reader) {
    const F f;
    const Curve<kSquared> curve(plan_.vector.curve);
    Sums sums;
    Extremes extremes;
    const bool squares = whole_squares();
    for (int y = 0; y < rect_.height; y += Tile::kBlock) {
      const int rows = rect_.height - y < Tile::kBlock ? rect_.height - y : Tile::kBlock;
      for (int i = 0; i < rows; ++i) {
        const std::ptrdiff_t row = std::ptrdiff_t{i} * tile_.stride();
        reader.Read(rect_.y + y + i, {tile_.channel(0) + row, tile_.channel(1) + row, tile_.channel(2) + row});
      }
      for (int c = 0; c < 3; ++c) ApplyCurve(curve, tile_.channel(c), rows * tile_.stride());
      if (tile_.is_padded()) ClearPadding();
      Figures(y, rows, sums, extremes);
      sums.Flush();
      if (squares)
        for (int i = 1; i < rows; i += 2) BoundSquares(y + i, extremes);
    }
    RectFigures figures{.r = hn::GetLane(hn::SumOfLanes(D(), sums.r2)),
                        .g = hn::GetLane(hn::SumOfLanes(D(), sums.g2)),
                        .b = hn::GetLane(hn::SumOfLanes(D(), sums.b2)),
                        .max_rgb = hn::GetLane(hn::SumOfLanes(D(), sums.max_rgb2))};
    figures.max_rgb_max = static_cast<double>(hn::GetLane(hn::MaxOfLanes(f, extremes.max_rgb)));
    figures.luminance_max = static_cast<double>(hn::GetLane(hn::MaxOfLanes(f, extremes.luminance)));
    figures.luminance_min = static_cast<double>(hn::GetLane(hn::MinOfLanes(f, extremes.least)));
    figures.square_bound =
        squares ? static_cast<double>(hn::GetLane(hn::MaxOfLanes(f, extremes.square))) : figures.max_rgb_max;
    return figures;
  }

  /// What fills up the vectors must not count.
  HWY_INLINE void ClearPadding() {
    for (int row = 0; row < 3 * Tile::kBlock; ++row) {
      float* channel = tile_.rgb + std::ptrdiff_t{row} * tile_.stride();
      for (int i = tile_.first; i < padded(tile_.first); ++i) channel[i] = 0;
      for (int i = padded(tile_.first) + tile_.second; i < tile_.stride(); ++i) channel[i] = 0;
    }
  }
  [[nodiscard]] double LeastWithoutPadding() const {
    float least = std::numeric_limits<float>::infinity();
    for (int y = 0; y < tile_.rows; ++y) {
      const float *row = tile_.luminance_row(y), *odd = row + padded(tile_.first);
      for (int i = 0; i < tile_.first; ++i) least = row[i] < least ? row[i] : least;
      for (int i = 0; i < tile_.second; ++i) least = odd[i] < least ? odd[i] : least;
    }
    return static_cast<double>(least);
  }

  /// Everything that is kept of the light of a block of rows.
  HWY_INLINE void Figures(int y, int rows, Sums& sums, Extremes& extremes) {
    const F f;
    const VectorConstants& k = plan_.vector;
    const V red_share = hn::Set(f, k.luminance[0]), green_share = hn::Set(f, k.luminance[1]),
            blue_share = hn::Set(f, k.luminance[2]);
    float *const luminance = tile_.luminance_row(y), *const max_rgb = tile_.max_rgb_row(y);
    const float *const red = tile_.channel(0), *const green = tile_.channel(1), *const blue = tile_.channel(2);
    const bool gamut = plan_.bt709.needed;
    const OutsideGamut bt709(k.bt709);
    std::uint32_t* const table = tally_.histogram.table();
    const float* const above = y > 0 ? tile_.luminance_row(y - Tile::kBlock) : nullptr;
    std::size_t outside = 0;
    for (int i = 0; i < rows * tile_.stride(); i += kLanes) {
      Rgb c{hn::Load(f, red + i), hn::Load(f, green + i), hn::Load(f, blue + i)};
      if constexpr (kHlg) ApplyOotf(k, c);
      const V m = hn::Max(c.r, hn::Max(c.g, c.b));
      const V l = hn::MulAdd(red_share, c.r, hn::MulAdd(green_share, c.g, hn::Mul(blue_share, c.b)));
      hn::Store(l, f, luminance + i);
      hn::Store(m, f, max_rgb + i);
      sums.r = hn::Add(sums.r, c.r);
      sums.g = hn::Add(sums.g, c.g);
      sums.b = hn::Add(sums.b, c.b);
      sums.max_rgb = hn::Add(sums.max_rgb, m);
      extremes.max_rgb = hn::Max(extremes.max_rgb, m);
      extremes.luminance = hn::Max(extremes.luminance, l);
      extremes.least = hn::Min(extremes.least, l);
      if (gamut) outside += bt709.Count(c, m);
      // Counting the block above is work for the scalar units, and goes on beside that of the vector units.
      if (above != nullptr) Histogram::count<kLanes>(table, above + i);
    }
    tally_.outside_bt709 += static_cast<std::int64_t>(outside);
    if (outside > 0 && plan_.p3.needed) CountOutsideP3(rows);
  }

  /// Those outside P3, of a block with some outside BT.709, which P3 holds. HLG's gain does not change what is outside.
  HWY_INLINE void CountOutsideP3(int rows) {
    const F f;
    const float *const red = tile_.channel(0), *const green = tile_.channel(1), *const blue = tile_.channel(2);
    const OutsideGamut p3(plan_.vector.p3);
    std::size_t outside = 0;
    for (int i = 0; i < rows * tile_.stride(); i += kLanes) {
      const Rgb c{hn::Load(f, red + i), hn::Load(f, green + i), hn::Load(f, blue + i)};
      outside += p3.Count(c, hn::Max(c.r, hn::Max(c.g, c.b)));
    }
    tally_.outside_p3 += static_cast<std::int64_t>(outside);
  }

  /// Whether rows and columns pair up, so that the least of aligned blocks bounds every square over them.
  [[nodiscard]] bool whole_squares() const {
    return rect_.x % 2 == 0 && rect_.y % 2 == 0 && rect_.width % 2 == 0 && rect_.height % 2 == 0;
  }

  /// Every 3 x 3 square holds an aligned 2 x 2 block: no square is above the largest of the blocks' least. Where
  /// columns lie in order, aligned pairs of rows do.
  HWY_INLINE void BoundSquares(int y, Extremes& extremes) const {
    const F f;
    const float *a = tile_.max_rgb_row(y - 1), *b = tile_.max_rgb_row(y);
    const int odd = padded(tile_.first);
    for (int i = 0; i < tile_.first; i += kLanes) {
      V least = hn::Min(hn::Load(f, a + i), hn::Load(f, b + i));
      if (tile_.second > 0) least = hn::Min(least, hn::Min(hn::Load(f, a + odd + i), hn::Load(f, b + odd + i)));
      extremes.square = hn::Max(extremes.square, least);
    }
  }

  /// What no block below has counted, and the padding taken back.
  HWY_INLINE void CountLast() {
    // The last block, and of the one before what is longer than it.
    const int size = tile_.stride(),
              before = tile_.rows > Tile::kBlock ? (tile_.rows - 1) / Tile::kBlock * Tile::kBlock : 0;
    const int last = tile_.rows - before, counted = before > 0 ? before - Tile::kBlock + last : 0;
    for (int i = counted * size; i < tile_.rows * size; i += kLanes)
      Histogram::count<kLanes>(tally_.histogram.table(), tile_.luminance + i);
    tally_.histogram.remove_zeros(static_cast<std::uint32_t>((size - tile_.first - tile_.second) * tile_.rows));
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
