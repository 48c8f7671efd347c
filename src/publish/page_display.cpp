// One display: facts, corrections, charts, findings, what was asked, data.
#include <fmt/format.h>

#include <algorithm>

#include "page.h"
#include "words.h"

namespace provenit::publish {
namespace {

std::string fact(const std::string& name, const std::string& value) {
  return value.empty() ? std::string{} : fmt::format("<div><dt>{}</dt><dd>{}</dd></div>", escaped(name), value);
}

std::string detail_text(const nlohmann::json& details, const char* key) {
  const auto found = details.find(key);
  if (found == details.end() || found->is_null()) return {};
  return escaped(found->is_string() ? found->get<std::string>() : found->dump());
}

std::string facts_of(const shelf::Item& item) {
  const auto& certificate = item.instrument.certificate;
  const auto starts = date_words(item.loan.starts), ends = date_words(item.loan.ends);
  std::string instrument = escaped(item.instrument.name);
  if (!certificate.number.empty()) instrument += ", certificate " + escaped(certificate.number);
  std::string room;
  if (item.room.screen_illuminance_lx)
    room = fmt::format("{} lx on the screen", given_text(*item.room.screen_illuminance_lx));
  return "<dl class=\"facts\">" + fact("Technology", escaped(item.display.technology)) +
         fact("Size", detail_text(item.display.details, "size")) +
         fact("Mode", detail_text(item.display.details, "mode")) + fact("Evaluated by", escaped(item.evaluator)) +
         fact("Loan", starts == ends ? starts : starts + " to " + ends) + fact("Instrument", instrument) +
         fact("Room", room) + "</dl>\n";
}

std::string correction_item(const SiteCorrection& c) {
  return fmt::format("<li>{}: <b>{}</b> was <s>{}</s>, published {}; {}.</li>", date_words(c.corrected),
                     escaped(subject_words(c.was.quantity, c.was.conditions)), escaped(words_of(c.was)),
                     date_words(c.was.since), c.now ? "is " + escaped(words_of(*c.now)) : "is withdrawn");
}

/// The newest first, most of them folded away.
std::string corrections_of(const Site& site, const std::string& key) {
  constexpr std::size_t kShown = 4;
  std::vector<std::string> items;
  for (auto c = site.record.corrections.rbegin(); c != site.record.corrections.rend(); ++c)
    if (c->key == key) items.push_back(correction_item(*c));
  if (items.empty()) return {};
  const auto first = items.begin(), fold = first + static_cast<std::ptrdiff_t>(std::min(kShown, items.size()));
  auto out = fmt::format("<section class=\"corrected\"><h2>Corrected</h2><ul>{}</ul>", fmt::join(first, fold, ""));
  if (fold != items.end())
    out += fmt::format("<details><summary>{} more</summary><ul>{}</ul></details>", items.end() - fold,
                       fmt::join(fold, items.end(), ""));
  return out + "</section>\n";
}

std::string findings_of(const Site& site, const shelf::Item& item) {
  std::string out = "<h2 id=\"findings\">Findings</h2>\n";
  for (const auto& topic : topics()) {
    std::string rows;
    for (const auto& f : item.findings) {
      if (&topic_of(f.quantity) != &topic) continue;
      const auto words = figure_words(f);
      rows +=
          fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{} v{}</td></tr>\n",
                      site.items.size() > 1
                          ? link(fmt::format("../topics/{}.html#{}", topic.key, anchor_of(f.quantity, f.conditions)),
                                 subject_words(f.quantity, f.conditions))
                          : escaped(subject_words(f.quantity, f.conditions)),
                      escaped(words.with_unit()), escaped(words.interval), escaped(f.method), f.method_version);
    }
    if (rows.empty()) continue;
    out +=
        fmt::format("<h3>{}</h3>", escaped(topic.title)) +
        table_markup(fmt::format("Findings: {}", topic.title), {"Quantity", "Value", "95 % interval", "Method"}, rows);
  }
  return out;
}

std::optional<double> number_at(const nlohmann::ordered_json& question, const char* key) {
  return question[key].is_number() ? std::optional(question[key].get<double>()) : std::nullopt;
}

std::string questions_of(const Exhibit& exhibit, const shelf::Item& item) {
  const auto& questions = exhibit.document.json()["questions"];
  if (questions.empty()) return {};
  std::string rows;
  for (const auto& q : questions) {
    std::string found = "\u2013";
    if (q["finding"].is_number()) {
      const auto f = std::ranges::find(item.findings, q["finding"].get<store::Id>(), &store::FindingRecord::id);
      if (f != item.findings.end()) found = figure_words(*f).whole();
    }
    const auto outcome = q.value("outcome", "");
    rows += fmt::format(
        R"(<tr><th scope="row">{}<span class="more">{}{}</span></th><td>{}</td><td class="verdict {}">{}</td><td>{}</td></tr>)"
        "\n",
        escaped(q.value("text", "")), escaped(q.value("source", "")),
        q.value("clause", "").empty() ? "" : ", " + escaped(q.value("clause", "")),
        escaped(
            limit_words(number_at(q, "lower"), number_at(q, "upper"), q.value("unit", ""), q.value("quantity", ""))),
        outcome, outcome, escaped(found));
  }
  return "<h2 id=\"asked\">What was asked</h2>\n" +
         table_markup("What was asked", {"Question", "Limit", "Answer", "Found"}, rows);
}

std::string data_of(const Site& site, std::size_t i) {
  const auto& exhibit = site.exhibits[i];
  auto out = fmt::format(
      "<h2 id=\"data\">Data</h2>\n<ul class=\"data\"><li>{}: every reading, with the methods, interactive.</li>"
      "<li>{} with every reading, finding and question as CSV and JSON. Permanent hash (SHA-256 of its SHA256SUMS): "
      "<code>{}</code></li><li>{} for a DOI (DataCite 4.3, JSON).</li><li>{}: checked to the reading by <code>provenit "
      "shelf "
      "add</code>.</li></ul>\n",
      link("../reports/" + exhibit.slug + ".html", "The whole report"),
      link("../data/" + exhibit.package.file, "Data package"), exhibit.package.hash,
      link("../data/" + exhibit.package.metadata_file(), "Metadata"),
      link("../data/" + exhibit.bench_file, "The bench itself"));
  if (const auto doi = site.about.doi.find(exhibit.slug); doi != site.about.doi.end())
    out += fmt::format("<p>DOI: {}</p>\n", link("https://doi.org/" + doi->second, doi->second));
  std::string earlier;
  for (const auto& p : site.record.publications)
    for (const auto& package : p.packages)
      if (package.slug == exhibit.slug && package.hash != exhibit.package.hash &&
          earlier.find(package.file) == std::string::npos)
        earlier +=
            fmt::format("<li>{}, published {}</li>", link("../data/" + package.file, package.file), date_words(p.at));
  if (!earlier.empty()) out += "<p>Packages of earlier publications:</p><ul>" + earlier + "</ul>\n";
  return out;
}

std::string others_of(const Site& site, std::size_t i) {
  if (!site.pairs) return {};
  std::string out;
  for (std::size_t k = 0; k < site.items.size(); ++k)
    if (k != i)
      out += fmt::format("<li>{}</li>",
                         link("../" + pair_address(site, std::min(i, k), std::max(i, k)), site.items[k].name));
  return out.empty() ? out : "<h2 id=\"against\">Held against</h2>\n<ul class=\"row\">" + out + "</ul>\n";
}

}  // namespace

Page display_page(const Site& site, std::size_t index, const TakeChart& take) {
  const auto& item = site.items[index];
  const auto& exhibit = site.exhibits[index];
  Page page{.title = item.name,
            .description = fmt::format("{}, {}: measured by {}, every figure with its uncertainty.", item.name,
                                       item.display.technology, item.evaluator),
            .up = "../",
            .here = "displays/" + exhibit.slug + ".html",
            .body = {}};
  page.body = corrections_of(site, key_of(item));
  page.body += "<ul class=\"leading\">";
  for (const auto& what : leading())
    if (const auto* f = leading_finding(item, what); f != nullptr) {
      const auto words = figure_words(*f);
      page.body += fmt::format("<li><span>{}</span> <b>{}</b> <span class=\"interval\">{}</span></li>",
                               escaped(what.name), escaped(words.with_unit()), escaped(words.interval));
    }
  page.body += "</ul>\n" + facts_of(item);
  const auto charts = charts_of({.items = site.items, .shown = {index}});
  if (!charts.empty()) page.body += "<h2 id=\"charts\">Charts</h2>\n";
  for (const auto& chart : charts) {
    const auto name = exhibit.slug + "-" + chart.id;
    auto titled = chart;
    titled.title = item.name + ": " + chart.title;
    take(titled, name,
         fmt::format("{}{}. Evaluated by {}, {}. Data: {}", site.invented ? "Invented. " : "", site.title,
                     item.evaluator, date_words(item.loan.starts), exhibit.package.short_hash()));
    page.body += chart_markup(site, chart, page.up, name);
  }
  page.body += findings_of(site, item) + questions_of(exhibit, item) + others_of(site, index) + data_of(site, index);
  return page;
}

}  // namespace provenit::publish
