#include "provenit/forecast/display.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "channels.h"
#include "fit.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/statistics.h"
#include "provenit/signal/codes.h"
#include "scenarios.h"
#include "spot.h"

namespace provenit::forecast {
namespace {

/// One standard deviation, so wide that 1.645 of it is the reach that residuals not seen by the fit give.
double deviation_of(const std::vector<double>& log_ratio, double assumed) {
  if (log_ratio.size() < 3) return assumed;
  double sum = 0;
  for (const double r : log_ratio) sum += r * r;
  const auto n = static_cast<double>(log_ratio.size());
  return std::sqrt(sum / n) * colour::student_factor(n, 0.9) / kNinety;
}

/// The halo is taken to be off by no less than that. Our own choice.
constexpr double kLeastHalo = 0.05;

double median(std::vector<double> v) {
  if (v.empty()) return 0;
  std::ranges::sort(v);
  return v[v.size() / 2];
}

Result<void> check(const Evidence& evidence) {
  const auto bad = [](const std::string& what, const std::string& advice) {
    return fail(ErrorCode::invalid_input, what, advice);
  };
  if (evidence.model.encoding().transfer != signal::Transfer::pq)
    return fail(ErrorCode::unsupported, "the display model is not of a PQ display", "Forecasts are made for PQ.");
  bool white = false, black = false, beside = false;
  for (const auto* list : {&evidence.spots, &evidence.checks})
    for (const auto& s : *list) {
      if (!std::isfinite(s.light.X + s.light.Y + s.light.Z) || !(s.standard_uncertainty_cdm2 >= 0))
        return bad(s.name + " is not finite", "Read it again.");
      if (auto valid = signal::validate(s.signal); !valid) return valid;
    }
  for (const auto& s : evidence.spots) {
    const auto dark = signal::black_code(s.signal.encoding), top = signal::peak_code(s.signal.encoding);
    const bool window = s.signal.geometry.shape == signal::Shape::window;
    white = white || (s.signal.patch == top && window);
    black = black || (s.signal.patch == dark && s.signal.geometry.shape == signal::Shape::full_field);
    beside = beside || (s.signal.surround == dark && s.signal.patch != dark && window && (s.x != 0.5 || s.y != 0.5));
  }
  if (!white) return bad("no window of full white was read", "Run window_peak.");
  if (!black) return bad("no full-field black was read", "Run black_level.");
  if (evidence.zone_columns > 0 && !beside) return bad("no black beside a window was read", "Run halo.");
  if (evidence.zone_columns < 0 || (evidence.zone_columns > 0) != (evidence.zone_rows > 0))
    return bad("zones need columns and rows", "Give both, or none.");
  return {};
}

}  // namespace

Result<ForecastDisplay> ForecastDisplay::fit(const Evidence& evidence) {
  if (auto fine = check(evidence); !fine) return tl::unexpected(fine.error());
  ForecastDisplay out;
  out.encoding_ = evidence.model.encoding();
  out.speeds_ = evidence.speeds;
  out.unevenness_ = unevenness_of(evidence.spots);
  out.optics_.columns = evidence.zone_columns;
  out.optics_.rows = evidence.zone_rows;
  out.optics_.aspect = evidence.aspect;

  // What leaks at the model's own window is not known before the optics are: twice round is enough, it is little.
  const auto black = evidence.model.black();
  out.channels_ = channels_of(evidence.model, [&](double) { return black; });
  OpticsFit found;
  for (int round = 0; round < 2; ++round) {
    found = optics_of(out.channels_, out.unevenness_, out.optics_, evidence.spots);
    const Optics& optics = found.optics;
    const auto code = signal::peak_code(out.encoding_);
    const signal::Signal window{
        .encoding = out.encoding_,
        .patch = code,
        .surround = signal::black_code(out.encoding_),
        .geometry = {.shape = signal::Shape::window, .area_fraction = evidence.model_area_percent / 100}};
    auto spot = spot_of(out.channels_, optics, window, 0.5, 0.5);
    out.channels_ = channels_of(evidence.model, [&](double grey) {
      spot.patch = {grey, grey, grey};
      const double leak = optics.leak_cdm2 * backlight_at(optics, spot);
      const auto& c = optics.leak_colour;
      return colour::AbsoluteXyz<>{.X = leak * c.X, .Y = leak * c.Y, .Z = leak * c.Z};
    });
  }
  out.optics_ = found.optics;

  std::vector<double> lit, limited, dark;
  for (const auto& s : evidence.checks) {
    const auto spot = spot_of(out.channels_, out.optics_, s.signal, s.x, s.y);
    const auto f = light_at(out.channels_, out.optics_, out.unevenness_, spot);
    if (!(s.light.Y > 3 * s.standard_uncertainty_cdm2)) continue;
    const double r = std::log(std::max(f.xyz.Y, 1e-9) / s.light.Y);
    (f.asked_cdm2 < 1 ? dark : f.limited ? limited : lit).push_back(r);
  }
  auto& unsure = out.unsure_;
  const auto& certificate = evidence.certificate;
  unsure.light = deviation_of(lit, 0.03);
  unsure.scale = certificate.luminance_expanded_relative / certificate.coverage_factor;
  unsure.halo = std::max(deviation_of(dark, 0.3), kLeastHalo);
  double noise = 0;
  for (const auto& r : evidence.spots)
    if (r.signal.geometry.shape == signal::Shape::full_field && r.signal.patch == signal::black_code(r.signal.encoding))
      noise = r.standard_uncertainty_cdm2;
  unsure.dark_cdm2 = std::hypot(certificate.zero_offset_standard_cdm2, noise);
  const double least_black = found.optics.leak_cdm2 * (out.optics_.zoned() ? found.optics.minimum_drive : 1);
  unsure.black = std::min(1.0, std::max(found.black_deviation, unsure.dark_cdm2 / std::max(least_black, 1e-6)));
  unsure.headroom = std::max(deviation_of(limited, 0.05), found.headroom_deviation);
  unsure.cap = std::max(found.cap_deviation, out.optics_.zoned() ? 0.0 : deviation_of(limited, 0.05));
  unsure.x = certificate.x_expanded / certificate.coverage_factor;
  unsure.y = certificate.y_expanded / certificate.coverage_factor;
  unsure.colour_delta_e_itp = std::hypot(out.channels_.misfit_delta_e_itp, evidence.model.report().discrepancy);
  unsure.lit_checks = static_cast<int>(lit.size() + limited.size());
  unsure.dark_checks = static_cast<int>(dark.size());

  auto& assumed = out.assumptions_;
  if (out.optics_.zoned()) {
    assumed.push_back(fmt::format(
        "Each zone is driven by {:.2f} of the largest and {:.2f} of the mean demand in it, to the power {:.2f}, and by "
        "no less "
        "than {:.2f} of its neighbours: the form is assumed, the numbers are fitted.",
        out.optics_.largest_share, 1 - out.optics_.largest_share, out.optics_.exponent, out.optics_.neighbour_share));
    assumed.push_back("The display makes up for uneven light behind the picture exactly, as far as there is light.");
    assumed.push_back("The limiter goes by the mean drive of the zones and dims the backlight.");
  } else {
    assumed.push_back("The limiter goes by the weighted mean of the channels and cuts what lies above its cap.");
  }
  assumed.push_back("What a signal asks above the display's top is cut before its channels are mixed.");
  if (!out.speeds_.measured) assumed.push_back("Zones and limiter move at assumed speeds.");
  if (unsure.lit_checks < 3) assumed.push_back("Too few lit check readings: light is taken as good to 3 %.");
  if (unsure.dark_checks < 3) assumed.push_back("Too few dark check readings: halo is taken as good to 30 %.");
  return out;
}

colour::AbsoluteXyz<> ForecastDisplay::light(const signal::Signal& signal, double x, double y) const {
  return light_at(channels_, optics_, unevenness_, spot_of(channels_, optics_, signal, x, y)).xyz;
}

double ForecastDisplay::peak_cdm2() const {
  return channels_.light(1, 0) + channels_.light(1, 1) + channels_.light(1, 2);
}

EyeCheck ForecastDisplay::eye_check(const std::vector<SpotReading>& readings) const {
  EyeCheck out;
  std::vector<double> lit, dark;
  for (const auto& s : readings) {
    const auto f = light_at(channels_, optics_, unevenness_, spot_of(channels_, optics_, s.signal, s.x, s.y));
    // The instrument is the one that the display was fitted with: its own scale does not show.
    const double relative = f.asked_cdm2 < 1 ? unsure_.halo
                            : f.limited      ? std::hypot(unsure_.light, std::max(unsure_.headroom, unsure_.cap))
                                             : unsure_.light;
    const double noise = kNinety * s.standard_uncertainty_cdm2;
    SpotResult r{.name = s.name,
                 .read_cdm2 = s.light.Y,
                 .forecast_cdm2 = f.xyz.Y,
                 .lower_cdm2 = f.xyz.Y * std::exp(-kNinety * relative) - noise,
                 .upper_cdm2 = f.xyz.Y * std::exp(kNinety * relative) + noise,
                 .lit = f.asked_cdm2 >= 1};
    out.held += r.holds() ? 1 : 0;
    if (s.light.Y > 3 * s.standard_uncertainty_cdm2) (r.lit ? lit : dark).push_back(std::abs(f.xyz.Y / s.light.Y - 1));
    out.spots.push_back(std::move(r));
  }
  out.median_lit_error = median(lit);
  out.median_dark_error = median(dark);
  // Fewer held than 95 of 100 right forecasts would have: binomial with 0.9.
  const auto n = static_cast<int>(readings.size());
  double below = 0, term = std::pow(0.1, n);
  int fewest = 0;
  for (int k = 0; k <= n; ++k) {
    below += term;
    if (below > 0.05) {
      fewest = k;
      break;
    }
    term *= 9.0 * (n - k) / (k + 1);
  }
  out.verdict = n < 5 ? "undecided" : out.held >= fewest ? "holds" : "does not hold";
  return out;
}

}  // namespace provenit::forecast
