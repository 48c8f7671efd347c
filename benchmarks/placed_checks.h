#pragma once
// What the findings of the methods that move the meter, wait or switch the display must hold, against the simulated
// display's own light. Shared by the benchmark (1,000 loans each) and the unit test (fewer).
#include <algorithm>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "../tests/support/find_finding.h"
#include "played_loan.h"
#include "provenit/colour/spaces.h"

namespace provenit::bench {

using Findings = std::vector<store::FindingRecord>;

/// The true value of a quantity in this loan.
using Truth = std::function<double(const PlayedLoan&)>;

struct PlacedCheck {
  std::string figure;  ///< "coverage_uniformity_luminance_9"
  std::string quantity;
  nlohmann::json conditions = nlohmann::json::object();
  Truth truth;
};

struct Scenario {
  std::string procedure;
  PlayOptions options;
  std::vector<PlacedCheck> checks;
};

inline double uv_distance(const colour::AbsoluteXyz<>& a, const colour::AbsoluteXyz<>& b) {
  const auto p = colour::uv_prime_from_xyz(a), q = colour::uv_prime_from_xyz(b);
  return std::hypot(p.u - q.u, p.v - q.v);
}

/// True light of every step whose key begins so, each once.
inline std::vector<std::pair<std::string, colour::AbsoluteXyz<>>> truths_of(const PlayedLoan& loan,
                                                                            const std::string& prefix) {
  std::vector<std::pair<std::string, colour::AbsoluteXyz<>>> out;
  for (const auto& r : loan.run.readings) {
    const auto same = [&](const auto& known) { return known.first == r.step; };
    if (r.step.starts_with(prefix) && std::none_of(out.begin(), out.end(), same))
      out.emplace_back(r.step, loan.truth(r.step));
  }
  return out;
}

inline double true_nonuniformity(const PlayedLoan& loan) {
  double least = 1e300, most = 0;
  for (const auto& [key, light] : truths_of(loan, "point_"))
    least = std::min(least, light.Y), most = std::max(most, light.Y);
  return 100 * (1 - least / most);
}

inline Truth true_tint(const std::string& centre) {
  return [centre](const PlayedLoan& loan) {
    const auto white = loan.truth(centre);
    double most = 0;
    for (const auto& [key, light] : truths_of(loan, "point_")) most = std::max(most, uv_distance(light, white));
    return most;
  };
}

inline Truth true_kept(const std::string& step) {
  return [step](const PlayedLoan& loan) { return 100 * loan.truth(step).Y / loan.truth("head_on").Y; };
}
inline Truth true_shift(const std::string& step) {
  return [step](const PlayedLoan& loan) { return uv_distance(loan.truth(step), loan.truth("head_on")); };
}

inline Truth true_ratio(const std::string& over, const std::string& under, double factor = 1) {
  return [=](const PlayedLoan& loan) { return factor * loan.truth(over).Y / loan.truth(under).Y; };
}
inline Truth true_light(const std::string& step) {
  return [step](const PlayedLoan& loan) { return loan.truth(step).Y; };
}

/// Distance at which the true light above that at the farthest place is half of that at the nearest.
inline double true_half_distance(const PlayedLoan& loan) {
  const signal::Signal* shown = nullptr;
  for (const auto& r : loan.run.readings)
    if (r.step == "object") shown = &r.signal;
  const double edge = 0.5 + std::sqrt(shown->geometry.area_fraction) / 2;
  const auto state = loan.first_state();
  const auto at = [&](double percent) { return loan.display->truth(*shown, state, {.x = edge + percent / 100}).Y; };
  auto distances = loan.run.run.parameters["distances_percent"].get<std::vector<double>>();
  std::sort(distances.begin(), distances.end());
  const double far = at(distances.back()), half = (at(distances.front()) + far) / 2;
  double low = distances.front(), high = distances.back();
  while (high - low > 1e-4) {
    const double middle = (low + high) / 2;
    (at(middle) > half ? low : high) = middle;
  }
  return (low + high) / 2;
}

inline Truth seen_light(const std::string& step) {
  return [step](const PlayedLoan& loan) { return loan.seen(step).Y; };
}
inline Truth seen_change(const std::string& step, const std::string& against, double less) {
  return [=](const PlayedLoan& loan) { return 100 * (loan.seen(step).Y / loan.seen(against).Y - less); };
}

/// Time from which the course of the stay remains within 2 % of its last light.
inline double true_settle_time(const PlayedLoan& loan) {
  const auto& course = loan.stay_course;
  std::size_t i = course.size();
  while (i > 0 && std::abs(course[i - 1] / course.back() - 1) <= 0.02) --i;
  return static_cast<double>(i) * PlayedLoan::kCourseStep;
}

struct TrueLine {
  double slope_percent_per_hour = 0, wander_percent = 0, max_delta_uv = 0;
};
inline TrueLine true_line(const PlayedLoan& loan) {
  std::vector<double> t, y, u, v;
  std::string last;
  std::vector<double> n;
  for (std::size_t i = 0; i < loan.light.size(); ++i) {
    const auto& r = loan.run.readings[i];
    if (!r.step.starts_with("visit_")) continue;
    if (r.step != last) t.push_back(0), y.push_back(0), u.push_back(0), v.push_back(0), n.push_back(0);
    last = r.step;
    const auto uv = colour::uv_prime_from_xyz(loan.light[i]);
    t.back() += ((r.taken - loan.run.readings.front().taken).s + r.measurement.integration.s / 2) / 3600;
    y.back() += loan.light[i].Y;
    u.back() += uv.u;
    v.back() += uv.v;
    ++n.back();
  }
  const double k = static_cast<double>(t.size());
  double mt = 0, my = 0, mu = 0, mv = 0, tt = 0, ty = 0;
  for (std::size_t i = 0; i < t.size(); ++i) {
    t[i] /= n[i], y[i] /= n[i], u[i] /= n[i], v[i] /= n[i];
    mt += t[i] / k, my += y[i] / k, mu += u[i] / k, mv += v[i] / k;
  }
  for (std::size_t i = 0; i < t.size(); ++i) tt += (t[i] - mt) * (t[i] - mt), ty += (t[i] - mt) * (y[i] / my - 1);
  TrueLine out{.slope_percent_per_hour = 100 * ty / tt};
  double least = 1e300, most = -1e300;
  for (std::size_t i = 0; i < t.size(); ++i) {
    const double off = 100 * (y[i] / my - 1) - out.slope_percent_per_hour * (t[i] - mt);
    least = std::min(least, off), most = std::max(most, off);
    out.max_delta_uv = std::max(out.max_delta_uv, std::hypot(u[i] - mu, v[i] - mv));
  }
  out.wander_percent = most - least;
  return out;
}

inline nlohmann::json view_condition(double angle, const char* direction) {
  return {{"angle_deg", angle}, {"direction", direction}};
}

inline std::vector<Scenario> placed_scenarios() {
  using json = nlohmann::json;
  const json board{{"columns", 4}, {"rows", 4}};
  json both = board, on = board, off = board;
  both["local_dimming"] = "both";
  on["local_dimming"] = "on";
  off["local_dimming"] = "off";
  const json glare{{"columns", 5}, {"rows", 5}, {"glare_fraction", 0.002}, {"glare_fraction_u", 0.0004}};
  return {
      {"uniformity",
       {},
       {{"coverage_uniformity_luminance_9", "luminance_nonuniformity", {}, true_nonuniformity},
        {"coverage_uniformity_delta_uv_9", "uniformity_max_delta_uv", {}, true_tint("point_2_2")}}},
      {"uniformity",
       {.parameters = {{"points", 25}}},
       {{"coverage_uniformity_luminance_25", "luminance_nonuniformity", {}, true_nonuniformity},
        {"coverage_uniformity_delta_uv_25", "uniformity_max_delta_uv", {}, true_tint("point_3_3")}}},
      {"off_axis",
       {},
       {{"coverage_off_axis_luminance_30", "off_axis_luminance", view_condition(30, "right"), true_kept("right_30")},
        {"coverage_off_axis_luminance_60", "off_axis_luminance", view_condition(60, "left"), true_kept("left_60")},
        {"coverage_off_axis_delta_uv_30", "off_axis_delta_uv", view_condition(30, "above"), true_shift("above_30")},
        {"coverage_off_axis_delta_uv_60", "off_axis_delta_uv", view_condition(60, "right"), true_shift("right_60")}}},
      {"checkerboard",
       {.display = "tern-32", .parameters = both},
       {{"coverage_checkerboard_on", "dimming_checkerboard_contrast", on,
         true_ratio("check_white_on", "check_black_on")},
        {"coverage_checkerboard_off", "dimming_checkerboard_contrast", off,
         true_ratio("check_white_off", "check_black_off")},
        {"coverage_checkerboard_black_on", "checkerboard_black", on, true_light("check_black_on")}}},
      {"checkerboard",
       {.display = "tern-32", .parameters = glare, .glare = 0.002, .glare_u = 0.0004},
       {{"coverage_checkerboard_glare", "checkerboard_contrast", {}, true_ratio("check_white", "check_black")}}},
      {"halo",
       {.display = "tern-32"},
       {{"coverage_halo_luminance", "halo_luminance", {{"distance_percent", 6}}, true_light("black_6")},
        {"coverage_halo_half_distance", "halo_half_distance", {}, true_half_distance},
        {"coverage_halo_bar_share", "halo_bar_share", {}, true_ratio("bar", "bar_object", 100)}}},
      {"sustained",
       {},
       {{"coverage_sustained_luminance", "sustained_luminance", {{"minutes", 10}}, seen_light("stay_600")},
        {"coverage_sustained_change", "sustained_change", {{"minutes", 10}}, seen_change("stay_600", "stay_0", 1)},
        {"coverage_recovery", "recovery_luminance", {{"minutes", 0}}, seen_change("after_0", "before", 0)},
        {"coverage_sustained_settle_time", "sustained_settle_time", {}, true_settle_time}}},
      {"stability",
       {},
       {{"coverage_stability_slope",
         "stability_slope",
         {},
         [](const PlayedLoan& loan) { return true_line(loan).slope_percent_per_hour; }},
        {"coverage_stability_wander",
         "stability_wander",
         {},
         [](const PlayedLoan& loan) { return true_line(loan).wander_percent; }},
        {"coverage_stability_delta_uv", "stability_max_delta_uv", {}, [](const PlayedLoan& loan) {
           return true_line(loan).max_delta_uv;
         }}}}};
}

/// How many of `loans` loans' intervals hold the truth, per check. Aborts the program on an error.
inline std::vector<int> held_in(const Scenario& scenario, std::uint64_t first_seed, int loans) {
  std::vector<int> held(scenario.checks.size());
  for (int i = 0; i < loans; ++i) {
    PlayedLoan loan;
    play_loan(loan, first_seed + static_cast<std::uint64_t>(i), scenario.procedure, scenario.options);
    auto input = loan.input;
    input.series = false;
    const auto findings = evaluation::evaluate(std::vector{loan.run}, input);
    if (!findings) {
      fmt::print(stderr, "{}\n", findings.error().text());
      std::abort();
    }
    for (std::size_t k = 0; k < held.size(); ++k) {
      const auto& check = scenario.checks[k];
      const auto* f = support::find(*findings, check.quantity, check.conditions);
      const double truth = check.truth(loan);
      if (std::getenv("COVERAGE_SHOW") != nullptr && f != nullptr)
        fmt::print(stderr, "{} {} truth {:.6g} value {:.6g} [{:.6g}, {:.6g}] u {:.3g} {}\n", check.figure, i, truth,
                   f->value, f->lower95, f->upper95, f->standard_uncertainty, f->dominant);
      held[k] += f != nullptr && f->lower95 <= truth && truth <= f->upper95;
    }
  }
  return held;
}

}  // namespace provenit::bench
