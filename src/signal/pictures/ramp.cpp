// Ramps of one code per step, and ramps quantised to fewer bits side by side.
#include <fmt/format.h>

#include <cmath>
#include <cstdint>

#include "pictures/painter.h"

namespace provenit::signal::pictures {
namespace {

/// Grey levels of `bits` bits as codes of the encoding, from `first` to `last` counted in those bits.
struct Levels {
  Encoding encoding;
  int bits = 8, first = 0, last = 0;
  [[nodiscard]] int count() const { return last - first + 1; }
  [[nodiscard]] int code(int index) const {
    const std::int64_t level = first + index;
    if (encoding.range == Range::narrow) return static_cast<int>(level << (encoding.bits - bits));
    const std::int64_t top = (std::int64_t{1} << bits) - 1, full = (std::int64_t{1} << encoding.bits) - 1;
    return static_cast<int>((2 * level * full + top) / (2 * top));
  }
};

/// The levels that lie between start and end. Written out here because it goes below 8 bits, where no document has a
/// quantiser: narrow (219 E' + 16) 2^(n - 8) and full (2^n - 1) E', continued.
Levels levels_of(const Setting& s, int bits) {
  const auto level = [&](const char* parameter) {
    const double signal = s.number(parameter) / 100;
    return s.encoding.range == Range::narrow ? std::ldexp(219 * signal + 16, bits - 8)
                                             : (std::ldexp(1, bits) - 1) * signal;
  };
  constexpr double kRounding = 1e-6;
  return {.encoding = s.encoding,
          .bits = bits,
          .first = static_cast<int>(std::ceil(level("start_percent") - kRounding)),
          .last = static_cast<int>(std::floor(level("end_percent") + kRounding))};
}

/// Which level is shown at pixel `at` of `length`: all of equal length to the pixel if there are as many pixels;
/// otherwise the nearest, with the first and the last in it.
int level_at(const Levels& levels, int at, int length) {
  const std::int64_t n = levels.count(), x = at, size = length;
  return static_cast<int>(n <= size ? x * n / size : (2 * x * (n - 1) + size - 1) / (2 * (size - 1)));
}

/// Names up to `places` levels spread over the ramp, each with all the pixels it has.
void name_levels(Sheet& sheet, const Levels& levels, const PixelRectangle& area, bool vertical, int places,
                 const std::string& prefix) {
  const int length = vertical ? area.height : area.width;
  int before = -1;
  for (int k = 0; k < places; ++k) {
    const int at = static_cast<int>(static_cast<std::int64_t>(k) * (length - 1) / (places - 1));
    const int level = level_at(levels, at, length);
    if (level == before) continue;
    before = level;
    int first = at, end = at + 1;
    while (first > 0 && level_at(levels, first - 1, length) == level) --first;
    while (end < length && level_at(levels, end, length) == level) ++end;
    auto place = area;
    (vertical ? place.top : place.left) += first;
    (vertical ? place.height : place.width) = end - first;
    const int code = levels.code(level);
    sheet.name(fmt::format("{}code {}", prefix, code), place, {.code = {code, code, code}});
  }
}

void draw(Sheet& sheet, const Levels& levels, const PixelRectangle& area, bool vertical) {
  const int length = vertical ? area.height : area.width;
  sheet.pattern(area, [=](int x, int y) -> CodeRgb {
    const int code = levels.code(level_at(levels, vertical ? y - area.top : x - area.left, length));
    return {.code = {code, code, code}};
  });
}

bool sane(Setting& s, int fewest_bits) {
  const auto levels = levels_of(s, fewest_bits);
  if (levels.first < levels.last) return true;
  s.refuse("the ramp has no two levels", "Give end_percent further above start_percent.", "start_percent");
  return false;
}

Painter luminance_ramp(Setting& s) {
  const int asked = s.whole("step_bits"), bits = asked == 0 ? s.encoding.bits : asked;
  if (asked != 0 && (asked < 6 || asked > s.encoding.bits))
    s.refuse(fmt::format("steps of {} bits cannot be shown at {} bits", asked, s.encoding.bits),
             fmt::format("Give 0, or 6 to {}.", s.encoding.bits), "step_bits");
  if (s.error() || !sane(s, bits)) return {};
  constexpr int kPlaces = 17;
  const bool vertical = s.yes("vertical");
  const auto levels = levels_of(s, bits);
  Sheet sheet(s.size, s.black());
  draw(sheet, levels, whole(s.size), vertical);
  name_levels(sheet, levels, whole(s.size), vertical, kPlaces, "");
  return Painter(std::move(sheet));
}

Painter ramp_bit_depths(Setting& s) {
  constexpr int kFewest = 6;
  if (!sane(s, kFewest)) return {};
  std::vector<int> depths;
  for (const int bits : {16, 12, 10, 9, 8, 7, kFewest})
    if (bits <= s.encoding.bits && (bits <= 12 || bits == s.encoding.bits)) depths.push_back(bits);
  Sheet sheet(s.size, s.black());
  constexpr int kPlaces = 9;
  const int bands = static_cast<int>(depths.size());
  for (int band = 0; band < bands; ++band) {
    const int bits = depths[static_cast<std::size_t>(band)];
    const auto area = cell(whole(s.size), 1, bands, 0, band);
    const auto levels = levels_of(s, bits);
    draw(sheet, levels, area, false);
    name_levels(sheet, levels, area, false, kPlaces, fmt::format("{} bits, ", bits));
  }
  return Painter(std::move(sheet));
}

std::vector<PictureParameter> with_ends(std::vector<PictureParameter> own) {
  own.push_back(number("start_percent", 0, 0, 100, "signal at the left or top"));
  own.push_back(number("end_percent", 100, 0, 100, "signal at the right or bottom"));
  return own;
}

}  // namespace

std::vector<Kind> ramp_kinds() {
  return {
      {{.key = "luminance_ramp",
        .title = "Luminance ramp",
        .purpose = "Every code from start to end, one per step, all steps equally long to the pixel (on a raster with "
                   "fewer pixels than codes the nearest code): banding, steps of the panel. On a good display it "
                   "rises smoothly and stays neutral.",
        .source = kCommonPractice,
        .caution = kBrightCaution,
        .parameters = with_ends({yes_no("vertical", false, "1: rises downwards; 0: to the right"),
                                 count("step_bits", 0, 0, 16,
                                       "bits the steps are quantised to, e.g. 8, 10 or 12; 0: all of the encoding")})},
       luminance_ramp},
      {{.key = "ramp_bit_depths",
        .title = "Ramps of several bit depths",
        .purpose = "The same ramp in bands from the encoding's bits at the top down to 6 bits: which band looks like "
                   "the one below it tells how many bits reach the panel. On a good display the top bands differ from "
                   "8 bits wherever a step of 8 bits can be seen.",
        .source = kOwnDesign,
        .caution = kBrightCaution,
        .parameters = with_ends({})},
       ramp_bit_depths},
  };
}

}  // namespace provenit::signal::pictures
