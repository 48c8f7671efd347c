#include "look_text.h"

#include <fmt/format.h>

#include "output.h"
#include "provenit/programme/survey_file.h"
#include "provenit/programme/title.h"

namespace provenit::cli {
namespace {

using nlohmann::ordered_json;
using programme::FrameFigures;

std::string light(double cdm2) {
  return cdm2 < 0.1   ? fmt::format("{:.4f}", cdm2)
         : cdm2 < 100 ? fmt::format("{:.2f}", cdm2)
                      : fmt::format("{:.1f}", cdm2);
}
std::string share(double value) {
  if (value > 0 && value < 1e-4) return "< 0.01 %";
  return fmt::format("{:.2f} %", 100 * value);
}

std::string metadata_text(const programme::StaticMetadata& m) {
  if (m.where.empty() && !m.mastering && !m.maxcll_cdm2 && !m.maxfall_cdm2) return "Declared: no static metadata.\n";
  std::string text = "Declared";
  if (!m.where.empty()) text += " (" + m.where + ")";
  text += ":";
  if (m.mastering) {
    const auto& d = *m.mastering;
    text += fmt::format(
        " mastering {:g} to {:g} cd/m2, R {:.4f},{:.4f} G {:.4f},{:.4f} B {:.4f},{:.4f} white {:.4f},{:.4f}",
        d.minimum_cdm2, d.maximum_cdm2, d.primaries_xy[0][0], d.primaries_xy[0][1], d.primaries_xy[1][0],
        d.primaries_xy[1][1], d.primaries_xy[2][0], d.primaries_xy[2][1], d.white_xy[0], d.white_xy[1]);
  }
  if (m.maxcll_cdm2) text += fmt::format("{} MaxCLL {}", m.mastering ? ";" : "", *m.maxcll_cdm2);
  if (m.maxfall_cdm2) text += fmt::format(", MaxFALL {}", *m.maxfall_cdm2);
  return text + "\n";
}

std::string shares_text(const FrameFigures& f) {
  std::string text = "pixels above cd/m2:";
  for (std::size_t i = 0; i < programme::kAboveCdm2.size(); ++i)
    text += fmt::format("  {:g}: {}", programme::kAboveCdm2[i], share(f.share_above[i]));
  text += "\npixels below cd/m2:";
  for (std::size_t i = 0; i < programme::kBelowCdm2.size(); ++i)
    text += fmt::format("  {:g}: {}", programme::kBelowCdm2[i], share(f.share_below[i]));
  text += "\npercentiles of luminance:";
  for (std::size_t i = 0; i < programme::kPercentiles.size(); ++i)
    text += fmt::format("  {:g} %: {}", programme::kPercentiles[i], light(f.luminance_percentile[i]));
  return text + "\n";
}

ordered_json counts_json(const programme::Counts& c) {
  return {{"x", {{"name", c.x_name}, {"first", c.x_first}, {"last", c.x_last}, {"cells", c.columns}}},
          {"y", {{"name", c.y_name}, {"first", c.y_first}, {"last", c.y_last}, {"cells", c.rows}}},
          {"left_out", c.left_out},
          {"count", c.count}};
}

}  // namespace

std::string source_text(const std::string& name, const programme::ChosenFrames& chosen) {
  const auto& s = chosen.info;
  std::string text = fmt::format("{}: {} {}\n{}\n", name, s.container, s.codec, programme::describe(s.format));
  text += metadata_text(s.metadata);
  for (const auto& note : s.notes) text += "Note: " + note + "\n";
  for (const auto& trouble : chosen.troubles) text += "Trouble: " + trouble + "\n";
  return text;
}

ordered_json source_json(const std::string& name, const programme::ChosenFrames& chosen) {
  return {{"file", name},
          {"source", programme::to_json(programme::SurveyHeader{.source = chosen.info}).at("source")},
          {"troubles", chosen.troubles},
          {"frames", ordered_json::array()}};
}

std::string frame_text(const programme::FrameRecord& record) {
  const auto& f = record.figures;
  std::string text = fmt::format("Frame {} at {}{}\n", f.index, programme::time_text(f.time_s),
                                 f.damaged ? ", DAMAGED: the decoder had to mend it" : "");
  Table table({"figure", "cd/m2", "what"});
  table.add({"max(R,G,B) maximum", light(f.max_rgb_max), fmt::format("at {},{}", f.brightest_x, f.brightest_y)});
  table.add({"max(R,G,B) robust maximum", light(f.max_rgb_robust), "fills a 3 x 3 square"});
  table.add({"max(R,G,B) mean", light(f.max_rgb_mean), "whole frame"});
  table.add({"max(R,G,B) mean, active", light(f.max_rgb_mean_active),
             fmt::format("{} x {} at {},{}", f.active.width, f.active.height, f.active.left, f.active.top)});
  table.add({"luminance maximum", light(f.luminance_max), ""});
  table.add({"luminance mean", light(f.luminance_mean), "whole frame"});
  table.add({"luminance minimum", light(f.luminance_min), ""});
  text += table.text() + shares_text(f);
  text += fmt::format("outside BT.709: {}, outside P3: {}; mean u' {:.4f}, v' {:.4f}\n", share(f.share_outside_bt709),
                      share(f.share_outside_p3), f.mean_u_prime, f.mean_v_prime);
  return text + fmt::format("dark beside bright: {} of cells; detail near black: {} of cells\n",
                            share(f.dark_beside_bright), share(f.near_black_detail));
}

ordered_json frame_json(const programme::FrameRecord& record) {
  return {{"frame", record.figures.index},
          {"time_s", record.figures.time_s},
          {"figures", programme::to_json(record.figures)}};
}

std::string probe_text(std::span<const programme::ProbeReading> readings) {
  Table table({"pixel", "code", "signal %", "R G B cd/m2", "Y", "max", "x, y", "u', v'", "CCT K", "Duv", "gamut"});
  for (const auto& r : readings) {
    const auto& p = r.pixel;
    table.add({fmt::format("{},{}", r.x, r.y), fmt::format("{:g} {:g} {:g}", p.code[0], p.code[1], p.code[2]),
               fmt::format("{:.2f} {:.2f} {:.2f}", 100 * p.signal.r, 100 * p.signal.g, 100 * p.signal.b),
               fmt::format("{} {} {}", light(p.rgb.r), light(p.rgb.g), light(p.rgb.b)), light(r.luminance_cdm2),
               light(r.max_rgb_cdm2), r.xy ? fmt::format("{:.4f}, {:.4f}", r.xy->x, r.xy->y) : "none",
               r.uv_prime ? fmt::format("{:.4f}, {:.4f}", r.uv_prime->u, r.uv_prime->v) : "none",
               r.cct_kelvin ? fmt::format("{:.0f}", *r.cct_kelvin) : "not defined",
               r.duv ? fmt::format("{:+.4f}", *r.duv) : "not defined",
               r.inside_bt709 ? "in BT.709"
               : r.inside_p3  ? "in P3"
                              : "beyond P3"});
  }
  return table.text();
}

ordered_json scopes_json(const programme::LightImage& image) {
  const auto parade = programme::signal_parade(image);
  const auto histogram = programme::level_histogram(image);
  return {
      {"waveform", counts_json(programme::luminance_waveform(image))},
      {"parade", {counts_json(parade[0]), counts_json(parade[1]), counts_json(parade[2])}},
      {"vectorscope", counts_json(programme::chroma_counts(image))},
      {"chromaticity", counts_json(programme::chromaticity_counts(image))},
      {"histogram",
       {{"bins", "equal PQ signal from 0 to 1"}, {"luminance", histogram.luminance}, {"max_rgb", histogram.max_rgb}}}};
}

std::array<std::string, 2> sheet_lines(const FrameFigures& f) {
  return {fmt::format("{}   frame {}", programme::time_text(f.time_s), f.index),
          fmt::format("max {}   mean {} cd/m²", light(f.max_rgb_max), light(f.max_rgb_mean))};
}

}  // namespace provenit::cli
