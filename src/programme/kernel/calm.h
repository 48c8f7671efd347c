#pragma once
// Rectangles whose signals stay close together: one polynomial instead of a table of them, and whether colours so close
// to grey can lie outside BT.709 at all.
#include <algorithm>
#include <array>
#include <functional>
#include <vector>

#include "kernel/curve_fit.h"

namespace provenit::programme::kernel {

/// The curve around a place c of EvenFit's variable u: root(L) = c0 + c1 t + ... + c7 t^7, t = u - c, |t| <= reach.
struct LocalFit {
  static constexpr int kCoefficients = 8;
  static constexpr double kReach = 3, kPerUnit = 2;
  float center = 0;
  bool good = false;  ///< within the error that EvenFit keeps
  std::array<float, kCoefficients> coefficient{};
  /// The approximation, in float arithmetic as vectors do it.
  [[nodiscard]] float operator()(float u, bool squared) const;
};

struct Range {
  double low = 0, high = 0;
};

/// By how much u of another channel is above u of this one, at most; 0 or more.
struct ChannelGaps {
  double r = 0, g = 0, b = 0;
};

class LocalFits {
 public:
  LocalFits() = default;  ///< holds nothing
  /// For the same light as `even`.
  LocalFits(const std::function<double(double)>& light, double largest, const EvenFit& even);
  /// The fit that holds the range; null where there is none.
  [[nodiscard]] const LocalFit* holding(const Range& range) const {
    if (!(range.low >= kFirst && range.high <= highest_)) return nullptr;
    const double place = ((range.low + range.high) / 2 - kFirst) * LocalFit::kPerUnit + 0.5;
    const LocalFit& fit = fits_[std::min(static_cast<std::size_t>(place), fits_.size() - 1)];
    const double center = fit.center;
    return fit.good && range.low >= center - LocalFit::kReach && range.high <= center + LocalFit::kReach ? &fit
                                                                                                         : nullptr;
  }
  /// No step of u by d from `low` up multiplies the light by more than exp(steepness x d).
  [[nodiscard]] double steepness(double low) const;
  [[nodiscard]] double relative_error() const { return relative_error_; }

 private:
  static constexpr double kFirst = -0.5;  ///< where the first segment of EvenFit begins
  double highest_ = kFirst - 1, relative_error_ = 0;
  std::vector<LocalFit> fits_;
  std::array<double, EvenFit::kSegments> steepness_{};  ///< from where each segment begins
};

/// Which colours cannot be outside a gamut: those of which no channel is too far below the largest. Natural logarithms.
struct NearGrey {
  std::array<double, 3> below{};  ///< how far R, G and B may be below the largest, in ln(light)
  explicit NearGrey(const std::array<std::array<float, 3>, 3>& rows);
  NearGrey() = default;
  [[nodiscard]] bool inside(const ChannelGaps& gaps, double steepness) const {
    return gaps.r * steepness < below[0] && gaps.g * steepness < below[1] && gaps.b * steepness < below[2];
  }
};

}  // namespace provenit::programme::kernel
