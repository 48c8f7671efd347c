#pragma once
// A pixel's model of a display, and the same with one thing off by one standard deviation.
#include <memory>
#include <vector>

#include "pixels.h"
#include "provenit/colour/primaries.h"
#include "provenit/forecast/display.h"

namespace provenit::forecast {

/// Standard deviations from the middle to either end of an interval of 90 %.
inline constexpr double kNinety = 1.645;

/// Tables that pixel models point to.
struct PixelTables {
  std::vector<float> eotf, pq;
  std::array<std::vector<float>, 3> curve;
};
[[nodiscard]] PixelTables tables_of(const Channels& channels);

/// gamut: primaries of the pictures. The cap is that of full light until `limited` sets it.
[[nodiscard]] PixelModel pixel_model(const ForecastDisplay& display, const PixelTables& tables,
                                     const colour::Primaries<>& gamut);
/// The model at a cap.
[[nodiscard]] PixelModel limited(PixelModel model, const Optics& optics, double cap);

/// Two models, one with the cause above and one below what was found.
struct Scenario {
  PixelModel more, less;
  bool of_limiter = false;      ///< moves what the limiter takes
  bool of_shares_only = false;  ///< errors that differ from place to place: they move counts, not means
};
/// model: at its cap already.
[[nodiscard]] std::vector<Scenario> scenarios(const PixelModel& model, const ForecastDisplay& display, double cap);

}  // namespace provenit::forecast
