// What was published otherwise; and how to read the site.
#include <fmt/format.h>

#include <algorithm>

#include "page.h"
#include "words.h"

namespace provenit::publish {

Page corrections_page(const Site& site) {
  Page page{.title = "Corrections",
            .description = "Findings of this site that were published otherwise before, with their old values.",
            .up = {},
            .here = "corrections.html",
            .body =
                "<p class=\"lead\">Every finding that this site once gave otherwise. Nothing is taken away in "
                "silence: old data packages stay, too.</p>\n"};
  auto& out = page.body;
  if (site.record.corrections.empty()) {
    out += "<p>None so far.</p>\n";
  } else {
    std::string rows;
    for (auto c = site.record.corrections.rbegin(); c != site.record.corrections.rend(); ++c) {
      const bool here = std::ranges::find(site.exhibits, c->slug, &Exhibit::slug) != site.exhibits.end();
      rows += fmt::format(
          "<tr><td>{}</td><td>{}</td><th scope=\"row\">{}</th><td><s>{}</s></td><td>{}</td><td>{}</td></tr>\n",
          shelf::day_of(c->corrected), here ? link("displays/" + c->slug + ".html", c->display) : escaped(c->display),
          escaped(subject_words(c->was.quantity, c->was.conditions)), escaped(words_of(c->was)),
          shelf::day_of(c->was.since), c->now ? escaped(words_of(*c->now)) : "withdrawn");
    }
    out += table_markup("Corrections", {"Corrected", "Display", "Quantity", "Was", "Published", "Is"}, rows);
  }
  out += "<h2>Publications</h2>\n<ul>";
  for (auto p = site.record.publications.rbegin(); p != site.record.publications.rend(); ++p)
    out += fmt::format("<li>{}: {} displays, by {}</li>", date_words(p->at), p->packages.size(), escaped(p->software));
  out += "</ul>\n";
  return page;
}

Page about_page(const Site& site) {
  Page page{.title = "How to read this",
            .description = "What the figures, intervals and verdicts of this site mean, and how to check its data.",
            .up = {},
            .here = "about.html",
            .body = {}};
  page.body =
      "<h2>Figures</h2>\n<p>A figure stands with the interval that holds the true value with a probability of 95 %, by "
      "the Guide to "
      "the expression of uncertainty in measurement (JCGM 100:2008, JCGM 101:2008). Digits follow the interval.</p>\n"
      "<h2>Answers</h2>\n<p><b>meets</b>: the whole interval is within the limit. <b>fails</b>: it is wholly beyond. "
      "<b>undecided</b>: it reaches over the limit. <b>answered</b>: there is no limit, only a value. <b>no "
      "finding</b>, "
      "<b>unanswered</b>: nothing was measured that says it.</p>\n"
      "<h2>Comparisons</h2>\n<p>Two findings are compared if they are of one quantity under the same conditions, by "
      "the same method in "
      "the same version, of displays that are fed alike. A difference is only said where its own interval leaves 0 "
      "out; what one "
      "instrument adds to both cancels. A mark * stands for those that cannot be compared.</p>\n"
      "<h2>Data</h2>\n<p>A data package unpacks to CSV and JSON with a description of every column. To check it: "
      "<code>sha256sum --check SHA256SUMS</code> compares its files, and <code>sha256sum SHA256SUMS</code> gives the "
      "permanent "
      "hash that stands on the display's page. The bench itself holds the raw readings in a chain of hashes.</p>\n"
      "<h2>Cautions</h2>\n<p>Bright and flashing test pictures: photosensitive people should keep away (Rec. ITU-R "
      "BT.1702). "
      "Long bright still pictures can leave a mark on a display. Light of high luminance in a dark room tires and can "
      "dazzle; for "
      "lasers and other strong sources see IEC 62471. Never open a powered display. Local rules and licensed practice "
      "come "
      "first.</p>\n";
  if (!site.about.rights.empty()) {
    page.body += "<h2>Rights</h2>\n<p>" +
                 (site.about.rights_address.empty() ? escaped(site.about.rights)
                                                    : link(site.about.rights_address, site.about.rights)) +
                 "</p>\n";
  }
  return page;
}

}  // namespace provenit::publish
