// Frames as text: one list of names and values serves CSV and JSON.
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <variant>

#include "provenit/base/text.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

// Calls `put(name, value)` for every figure; names carry the unit, "_share" figures are 0 to 1 of all pixels.
template <class Put>
void for_each_figure(const FrameFigures& f, Put put) {
  put("frame", f.index);
  put("time_s", f.time_s);
  put("max_rgb_max_cdm2", f.max_rgb_max);
  put("max_rgb_mean_cdm2", f.max_rgb_mean);
  put("max_rgb_mean_active_cdm2", f.max_rgb_mean_active);
  put("max_rgb_robust_cdm2", f.max_rgb_robust);
  put("luminance_max_cdm2", f.luminance_max);
  put("luminance_min_cdm2", f.luminance_min);
  put("luminance_mean_cdm2", f.luminance_mean);
  put("luminance_mean_active_cdm2", f.luminance_mean_active);
  for (std::size_t i = 0; i < kPercentiles.size(); ++i)
    put(fmt::format("luminance_p{:g}_cdm2", kPercentiles[i]), f.luminance_percentile[i]);
  for (std::size_t i = 0; i < kAboveCdm2.size(); ++i)
    put(fmt::format("above_{:g}_cdm2_share", kAboveCdm2[i]), f.share_above[i]);
  for (std::size_t i = 0; i < kBelowCdm2.size(); ++i)
    put(fmt::format("below_{:g}_cdm2_share", kBelowCdm2[i]), f.share_below[i]);
  put("outside_bt709_share", f.share_outside_bt709);
  put("outside_p3_share", f.share_outside_p3);
  put("mean_u_prime", f.mean_u_prime);
  put("mean_v_prime", f.mean_v_prime);
  put("brightest_x", std::int64_t{f.brightest_x});
  put("brightest_y", std::int64_t{f.brightest_y});
  put("active_left", std::int64_t{f.active.left});
  put("active_top", std::int64_t{f.active.top});
  put("active_width", std::int64_t{f.active.width});
  put("active_height", std::int64_t{f.active.height});
  put("dark_beside_bright_share", f.dark_beside_bright);
  put("near_black_detail_share", f.near_black_detail);
  put("temporal_difference", f.temporal_difference);
  put("damaged", std::int64_t{f.damaged});
}

std::string text_of(double value) {
  return exact_text(value);
}
std::string text_of(std::int64_t value) {
  return fmt::format("{}", value);
}

}  // namespace

std::string csv_head() {
  std::string text;
  for_each_figure({}, [&](const std::string& name, auto) { text += (text.empty() ? "" : ",") + name; });
  return text + "\n";
}

void append_csv(std::string& text, std::span<const FrameRecord> frames) {
  for (const FrameRecord& frame : frames) {
    const char* separator = "";
    for_each_figure(frame.figures, [&](const std::string&, auto value) {
      text += separator + text_of(value);
      separator = ",";
    });
    text += '\n';
  }
}

nlohmann::ordered_json to_json(const FrameFigures& figures) {
  nlohmann::ordered_json json;
  for_each_figure(figures, [&](const std::string& name, auto value) { json[name] = value; });
  return json;
}

}  // namespace provenit::programme
