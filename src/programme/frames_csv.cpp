#include <fmt/format.h>

#include "provenit/base/text.h"
#include "provenit/programme/survey.h"

namespace provenit::programme {
namespace {

// Column names carry the unit; "_share" columns are 0 to 1 of all pixels.
template <class Values, class Unit>
void name_each(std::string& text, const Values& values, Unit name) {
  for (const double v : values) text += "," + name(v);
}

void put(std::string& text, double value) {
  text += "," + exact_text(value);
}
void put(std::string& text, std::int64_t value) {
  text += fmt::format(",{}", value);
}
template <std::size_t N>
void put(std::string& text, const std::array<double, N>& values) {
  for (const double v : values) put(text, v);
}

void append_row(std::string& text, const FrameFigures& f) {
  text += fmt::format("{}", f.index);
  for (const double v : {f.time_s, f.max_rgb_max, f.max_rgb_mean, f.max_rgb_mean_active, f.max_rgb_robust,
                         f.luminance_max, f.luminance_min, f.luminance_mean, f.luminance_mean_active})
    put(text, v);
  put(text, f.luminance_percentile);
  put(text, f.share_above);
  put(text, f.share_below);
  for (const double v : {f.share_outside_bt709, f.share_outside_p3, f.mean_u_prime, f.mean_v_prime}) put(text, v);
  for (const std::int64_t v :
       {f.brightest_x, f.brightest_y, f.active.left, f.active.top, f.active.width, f.active.height})
    put(text, v);
  for (const double v : {f.dark_beside_bright, f.near_black_detail, f.temporal_difference}) put(text, v);
  put(text, std::int64_t{f.damaged});
  text += '\n';
}

}  // namespace

std::string csv_head() {
  std::string text =
      "frame,time_s,max_rgb_max_cdm2,max_rgb_mean_cdm2,max_rgb_mean_active_cdm2,max_rgb_robust_cdm2,luminance_max_cdm2,"
      "luminance_min_cdm2,luminance_mean_cdm2,luminance_mean_active_cdm2";
  name_each(text, kPercentiles, [](double v) { return fmt::format("luminance_p{:g}_cdm2", v); });
  name_each(text, kAboveCdm2, [](double v) { return fmt::format("above_{:g}_cdm2_share", v); });
  name_each(text, kBelowCdm2, [](double v) { return fmt::format("below_{:g}_cdm2_share", v); });
  return text +
         ",outside_bt709_share,outside_p3_share,mean_u_prime,mean_v_prime,brightest_x,brightest_y,active_left,active_"
         "top,"
         "active_width,active_height,dark_beside_bright_share,near_black_detail_share,temporal_difference,damaged\n";
}

void append_csv(std::string& text, std::span<const FrameRecord> frames) {
  for (const FrameRecord& f : frames) append_row(text, f.figures);
}

Result<void> write_frames_csv(const SurveyFile& survey, const std::string& path) {
  std::string text = csv_head();
  const auto read = survey.for_each_chunk([&](std::span<const FrameRecord> frames) -> Result<void> {
    append_csv(text, frames);
    return {};
  });
  if (!read) return read;
  return write_file(path, text);
}

}  // namespace provenit::programme
