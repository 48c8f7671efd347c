// The first page: every display with its leading figures, to be sorted and filtered.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "page.h"
#include "provenit/base/text.h"
#include "words.h"

namespace provenit::publish {
namespace {

/// The value for sorting, the words for reading.
std::string figure_cell(const Site& site, std::size_t i, const Leading& what) {
  const auto* f = leading_finding(site.items[i], what);
  if (f == nullptr)
    return fmt::format(R"(<td data-label="{}"><span class="none">not found out</span></td>)", escaped(what.name));
  const auto words = figure_words(*f);
  return fmt::format(
      R"(<td data-label="{}" data-value="{}"><a href="topics/{}.html#{}"><b>{}</b></a> <span class="interval">{}</span></td>)",
      escaped(what.name), f->value, topic_of(f->quantity).key, escaped(anchor_of(f->quantity, f->conditions)),
      escaped(words.with_unit()), escaped(words.interval));
}

/// Words of technologies, to choose by: what stands before the first comma.
std::set<std::string> kinds_of(const Site& site) {
  std::set<std::string> out;
  for (const auto& item : site.items)
    out.emplace(trim(item.display.technology.substr(0, item.display.technology.find_first_of(",("))));
  return out;
}

}  // namespace

const std::vector<Leading>& leading() {
  static const std::vector<Leading> all{
      {"peak_luminance", "Peak, 10 % window", {{"window_percent", 10}}},
      {"peak_luminance", "Full field", {{"window_percent", 100}}},
      {"black_luminance", "Black", nlohmann::json::object()},
      {"eotf_mean_delta_e_itp", "Greyscale, mean \u0394E ITP", nlohmann::json::object()},
      {"white_delta_uv", "White, \u0394u\u2032v\u2032", nlohmann::json::object()},
      {"gamut_coverage", "BT.2020 covered, u\u2032v\u2032", {{"plane", "uv"}, {"reference", "bt2020"}}}};
  return all;
}

const store::FindingRecord* leading_finding(const shelf::Item& item, const Leading& what) {
  const auto found = std::ranges::find_if(item.findings, [&](const store::FindingRecord& f) {
    return f.quantity == what.quantity && f.conditions == what.conditions;
  });
  return found == item.findings.end() ? nullptr : &*found;
}

Page index_page(const Site& site) {
  Page page{.title = site.title,
            .description = fmt::format("{} displays, measured: every figure with its uncertainty.", site.items.size()),
            .up = {},
            .here = "index.html",
            .body = {}};
  auto& out = page.body;
  if (!site.about.introduction.empty())
    out += fmt::format("<p class=\"lead\">{}</p>\n", escaped(site.about.introduction));
  const auto kinds = kinds_of(site);
  if (kinds.size() > 1) {
    out +=
        R"(<div class="choose" hidden><label for="kind">Technology</label> <select id="kind"><option value="">all</option>)";
    for (const auto& kind : kinds) out += fmt::format("<option>{}</option>", escaped(kind));
    out += "</select></div>\n";
  }
  out +=
      R"(<div class="scroll wide-only" tabindex="0" role="region" aria-label="Displays"><table class="displays" data-sort><thead><tr>)";
  out += R"(<th scope="col">Display</th>)";
  for (const auto& what : leading()) out += fmt::format(R"(<th scope="col">{}</th>)", escaped(what.name));
  out += "</tr></thead><tbody>\n";
  for (std::size_t i = 0; i < site.items.size(); ++i) {
    const auto& item = site.items[i];
    out += fmt::format(
        R"(<tr data-kind="{}"><th scope="row"><a href="displays/{}.html">{}</a><span class="more">{}</span><span class="more">{}, {}</span></th>)",
        escaped(item.display.technology), site.exhibits[i].slug, escaped(item.name), escaped(item.display.technology),
        escaped(item.evaluator), date_words(item.loan.starts));
    for (const auto& what : leading()) out += figure_cell(site, i, what);
    out += "</tr>\n";
  }
  out += "</tbody></table></div>\n";
  if (!site.record.corrections.empty()) {
    const auto& newest = site.record.corrections.back();
    out += fmt::format("<p>Corrected last on {}: {} of {}. {}</p>\n", date_words(newest.corrected),
                       escaped(subject_words(newest.was.quantity, newest.was.conditions)), escaped(newest.display),
                       link("corrections.html", "All corrections"));
  }
  return page;
}

}  // namespace provenit::publish
