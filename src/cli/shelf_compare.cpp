// provenit shelf beside, meets, between, ageing: displays held against each other.
#include <fmt/format.h>

#include <algorithm>

#include "provenit/base/text.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/shelf/compare.h"
#include "shelf_parts.h"

namespace provenit::cli {
namespace {

using Json = nlohmann::ordered_json;

Result<const shelf::Item*> item_of(const OpenShelf& open, int number) {
  for (std::size_t i = 0; i < open.items.size(); ++i)
    if (open.numbers[i] == static_cast<std::size_t>(std::max(number, 0))) return &open.items[i];
  return fail(ErrorCode::not_found, fmt::format("the shelf has no number {}", number),
              fmt::format("Numbers go from 1 to {}: see provenit shelf list.", open.items.size()));
}

/// The items in the order of --sort: the first row of that quantity.
Result<std::vector<std::size_t>> order_of(const std::vector<shelf::Item>& items, const ShelfOptions& o) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < items.size(); ++i) order.push_back(i);
  if (o.sort.empty()) return order;
  const auto rows = shelf::side_by_side(items, o.sort);
  if (rows.empty())
    return fail(ErrorCode::not_found, fmt::format("no display has a finding of '{}'", o.sort),
                "Name a quantity that one of them has: provenit shelf beside " + o.folder);
  return shelf::order_by(rows.front(), !o.smallest_first);
}

Json difference_json(const shelf::Difference& d) {
  return {{"quantity", d.quantity},
          {"conditions", d.conditions},
          {"unit", d.unit},
          {"a", figure_json(*d.a)},
          {"b", figure_json(*d.b)},
          {"difference", d.comparison.difference},
          {"lower95", d.comparison.interval.lower},
          {"upper95", d.comparison.interval.upper},
          {"cancelled", d.comparison.cancelled}};
}

}  // namespace

int shelf_beside(const Output& output, const ShelfOptions& o) {
  const auto open = open_shelf(o);
  if (!open) return output.fail(open.error());
  const auto& items = open->items;
  const auto order = order_of(items, o);
  if (!order) return output.fail(order.error());
  std::string text;
  auto document = Json::array();
  for (const auto& row : shelf::side_by_side(items, o.quantity)) {
    text += in_words(row.quantity, row.conditions) + '\n';
    Table table({"", "display", "value", "95 % interval", "unit", "method", "day"});
    Json line{
        {"quantity", row.quantity}, {"conditions", row.conditions}, {"unit", row.unit}, {"displays", Json::array()}};
    std::string why;
    for (const auto i : *order) {
      const auto* f = row.cells[i];
      if (f == nullptr) continue;
      const auto figure = figure_text(f->value, f->lower95, f->upper95, f->standard_uncertainty);
      table.add({row.why_not[i].empty() ? "" : "*", items[i].name, figure.value, figure.interval, f->unit,
                 fmt::format("{} v{}", f->method, f->method_version), shelf::day_of(f->computed)});
      auto cell = figure_json(*f);
      cell["number"] = open->numbers[i];
      cell["display"] = items[i].name;
      cell["not_comparable"] = row.why_not[i].empty() ? Json(nullptr) : Json(row.why_not[i]);
      line["displays"].push_back(std::move(cell));
      if (!row.why_not[i].empty()) why += fmt::format("* {}: {}\n", items[i].name, row.why_not[i]);
    }
    text += table.text() + why + '\n';
    document.push_back(std::move(line));
  }
  if (document.empty())
    return output.fail({ErrorCode::not_found,
                        fmt::format("no display has a finding whose quantity begins with '{}'", o.quantity),
                        "Leave --quantity out to see all.",
                        {}});
  output.say(text, document);
  return kDone;
}

int shelf_meets(const Output& output, const ShelfOptions& o) {
  const auto set = evaluation::find_requirement_set(o.set, read_file);
  if (!set) return output.fail(set.error());
  const auto open = open_shelf(o);
  if (!open) return output.fail(open.error());
  const auto limits = shelf::limits_of(*set);
  Table table({"no", "display", "overall", "meets", "fails", "undecided", "no finding"});
  Json document{{"set", set->id}, {"title", set->title}, {"displays", Json::array()}};
  std::string why;
  for (std::size_t i = 0; i < open->items.size(); ++i) {
    const auto& item = open->items[i];
    const auto standing = shelf::standing_of(item, *set);
    const auto count = [&](shelf::Standing s) { return std::to_string(standing.count(s)); };
    table.add({std::to_string(open->numbers[i]), item.name, name_of(standing.overall), count(shelf::Standing::meets),
               count(shelf::Standing::fails), count(shelf::Standing::undecided), count(shelf::Standing::not_found)});
    auto line = item_json(open->numbers[i], item);
    line["overall"] = name_of(standing.overall);
    line["questions"] = Json::array();
    for (std::size_t k = 0; k < limits.size(); ++k) {
      const auto& q = standing.questions[k];
      line["questions"].push_back({{"key", limits[k]->key},
                                   {"text", limits[k]->text},
                                   {"standing", name_of(q.standing)},
                                   {"finding", q.finding == nullptr ? Json(nullptr) : figure_json(*q.finding)},
                                   {"why", q.text}});
      if (q.standing == shelf::Standing::fails || q.standing == shelf::Standing::undecided)
        why += fmt::format("  {}: {} {}: {}\n", item.name, name_of(q.standing), limits[k]->text, q.text);
    }
    document["displays"].push_back(std::move(line));
  }
  output.say(
      fmt::format("{}: {} limits\n{}{}{}", set->title, limits.size(), table.text(), why.empty() ? "" : "\n", why),
      document);
  return kDone;
}

int shelf_between(const Output& output, const ShelfOptions& o) {
  const auto open = open_shelf(o);
  if (!open) return output.fail(open.error());
  const auto a = item_of(*open, o.first), b = item_of(*open, o.second);
  if (!a) return output.fail(a.error());
  if (!b) return output.fail(b.error());
  const auto found = shelf::between(**a, **b);
  Json document{{"a", (*a)->name},
                {"b", (*b)->name},
                {"caution", found.caution},
                {"separate", Json::array()},
                {"not_shown", Json::array()},
                {"not_compared", Json::array()}};
  std::string text = found.caution.empty() ? "" : found.caution + "\n\n";
  text += fmt::format("Shown to differ ({}):\n", found.separate.size());
  for (const auto& d : found.separate) {
    const auto conditions = shelf::conditions_text(d.conditions);
    text += fmt::format("  {}{}\n", conditions.empty() ? "" : conditions + ": ", d.comparison.text);
    document["separate"].push_back(difference_json(d));
  }
  text += fmt::format("\nNo difference shown ({}):\n", found.not_shown.size());
  for (const auto& d : found.not_shown) {
    text += fmt::format("  {}: {} against {}\n", in_words(d.quantity, d.conditions), figure_in_words(*d.a),
                        figure_in_words(*d.b));
    document["not_shown"].push_back(difference_json(d));
  }
  if (!found.not_compared.empty()) text += fmt::format("\nNot to be compared ({}):\n", found.not_compared.size());
  for (const auto& n : found.not_compared) {
    text += fmt::format("  {}: {}\n", in_words(n.quantity, n.conditions), n.why);
    document["not_compared"].push_back({{"quantity", n.quantity}, {"conditions", n.conditions}, {"why", n.why}});
  }
  output.say(text, document);
  return kDone;
}

int shelf_ageing(const Output& output, const ShelfOptions& o) {
  const auto open = open_shelf(o);
  if (!open) return output.fail(open.error());
  const auto found = shelf::ageing(open->items);
  std::string text;
  auto document = Json::array();
  for (const auto& display : found) {
    text += fmt::format("{}, {} loans:\n", display.loans.front()->display.name, display.loans.size());
    Json line{{"display", display.loans.front()->display.name}, {"loans", Json::array()}, {"courses", Json::array()}};
    for (const auto* item : display.loans)
      line["loans"].push_back(
          {{"starts", iso8601(item->loan.starts)}, {"evaluator", item->evaluator}, {"bench", item->title}});
    std::size_t still = 0;
    for (const auto& course : display.courses) {
      Json values = Json::array();
      std::string along;
      for (std::size_t k = 0; k < display.loans.size(); ++k) {
        const auto* f = course.row.cells[k];
        if (f == nullptr) continue;
        auto cell = figure_json(*f);
        cell["starts"] = iso8601(display.loans[k]->loan.starts);
        cell["not_comparable"] = course.row.why_not[k].empty() ? Json(nullptr) : Json(course.row.why_not[k]);
        values.push_back(std::move(cell));
        along += fmt::format("    {}  {}{}\n", shelf::day_of(display.loans[k]->loan.starts), figure_in_words(*f),
                             course.row.why_not[k].empty() ? "" : ": " + course.row.why_not[k]);
      }
      const auto& c = course.first_last.comparison;
      line["courses"].push_back({{"quantity", course.row.quantity},
                                 {"conditions", course.row.conditions},
                                 {"changed", course.changed},
                                 {"change", c.difference},
                                 {"lower95", c.interval.lower},
                                 {"upper95", c.interval.upper},
                                 {"values", std::move(values)}});
      if (!course.changed) {
        ++still;
        continue;
      }
      text += fmt::format("  {} changed by {:+.4g}{} ({:+.4g} to {:+.4g}):\n{}",
                          in_words(course.row.quantity, course.row.conditions), c.difference,
                          unit_text(course.row.unit), c.interval.lower, c.interval.upper, along);
    }
    text += fmt::format("  no change shown in {} quantities.\n", still);
    document.push_back(std::move(line));
  }
  if (found.empty()) text = "No display was here more than once.\n";
  output.say(text, document);
  return kDone;
}

}  // namespace provenit::cli
