// HDR to SDR by two published methods.
#include <algorithm>
#include <cmath>

#include "kernel/decoder.h"
#include "provenit/colour/ictcp.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "provenit/colour/ycbcr.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

double pq_of(double cdm2) {
  return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
}

/// The EETF on PQ signals; formula names as in the Report.
double eetf_signal(double e, double source_black, double source_peak, double display_black, double display_peak) {
  const double way = source_peak - source_black;
  const double e1 = std::clamp((e - source_black) / way, 0.0, 1.0);
  const double min_lum = (display_black - source_black) / way, max_lum = (display_peak - source_black) / way;
  const double knee = 1.5 * max_lum - 0.5;
  double e2 = e1;
  if (max_lum < 1 && e1 >= knee) {
    const double t = (e1 - knee) / (1 - knee), t2 = t * t, t3 = t2 * t;
    e2 = (2 * t3 - 3 * t2 + 1) * knee + (t3 - 2 * t2 + t) * (1 - knee) + (-2 * t3 + 3 * t2) * max_lum;
  }
  const double e3 = e2 + min_lum * std::pow(1 - e2, 4);
  return e3 * way + source_black;
}

/// The ranges' signals, and the peak as the nominal white of 100 cd/m2.
colour::AbsoluteRgb<> by_eetf(const colour::AbsoluteRgb<>& c, double source_peak) {
  colour::Ictcp<> v = colour::ictcp_from_pq_rgb(c);
  const double i = eetf_signal(v.i, pq_of(0), pq_of(source_peak), pq_of(0), pq_of(kSdrPeak_cdm2));
  const double scale = v.i > 0 && i > 0 ? std::min(v.i / i, i / v.i) : 0;
  v = {.i = i, .ct = scale * v.ct, .cp = scale * v.cp};
  return colour::pq_rgb_from_ictcp(v);
}

/// Linear BT.2020 light of the SDR picture, 100 cd/m2 at its white. Formula names as in the Report.
colour::AbsoluteRgb<> by_method_a(const colour::AbsoluteRgb<>& c, double source_peak) {
  const auto gamma = [&](double x) { return std::pow(std::max(x, 0.0) / source_peak, 1 / 2.4); };
  const auto hdr = colour::ycbcr_from_rgb(colour::SignalRgb<>{.r = gamma(c.r), .g = gamma(c.g), .b = gamma(c.b)},
                                          colour::YcbcrMatrix::bt2020_ncl);
  if (!(hdr.y > 0)) return {};
  const auto rho = [](double peak) { return 1 + 32 * std::pow(peak / 10000, 1 / 2.4); };
  const double rho_hdr = rho(source_peak), rho_sdr = rho(kSdrPeak_cdm2);
  const double yp = std::log(1 + (rho_hdr - 1) * hdr.y) / std::log(rho_hdr);
  const double yc = yp <= 0.7399  ? 1.0770 * yp
                    : yp < 0.9909 ? -1.1510 * yp * yp + 2.7811 * yp - 0.6302
                                  : 0.5 * yp + 0.5;
  const double y_sdr = (std::pow(rho_sdr, yc) - 1) / (rho_sdr - 1);
  const double f = y_sdr / (1.1 * hdr.y);
  const double cr = f * hdr.cr;
  const auto s =
      colour::rgb_from_ycbcr(colour::SignalYcbcr<>{.y = y_sdr - std::max(0.1 * cr, 0.0), .cb = f * hdr.cb, .cr = cr},
                             colour::YcbcrMatrix::bt2020_ncl);
  const colour::Bt1886Display<> display{.peak = {.cdm2 = kSdrPeak_cdm2}, .black = {.cdm2 = 0}};
  return colour::bt1886_eotf(s, display);
}

const colour::Matrix3<>& to_bt2020(Gamut from) {
  static const std::array<colour::Matrix3<>, 3> matrices{
      colour::rgb_to_rgb_matrix(colour::bt709_primaries, colour::bt2020_primaries),
      colour::rgb_to_rgb_matrix(colour::p3_d65_primaries, colour::bt2020_primaries),
      colour::diagonal(colour::Vector3<>{1, 1, 1})};
  return matrices[static_cast<std::size_t>(from)];
}

}  // namespace

double eetf_bt2390(double cdm2, const EetfRange& source, const EetfRange& display) {
  const double e = eetf_signal(pq_of(cdm2), pq_of(source.black_cdm2), pq_of(source.peak_cdm2),
                               pq_of(display.black_cdm2), pq_of(display.peak_cdm2));
  return colour::pq_eotf(colour::Signal<>{.value = e}).cdm2;
}

const char* name_of(SdrMethod value) {
  switch (value) {
    case SdrMethod::bt2390_eetf:
      return "BT.2390 EETF on I of ICtCp";
    case SdrMethod::bt2446_a:
      return "BT.2446-1 method A";
  }
  return "?";
}

colour::SignalRgb<> to_sdr(const colour::AbsoluteRgb<>& light, Gamut primaries, SdrMethod method,
                           double source_peak_cdm2) {
  const auto clip = [&](double x) { return std::clamp(x, 0.0, source_peak_cdm2); };
  const auto c = colour::rgb_from_rgb(light, to_bt2020(primaries));
  const colour::AbsoluteRgb<> source{.r = clip(c.r), .g = clip(c.g), .b = clip(c.b)};
  const auto sdr =
      method == SdrMethod::bt2446_a ? by_method_a(source, source_peak_cdm2) : by_eetf(source, source_peak_cdm2);
  static const auto to_bt709 = colour::rgb_to_rgb_matrix(colour::bt2020_primaries, colour::bt709_primaries);
  const auto d = colour::rgb_from_rgb(sdr, to_bt709);
  const auto show = [](double x) { return std::clamp(x, 0.0, kSdrPeak_cdm2); };
  const colour::Bt1886Display<> display{.peak = {.cdm2 = kSdrPeak_cdm2}, .black = {.cdm2 = 0}};
  return colour::bt1886_inverse_eotf(colour::AbsoluteRgb<>{.r = show(d.r), .g = show(d.g), .b = show(d.b)}, display);
}

}  // namespace provenit::programme
