#pragma once
// A display with controls for the tests of the white-balance aid: channels with a power law, gains and offsets that are
// coupled, coarse, bent, reversed, without effect, or too short. Not the model that the aid fits.
#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <vector>

#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/correct/white_balance.h"

namespace provenit::correct {

struct TurnedDisplay {
  struct Effect {
    std::array<double, 3> gain{}, offset{};  ///< of a channel's signal, at the high end
    double bend = 0;
  };
  std::vector<Control> controls;
  std::vector<Effect> effects;
  std::vector<double> signals;  ///< of the levels
  std::array<double, 3> error_gain{1, 1, 1}, error_offset{};
  double power = 2.4, peak_cdm2 = 1000, leak_cdm2 = 0.01;

  [[nodiscard]] colour::AbsoluteXyz<> light(const ControlSettings& settings, std::size_t level) const {
    std::array<double, 3> gain = error_gain, offset = error_offset;
    for (std::size_t j = 0; j < controls.size(); ++j) {
      const Control& c = controls[j];
      const double u = 2 * (settings[j] - c.lowest) / (c.highest - c.lowest) - 1;
      const double by = u * (1 + effects[j].bend * u);
      for (std::size_t k = 0; k < 3; ++k) gain[k] += effects[j].gain[k] * by, offset[k] += effects[j].offset[k] * by;
    }
    std::array<double, 3> rgb{};
    for (std::size_t k = 0; k < 3; ++k)
      rgb[k] = peak_cdm2 * std::pow(std::max(0.0, gain[k] * signals[level] + offset[k]), power);
    const auto xyz = colour::xyz_from_rgb(colour::AbsoluteRgb<>{.r = rgb[0], .g = rgb[1], .b = rgb[2]},
                                          colour::rgb_to_xyz_matrix(colour::p3_d65_primaries));
    return {.X = xyz.X + leak_cdm2, .Y = xyz.Y + leak_cdm2, .Z = xyz.Z + 1.3 * leak_cdm2};
  }
};

/// Red, green and blue gain and offset with what real menus do to them, by the seed.
inline TurnedDisplay turned_display(unsigned seed) {
  std::mt19937 random(seed);
  const auto uniform = [&](double low, double high) {
    return low + (high - low) * (static_cast<double>(random()) / 4294967296.0);
  };
  TurnedDisplay d;
  d.power = uniform(2.0, 2.6);
  d.signals = {uniform(0.2, 0.35), uniform(0.65, 0.9)};
  if (seed % 5 == 0) d.signals = {0.2, 0.35, 0.5, 0.65, 0.8};
  const std::array<double, 5> steps{0.5, 1, 1, 2, 4};
  const double reach = uniform(0.06, 0.2);
  for (std::size_t j = 0; j < 6; ++j) {
    const bool offset = j >= 3;
    TurnedDisplay::Effect e{.bend = uniform(-0.2, 0.2)};
    auto& main = offset ? e.offset : e.gain;
    const double strength = offset ? reach / 4 : reach;
    for (std::size_t k = 0; k < 3; ++k) main[k] = strength * (k == j % 3 ? 1 : uniform(-0.1, 0.1));
    if (offset) e.gain[j % 3] = strength * uniform(0, 0.3);
    if (random() % 8 == 0)
      for (std::size_t k = 0; k < 3; ++k) e.gain[k] *= -1, e.offset[k] *= -1;
    if (random() % 12 == 0) e = {};
    d.effects.push_back(e);
    d.controls.push_back({"control " + std::to_string(j + 1), 0, 100, steps[random() % steps.size()]});
  }
  if (seed % 7 == 0) d.effects.push_back(d.effects[0]), d.controls.push_back({"control 7", -50, 50, 1});
  const double off = uniform(0, 0.9) * reach;
  for (std::size_t k = 0; k < 3; ++k) {
    d.error_gain[k] += uniform(-off, off);
    d.error_offset[k] += uniform(-off, off) / 4;
  }
  return d;
}

}  // namespace provenit::correct
