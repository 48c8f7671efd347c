#pragma once
// Findings of many displays held against each other. Pure: no file, no clock.
#include <array>
#include <span>
#include <string>
#include <vector>

#include "provenit/evaluation/comparison.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/shelf/item.h"

namespace provenit::shelf {

/// Why two findings of one quantity cannot be compared; empty if they can: other unit, other conditions, other method
/// or edition of it, other version of the method, displays fed by another transfer function, no finite uncertainty.
[[nodiscard]] std::string why_not_comparable(const Item& a, const store::FindingRecord& fa, const Item& b,
                                             const store::FindingRecord& fb);
/// What should be said beside a comparison that is made: a simulated display beside a measured one, rooms of different
/// light on the screen. Empty if nothing.
[[nodiscard]] std::string caution(const Item& a, const Item& b);

// Side by side -------------------------------------------------------------------------------------------------------

/// One quantity under one set of conditions, over all items.
struct Row {
  std::string quantity;
  nlohmann::json conditions = nlohmann::json::object();
  std::string unit;
  std::vector<const store::FindingRecord*> cells;  ///< of each item; nullptr: not found there
  std::vector<std::string> why_not;  ///< of each item: not comparable with the row's first finding, and why
};
/// Every quantity that any item has, in the catalogue's order. `quantity`: those whose key begins so; empty: all.
/// The items must outlive the rows.
[[nodiscard]] std::vector<Row> side_by_side(std::span<const Item> items, const std::string& quantity = {});

/// The order of the items by a row's values, those without a comparable finding last.
[[nodiscard]] std::vector<std::size_t> order_by(const Row& row, bool largest_first);

// A requirement set --------------------------------------------------------------------------------------------------

enum class Standing { meets, fails, undecided, not_found };
[[nodiscard]] const char* name_of(Standing standing);

struct QuestionStanding {
  Standing standing = Standing::not_found;
  const store::FindingRecord* finding = nullptr;
  std::string text;  ///< for people
};
struct SetStanding {
  std::vector<QuestionStanding> questions;  ///< as the set has them; open ones, without a limit, are left out
  /// fails if any question fails; meets if all are met; else undecided.
  Standing overall = Standing::undecided;
  [[nodiscard]] std::size_t count(Standing standing) const;
};
/// The questions of a set that have a limit.
[[nodiscard]] std::vector<const store::QuestionRecord*> limits_of(const evaluation::RequirementSet& set);
/// How an item stands against a set, by the findings it has (evaluation/verdict.h). Items must outlive the result.
[[nodiscard]] SetStanding standing_of(const Item& item, const evaluation::RequirementSet& set);

// Two displays, and one display over time ----------------------------------------------------------------------------

struct Difference {
  std::string quantity;
  nlohmann::json conditions = nlohmann::json::object();
  std::string unit;
  const store::FindingRecord *a = nullptr, *b = nullptr;
  evaluation::Comparison comparison;
};
struct NotCompared {
  std::string quantity;
  nlohmann::json conditions = nlohmann::json::object();
  std::string why;
};
struct Between {
  std::vector<Difference> separate;   ///< the interval of the difference leaves 0 out
  std::vector<Difference> not_shown;  ///< it does not
  std::vector<NotCompared> not_compared;
  std::string caution;
};
/// Everything that both have found. Items must outlive the result.
[[nodiscard]] Between between(const Item& a, const Item& b);

/// One display over its loans.
struct Ageing {
  std::vector<const Item*> loans;  ///< in the order of time
  struct Course {
    Row row;                ///< over `loans`
    Difference first_last;  ///< the last comparable finding (a) less the first one (b)
    bool changed = false;   ///< their difference leaves 0 out
  };
  std::vector<Course> courses;  ///< quantities that two or more of the loans have, comparable
};
/// Every display that was here more than once. Items must outlive the result.
[[nodiscard]] std::vector<Ageing> ageing(std::span<const Item> items);

}  // namespace provenit::shelf
