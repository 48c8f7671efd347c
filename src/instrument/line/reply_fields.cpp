#include "line/reply_fields.h"

#include <algorithm>
#include <array>
#include <numbers>

namespace provenit::instrument {
namespace {

struct Unit {
  std::string_view family, name;
  double factor;
};

/// One foot-lambert is 1/pi cd/ft2, and one foot 0.3048 m.
constexpr double kFootLambert = 1.0 / (std::numbers::pi * 0.3048 * 0.3048);

constexpr std::array kUnits{Unit{"light", "cd/m2", 1.0},
                            Unit{"light", "mcd/m2", 1e-3},
                            Unit{"light", "fL", kFootLambert},
                            Unit{"ratio", "1", 1.0},
                            Unit{"ratio", "", 1.0},
                            Unit{"time", "s", 1.0},
                            Unit{"time", "ms", 1e-3},
                            Unit{"time", "us", 1e-6},
                            Unit{"length", "nm", 1.0},
                            Unit{"length", "um", 1e3},
                            Unit{"radiance", "W/(sr m2 nm)", 1.0},
                            Unit{"radiance", "mW/(sr m2 nm)", 1e-3},
                            Unit{"radiance", "W/(sr m2 um)", 1e-3},
                            Unit{"none", "", 1.0}};

struct Field {
  std::string_view name, family;
  FieldKind kind = FieldKind::number;
  bool may_be_list = false, discarded = false;
};

constexpr std::array kFields{Field{"X", "light"},
                             Field{"Y", "light"},
                             Field{"Z", "light"},
                             Field{"x", "ratio"},
                             Field{"y", "ratio"},
                             Field{"u'", "ratio"},
                             Field{"v'", "ratio"},
                             Field{"integration", "time"},
                             Field{"start", "length"},
                             Field{"step", "length"},
                             Field{"wavelength", "length", FieldKind::number, true},
                             Field{"radiance", "radiance", FieldKind::number, true},
                             Field{"count", "none", FieldKind::count},
                             Field{"code", "none"},
                             Field{"skip", "none", FieldKind::number, false, true},
                             Field{"name", "none", FieldKind::text},
                             Field{"serial", "none", FieldKind::text},
                             Field{"firmware", "none", FieldKind::text},
                             Field{"message", "none", FieldKind::text},
                             Field{"text", "none", FieldKind::text, false, true}};

std::string_view units_of(std::string_view family) {
  if (family == "light") return "cd/m2, mcd/m2, fL";
  if (family == "ratio") return "1";
  if (family == "time") return "s, ms, us";
  if (family == "length") return "nm, um";
  if (family == "radiance") return "W/(sr m2 nm), mW/(sr m2 nm), W/(sr m2 um)";
  return "";
}

}  // namespace

std::optional<FieldRule> field_rule(std::string_view name) {
  const auto* found = std::ranges::find(kFields, name, &Field::name);
  if (found == kFields.end()) return std::nullopt;
  return FieldRule{found->kind, found->name, found->may_be_list, found->discarded, units_of(found->family)};
}

std::optional<double> unit_factor(std::string_view field, std::string_view unit) {
  const auto* found = std::ranges::find(kFields, field, &Field::name);
  if (found == kFields.end()) return std::nullopt;
  for (const auto& u : kUnits)
    if (u.family == found->family && u.name == unit) return u.factor;
  return std::nullopt;
}

}  // namespace provenit::instrument
