// Primaries: distance from the container's, gamut coverage and area, additivity.
#include <algorithm>
#include <array>
#include <cmath>

#include "findings_internal.h"
#include "itp_internal.h"
#include "provenit/colour/gamut.h"
#include "provenit/colour/primaries.h"
#include "provenit/signal/encoding.h"

namespace provenit::evaluation {
namespace {

using colour::Uncertain;

const Method kPrimary{
    "primary-delta-uv", 1, {"ISO/CIE 11664-5:2016 (u', v')", "Rec. ITU-R BT.2020-2, BT.709-6; SMPTE ST 2113"}};
const Method kGamut{"gamut-polygon", 1, {"This project (docs/methods/primaries.md)", "JCGM 101:2008"}};
const Method kAdditivity{"additivity", 1, {"This project (docs/methods/primaries.md)", "JCGM 100:2008"}};

constexpr std::array kNames{"red", "green", "blue"};

using Triangle = std::array<const StepLight*, 3>;

std::vector<Uncertain> inputs_of(const Triangle& steps) {
  std::vector<Uncertain> inputs;
  for (const auto* s : steps) inputs.insert(inputs.end(), {s->light.X, s->light.Y, s->light.Z});
  return inputs;
}

colour::Primaries<> primaries_at(const Triangle& steps, std::span<const double> errors) {
  const auto xy = [&](std::size_t i) { return colour::xy_from_xyz(light_at(*steps[i], errors)); };
  return {.red = xy(0), .green = xy(1), .blue = xy(2), .white = colour::d65_video};
}

// Points of the gamut chart: x, y and u', v' of each primary, and of white if it was read.
nlohmann::json series_of(const RunLight& run) {
  auto out = nlohmann::json::array();
  for (const char* name : {"red", "green", "blue", "white"}) {
    const StepLight* s = run.find(name);
    if (s == nullptr || !(s->light.Y > 0.0)) continue;
    const colour::AbsoluteXyz<> c{.X = s->light.X.value(), .Y = s->light.Y.value(), .Z = s->light.Z.value()};
    const auto xy = colour::xy_from_xyz(c);
    const auto uv = colour::uv_prime_from_xyz(c);
    out.push_back({{"primary", name}, {"x", xy.x}, {"y", xy.y}, {"u_prime", uv.u}, {"v_prime", uv.v}});
  }
  return out;
}

struct Place {
  signal::Container container;
  colour::ChromaticityPlane plane;
  const char* plane_name;
};

void add_gamut(Findings& out, const Study& study, const RunLight& run, const Triangle& steps) {
  std::vector<Place> places;
  for (auto container : {signal::Container::bt709, signal::Container::p3_d65, signal::Container::bt2020}) {
    places.push_back({container, colour::ChromaticityPlane::uv_prime, "uv"});
    places.push_back({container, colour::ChromaticityPlane::xy, "xy"});
  }
  const std::size_t n = places.size();
  std::vector<std::vector<double>> coverage(n), ratio(n);
  const auto percent_at = [&](std::span<const double> errors, std::size_t i) {
    const auto shown = primaries_at(steps, errors);
    const auto& reference = signal::primaries_of(places[i].container);
    return std::pair{100 * colour::gamut_coverage(places[i].plane, shown, reference),
                     100 * colour::gamut_area_ratio(places[i].plane, shown, reference)};
  };
  const auto sampling = sample_errors(study, inputs_of(steps), study.input.monte_carlo_draws,
                                      [&](std::size_t, std::span<const double> errors) {
                                        for (std::size_t i = 0; i < n; ++i) {
                                          const auto [c, r] = percent_at(errors, i);
                                          coverage[i].push_back(c);
                                          ratio[i].push_back(r);
                                        }
                                      });
  const std::vector<double> none(study.light.sources.size(), 0.0);
  const auto add = [&](const char* quantity, std::size_t i, double value, const std::vector<double>& sample) {
    auto f = new_finding(
        quantity, {{"reference", signal::name_of(places[i].container)}, {"plane", places[i].plane_name}}, kGamut);
    for (const auto* s : steps) use_step(f, run, *s);
    set_sampled(f, value, sample, sampling, study);
    if (f.quantity == "gamut_coverage") f.series = series_of(run);
    out.push_back(std::move(f));
  };
  for (std::size_t i = 0; i < n; ++i) add("gamut_coverage", i, percent_at(none, i).first, coverage[i]);
  for (std::size_t i = 0; i < n; ++i) add("gamut_area_ratio", i, percent_at(none, i).second, ratio[i]);
}

}  // namespace

void add_primaries_findings(Findings& out, const Study& study, const RunLight& run) {
  Triangle steps{};
  for (std::size_t i = 0; i < 3; ++i) {
    steps[i] = run.find(kNames[i]);
    if (steps[i] != nullptr && !(steps[i]->light.Y > 0.0)) steps[i] = nullptr;
  }
  for (std::size_t i = 0; i < 3; ++i) {
    if (steps[i] == nullptr) continue;
    const auto& target = signal::primaries_of(steps[i]->signal.encoding.container);
    auto f = new_finding("primary_delta_uv", {{"primary", kNames[i]}}, kPrimary);
    use_step(f, run, *steps[i]);
    add_delta_uv(f, study, *steps[i], i == 0 ? target.red : i == 1 ? target.green : target.blue);
    out.push_back(std::move(f));
  }
  if (std::ranges::find(steps, nullptr) != steps.end()) return;
  add_gamut(out, study, run, steps);
  const StepLight *white = run.find("white"), *black = run.find("black");
  if (white == nullptr || black == nullptr || !(white->light.Y > 0.0)) return;
  auto f = new_finding("additivity_error", nlohmann::json::object(), kAdditivity);
  for (const auto* s : {steps[0], steps[1], steps[2], white, black}) use_step(f, run, *s);
  const auto sum = steps[0]->light.Y + steps[1]->light.Y + steps[2]->light.Y - 2.0 * black->light.Y;
  set_linear(f, 100.0 * (sum / white->light.Y - 1.0), study);
  out.push_back(std::move(f));
}

}  // namespace provenit::evaluation
