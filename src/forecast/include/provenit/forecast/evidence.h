#pragma once
// What a loan's readings say that a forecast is made from: one display model, and lights of known signals at known
// places of the picture.
#include <span>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/correct/display_model.h"
#include "provenit/evaluation/evaluate.h"
#include "provenit/instrument/instrument.h"
#include "provenit/signal/signal.h"

namespace provenit::forecast {

/// The light of one signal at one place, head on, settled, the display's modes as found.
struct SpotReading {
  std::string name;  ///< for messages: "halo black_6"
  signal::Signal signal;
  double x = 0.5, y = 0.5;               ///< shares of the picture's width and height, from the top left
  colour::AbsoluteXyz<> light;           ///< as read, cd/m2; may be negative near black
  double standard_uncertainty_cdm2 = 0;  ///< of Y, without what is common to all readings of the instrument
};

/// How fast the display follows the picture, as time constants of exponential moves, s.
struct Speeds {
  double zone_rise_s = 0.08, zone_fall_s = 0.15, limiter_down_s = 0.3, limiter_up_s = 0.3;
  bool measured = false;  ///< false: these, which are an assumption (common practice, no source)
};

struct Evidence {
  correct::DisplayModel model;          ///< PQ; from windows small enough for a power limiter to stay out
  double model_area_percent = 4;        ///< of those windows
  int zone_columns = 0, zone_rows = 0;  ///< dimming zones as counted (zone_walk); 0: no zones were found
  double aspect = 16.0 / 9;             ///< width over height of the picture
  std::vector<SpotReading> spots;       ///< what the forecast is fitted to
  std::vector<SpotReading> checks;      ///< never fitted to: they say how far the forecast is off (probes.h)
  Speeds speeds{};
  instrument::Certificate certificate{};
};

/// Id of the procedure that reads probes and checks in a loan.
inline constexpr const char* kSpotsProcedure = "forecast_spots";

/// Spot readings of the standard procedures that look at windows and fields: window_peak, black_level, halo,
/// checkerboard, uniformity, and of kSpotsProcedure; drift between references taken out
/// (evaluation/measurement_model.h), repeats averaged. Steps seen at an angle or with local dimming switched are left
/// out. Errors: those of evaluation::model_light.
[[nodiscard]] Result<std::vector<SpotReading>> spot_readings(std::span<const evaluation::RunData> runs,
                                                             const evaluation::EvaluationInput& input);

/// A signal to show, and where to look.
struct Probe {
  std::string name;
  signal::Signal signal;
  double x = 0.5, y = 0.5;
};
/// What the standard procedures leave open and the forecast needs: stars smaller than a zone, dim windows with black
/// beside them, coloured windows (what each channel costs the limiter), greys beside bright windows (whether the
/// limiter dims all or cuts the top). Without zones only the latter two. About 25 readings.
[[nodiscard]] std::vector<Probe> probe_signals(const signal::Encoding& encoding, int zone_columns, int zone_rows);
/// The eye check: ten window, star, checkerboard and letterbox signals that no fit sees, each looked at once or twice.
/// turned: places turned about the centre and other levels, so that a later check does not repeat an earlier one.
[[nodiscard]] std::vector<Probe> check_signals(const signal::Encoding& encoding, bool turned = false);

}  // namespace provenit::forecast
