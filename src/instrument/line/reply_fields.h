#pragma once
// The fields that a reply pattern may name, and their units. Private to the library.
#include <optional>
#include <string_view>

namespace provenit::instrument {

enum class FieldKind { number, count, text };

struct FieldRule {
  FieldKind kind = FieldKind::number;
  std::string_view name;
  bool may_be_list = false;
  bool discarded = false;      ///< {skip} and {text}: taken, not kept; may occur more than once
  std::string_view unit_list;  ///< units it may have, for messages; empty: it has none
};

/// nullopt if there is no such field.
[[nodiscard]] std::optional<FieldRule> field_rule(std::string_view name);
/// Factor from `unit` to the field's base unit; nullopt if the field does not have this unit. An empty unit stands for
/// a dimensionless field only.
[[nodiscard]] std::optional<double> unit_factor(std::string_view field, std::string_view unit);

}  // namespace provenit::instrument
