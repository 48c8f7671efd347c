// A requirement set over all displays.
#include <fmt/format.h>

#include <algorithm>

#include "page.h"
#include "provenit/evaluation/requirement.h"
#include "provenit/shelf/compare.h"
#include "words.h"

namespace provenit::publish {
namespace {

/// The set as the first loan that was asked it has it.
evaluation::RequirementSet set_of(const Site& site, const SetPage& page) {
  evaluation::RequirementSet set{.id = page.id, .title = page.title};
  for (const auto& exhibit : site.exhibits) {
    for (const auto& q : exhibit.contents.questions)
      if (q.set == page.id) set.questions.push_back(q);
    if (!set.questions.empty()) break;
  }
  return set;
}

std::string standing_words(shelf::Standing standing) {
  return standing == shelf::Standing::not_found ? "no finding" : shelf::name_of(standing);
}

}  // namespace

Result<Page> set_page(const Site& site, const SetPage& which) {
  const auto set = set_of(site, which);
  const auto limits = shelf::limits_of(set);
  if (limits.empty())
    return fail(ErrorCode::not_found, fmt::format("no loan was asked the set '{}'", which.id),
                "Ask it and evaluate: provenit questions BENCH --set " + which.id);
  Page page{.title = which.title,
            .description = fmt::format("{}: which displays meet it, which fail, which are undecided.", which.title),
            .up = "../",
            .here = "sets/" + which.id + ".html",
            .body = {}};
  auto& out = page.body;
  if (site.sets.size() > 1) {
    out += "<nav aria-label=\"Requirement sets\"><ul class=\"row\">";
    for (const auto& s : site.sets)
      out += fmt::format(R"(<li><a href="{}.html"{}>{}</a></li>)", escaped(s.id),
                         s.id == which.id ? R"( aria-current="page")" : "", escaped(s.title));
    out += "</ul></nav>\n";
  }
  out +=
      "<p>Each display's interval of 95 % against each limit: it meets, fails, or the interval reaches over the limit "
      "and "
      "it is undecided. Open the documents themselves before relying on a limit.</p>\n";
  std::vector<std::string> heads{"Limit"};
  std::vector<shelf::SetStanding> standings;
  for (std::size_t i = 0; i < site.items.size(); ++i) {
    standings.push_back(shelf::standing_of(site.items[i], set));
    heads.push_back(link("../displays/" + site.exhibits[i].slug + ".html", site.items[i].name));
  }
  std::string rows = "<tr><th scope=\"row\">All of them</th>";
  for (const auto& s : standings) rows += fmt::format(R"(<td class="verdict {0}">{0}</td>)", shelf::name_of(s.overall));
  rows += "</tr>\n";
  for (std::size_t k = 0; k < limits.size(); ++k) {
    const auto& q = *limits[k];
    rows += fmt::format(R"(<tr><th scope="row">{}<span class="more">{}{}{}</span></th>)", escaped(q.text),
                        escaped(limit_words(q.lower, q.upper, q.unit, q.quantity)), q.clause.empty() ? "" : "; ",
                        escaped(q.clause));
    for (const auto& s : standings) {
      const auto& standing = s.questions[k];
      rows += fmt::format(
          R"(<td class="verdict {}">{}{}</td>)", shelf::name_of(standing.standing), standing_words(standing.standing),
          standing.finding == nullptr
              ? std::string{}
              : "<span class=\"more\">" + escaped(figure_words(*standing.finding).with_unit()) + "</span>");
    }
    rows += "</tr>\n";
  }
  out += table_markup(which.title, heads, rows);
  return page;
}

}  // namespace provenit::publish
