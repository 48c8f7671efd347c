#include "shelf_parts.h"

#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/procedure/catalogue.h"

namespace provenit::cli {

std::string in_words(const std::string& key, const nlohmann::json& conditions) {
  const auto* known = procedure::find_quantity(key);
  const auto more = shelf::conditions_text(conditions);
  return (known == nullptr ? key : std::string(known->title)) + (more.empty() ? "" : " (" + more + ")");
}

std::string unit_text(const std::string& unit) {
  return unit == "1" ? "" : " " + unit;
}

std::string figure_in_words(const store::FindingRecord& f) {
  const auto text = figure_text(f.value, f.lower95, f.upper95, f.standard_uncertainty);
  return fmt::format("{}{} ({})", text.value, unit_text(f.unit), text.interval);
}

nlohmann::ordered_json figure_json(const store::FindingRecord& f) {
  return {{"value", f.value},
          {"unit", f.unit},
          {"lower95", f.lower95},
          {"upper95", f.upper95},
          {"standard_uncertainty", f.standard_uncertainty},
          {"method", f.method},
          {"method_version", f.method_version},
          {"computed", iso8601(f.computed)}};
}

nlohmann::ordered_json item_json(std::size_t number, const shelf::Item& item) {
  return {{"number", number},
          {"display", item.name},
          {"technology", item.display.technology},
          {"evaluator", item.evaluator},
          {"bench", item.title},
          {"loan", item.loan.id},
          {"starts", iso8601(item.loan.starts)},
          {"findings", item.findings.size()},
          {"recomputed", item.recomputed}};
}

Result<OpenShelf> open_shelf(const ShelfOptions& o) {
  auto opened = shelf::Shelf::open(o.folder);
  if (!opened) return tl::unexpected(opened.error());
  auto items = opened->items(shelf::Shelf::Findings::figures);
  if (!items) return tl::unexpected(items.error());
  OpenShelf out{.shelf = std::move(*opened)};
  for (std::size_t i = 0; i < items->size(); ++i) {
    if ((*items)[i].display.technology.find(o.technology) == std::string::npos) continue;
    out.items.push_back(std::move((*items)[i]));
    out.numbers.push_back(i + 1);
  }
  if (out.items.empty())
    return fail(ErrorCode::not_found, "there is nothing on the shelf that was asked for",
                "Add a bench that was evaluated: provenit shelf add " + o.folder + " tern.bench", {.file = o.folder});
  return out;
}

}  // namespace provenit::cli
