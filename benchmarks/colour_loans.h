#pragma once
// One run of a colour procedure on a simulated display, by another meter and on another unit for every seed, with what
// is true asked of the display and worked out here from the definitions, never by the evaluation.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "provenit/colour/difference.h"
#include "provenit/colour/illuminant.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/volume.h"
#include "provenit/signal/encoding.h"
#include "simulated_loans.h"

namespace provenit::bench {

struct ColourLoan {
  std::unique_ptr<simulated::SimulatedClock> clock;
  std::unique_ptr<simulated::SimulatedDisplay> display;
  std::vector<evaluation::RunData> runs;
  evaluation::EvaluationInput input;
  std::map<std::string, std::pair<signal::Signal, colour::AbsoluteXyz<>>> truth;  ///< by step

  [[nodiscard]] const colour::AbsoluteXyz<>& light(const std::string& step) const { return truth.at(step).second; }
  [[nodiscard]] const signal::CodeRgb& code(const std::string& step) const { return truth.at(step).first.patch; }
  [[nodiscard]] Timestamp first() const { return runs.front().readings.front().taken; }
};

struct ColourOptions {
  nlohmann::json parameters = nlohmann::json::object();
  int draws = 800;
  double faults = 1;
  bool spectral = false;
  double bandwidth_nm = 0;        ///< of the instrument as its data sheet has it: the true one is off by 10 %, normal
  double wavelength_nm = 0;       ///< standard deviation of its wavelength scale
  const char* label = "";         ///< of a figure's name, where two computations would have the same
  const char* display = nullptr;  ///< nullptr: one of the two demo displays by the seed
};

inline ColourLoan colour_loan(std::uint64_t seed, const std::string& procedure_id, const ColourOptions& options = {}) {
  const auto must = [](auto&& result) {
    if (!result) {
      fmt::print(stderr, "{}\n", result.error().text());
      std::abort();
    }
    return std::move(*result);
  };
  const char* kind = options.display != nullptr ? options.display : seed % 2 == 0 ? "tern-32" : "curlew-27";
  const auto physics = with_faults(simulated::vary(must(simulated::built_in_physics(kind)), seed), options.faults);
  const double mixed = static_cast<double>((seed * 2654435761u) % 1000) / 1000;
  ColourLoan loan;
  loan.clock = std::make_unique<simulated::SimulatedClock>(Timestamp{1.8e9});
  loan.display = std::make_unique<simulated::SimulatedDisplay>(
      physics, *loan.clock,
      simulated::SimulatedDisplay::Options{.seed = seed, .powered_on = {1.8e9 - 2400 - 3600 * mixed}});
  simulated::MeterModel model;
  model.certificate.zero_offset_standard_cdm2 = 0.0002;
  model.capabilities.spectral = options.spectral;
  std::mt19937_64 random(seed * 7919);
  std::normal_distribution<double> normal;
  model.bandwidth_nm = options.bandwidth_nm * (1 + 0.1 * normal(random));
  const double shift_nm = options.wavelength_nm * normal(random);
  simulated::SimulatedMeter meter(model, *loan.display, *loan.clock, seed);
  loan.input = {.encoding = {},
                .certificate = model.certificate,
                .capabilities = model.capabilities,
                .seed = seed,
                .monte_carlo_draws = options.draws,
                .series = false};
  const procedure::Context context{.expected_peak_cdm2 = physics.claimed_peak_cdm2,
                                   .capabilities = model.capabilities,
                                   .parameters = options.parameters};
  const auto* procedure = procedure::find_procedure(procedure_id);
  evaluation::RunData data;
  data.run = {.id = 1,
              .procedure = procedure_id,
              .parameters = must(procedure::merged_parameters(*procedure, context)),
              .state = store::RunState::finished,
              .started = loan.clock->now()};
  data.run.parameters["context"] = {{"expected_peak_cdm2", context.expected_peak_cdm2}};
  for (std::int64_t index = 0;; ++index) {
    auto step = must(procedure->next(context, data.readings));
    if (!step) break;
    if (step->rest.s > 0) {
      (void)loan.display->show({.patch = signal::black_code({}), .surround = signal::black_code({})});
      loan.clock->wait(step->rest);
    }
    (void)loan.display->show(step->signal);
    loan.clock->wait(step->settle);
    store::ReadingRecord reading{.id = index + 1,
                                 .run = 1,
                                 .sequence = index,
                                 .step = step->key,
                                 .taken = loan.clock->now(),
                                 .signal = step->signal};
    reading.measurement = must(meter.measure(index));
    if (reading.measurement.spectrum) reading.measurement.spectrum->start_nm += shift_nm;
    data.readings.push_back(std::move(reading));
  }
  const Timestamp first = data.readings.front().taken;
  for (const auto& r : data.readings)
    if (!loan.truth.contains(r.step)) loan.truth[r.step] = {r.signal, loan.display->truth(r.signal, first)};
  loan.runs.push_back(std::move(data));
  return loan;
}

// ---- truth, from the definitions in docs/methods ----

inline colour::AbsoluteXyz<> pq_light(const signal::CodeRgb& code, double clip_cdm2) {
  constexpr auto to_xyz = colour::rgb_to_xyz_matrix(colour::bt2020_primaries);
  const auto channel = [&](int c) {
    return std::min(colour::pq_eotf(colour::Signal<>{.value = (c - 64) / 876.0}).cdm2, clip_cdm2);  // 10 bit, narrow
  };
  return colour::xyz_from_rgb(
      colour::AbsoluteRgb<>{.r = channel(code.code[0]), .g = channel(code.code[1]), .b = channel(code.code[2])},
      to_xyz);
}

struct ThreeLengths {
  double mean = 0, p95 = 0, largest = 0;
};
inline ThreeLengths lengths_of(std::vector<double> d) {
  std::sort(d.begin(), d.end());
  double sum = 0;
  for (double v : d) sum += v;
  const auto rank = static_cast<std::size_t>(std::ceil(0.95 * static_cast<double>(d.size()) - 1e-9));
  return {sum / static_cast<double>(d.size()), d[rank - 1], d.back()};
}

/// Delta E ITP over the steps of a prefix.
inline ThreeLengths true_itp(const ColourLoan& loan, const std::string& prefix) {
  std::vector<double> d;
  for (const auto& [key, step] : loan.truth)
    if (key.starts_with(prefix))
      d.push_back(colour::itp_difference(pq_light(step.first.patch, loan.light("white").Y), step.second).total);
  return lengths_of(std::move(d));
}
inline ThreeLengths true_ciede2000(const ColourLoan& loan, const std::string& prefix, double white_cdm2) {
  const auto code = signal::grey_code({}, colour::Luminance<>{.cdm2 = white_cdm2});
  const auto white = pq_light(*code, 10000);
  std::vector<double> d;
  for (const auto& [key, step] : loan.truth)
    if (key.starts_with(prefix))
      d.push_back(colour::ciede2000(colour::lab_from_xyz(pq_light(step.first.patch, loan.light("white").Y), white),
                                    colour::lab_from_xyz(step.second, white)));
  return lengths_of(std::move(d));
}

inline colour::AdditiveDisplay<> true_additive(const ColourLoan& loan) {
  const auto& k = loan.light("black");
  const auto own = [&](const char* step) {
    const auto& c = loan.light(step);
    return colour::xy_from_xyz(colour::AbsoluteXyz<>{.X = c.X - k.X, .Y = c.Y - k.Y, .Z = c.Z - k.Z});
  };
  return {.primaries = {.red = own("red"), .green = own("green"), .blue = own("blue"), .white = own("white")},
          .peak = {.cdm2 = loan.light("white").Y},
          .black = {.cdm2 = k.Y}};
}
/// In cubes of one Delta E ITP, of the additive display that white, black and primaries make.
inline double true_itp_volume(const ColourLoan& loan) {
  return colour::itp_cubes(colour::ictcp_volume(true_additive(loan)));
}
inline double true_lab_volume(const ColourLoan& loan) {
  const auto cube = colour::rgb_cube_surface(colour::kVolumeSamples);
  return colour::volume(colour::lab_solid(cube, colour::surface_light(cube, true_additive(loan)), loan.light("white")));
}
inline double true_itp_coverage(const ColourLoan& loan, const colour::Primaries<>& primaries) {
  const auto cube = colour::rgb_cube_surface(colour::kVolumeSamples);
  const auto shown = true_additive(loan);
  const colour::AdditiveDisplay<> wanted{.primaries = primaries, .peak = shown.peak, .black = shown.black};
  return 100 * colour::volume_overlap(colour::ictcp_solid(cube, colour::surface_light(cube, shown)),
                                      colour::ictcp_solid(cube, colour::surface_light(cube, wanted)))
                   .coverage();
}
/// Of the solid between the surface samples that were read, n per channel.
inline double true_read_volume(const ColourLoan& loan, int n, bool ictcp) {
  const auto cube = colour::rgb_cube_surface(n);
  std::vector<colour::AbsoluteXyz<>> light;
  for (const auto& v : cube.vertices) {
    const auto key = fmt::format("surface_{:.0f}_{:.0f}_{:.0f}", v[0] * (n - 1), v[1] * (n - 1), v[2] * (n - 1));
    const double sum = v[0] + v[1] + v[2];
    light.push_back(loan.light(loan.truth.contains(key) ? key
                               : sum == 0               ? "black"
                               : sum == 3               ? "white"
                               : v[0] == 1              ? "red"
                               : v[1] == 1              ? "green"
                                                        : "blue"));
  }
  return ictcp ? colour::itp_cubes(colour::volume(colour::ictcp_solid(cube, light)))
               : colour::volume(colour::lab_solid(cube, light, loan.light("white")));
}
/// Of the display's own surface, sampled finely: what five readings leave out. n samples per face and edge.
inline double dense_itp_volume(const ColourLoan& loan, int n) {
  const auto cube = colour::rgb_cube_surface(n);
  const double top = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = loan.light("white").Y}).value;
  std::vector<colour::AbsoluteXyz<>> light;
  for (const auto& v : cube.vertices) {
    auto signal = loan.truth.at("white").first;
    for (std::size_t c = 0; c < 3; ++c)
      signal.patch.code[c] = v[c] == 1 ? 940 : 64 + static_cast<int>(std::lround(876 * v[c] * top));
    light.push_back(loan.display->truth(signal, loan.first()));
  }
  return colour::itp_cubes(colour::volume(colour::ictcp_solid(cube, light)));
}

inline colour::UvPrime<> true_uv(const colour::AbsoluteXyz<>& c) {
  return {.u = 4 * c.X / (c.X + 15 * c.Y + 3 * c.Z), .v = 9 * c.Y / (c.X + 15 * c.Y + 3 * c.Z)};
}

/// Grey steps of a run in rising order of code, black left out.
struct TrueGrey {
  int code = 0;
  colour::AbsoluteXyz<> light;
  double target = 0;
};
inline std::vector<TrueGrey> true_greys(const ColourLoan& loan) {
  std::vector<TrueGrey> out;
  for (const auto& [key, step] : loan.truth)
    if (key.starts_with("grey_") && step.first.patch.code[0] > 64)
      out.push_back({step.first.patch.code[0], step.second, pq_light(step.first.patch, 1e5).Y});
  std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.code < b.code; });
  return out;
}

struct TrueNearBlack {
  double mean_luminance_part = 0, max_delta_uv = 0, first_code = 0, reversals = 0;
};
inline TrueNearBlack true_near_black(const ColourLoan& loan) {
  TrueNearBlack t;
  const auto greys = true_greys(loan);
  double before = loan.light("black").Y;
  int lit = 0;
  for (const auto& g : greys) {
    const auto pq = [](double cdm2) { return colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value; };
    if (g.target >= 0.005) {
      t.mean_luminance_part += 720 * std::fabs(pq(g.light.Y) - pq(g.target));
      ++lit;
    }
    const auto uv = true_uv(g.light);
    if (g.target >= 0.1)
      t.max_delta_uv = std::max(t.max_delta_uv, std::hypot(uv.u - 0.197830, uv.v - 0.468320));  // D65 0.3127, 0.3290
    if (t.first_code == 0 && g.light.Y - loan.light("black").Y > 0.1 * g.target) t.first_code = g.code - 64;
    t.reversals += g.light.Y < before;
    before = g.light.Y;
  }
  t.mean_luminance_part /= lit;
  return t;
}

/// Share of neighbouring codes around a level that truly differ by half of what they ask for, %.
inline double true_resolved(const ColourLoan& loan, double level_cdm2, int steps = 8) {
  const int centre = signal::grey_code({}, colour::Luminance<>{.cdm2 = level_cdm2})->code[0];
  int resolved = 0;
  for (int code = centre - steps / 2; code < centre - steps / 2 + steps; ++code) {
    const auto lower = fmt::format("grey_{}", code), upper = fmt::format("grey_{}", code + 1);
    const double wanted = pq_light(loan.code(upper), 1e5).Y - pq_light(loan.code(lower), 1e5).Y;
    resolved += loan.light(upper).Y - loan.light(lower).Y > 0.5 * wanted;
  }
  return 100.0 * resolved / steps;
}

inline double true_hue(const colour::AbsoluteXyz<>& c) {
  constexpr auto m = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
  const auto i = colour::ictcp_from_pq_rgb(colour::rgb_from_xyz(c, m));
  return std::atan2(i.cp, i.ct) * 180 / std::numbers::pi;
}
/// Largest change of the hue error of a colour's steps against its step of the lowest or highest number.
inline double true_hue_change(const ColourLoan& loan, const std::string& colour, bool against_highest) {
  std::map<double, double> error;
  for (const auto& [key, step] : loan.truth)
    if (key.starts_with(colour + "_"))
      error[std::stod(key.substr(colour.size() + 1))] =
          std::remainder(true_hue(step.second) - true_hue(pq_light(step.first.patch, 1e5)), 360.0);
  const double base = against_highest ? error.rbegin()->second : error.begin()->second;
  double most = 0;
  for (const auto& [number, e] : error) most = std::max(most, std::fabs(std::remainder(e - base, 360.0)));
  return most;
}

/// Largest distance in u'v' from the step next to 203 cd/m2, steps from 1 cd/m2 up to the clip point.
inline double true_white_tracking(const ColourLoan& loan) {
  auto greys = true_greys(loan);
  std::vector<double> cdm2;
  for (const auto& g : greys) cdm2.push_back(g.light.Y);
  greys.resize(true_clip(cdm2));
  std::erase_if(greys, [](const auto& g) { return g.target < 1; });
  const auto nearest = std::min_element(greys.begin(), greys.end(), [](const auto& a, const auto& b) {
    return std::fabs(std::log(a.target / 203)) < std::fabs(std::log(b.target / 203));
  });
  const auto own = true_uv(nearest->light);
  double most = 0;
  for (const auto& g : greys) most = std::max(most, std::hypot(true_uv(g.light).u - own.u, true_uv(g.light).v - own.v));
  return most;
}

/// Softness of the clip from every code there is.
inline double true_softness(const ColourLoan& loan) {
  double start = 0, below = 0, clip = 0;
  auto signal = std::find_if(loan.truth.begin(), loan.truth.end(), [](const auto& s) {
                  return s.first.starts_with("grey_");
                })->second.first;
  double last_ratio = 1, last_target = 0;
  for (int code = 300; code <= 940; ++code) {
    signal.patch = {{code, code, code}};
    const double y = loan.display->truth(signal, loan.first()).Y, target = pq_light(signal.patch, 1e5).Y;
    const double ratio = y / target;
    if (ratio >= 0.95) below = 0;
    if (ratio < 0.95 && below == 0) {
      below = target;
      const double w = (last_ratio - 0.95) / (last_ratio - ratio);
      start = std::exp((1 - w) * std::log(last_target) + w * std::log(target));
    }
    last_ratio = ratio;
    last_target = target;
    clip = y;
  }
  return 100 * (clip / (0.95 * start) - 1);
}

// ---- spectra ----

struct TruePeak {
  double centre_nm = 0, width_nm = 0;
};
/// Half heights of a primary's true spectrum, samples at 1 nm.
inline TruePeak true_peak(const ColourLoan& loan, const std::string& step) {
  const auto s = loan.display->truth_spectrum(loan.truth.at(step).first, loan.display->thermal(loan.first()));
  const auto& v = s.radiance;
  const auto top = static_cast<std::size_t>(std::max_element(v.begin(), v.end()) - v.begin());
  const double bend = v[top - 1] - 2 * v[top] + v[top + 1], slope = 0.5 * (v[top + 1] - v[top - 1]);
  const double half = 0.5 * (v[top] - 0.5 * slope * slope / bend);
  auto left = top, right = top;
  while (v[left] > half) --left;
  while (v[right] > half) ++right;
  const double a = static_cast<double>(left) + (half - v[left]) / (v[left + 1] - v[left]);
  const double b = static_cast<double>(right) - (half - v[right]) / (v[right - 1] - v[right]);
  return {s.start_nm + s.step_nm * (a + b) / 2, s.step_nm * (b - a)};
}
/// Distance in u'v' of white's true spectrum from D65, both summed over the observer's table.
inline double true_white_by_observer(const ColourLoan& loan, colour::Observer observer) {
  const auto shown = loan.display->truth_spectrum(loan.truth.at("white").first, loan.display->thermal(loan.first()));
  const auto d65 = colour::illuminant_d65_1nm();
  const auto sum = [&](double start, const std::vector<double>& values) {
    colour::AbsoluteXyz<> c;
    for (std::size_t i = 0; i < values.size(); ++i) {
      const auto m = colour::matching_functions(observer, {.nm = start + static_cast<double>(i)});
      c = {.X = c.X + m.x * values[i], .Y = c.Y + m.y * values[i], .Z = c.Z + m.z * values[i]};
    }
    return true_uv(c);
  };
  const auto a = sum(shown.start_nm, shown.radiance), b = sum(d65.start_nm, d65.values);
  return std::hypot(a.u - b.u, a.v - b.v);
}

}  // namespace provenit::bench
