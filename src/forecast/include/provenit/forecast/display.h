#pragma once
// A display as a forecast sees it: fitted to the readings of a loan, with how far it may be off.
//
//   L    light of the container's primaries that the signal asks for, cut where the display's greys end
//   d    A L: light asked of the display's own channels; rows of A sum to 1
//   f_c  F_c(d_c): each channel's light, 1 at white's top; greys come out exactly as the display model has them
//   g_c  min(f_c dim, room): room = headroom x b for a backlight of zones, the limiter's cap without zones
//   XYZ  u(x, y) sum_c g_c Q_c + leak b      b: backlight behind this place, 1 for full light everywhere; without zones
//                                            1 for the leak. u: unevenness, 1 at the centre
//   b    cap(load) sum_zones spread(place - zone) drive(zone); the spread is three Gaussians of which the narrowest is
//        fitted and the wider ones stand at 2.5 and 6 zone heights; their shares are fitted
//   drive(zone)  m + (1 - m) q^p, q = a (largest demand in it) + (1 - a) (mean), demand = max_c f_c; no less than s of
//        what its four neighbours are driven at and s^1.41 of the diagonal ones
//   load mean drive of the zones; without zones sum_c w_c (mean of f_c)
//   dim  without zones 1 - k (1 - cap): what the limiter takes from all of the picture; with zones 1
// The driving rule is an assumption with fitted numbers: no reading shows it directly.
#include <array>
#include <memory>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/forecast/evidence.h"

namespace provenit::forecast {

/// The channels, from the display model.
struct Channels {
  static constexpr int kSteps = 1024;
  colour::Matrix3<> mixing;  ///< A
  colour::Matrix3<> light;   ///< columns Q_c: XYZ of each channel at 1, cd/m2
  double clip_cdm2 = 10000;  ///< light of a container channel above which nothing more comes
  std::array<std::vector<double>, 3>
      curve;                      ///< F_c at PQ signals i / kSteps of d_c; kSteps + 1 numbers, rising, 0 to 1
  double misfit_delta_e_itp = 0;  ///< root mean square of this form against the display model over colours of P3
  /// F_c(d), linear between the steps. d below 0 counts as 0.
  [[nodiscard]] double at(std::size_t channel, double d_cdm2) const;
  /// The channels' light for light of the container.
  [[nodiscard]] std::array<double, 3> of(const colour::AbsoluteRgb<>& container) const;
};

/// What lies behind the picture or limits it.
struct Optics {
  int columns = 0, rows = 0;  ///< zones; 0: none
  double aspect = 16.0 / 9;
  double minimum_drive = 0, exponent = 1, largest_share = 1, neighbour_share = 0;
  std::array<double, 3> spread_zones{1, 2.5, 6}, spread_share{1, 0, 0};  ///< standard deviations in zone heights
  double headroom = 1;
  double leak_cdm2 = 0;                        ///< with all zones full; without zones: black
  colour::AbsoluteXyz<> leak_colour{1, 1, 1};  ///< Y = 1
  std::vector<double> load, cap;               ///< cap: monotone cubic over log load, constant outside
  std::array<double, 3> weight{1. / 3, 1. / 3, 1. / 3};
  double dim = 0;  ///< k
  [[nodiscard]] bool zoned() const { return columns > 0; }
  [[nodiscard]] double cap_at(double l) const;
  /// What a cap leaves of all of the picture.
  [[nodiscard]] double dim_at(double cap_now) const;
};

/// Light over that at the centre: exp(c0 u + c1 v + c2 u^2 + c3 u v + c4 v^2), u and v from -1 to 1 across and down.
struct Unevenness {
  std::array<double, 5> c{};
  [[nodiscard]] double at(double x, double y) const;
};

/// One standard deviation of what is common to all of a picture. Relative but for x, y and colour.
struct Unsure {
  double light = 0.03;        ///< lit places, by what the checks' lit places were off
  double scale = 0.01;        ///< of the instrument's luminance, from its certificate
  double halo = 0.3;          ///< light in black beside bright
  double black = 0.1;         ///< full-field black
  double dark_cdm2 = 0.0003;  ///< of every dark light, cd/m2: the instrument's zero and its noise at black
  double cap = 0.02;          ///< of the limiter
  double headroom = 0.02;
  double x = 0, y = 0;                  ///< of the instrument's white
  double colour_delta_e_itp = 0.5;      ///< of the colours: the form's misfit and the model's own
  int lit_checks = 0, dark_checks = 0;  ///< how many stand behind light and halo; below 3 the numbers are assumed
};

/// How the forecast fared on one reading.
struct SpotResult {
  std::string name;
  double read_cdm2 = 0, forecast_cdm2 = 0, lower_cdm2 = 0, upper_cdm2 = 0;  ///< 90 %
  bool lit = false;  ///< the signal asks for 1 cd/m2 or more there
  [[nodiscard]] bool holds() const { return read_cdm2 >= lower_cdm2 && read_cdm2 <= upper_cdm2; }
};

/// "Does the forecast hold here?"
struct EyeCheck {
  std::vector<SpotResult> spots;
  int held = 0;
  double median_lit_error = 0, median_dark_error = 0;  ///< |forecast / read - 1|
  /// "holds": at least as many within their 90 % intervals as 95 % of all true forecasts would have; "does not hold";
  /// "undecided" with fewer than five readings.
  std::string verdict;
};

class ForecastDisplay {
 public:
  /// in      evidence: at least a full white in one window and a black; with zones halo readings
  /// errors  unsupported for a model that is not PQ; invalid_input naming what is missing or not finite
  [[nodiscard]] static Result<ForecastDisplay> fit(const Evidence& evidence);

  /// Settled light of a signal at a place, cd/m2.
  [[nodiscard]] colour::AbsoluteXyz<> light(const signal::Signal& signal, double x, double y) const;
  /// The readings against their forecasts, with intervals of 90 %. Noise of the readings counts in the interval.
  [[nodiscard]] EyeCheck eye_check(const std::vector<SpotReading>& readings) const;

  [[nodiscard]] const Channels& channels() const { return channels_; }
  [[nodiscard]] const Optics& optics() const { return optics_; }
  [[nodiscard]] const Unevenness& unevenness() const { return unevenness_; }
  [[nodiscard]] const Unsure& unsure() const { return unsure_; }
  [[nodiscard]] const Speeds& speeds() const { return speeds_; }
  [[nodiscard]] const signal::Encoding& encoding() const { return encoding_; }
  /// What stands behind it without a reading, one sentence each.
  [[nodiscard]] const std::vector<std::string>& assumptions() const { return assumptions_; }
  /// White's top in cd/m2, in the model's window.
  [[nodiscard]] double peak_cdm2() const;

 private:
  ForecastDisplay() = default;
  Channels channels_;
  Optics optics_;
  Unevenness unevenness_;
  Unsure unsure_;
  Speeds speeds_;
  signal::Encoding encoding_;
  std::vector<std::string> assumptions_;
};

}  // namespace provenit::forecast
