#pragma once
// The fast path: a whole title from its survey alone, frame by frame, without decoding it again.
#include <array>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "provenit/forecast/display.h"
#include "provenit/forecast/figures.h"
#include "provenit/programme/figures.h"

namespace provenit::forecast {

/// Why shown light departs from intended light.
enum class Cause {
  clip,     ///< above the display's top
  limiter,  ///< what the limiter takes
  black,    ///< shadows that black and near-black tracking change, with no light beside them
  halo,     ///< shadows that light beside them changes
  gamut     ///< colours beyond BT.709: outside the display's triangle, or shown elsewhere in it
};
inline constexpr std::size_t kCauses = 5;
[[nodiscard]] const char* name_of(Cause cause);  ///< as spelled here

/// Of one frame. Delta E ITP (BT.2124), mean over its pixels, without the eye's local adaptation.
struct FrameOutlook {
  std::int64_t index = 0;
  double time_s = 0;
  Figure delta_e;                         ///< interval of 90 %
  std::array<float, kCauses> by_cause{};  ///< parts of it; what is left is tone and white between black and clip
};

/// A moment of a title.
struct Moment {
  FrameOutlook frame;
  Cause cause = Cause::clip;  ///< the one it stands for in a list by cause; else its largest
};

class TitleForecaster {
 public:
  explicit TitleForecaster(const ForecastDisplay& display);
  TitleForecaster(TitleForecaster&&) noexcept;
  TitleForecaster& operator=(TitleForecaster&&) noexcept;
  ~TitleForecaster();

  /// One outlook for each frame, in order; limiter and zones as if each frame were a still. Two threads or more; the
  /// same numbers on any number of them.
  [[nodiscard]] std::vector<FrameOutlook> forecast(std::span<const programme::FrameRecord> frames) const;

  /// How far the fast path is from the full one: relative, one standard deviation. Assumed until set_form has been told
  /// by frames for which both were made.
  [[nodiscard]] double form() const;
  void set_form(std::span<const double> fast_delta_e, std::span<const double> full_delta_e);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// The frames that depart most, the worst first, none nearer than `apart_s` to a worse one of the list. With a cause:
/// by that cause's part.
[[nodiscard]] std::vector<Moment> worst_moments(std::span<const FrameOutlook> frames, std::size_t count,
                                                double apart_s);
[[nodiscard]] std::vector<Moment> worst_moments(std::span<const FrameOutlook> frames, Cause cause, std::size_t count,
                                                double apart_s);

}  // namespace provenit::forecast
