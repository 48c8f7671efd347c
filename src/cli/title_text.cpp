#include "title_text.h"

#include <fmt/format.h>

#include "output.h"
#include "provenit/programme/look.h"

namespace provenit::cli {
namespace {

using programme::AtFrame;
using programme::SurveyHeader;
using programme::TitleFigures;

void add_light_level(Table& table, const char* name, const AtFrame& at, const char* what) {
  table.add({name, fmt::format("{:.2f}", at.cdm2), fmt::format("{}", programme::declared_whole_cdm2(at.cdm2)),
             programme::time_text(at.time_s), fmt::format("{}", at.index), what});
}

std::string light_levels(const TitleFigures& t) {
  Table table({"figure", "cd/m2", "whole", "at", "frame", "definition"});
  add_light_level(table, "MaxCLL", t.maxcll, "largest max(R,G,B) of any pixel (CTA-861.3-A A.1)");
  add_light_level(table, "MaxCLL, robust", t.maxcll_robust, "largest level that fills a 3 x 3 square");
  add_light_level(table, "MaxFALL", t.maxfall_active, "largest frame mean of max(R,G,B), without bars (A.2)");
  add_light_level(table, "MaxFALL, full frame", t.maxfall_full, "the same with the bars");
  add_light_level(table, "mean luminance", t.mean_luminance_full, "largest frame mean of luminance, with the bars");
  return table.text();
}

std::string spread(const TitleFigures& t) {
  std::vector<std::string> heads{"over the frames, cd/m2"};
  for (const double p : programme::kPercentiles) heads.push_back(fmt::format("{:g} %", p));
  Table table(heads);
  const auto add = [&](const char* name, const auto& values) {
    std::vector<std::string> row{name};
    for (const double v : values) row.push_back(fmt::format("{:.4g}", v));
    table.add(row);
  };
  add("maximum", t.peak_percentile);
  add("99.9 % luminance", t.high_percentile);
  add("mean, without bars", t.mean_percentile);
  return table.text();
}

std::string declared_text(std::span<const programme::DeclaredCheck> checks, const std::string& where) {
  if (checks.empty()) return "Declared: no static metadata.\n";
  Table table({"declared (" + where + ")", "says", "measured", "agrees", "why not"});
  for (const auto& c : checks) table.add({c.name, c.declared, c.measured, c.agrees ? "yes" : "no", c.explanation});
  return table.text();
}

std::string head_text(const SurveyHeader& h) {
  std::string text =
      fmt::format("{}: {} {}\n{}\n", h.title, h.source.container, h.source.codec, programme::describe(h.source.format));
  text += fmt::format("Frames {} to {} of {}: {} measured{}, SIMD {}\n", h.first, h.last == 0 ? 0 : h.last - 1,
                      h.title_frames, h.measured, h.complete ? ", complete" : ", NOT COMPLETE", h.simd_level);
  for (const auto& note : h.source.notes) text += "Note: " + note + "\n";
  for (const auto& trouble : h.troubles) text += "Trouble: " + trouble + "\n";
  return text;
}

}  // namespace

TitleSummary summary_of(const SurveyHeader& header, std::span<const programme::FrameLight> light) {
  const auto& format = header.source.format;
  const auto figures = programme::title_figures(light, format.width, format.height);
  const auto checks = programme::check_declared(header.source.metadata, figures);
  return {.text = head_text(header) + "\n" + light_levels(figures) + "\n" + spread(figures) + "\n" +
                  declared_text(checks, header.source.metadata.where),
          .document = {{"survey", to_json(header)},
                       {"figures", to_json(figures)},
                       {"declared", programme::to_json(std::span(checks))}}};
}

}  // namespace provenit::cli
