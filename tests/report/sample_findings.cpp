#include "sample_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace provenit::report {
namespace {

using nlohmann::json;
using store::FindingRecord;

constexpr double kD65u = 0.19783, kD65v = 0.46832;  // of x 0.3127, y 0.3290
constexpr Timestamp kComputed{1795600000};

double rounded(double value, int digits) {
  const double scale = std::pow(10, digits);
  return std::round(value * scale) / scale;
}

/// A repeatable wobble in [-1, 1], so that curves look read and not drawn.
double wobble(int i) {
  return std::sin(i * 12.9898) * std::cos(i * 4.1414 + 1);
}

double pq_inverse(double cdm2) {
  const double y = std::pow(std::max(cdm2, 0.0) / 10000, 2610.0 / 16384);
  return std::pow((3424.0 / 4096 + 2413.0 / 128 * y) / (1 + 2392.0 / 128 * y), 2523.0 / 32);
}

FindingRecord figure(std::string quantity, double value, double expanded, std::string unit, std::string method,
                     json conditions = json::object()) {
  FindingRecord f;
  f.quantity = std::move(quantity);
  f.conditions = std::move(conditions);
  f.value = value;
  f.unit = std::move(unit);
  f.standard_uncertainty = expanded / 2;
  f.lower95 = value - expanded;
  f.upper95 = value + expanded;
  f.interval_method = "linear, t-factor";
  f.dominant = "instrument's luminance scale (91 % of variance)";
  f.method = std::move(method);
  f.sources = {"invented for the tests of the report"};
  f.computed = kComputed;
  f.software = "provenit 0.1.0";
  return f;
}

json grey_point(int i, int steps) {
  const int code = 64 + int(std::lround(876.0 * i / (steps - 1)));
  const double signal = (code - 64) / 876.0;
  const double target = sample_pq(signal), value = sample_luminance(signal);
  const double noise = std::hypot(0.01 * value, 0.0004);
  const double du = -0.0011 + 0.0016 * signal + 0.0002 * wobble(i);
  const double dv = -0.0021 + 0.0012 * signal + 0.0003 * wobble(i + 40);
  const double uv = std::hypot(du, dv), uv_half = 0.0006 + 0.0025 / (1 + 40 * value);
  const double luminance_part = 720 * std::abs(pq_inverse(value) - pq_inverse(target));
  const double chromaticity_part = 620 * uv * std::min(1.0, std::sqrt(signal * 1.4));
  const double whole = std::hypot(luminance_part, chromaticity_part);
  const double half = 720 * std::abs(pq_inverse(value + 2 * noise) - pq_inverse(value)) * 0.9 + 0.15;
  return {{"step", fmt::format("grey_{}", code)},
          {"code", code},
          {"signal", rounded(signal, 6)},
          {"target_cdm2", rounded(target, 6)},
          {"value_cdm2", rounded(value, 6)},
          {"lower95_cdm2", rounded(value - 2 * noise, 6)},
          {"upper95_cdm2", rounded(value + 2 * noise, 6)},
          {"u_prime", rounded(kD65u + du, 6)},
          {"v_prime", rounded(kD65v + dv, 6)},
          {"delta_u", rounded(du, 6)},
          {"delta_v", rounded(dv, 6)},
          {"delta_uv", rounded(uv, 6)},
          {"delta_uv_lower95", rounded(std::max(0.0, uv - uv_half), 6)},
          {"delta_uv_upper95", rounded(uv + uv_half, 6)},
          {"delta_e_itp", rounded(whole, 4)},
          {"delta_e_itp_lower95", rounded(std::max(0.0, whole - half), 4)},
          {"delta_e_itp_upper95", rounded(whole + half, 4)},
          {"luminance_part", rounded(luminance_part, 4)},
          {"chromaticity_part", rounded(chromaticity_part, 4)},
          {"above_clip", signal > 0.79}};
}

json drift_series() {
  json out = json::array();
  for (int i = 0; i <= 90; ++i) {
    const double t = i * 30.0, fast = std::exp(-t / 420), slow = std::exp(-t / 1500);
    out.push_back({{"time_s", t},
                   {"cdm2", rounded(203 * (1 + 0.052 * fast - 0.004 * slow + 0.0006 * wobble(i)), 4)},
                   {"u_prime", rounded(kD65u + 0.0006 - 0.0017 * fast + 0.00009 * wobble(i + 9), 6)},
                   {"v_prime", rounded(kD65v - 0.0013 - 0.0024 * fast + 0.0001 * wobble(i + 77), 6)}});
  }
  return out;
}

json white_series() {
  const double u = kD65u + 0.0006, v = kD65v - 0.00135;
  const double uu = 1.1e-7, uv = 0.6e-7, vv = 2.4e-7;
  const double l11 = std::sqrt(uu), l21 = uv / l11, l22 = std::sqrt(vv - l21 * l21);
  json ellipse = json::array();
  for (int i = 0; i < 48; ++i) {  // 95 % of a bivariate normal lie within 2.4477 standard deviations
    const double a = 2 * std::numbers::pi * i / 48, c = 2.4477 * std::cos(a), s = 2.4477 * std::sin(a);
    ellipse.push_back({rounded(u + l11 * c, 7), rounded(v + l21 * c + l22 * s, 7)});
  }
  return {
      {{"u_prime", rounded(u, 6)}, {"v_prime", rounded(v, 6)}, {"covariance", {uu, uv, vv}}, {"ellipse95", ellipse}}};
}

json primary_series() {
  json out = json::array();
  for (const auto& [name, x, y] :
       {std::tuple{"red", 0.6905, 0.3075}, {"green", 0.2310, 0.7120}, {"blue", 0.1475, 0.0520}}) {
    const double d = -2 * x + 12 * y + 3;
    out.push_back({{"primary", name},
                   {"x", x},
                   {"y", y},
                   {"u_prime", rounded(4 * x / d, 6)},
                   {"v_prime", rounded(9 * y / d, 6)}});
  }
  return out;
}

void add_light(std::vector<FindingRecord>& out) {
  out.push_back(figure("settle_time", 630, 90, "s", "warm-up/1", {{"tolerance_percent", 1}}));
  out.push_back(figure("drift", -0.21, 0.14, "%/h", "warm-up/1"));
  out.back().series = drift_series();
  out.back().dominant = "repeatability (97 % of variance)";
  out.push_back(figure("black_luminance", 0.0021, 0.0007, "cd/m2", "black-level/1"));
  out.back().dominant = "instrument's dark offset (82 % of variance)";
  for (const double percent : {1, 2, 5, 10, 25, 50, 75, 100}) {
    const double value = sample_window(percent);
    out.push_back(
        figure("peak_luminance", value, 0.021 * value, "cd/m2", "window-peak/1", {{"window_percent", percent}}));
  }
  out.push_back(figure("sequential_contrast", 683000, 1, "1", "black-level/1", {{"window_percent", 10}}));
  out.back().lower95 = 512000;
  out.back().upper95 = 1024000;
  out.back().standard_uncertainty = 118000;
  out.back().interval_method = "Monte Carlo, shortest (JCGM 101 5.3.4)";
  out.back().dominant = "black luminance (99 % of variance)";
}

void add_greyscale(std::vector<FindingRecord>& out) {
  constexpr int kSteps = 29;
  json series = json::array();
  double sum = 0, largest = 0, luminance = 0, chromaticity = 0, uv = 0;
  int n = 0;
  for (int i = 0; i < kSteps; ++i) {
    series.push_back(grey_point(i, kSteps));
    const auto& p = series.back();
    if (p["above_clip"]) continue;
    ++n;
    sum += p["delta_e_itp"].get<double>();
    luminance += p["luminance_part"].get<double>();
    chromaticity += p["chromaticity_part"].get<double>();
    largest = std::max(largest, p["delta_e_itp"].get<double>());
    if (p["target_cdm2"].get<double>() >= 1) uv = std::max(uv, p["delta_uv"].get<double>());
  }
  const std::string method = "eotf-tracking/BT.2100-3 PQ";
  out.push_back(figure("eotf_mean_delta_e_itp", rounded(sum / n, 3), 0.9, "1", method));
  out.back().series = series;
  out.back().parts = {{"luminance", {{"value", rounded(luminance / n, 3)}}},
                      {"chromaticity", {{"value", rounded(chromaticity / n, 3)}}}};
  out.push_back(figure("eotf_max_delta_e_itp", largest, 1.3, "1", method));
  out.push_back(figure("eotf_mean_luminance_part", rounded(luminance / n, 3), 0.9, "1", method));
  out.push_back(figure("eotf_mean_chromaticity_part", rounded(chromaticity / n, 3), 0.3, "1", method));
  out.push_back(figure("greyscale_max_delta_uv", uv, 0.0007, "1", method));
  out.push_back(figure("clip_luminance", 1431, 30, "cd/m2", method));
  out.push_back(figure("clip_signal", 0.793, 0.018, "1", method));
}

void add_colour(std::vector<FindingRecord>& out) {
  const std::string white = "white-point/1";
  out.push_back(figure("white_u_prime", 0.19843, 0.00066, "1", white));
  out.push_back(figure("white_v_prime", 0.46697, 0.00098, "1", white));
  out.push_back(figure("white_delta_uv", 0.00148, 0.0009, "1", white));
  out.back().lower95 = 0.0007;
  out.back().upper95 = 0.00242;
  out.back().interval_method = "Monte Carlo, shortest (JCGM 101 5.3.4)";
  out.back().dominant = "instrument's y calibration (71 % of variance)";
  out.back().series = white_series();
  out.push_back(figure("white_cct", 6527, 74, "K", "cct/Ohno 2013"));
  out.push_back(figure("white_duv", 0.0023, 0.0007, "1", "cct/Ohno 2013"));
  for (const auto& [name, value] : {std::pair{"red", 0.0164}, {"green", 0.0172}, {"blue", 0.0129}})
    out.push_back(figure("primary_delta_uv", value, 0.0018, "1", "primaries/1", {{"primary", name}}));
  for (const auto& [reference, plane, value] :
       {std::tuple{"p3_d65", "uv", 99.1}, {"p3_d65", "xy", 98.6}, {"bt2020", "uv", 77.9}, {"bt2020", "xy", 77.2}}) {
    out.push_back(figure("gamut_coverage", value, value > 90 ? 0.7 : 0.9, "%", "gamut/polygons",
                         {{"reference", reference}, {"plane", plane}}));
    if (value > 90) out.back().upper95 = std::min(out.back().upper95, 100.0);
    out.back().series = primary_series();
    out.back().dominant = "instrument's x, y calibration (88 % of variance)";
  }
}

}  // namespace

double sample_pq(double signal) {
  const double p = std::pow(std::clamp(signal, 0.0, 1.0), 32.0 / 2523);
  return 10000 * std::pow(std::max(p - 3424.0 / 4096, 0.0) / (2413.0 / 128 - 2392.0 / 128 * p), 16384.0 / 2610);
}

double sample_luminance(double signal) {
  const double target = sample_pq(signal), peak = 1431;
  const double tracked = target * (1 + 0.035 * std::sin(signal * 9) - 0.012) + 0.0021 * std::exp(-target * 3);
  if (tracked < 1050) return tracked;
  return std::min(peak, 1050 + (peak - 1050) * (1 - std::exp(-(tracked - 1050) / 620)) / (1 - std::exp(-2.2)));
}

double sample_window(double percent) {
  return rounded(percent <= 10 ? 1431 - 60 * std::pow(1 - percent / 10, 2)
                               : 1431 - 300 * std::log10(percent / 10) - 480 * std::pow((percent - 10) / 90, 0.8),
                 1);
}

std::vector<FindingRecord> sample_findings() {
  std::vector<FindingRecord> out;
  add_light(out);
  add_greyscale(out);
  add_colour(out);
  for (std::size_t i = 0; i < out.size(); ++i) out[i].id = store::Id(i + 1);
  return out;
}

}  // namespace provenit::report
