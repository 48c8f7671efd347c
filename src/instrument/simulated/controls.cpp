#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "controls_internal.h"

namespace provenit::simulated {
namespace {

constexpr double kPower = 2.4;

/// Bent share of the way from neutral to the further end.
double amount(const PictureControl& c, double value) {
  const double u = (value - c.neutral) / std::max(c.highest - c.neutral, c.neutral - c.lowest);
  return u * (1 + c.bend * u);
}

Result<void> allowed(const PictureControl& c, double value) {
  const double steps = (value - c.lowest) / c.step;
  if (value >= c.lowest && value <= c.highest && std::fabs(steps - std::round(steps)) < 1e-6) return {};
  return fail(ErrorCode::out_of_range, fmt::format("'{}' cannot stand at {}", c.name, value),
              fmt::format("Give a value from {} to {} in steps of {}.", c.lowest, c.highest, c.step),
              {.field = c.name});
}

}  // namespace

PictureControls::PictureControls(const DisplayPhysics& physics) : controls_(physics.controls) {
  for (const auto& c : controls_) values_.push_back(c.neutral);
}

Result<bool> PictureControls::set(const instrument::ControlSettings& wanted) {
  std::vector<double> values = values_;
  for (const auto& setting : wanted) {
    const auto found = std::ranges::find(controls_, setting.name, &PictureControl::name);
    if (found == controls_.end())
      return fail(ErrorCode::not_found, "the display has no control '" + setting.name + "'",
                  "Name its controls as its menu does.", {.field = setting.name});
    if (auto fine = allowed(*found, setting.value); !fine) return tl::unexpected(fine.error());
    values[static_cast<std::size_t>(found - controls_.begin())] = setting.value;
  }
  if (values == values_) return false;
  values_ = std::move(values);
  neutral_ = true;
  for (std::size_t j = 0; j < controls_.size(); ++j) neutral_ = neutral_ && values_[j] == controls_[j].neutral;
  return true;
}

std::vector<instrument::DisplayControl> PictureControls::state() const {
  std::vector<instrument::DisplayControl> out;
  for (std::size_t j = 0; j < controls_.size(); ++j) {
    const auto& c = controls_[j];
    out.push_back({.name = c.name, .lowest = c.lowest, .highest = c.highest, .step = c.step, .value = values_[j]});
  }
  return out;
}

Drive PictureControls::applied(const Drive& drive) const {
  if (neutral_) return drive;
  Drive out{};
  for (std::size_t k = 0; k < 3; ++k) {
    const double signal = std::pow(drive[k], 1 / kPower);
    double gain = 1, offset = 0;
    for (std::size_t j = 0; j < controls_.size(); ++j) {
      const auto& c = controls_[j];
      const double d = c.width > 0 ? (signal - c.centre) / c.width : 0;
      const double by = amount(c, values_[j]) * std::exp(-d * d / 2);
      gain += c.gain[k] * by;
      offset += c.offset[k] * by;
    }
    out[k] = std::min(1.0, std::pow(std::max(0.0, gain * signal + offset), kPower));
  }
  return out;
}

}  // namespace provenit::simulated
