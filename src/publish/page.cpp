#include "page.h"

#include <fmt/format.h>
#include <openssl/sha.h>

#include <algorithm>
#include <array>

#include "provenit/procedure/catalogue.h"
#include "provenit/report/base64.h"
#include "publish_assets.h"
#include "words.h"

namespace provenit::publish {
namespace {

/// "sha256-...": by which the page's policy knows its own script.
std::string script_hash(std::string_view script) {
  std::array<unsigned char, SHA256_DIGEST_LENGTH> digest{};
  SHA256(reinterpret_cast<const unsigned char*>(script.data()), script.size(), digest.data());
  return "sha256-" + report::base64({reinterpret_cast<const char*>(digest.data()), digest.size()});
}

/// Styles and script as every page carries them: a page is one request.
const std::string& head_parts() {
  static const auto text = [] {
    const auto script = find_publish_asset("/site.js");
    return fmt::format(
        R"(<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; script-src '{}'; base-uri 'none'; form-action 'none'">)"
        "\n<style>{}{}</style>\n",
        script_hash(script), find_publish_asset("/site.css"), drawing_css(page_palette(), ".drawing "));
  }();
  return text;
}

std::string nav_link(const Page& page, const std::string& address, const std::string& text) {
  return fmt::format(R"(<li><a href="{}{}"{}>{}</a></li>)", page.up, address,
                     page.here == address ? R"( aria-current="page")" : "", escaped(text));
}

std::string navigation(const Site& site, const Page& page) {
  std::string out = R"(<nav aria-label="Site"><ul>)" + nav_link(page, "index.html", "Displays");
  for (const auto key : site.topics) {
    const auto topic = std::ranges::find(topics(), key, &Topic::key);
    out += nav_link(page, fmt::format("topics/{}.html", key), std::string(topic->title));
  }
  if (!site.sets.empty()) out += nav_link(page, "sets/" + site.sets.front().id + ".html", "Requirements");
  out += nav_link(page, "corrections.html", "Corrections") + nav_link(page, "about.html", "How to read this");
  return out + "</ul></nav>\n";
}

}  // namespace

const std::vector<Topic>& topics() {
  static const std::vector<Topic> all{
      {"light",
       "Light and black",
       "How bright, how dark, and for how long.",
       {"black_level", "window_peak", "checkerboard", "sustained"}},
      {"tone", "Tone", "How signal becomes light.", {"greyscale", "near_black", "step_resolution"}},
      {"white", "White", "Where white stands, and for which eye.", {"white_point", "spectra"}},
      {"colour",
       "Colour",
       "How far colours go, and how true they are.",
       {"primaries", "colour_volume", "chart_accuracy", "hue_linearity", "clip_hue"}},
      {"picture",
       "Over the picture",
       "Evenness, angle, and what dimming zones do.",
       {"uniformity", "field_picture", "off_axis", "halo", "zone_walk"}},
      {"time",
       "Over time",
       "Warming up, drift, response, flicker and delay.",
       {"warm_up", "stability", "light_steps", "flicker", "input_delay"}},
      {"processing",
       "Processing",
       "What scaling, chroma and the clip leave of a picture.",
       {"chroma_capture", "scaling_capture", "alias_capture", "ramp_capture", "clip_capture"}},
      {"correction",
       "Corrected and forecast",
       "What a correction gained, and whether a forecast held.",
       {"correction_proof", "forecast_spots"}}};
  return all;
}

const Topic& topic_of(const std::string& quantity) {
  const auto* known = procedure::find_quantity(quantity);
  if (known != nullptr)
    for (const auto& topic : topics())
      if (std::ranges::find(topic.procedures, known->procedure) != topic.procedures.end()) return topic;
  return topics().front();
}

std::string link(const std::string& address, const std::string& text) {
  return fmt::format(R"(<a href="{}">{}</a>)", escaped(address), escaped(text));
}

std::string anchor_of(const std::string& quantity, const nlohmann::json& conditions) {
  std::string more;
  for (const auto& [key, value] : conditions.items())
    more += ' ' + (value.is_string() ? value.get<std::string>() : value.dump());
  return quantity + (more.empty() ? "" : "-" + slug_of(more));
}

std::string page_text(const Site& site, const Page& page) {
  const bool front = page.here == "index.html";
  auto out = fmt::format(
      "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n"
      "<meta name=\"description\" content=\"{}\">\n<meta name=\"generator\" content=\"{}\">\n",
      escaped(site.about.language), escaped(front ? site.title : page.title + " \u2013 " + site.title),
      escaped(page.description), escaped(site.software));
  if (!site.about.address.empty())
    out += fmt::format("<link rel=\"canonical\" href=\"{}{}\">\n", escaped(site.about.address), front ? "" : page.here);
  out += head_parts();
  out += "</head>\n<body>\n<a class=\"skip\" href=\"#main\">To the content</a>\n<header>";
  out += front ? fmt::format("<h1>{}</h1>", escaped(site.title))
               : fmt::format(R"(<p class="site">{}</p>)", link(page.up + "index.html", site.title));
  out += '\n' + navigation(site, page) + "</header>\n<main id=\"main\">\n";
  if (site.invented)
    out += "<p class=\"invented\">Displays, laboratory and readings of this site are invented or simulated.</p>\n";
  if (!front) out += fmt::format("<h1>{}</h1>\n", escaped(page.title));
  out += page.body;
  out += fmt::format(
      "</main>\n<footer><p>{}Published {} by {}. Every figure stands with its interval of 95 %.</p>"
      "<p>A finding is only as good as the calibration of the instrument behind it. {}</p></footer>\n",
      site.about.publisher.empty() ? "" : escaped(site.about.publisher) + ". ", date_words(site.published),
      escaped(site.software), link(page.up + "about.html", "How to read this, and cautions"));
  return out + fmt::format("<script>{}</script>\n</body>\n</html>\n", find_publish_asset("/site.js"));
}

std::string table_markup(const std::string& label, const std::vector<std::string>& heads, const std::string& rows) {
  std::string head;
  for (const auto& h : heads) head += "<th scope=\"col\">" + h + "</th>";
  return fmt::format(
      R"(<div class="scroll" tabindex="0" role="region" aria-label="{}"><table><thead><tr>{}</tr></thead>)"
      "<tbody>\n{}</tbody></table></div>\n",
      escaped(label), head, rows);
}

std::string numbers_markup(const Numbers& numbers, const std::string& label) {
  std::vector<std::string> heads;
  for (const auto& c : numbers.columns) heads.push_back(escaped(c));
  std::string rows;
  for (const auto& row : numbers.rows) {
    rows += "<tr>";
    for (const auto& cell : row) rows += "<td>" + escaped(cell) + "</td>";
    rows += "</tr>";
  }
  return table_markup(label, heads, rows);
}

std::string chart_markup(const Site& site, const Chart& chart, const std::string& up, const std::string& name,
                         const std::string& table) {
  std::string files;
  const auto file = [&](const std::string& form, const std::string& what) {
    files += fmt::format(R"( <a href="{}charts/{}{}" download>{}</a>)", up, name, form, what);
  };
  file("-article.svg", "article, SVG");
  if (site.png) file("-article.png", "article, PNG");
  file("-video.svg", "16:9, SVG");
  if (site.png) file("-video.png", "16:9, PNG");
  return fmt::format(
      "<figure class=\"chart\" id=\"{0}\"><h3 id=\"{0}-title\">{1}</h3><div class=\"drawing\" role=\"img\" "
      "aria-labelledby=\"{0}-title\" aria-describedby=\"{0}-caption\">{2}{3}</div><p class=\"read\" hidden></p>"
      "<figcaption><p id=\"{0}-caption\">{4}</p><p class=\"save\">Save for{5}</p>"
      "<details><summary>Numbers</summary>{6}</details></figcaption></figure>\n",
      chart.id, escaped(chart.title), inline_svg(chart, false), inline_svg(chart, true), escaped(chart.caption), files,
      table.empty() ? numbers_markup(chart.numbers, chart.title + ": numbers") : table);
}

}  // namespace provenit::publish
