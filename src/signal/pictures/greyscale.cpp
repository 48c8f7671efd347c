// Steps of grey over the signal, and the first codes above black.
#include <fmt/format.h>

#include "pictures/patches.h"
#include "provenit/base/text.h"
#include "provenit/signal/codes.h"

namespace provenit::signal::pictures {
namespace {

Painter grey_steps(Setting& s) {
  const int steps = s.whole("steps");
  const double low = s.number("lowest_percent"), high = s.number("highest_percent");
  if (!(low < high)) {
    s.refuse("the lowest step is not below the highest", "Give lowest_percent below highest_percent.",
             "lowest_percent");
    return {};
  }
  std::vector<Patch> patches;
  for (int k = 0; k < steps; ++k) {
    const double percent = low + (high - low) * k / (steps - 1);
    patches.push_back({.name = fmt::format("step {}, {:.4g} %", k + 1, percent),
                       .code = grey_code(s.encoding, colour::Signal<>{.value = percent / 100})});
  }
  if (s.yes("one_per_frame")) return patch_painter(s, patches, steps);
  // Rising above, falling below: the card looks the same turned by half, so a trend across the panel shows.
  Sheet sheet(s.size, s.black());
  const auto area = whole(s.size);
  for (int row = 0; row < 2; ++row)
    for (int k = 0; k < steps; ++k) {
      const auto& patch = patches[static_cast<std::size_t>(k)];
      sheet.place(patch.name + (row == 0 ? ", above" : ", below"),
                  cell(area, steps, 2, row == 0 ? k : steps - 1 - k, row), *patch.code);
    }
  return Painter(std::move(sheet));
}

Painter near_black_steps(Setting& s) {
  const int steps = s.whole("steps"), each = s.whole("codes_per_step");
  const int black = s.black().code[0];
  if (black + steps * each > peak_code(s.encoding).code[0]) {
    s.refuse("the steps go beyond the encoding's 100 %", "Give fewer steps, or fewer codes per step.",
             "codes_per_step");
    return {};
  }
  std::vector<Patch> patches;
  for (int k = 1; k <= steps; ++k) {
    const int code = black + k * each;
    patches.push_back({.name = fmt::format("black + {}", k * each), .code = CodeRgb{.code = {code, code, code}}});
  }
  return patch_painter(s, patches, (steps + 3) / 4);
}

}  // namespace

std::vector<Kind> greyscale_kinds() {
  return {
      {{.key = "grey_steps",
        .title = "Greyscale steps",
        .purpose = "Equal steps of the signal from black to 100 %: tracking of the EOTF and of white. On a good "
                   "display all steps are neutral and each differs from the next as far as its peak allows.",
        .source = kCommonPractice,
        .caution = both(kBrightCaution, kStepCaution),
        .parameters = with_patch_parameters({count("steps", 11, 2, 128, "number of steps"),
                                             number("lowest_percent", 0, 0, 100, "signal of the first step"),
                                             number("highest_percent", 100, 0, 100, "signal of the last step")})},
       grey_steps},
      {{.key = "near_black_steps",
        .title = "Near-black steps",
        .purpose = "The first codes above black, one patch each from top left, on black: near-black detail and "
                   "colour. A good display shows every step, neutral, each a little lighter than the one before.",
        .source = kCommonPractice,
        .caution = kStepCaution,
        .parameters = with_patch_parameters({count("steps", 16, 1, 64, "number of steps"),
                                             count("codes_per_step", 1, 1, 256, "codes from one to the next")})},
       near_black_steps},
  };
}

}  // namespace provenit::signal::pictures
