#pragma once
// One finding out of many, by its quantity and the conditions that matter.
#include <string_view>
#include <vector>

#include "provenit/store/records.h"

namespace provenit::support {

/// The first whose quantity and given conditions agree; nullptr if there is none.
inline const store::FindingRecord* find(const std::vector<store::FindingRecord>& findings, std::string_view quantity,
                                        const nlohmann::json& conditions = nlohmann::json::object()) {
  for (const auto& f : findings) {
    bool same = f.quantity == quantity;
    for (const auto& [key, value] : conditions.items())
      same = same && f.conditions.value(key, nlohmann::json()) == value;
    if (same) return &f;
  }
  return nullptr;
}

}  // namespace provenit::support
