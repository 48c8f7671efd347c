#pragma once
// The full path: a decoded frame in, the light that the display would show out, with what changes and how sure that is.
#include <memory>
#include <vector>

#include "provenit/base/clock.h"
#include "provenit/base/error.h"
#include "provenit/forecast/display.h"
#include "provenit/forecast/figures.h"
#include "provenit/programme/picture.h"

namespace provenit::forecast {

/// Light of every pixel, row by row; seen head on.
struct ShownLight {
  int width = 0, height = 0;
  std::vector<float> x, y, z;  ///< cd/m2
  std::vector<float> delta_e;  ///< Delta E ITP to the intended light, without the eye's local adaptation
};

struct FrameForecast {
  std::int64_t index = 0;
  double time_s = 0;
  Figures figures{};         ///< each with its interval of 90 %
  double load = 0, cap = 1;  ///< of the limiter
};

/// Prepared for one display and one format of pictures. The picture fills the screen.
class FrameForecaster {
 public:
  /// Errors: those of programme::check_format; unsupported for pictures that are not PQ (a display measured in PQ says
  /// nothing of its other modes) or are floats.
  [[nodiscard]] static Result<FrameForecaster> make(const ForecastDisplay& display,
                                                    const programme::PictureFormat& format);
  FrameForecaster(FrameForecaster&&) noexcept;
  FrameForecaster& operator=(FrameForecaster&&) noexcept;
  ~FrameForecaster();

  /// A still: zones and limiter have settled on it. May run at once in several threads. `light` may be nullptr.
  /// Errors: those of programme::check_picture; invalid_input for another format.
  [[nodiscard]] Result<FrameForecast> still(const programme::Picture& picture, ShownLight* light = nullptr) const;
  /// The next frame of a clip, shown for `duration`; figures and light are those in the middle of that time. The first
  /// one, and the first after cut(), is found settled. Errors: as above; out_of_range for a duration that is not above
  /// 0.
  [[nodiscard]] Result<FrameForecast> next(const programme::Picture& picture, Seconds duration,
                                           ShownLight* light = nullptr);
  void cut();

 private:
  struct Impl;
  explicit FrameForecaster(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace provenit::forecast
