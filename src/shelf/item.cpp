#include "provenit/shelf/item.h"

#include <fmt/format.h>

#include <map>

#include "provenit/base/text.h"

namespace provenit::shelf {
namespace {

/// A detail as text; empty if it is not there.
std::string detail(const nlohmann::json& details, const char* key) {
  const auto found = details.find(key);
  if (found == details.end() || found->is_null()) return {};
  return found->is_string() ? found->get<std::string>() : found->dump();
}

/// Adds what `part` gives to every name that stands more than once.
template <class Part>
void tell_apart(std::vector<Item>& items, Part part) {
  std::map<std::string, int> times;
  for (const auto& item : items) ++times[item.name];
  for (auto& item : items)
    if (times[item.name] > 1) item.name += part(item);
}

}  // namespace

void name_items(std::vector<Item>& items) {
  for (auto& item : items) item.name = item.display.name;
  tell_apart(items, [](const Item& i) { return ", " + day_of(i.loan.starts); });
  tell_apart(items, [](const Item& i) { return ", " + i.evaluator; });
  tell_apart(items, [](const Item& i) { return fmt::format(", {} loan {}", i.title, i.loan.id); });
}

std::string day_of(Timestamp time) {
  constexpr std::size_t date = 10;
  return iso8601(time).substr(0, date);
}

std::string conditions_text(const nlohmann::json& conditions) {
  std::string out;
  for (const auto& [key, value] : conditions.items()) {
    out += out.empty() ? key : ", " + key;
    out += ' ' + (value.is_string() ? value.get<std::string>() : value.dump());
  }
  return out;
}

bool same_instrument(const store::InstrumentRecord& a, const store::InstrumentRecord& b) {
  const auto &c = a.certificate, &d = b.certificate;
  if (a.kind != b.kind || c.number != d.number || c.date != d.date || c.issuer != d.issuer ||
      c.luminance_expanded_relative != d.luminance_expanded_relative || c.x_expanded != d.x_expanded ||
      c.y_expanded != d.y_expanded || c.coverage_factor != d.coverage_factor)
    return false;
  const char* key = a.kind == "simulated" ? "seed" : "serial";
  const auto x = detail(a.details, key), y = detail(b.details, key);
  return !x.empty() && x == y;
}

bool same_display(const store::DisplayRecord& a, const store::DisplayRecord& b) {
  if (a.name != b.name) return false;
  const auto x = detail(a.details, "serial"), y = detail(b.details, "serial");
  return x.empty() || y.empty() || x == y;
}

}  // namespace provenit::shelf
