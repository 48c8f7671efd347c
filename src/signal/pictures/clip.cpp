// Steps below and above the peak a display is said to have.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "pictures/painter.h"
#include "provenit/colour/quantise.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {
namespace {

CodeRgb grey_of(int code) {
  return {.code = {code, code, code}};
}

/// Grey code whose light is nearest in ratio to this luminance, up to the highest code that may carry video (109 % at
/// narrow range).
int nearest_code(const Setting& s, double cdm2) {
  int low = s.black().code[0], high = colour::video_data_range(s.encoding.bits, s.encoding.range).highest;
  if (s.encoding.transfer == Transfer::pq) high = peak_code(s.encoding).code[0];
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    (s.light.cdm2(grey_of(middle)) < cdm2 ? low : high) = middle;
  }
  const double below = s.light.cdm2(grey_of(low)), above = s.light.cdm2(grey_of(high));
  return cdm2 / below < above / cdm2 ? low : high;
}

/// Light of each channel, of the step's. The mixtures show what becomes of hue: one of their channels clips first.
struct Row {
  const char* name;
  std::array<double, 3> share;
};
constexpr Row kRows[] = {{"white", {1, 1, 1}},      {"red", {1, 0, 0}},        {"green", {0, 1, 0}},
                         {"blue", {0, 0, 1}},       {"orange", {1, 0.4, 0.1}}, {"mint", {0.2, 1, 0.5}},
                         {"violet", {0.4, 0.15, 1}}};
constexpr int kRowCount = static_cast<int>(std::size(kRows));

Painter clip_steps(Setting& s) {
  const int steps = s.whole("steps"), black = s.black().code[0];
  const double peak = s.number("claimed_cdm2");
  const double low = s.number("lowest_ratio") * peak;
  const int highest = nearest_code(s, s.number("highest_ratio") * peak);
  const double high = s.light.cdm2(grey_of(highest));
  if (!(low < high)) {
    s.refuse(fmt::format("the encoding ends at {:.6g} cd/m2, below the lowest step", high),
             "Give a lower level, or another encoding.", "claimed_cdm2");
    return {};
  }
  Sheet sheet(s.size, s.black());
  const auto strips = centred(whole(s.size), s.size.width * 0.8, s.size.height * 0.3);
  for (int r = 0; r < kRowCount; ++r) {
    const auto& row = kRows[r];
    // Of a mixture, the grey code of that share of the step's light: exact for PQ and BT.1886, near it for HLG.
    const auto shown = [&](int code) {
      CodeRgb out;
      for (std::size_t c = 0; c < 3; ++c)
        out.code[c] = row.share[c] == 1   ? code
                      : row.share[c] == 0 ? black
                                          : nearest_code(s, row.share[c] * s.light.cdm2(grey_of(code)));
      return out;
    };
    const auto strip = cell(strips, 1, kRowCount, 0, r);
    sheet.fill(strip, shown(highest));
    for (int k = 0; k < steps; ++k) {
      const int code = nearest_code(s, low * std::pow(high / low, 1.0 * k / (steps - 1)));
      const auto box = cell(strip, steps, 1, k, 0);
      const double light = s.light.cdm2(grey_of(code));
      sheet.place(fmt::format("{} step {}, code of {:.5g} cd/m2", row.name, k + 1, light),
                  inset(box, std::min(box.width, box.height) / 5), shown(code));
    }
  }
  return Painter(std::move(sheet));
}

}  // namespace

std::vector<Kind> clip_kinds() {
  return {{{.key = "clip_steps",
            .title = "Clip steps around the peak",
            .purpose =
                "Patches in equal ratios from half to twice the peak claimed, on strips of the highest step, in white, "
                "in each channel by itself at the same codes and in three mixtures: a patch that clips is lost in its "
                "strip; a strip of a mixture that changes hue clips its channels apart. A good display separates all "
                "steps below its peak and "
                "goes over into clipping as its maker says. Where the encoding ends sooner (HLG and BT.1886: 109 % at "
                "narrow, 100 % at full range), the steps end there.",
            .source = kOwnDesign,
            .caution = kBrightCaution,
            .parameters = {peak_level("claimed_cdm2", "peak the display is said to have"),
                           number("lowest_ratio", 0.5, 0.1, 1, "lowest step, of the claimed peak"),
                           number("highest_ratio", 2, 1, 10, "highest step, of the claimed peak"),
                           count("steps", 13, 3, 33, "number of steps")}},
           clip_steps}};
}

}  // namespace provenit::signal::pictures
