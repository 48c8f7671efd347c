#pragma once
// How much light a display gives by how much of the picture is lit: the power limiter's curve, from windows of white,
// and what the display's model gives of other colours and areas behind it.
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/correct/display_model.h"

namespace provenit::correct {

/// White at the highest signal in a centred window on black.
struct WindowReading {
  std::string name;
  double area_percent = 0;  ///< (0, 100]
  colour::Luminance<> luminance;
  double standard_uncertainty_cdm2 = 0;
};

/// Cap on the channels' light over load, 1 where the limiter is not felt. Load is the share of the picture times the
/// mean of the channels' light over their most: 1 for a full field of white.
class LimiterCurve {
 public:
  /// Windows of one area are averaged by their uncertainty; the cap never rises with load (isotonic regression), is a
  /// monotone cubic over the logarithm of load between the areas, and constant outside them.
  /// errors  invalid_input naming the reading: not finite, an area outside (0, 100], no light; fewer than two areas
  /// source  Barlow, Bartholomew, Bremner, Brunk: Statistical Inference under Order Restrictions (1972), pool adjacent
  ///         violators; Fritsch, Butland, SIAM J. Sci. Stat. Comput. 5, 300 (1984); both from memory
  [[nodiscard]] static Result<LimiterCurve> fit(std::span<const WindowReading> windows);

  [[nodiscard]] double cap(double load) const;
  /// Standard uncertainty of the cap, from the readings nearest to that load.
  [[nodiscard]] double uncertainty(double load) const;
  [[nodiscard]] double smallest_load() const { return load_.front(); }
  [[nodiscard]] double largest_load() const { return load_.back(); }

 private:
  std::vector<double> load_, cap_, slope_, sd_;
};

/// Light of a signal in a window of this area on black, behind the limiter. Two assumptions, named because the readings
/// do not show them: the channels count alike in the load, and what lies above the cap is cut, the rest left.
/// in      area_percent: (0, 100]; the model's own readings were in a window small enough for the limiter to stay out
[[nodiscard]] colour::AbsoluteXyz<> limited_light(const DisplayModel& model, const LimiterCurve& limiter,
                                                  const colour::SignalRgb<>& signal, double area_percent);

}  // namespace provenit::correct
