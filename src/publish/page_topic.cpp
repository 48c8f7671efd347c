// One topic over all displays: charts, then every quantity side by side. And what two displays differ in.
#include <fmt/format.h>

#include <algorithm>
#include <numeric>

#include "page.h"
#include "provenit/shelf/compare.h"
#include "words.h"

namespace provenit::publish {
namespace {

std::vector<std::size_t> all_of(const Site& site) {
  std::vector<std::size_t> out(site.items.size());
  std::iota(out.begin(), out.end(), std::size_t{0});
  return out;
}

std::string row_numbers(const Site& site, const shelf::Row& row, const std::string& title) {
  std::string out;
  for (std::size_t i = 0; i < site.items.size(); ++i) {
    const auto* f = row.cells[i];
    if (f == nullptr) continue;
    const auto words = figure_words(*f);
    out += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{} v{}</td><td>{}</td><td>{}</td></tr>",
                       link("../displays/" + site.exhibits[i].slug + ".html", site.items[i].name),
                       escaped(words.with_unit()), escaped(words.interval), escaped(f->method), f->method_version,
                       shelf::day_of(f->computed), escaped(row.why_not[i]));
  }
  return table_markup(title, {"Display", "Value", "95 % interval", "Method", "Computed", "Not comparable"}, out);
}

std::string row_markup(const Site& site, const shelf::Row& row, const TakeChart& take, const std::string& credit) {
  std::vector<Rung> rungs;
  for (std::size_t i = 0; i < site.items.size(); ++i)
    if (row.cells[i] != nullptr) rungs.push_back({site.items[i].name, row.cells[i], row.why_not[i].empty()});
  const auto title = subject_words(row.quantity, row.conditions);
  const auto id = anchor_of(row.quantity, row.conditions);
  const auto table = row_numbers(site, row, title);  // says method and day, too
  if (rungs.size() < 2)                              // one display alone needs no chart
    return fmt::format("<section class=\"single\" id=\"{}\"><h3>{}</h3>{}</section>\n", id, escaped(title), table);
  const auto chart = ladder_chart(id, title, rungs);
  const auto name = "all-" + slug_of(id);
  take(chart, name, credit);
  return chart_markup(site, chart, "../", name, table);
}

std::string difference_markup(const shelf::Difference& d, bool separate) {
  const auto a = figure_words(*d.a), b = figure_words(*d.b);
  const auto by =
      figure_words(d.comparison.difference, d.comparison.interval.lower, d.comparison.interval.upper, d.unit);
  return fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
                     escaped(subject_words(d.quantity, d.conditions)), escaped(a.whole()), escaped(b.whole()),
                     separate ? "<b>" + escaped(by.whole()) + "</b>" : escaped(by.whole()));
}

std::string differences_markup(const std::vector<shelf::Difference>& differences, const std::string& label,
                               const std::string& a, const std::string& b, bool separate) {
  if (differences.empty()) return "<p>None.</p>\n";
  std::string rows;
  for (const auto& d : differences) rows += difference_markup(d, separate);
  return table_markup(label, {"Quantity", escaped(a), escaped(b), "Difference"}, rows);
}

}  // namespace

Page topic_page(const Site& site, const Topic& topic, const TakeChart& take) {
  Page page{.title = std::string(topic.title),
            .description = fmt::format("{} {} displays side by side.", topic.lead, site.items.size()),
            .up = "../",
            .here = fmt::format("topics/{}.html", topic.key),
            .body = fmt::format(
                "<p class=\"lead\">{} Displays in the order of the shelf; whiskers are intervals of 95 %.</p>\n",
                escaped(topic.lead))};
  const auto credit =
      fmt::format("{}{}. Published {}.", site.invented ? "Invented. " : "", site.title, date_words(site.published));
  for (const auto& chart : charts_of({.items = site.items, .shown = all_of(site)}, topic.key)) {
    const auto name = "all-" + chart.id;
    take(chart, name, credit);
    page.body += chart_markup(site, chart, page.up, name);
  }
  page.body += "<h2>Quantity by quantity</h2>\n";
  for (const auto& row : shelf::side_by_side(site.items))
    if (topic_of(row.quantity).key == topic.key) page.body += row_markup(site, row, take, credit);
  return page;
}

std::string pair_address(const Site& site, std::size_t a, std::size_t b) {
  return fmt::format("pairs/{}--{}.html", site.exhibits[a].slug, site.exhibits[b].slug);
}

Page pair_page(const Site& site, std::size_t a, std::size_t b) {
  const auto found = shelf::between(site.items[a], site.items[b]);
  const auto &name_a = site.items[a].name, &name_b = site.items[b].name;
  Page page{.title = name_a + " and " + name_b,
            .description = fmt::format("What {} and {} are shown to differ in.", name_a, name_b),
            .up = "../",
            .here = pair_address(site, a, b),
            .body = {}};
  auto& out = page.body;
  out += fmt::format("<ul class=\"row\"><li>{}</li><li>{}</li></ul>\n",
                     link("../displays/" + site.exhibits[a].slug + ".html", name_a),
                     link("../displays/" + site.exhibits[b].slug + ".html", name_b));
  if (!found.caution.empty()) out += "<p class=\"invented\">" + escaped(found.caution) + "</p>\n";
  out += fmt::format(
      "<h2>Shown to differ ({})</h2>\n<p>The interval of the difference leaves 0 out. Of 100 quantities without any "
      "difference about five would stand here by chance.</p>\n",
      found.separate.size());
  out += differences_markup(found.separate, "Shown to differ", name_a, name_b, true);
  out += fmt::format("<h2>No difference shown ({})</h2>\n", found.not_shown.size());
  out += differences_markup(found.not_shown, "No difference shown", name_a, name_b, false);
  if (!found.not_compared.empty()) {
    out += fmt::format("<h2>Not to be compared ({})</h2>\n<ul>", found.not_compared.size());
    for (const auto& n : found.not_compared)
      out += fmt::format("<li>{}: {}</li>", escaped(subject_words(n.quantity, n.conditions)), escaped(n.why));
    out += "</ul>\n";
  }
  return page;
}

}  // namespace provenit::publish
