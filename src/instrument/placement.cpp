#include "provenit/instrument/placement.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <utility>

#include "provenit/instrument/instrument.h"

namespace provenit::instrument {
namespace {

constexpr std::array<std::pair<const char*, double Placement::*>, 4> kFields{
    {{"x", &Placement::x},
     {"y", &Placement::y},
     {"horizontal_deg", &Placement::horizontal_deg},
     {"vertical_deg", &Placement::vertical_deg}}};
constexpr double kGrazing = 90;

std::string angle_text(double degrees, const char* positive, const char* negative) {
  return fmt::format("{:.6g} degrees {}", std::abs(degrees), degrees > 0 ? positive : negative);
}

}  // namespace

Result<void> validate(const Placement& placement) {
  for (const auto& [key, field] : kFields) {
    const double value = placement.*field;
    const bool angle = field == &Placement::horizontal_deg || field == &Placement::vertical_deg;
    if (angle ? std::abs(value) < kGrazing : value >= 0 && value <= 1) continue;
    return fail(ErrorCode::out_of_range, fmt::format("a meter cannot be placed with {} = {}", key, value),
                angle ? "Give an angle between -90 and 90 degrees." : "Give a share of the picture from 0 to 1.",
                {.field = key});
  }
  return {};
}

nlohmann::json to_json(const Placement& placement) {
  nlohmann::json out = nlohmann::json::object();
  for (const auto& [key, field] : kFields) out[key] = placement.*field;
  return out;
}

Result<Placement> placement_from_json(const nlohmann::json& json) {
  const auto bad = [](const char* key) {
    return fail(ErrorCode::invalid_input, fmt::format("a placement without a number '{}', or with other keys", key),
                "Give x, y, horizontal_deg and vertical_deg.", {.field = "placement"});
  };
  if (!json.is_object() || json.size() != kFields.size()) return bad("x");
  Placement out;
  for (const auto& [key, field] : kFields) {
    const auto found = json.find(key);
    if (found == json.end() || !found->is_number()) return bad(key);
    out.*field = found->get<double>();
  }
  if (auto ok = validate(out); !ok) return tl::unexpected(ok.error());
  return out;
}

std::string describe(const Placement& p) {
  std::string text = p.x == 0.5 && p.y == 0.5
                         ? "the centre of the picture"
                         : fmt::format("{:.4g} % across and {:.4g} % down the picture", 100 * p.x, 100 * p.y);
  if (p.horizontal_deg == 0 && p.vertical_deg == 0) return text + ", head on";
  text += ", from ";
  if (p.horizontal_deg != 0) text += angle_text(p.horizontal_deg, "to the right", "to the left");
  if (p.horizontal_deg != 0 && p.vertical_deg != 0) text += " and ";
  if (p.vertical_deg != 0) text += angle_text(p.vertical_deg, "above", "below");
  return text;
}

const char* name_of(LocalDimming mode) {
  switch (mode) {
    case LocalDimming::as_found:
      return "as_found";
    case LocalDimming::on:
      return "on";
    case LocalDimming::off:
      return "off";
  }
  return "";
}

std::optional<LocalDimming> local_dimming_from_name(std::string_view name) {
  for (const auto mode : {LocalDimming::as_found, LocalDimming::on, LocalDimming::off})
    if (name == name_of(mode)) return mode;
  return std::nullopt;
}

Result<void> Presenter::place(const Placement& placement) {
  if (placement == Placement{}) return {};
  return fail(ErrorCode::unsupported, "nobody can be asked to move the meter to " + describe(placement),
              "Run this procedure at a terminal, where a person can move it.", {.field = "placement"});
}

Result<void> Presenter::set_local_dimming(LocalDimming mode) {
  if (mode == LocalDimming::as_found) return {};
  return fail(ErrorCode::unsupported,
              fmt::format("nobody can be asked to switch the display's local dimming {}", name_of(mode)),
              "Run this procedure at a terminal, where a person can switch it.", {.field = "local_dimming"});
}

}  // namespace provenit::instrument
