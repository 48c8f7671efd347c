#include "provenit/shelf/compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "provenit/evaluation/verdict.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::shelf {
namespace {

using store::FindingRecord;

/// Illuminances on the screen that differ by less than this count as one room: what is reflected then stays below
/// 0.01 cd/m2 of a screen that reflects 1 % diffusely (E rho / pi).
constexpr double kSameLight_lx = 3;

std::size_t place_in_catalogue(const std::string& quantity) {
  const auto all = procedure::catalogue();
  return static_cast<std::size_t>(std::ranges::find(all, std::string_view(quantity), &procedure::Quantity::key) -
                                  all.begin());
}

struct RowKey {
  std::size_t place;
  std::string quantity;
  nlohmann::json conditions;  // numbers in the order of their values
  friend bool operator<(const RowKey& a, const RowKey& b) {
    return std::tie(a.place, a.quantity, a.conditions) < std::tie(b.place, b.quantity, b.conditions);
  }
};
RowKey key_of(const FindingRecord& f) {
  return {place_in_catalogue(f.quantity), f.quantity, f.conditions};
}

std::map<RowKey, const FindingRecord*> by_key(const Item& item) {
  std::map<RowKey, const FindingRecord*> out;
  for (const auto& f : item.findings) out[key_of(f)] = &f;
  return out;
}

/// The first item that has it.
std::size_t first_of(const Row& row) {
  return static_cast<std::size_t>(std::ranges::find_if(row.cells, [](const auto* cell) { return cell != nullptr; }) -
                                  row.cells.begin());
}

bool simulated(const Item& item) {
  return item.display.details.contains("simulated");
}

Difference difference_of(const Item& a, const FindingRecord& fa, const Item& b, const FindingRecord& fb) {
  const bool same = same_instrument(a.instrument, b.instrument);
  return {.quantity = fa.quantity,
          .conditions = fa.conditions,
          .unit = fa.unit,
          .a = &fa,
          .b = &fb,
          .comparison = evaluation::compare(fa, fb, same, {a.name, b.name}).value()};
}

/// Every quantity that any of the items has and whose key begins so. Comparable is what is so with the first finding.
std::vector<Row> rows_over(const std::vector<const Item*>& items, const std::string& quantity) {
  std::map<RowKey, Row> rows;
  for (std::size_t i = 0; i < items.size(); ++i)
    for (const auto& f : items[i]->findings) {
      if (!f.quantity.starts_with(quantity)) continue;
      auto& row = rows[key_of(f)];
      if (row.cells.empty()) {
        row.quantity = f.quantity;
        row.conditions = f.conditions;
        row.unit = f.unit;
        row.cells.resize(items.size());
        row.why_not.resize(items.size());
      }
      row.cells[i] = &f;
    }
  std::vector<Row> out;
  for (auto& [key, row] : rows) {
    const auto first = first_of(row);
    for (std::size_t i = first + 1; i < items.size(); ++i)
      if (row.cells[i] != nullptr)
        row.why_not[i] = why_not_comparable(*items[first], *row.cells[first], *items[i], *row.cells[i]);
    out.push_back(std::move(row));
  }
  return out;
}

}  // namespace

std::string why_not_comparable(const Item& a, const FindingRecord& fa, const Item& b, const FindingRecord& fb) {
  if (fa.unit != fb.unit) return fmt::format("in {} against {}", fa.unit, fb.unit);
  if (fa.conditions != fb.conditions)
    return fmt::format("under {} against {}", conditions_text(fa.conditions), conditions_text(fb.conditions));
  if (fa.method != fb.method) return fmt::format("by the method {} against {}", fa.method, fb.method);
  if (fa.method_version != fb.method_version)
    return fmt::format("by version {} of the method {} against version {}: evaluate both benches with one program",
                       fa.method_version, fa.method, fb.method_version);
  const auto ta = a.display.encoding.transfer, tb = b.display.encoding.transfer;
  if (ta != tb) return fmt::format("fed with {} against {}", signal::name_of(ta), signal::name_of(tb));
  for (const auto& [item, f] : {std::pair{&a, &fa}, std::pair{&b, &fb}})
    if (!std::isfinite(f->value) || !std::isfinite(f->standard_uncertainty))
      return fmt::format("that of {} has no finite uncertainty", item->name);
  return {};
}

std::string caution(const Item& a, const Item& b) {
  if (simulated(a) != simulated(b))
    return fmt::format("{} is simulated, {} was measured.", simulated(a) ? a.name : b.name,
                       simulated(a) ? b.name : a.name);
  const auto x = a.room.screen_illuminance_lx, y = b.room.screen_illuminance_lx;
  if (x && y && std::abs(*x - *y) > kSameLight_lx)
    return fmt::format(
        "{:g} lx fell on the screen of {} and {:g} lx on that of {}: black and what depends on it may differ by that.",
        *x, a.name, *y, b.name);
  return {};
}

std::vector<Row> side_by_side(std::span<const Item> items, const std::string& quantity) {
  std::vector<const Item*> all;
  for (const auto& item : items) all.push_back(&item);
  return rows_over(all, quantity);
}

std::vector<std::size_t> order_by(const Row& row, bool largest_first) {
  std::vector<std::size_t> order(row.cells.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  const auto has = [&row](std::size_t i) { return row.cells[i] != nullptr && row.why_not[i].empty(); };
  std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) {
    if (!has(a) || !has(b)) return has(a) && !has(b);
    return largest_first ? row.cells[a]->value > row.cells[b]->value : row.cells[a]->value < row.cells[b]->value;
  });
  return order;
}

const char* name_of(Standing standing) {
  switch (standing) {
    case Standing::meets:
      return "meets";
    case Standing::fails:
      return "fails";
    case Standing::undecided:
      return "undecided";
    case Standing::not_found:
      return "not_found";
  }
  return "";
}

std::size_t SetStanding::count(Standing standing) const {
  return static_cast<std::size_t>(std::ranges::count(questions, standing, &QuestionStanding::standing));
}

std::vector<const store::QuestionRecord*> limits_of(const evaluation::RequirementSet& set) {
  std::vector<const store::QuestionRecord*> out;
  for (const auto& q : set.questions)
    if (q.lower || q.upper) out.push_back(&q);
  return out;
}

SetStanding standing_of(const Item& item, const evaluation::RequirementSet& set) {
  SetStanding out;
  for (const auto* q : limits_of(set)) {
    QuestionStanding s{.text = "No finding answers it."};
    for (const auto& f : item.findings) {
      if (!evaluation::answers(f, *q)) continue;
      const auto verdict = evaluation::verdict(f, *q);
      if (!verdict) continue;
      s = {.standing = verdict->verdict == store::Verdict::meets   ? Standing::meets
                       : verdict->verdict == store::Verdict::fails ? Standing::fails
                                                                   : Standing::undecided,
           .finding = &f,
           .text = verdict->text};
      break;
    }
    out.questions.push_back(std::move(s));
  }
  if (out.count(Standing::fails) > 0)
    out.overall = Standing::fails;
  else if (!out.questions.empty() && out.count(Standing::meets) == out.questions.size())
    out.overall = Standing::meets;
  return out;
}

Between between(const Item& a, const Item& b) {
  Between out{.caution = caution(a, b)};
  const auto of_b = by_key(b);
  for (const auto& [key, fa] : by_key(a)) {
    const auto found = of_b.find(key);
    if (found == of_b.end()) continue;
    const auto* fb = found->second;
    if (auto why = why_not_comparable(a, *fa, b, *fb); !why.empty()) {
      out.not_compared.push_back({fa->quantity, fa->conditions, std::move(why)});
      continue;
    }
    auto difference = difference_of(a, *fa, b, *fb);
    const bool shown = difference.comparison.outcome != evaluation::Outcome::no_difference_shown;
    (shown ? out.separate : out.not_shown).push_back(std::move(difference));
  }
  return out;
}

std::vector<Ageing> ageing(std::span<const Item> items) {
  std::vector<Ageing> out;
  std::vector<bool> taken(items.size());
  for (std::size_t i = 0; i < items.size(); ++i) {
    Ageing of;
    for (std::size_t k = i; k < items.size(); ++k)
      if (!taken[k] && same_display(items[i].display, items[k].display)) {
        taken[k] = true;
        of.loans.push_back(&items[k]);
      }
    if (of.loans.size() < 2) continue;
    std::ranges::stable_sort(of.loans, {}, [](const Item* item) { return item->loan.starts; });
    for (auto& row : rows_over(of.loans, {})) {
      const auto first = first_of(row);
      auto last = first;
      for (std::size_t k = first + 1; k < row.cells.size(); ++k)
        if (row.cells[k] != nullptr && row.why_not[k].empty()) last = k;
      if (last == first) continue;
      auto difference = difference_of(*of.loans[last], *row.cells[last], *of.loans[first], *row.cells[first]);
      const bool changed = difference.comparison.outcome != evaluation::Outcome::no_difference_shown;
      of.courses.push_back({.row = std::move(row), .first_last = std::move(difference), .changed = changed});
    }
    out.push_back(std::move(of));
  }
  return out;
}

}  // namespace provenit::shelf
