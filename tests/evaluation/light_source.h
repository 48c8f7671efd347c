#pragma once
// A small generator of readings, independent of the evaluator and of the simulator: a display is a function from signal
// to X, Y, Z, a meter multiplies, adds and scatters.
#include <functional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "find_finding.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer.h"
#include "provenit/evaluation/evaluate.h"

namespace provenit::evaluation {

inline signal::Signal grey_signal(int code) {
  return {.patch = {{code, code, code}},
          .surround = {{64, 64, 64}},
          .geometry = {.shape = signal::Shape::window, .area_fraction = 0.1}};
}

/// D65 light of this luminance.
inline colour::AbsoluteXyz<> d65_light(double cdm2) {
  return colour::xyz_from_xy(colour::d65_video, colour::Luminance<>{.cdm2 = cdm2});
}

/// Light that PQ asks for, 10 bit narrow.
inline double pq_target(int code) {
  return colour::pq_eotf(colour::Signal<>{.value = (code - 64) / 876.0}).cdm2;
}

struct FakeMeter {
  double scale = 0;                ///< relative error of luminance
  double dx = 0, dy = 0;           ///< error of the chromaticity of D65
  std::array<double, 3> zero{};    ///< cd/m2
  double relative = 0, floor = 0;  ///< standard deviations of the noise of each channel
  std::mt19937_64 random{1};

  colour::AbsoluteXyz<> read(const colour::AbsoluteXyz<>& light) {
    const double x = 0.3127, y = 0.3290, z = 1 - x - y;
    const std::array gain{(1 + scale) * (x + dx) / (y + dy) * y / x, 1 + scale,
                          (1 + scale) * (z - dx - dy) / (y + dy) * y / z};
    std::array<double, 3> v{light.X, light.Y, light.Z};
    std::normal_distribution<double> normal;
    for (int k = 0; k < 3; ++k) {
      v[k] = v[k] * gain[k] + zero[k];
      v[k] += std::hypot(relative * v[k], floor) * normal(random);
    }
    return {.X = v[0], .Y = v[1], .Z = v[2]};
  }
};

/// Builds one run reading by reading; 10 s from one to the next, integration 1 s. Drift multiplies the light.
class RunBuilder {
 public:
  RunBuilder(
      std::string procedure, FakeMeter& meter, std::function<double(double)> drift = [](double) { return 1.0; })
      : meter_(meter), drift_(std::move(drift)) {
    data_.run = {.id = 1, .procedure = std::move(procedure), .state = store::RunState::finished};
  }
  RunBuilder& read(const std::string& step, const signal::Signal& signal, const colour::AbsoluteXyz<>& light) {
    const auto n = static_cast<std::int64_t>(data_.readings.size());
    const double time = 10.0 * static_cast<double>(n), d = drift_(time + 0.5);
    store::ReadingRecord r{
        .id = 1000 + n, .run = 1, .sequence = n, .step = step, .taken = {1e9 + time}, .signal = signal};
    r.measurement.xyz = meter_.read({.X = d * light.X, .Y = d * light.Y, .Z = d * light.Z});
    r.measurement.integration = {1};
    data_.readings.push_back(std::move(r));
    return *this;
  }
  RunBuilder& reference() { return read("reference", grey_signal(509), d65_light(100)); }
  [[nodiscard]] RunData done() const { return data_; }

 private:
  FakeMeter& meter_;
  std::function<double(double)> drift_;
  RunData data_;
};

inline EvaluationInput usual_input(int draws = 2000) {
  EvaluationInput input;
  input.certificate = {.luminance_expanded_relative = 0.02,
                       .x_expanded = 0.0015,
                       .y_expanded = 0.0015,
                       .coverage_factor = 2,
                       .zero_offset_standard_cdm2 = 0.0002};
  input.capabilities.repeatability_relative = 0.001;
  input.capabilities.noise_floor_cdm2 = 0.0005;
  input.monte_carlo_draws = draws;
  return input;
}

using support::find;

}  // namespace provenit::evaluation
