#pragma once
// Letters of 5 x 7 pixels for the cards that name themselves. Small letters are shown as capitals.
#include <string_view>

namespace provenit::signal::pictures {

inline constexpr int kLetterHeight = 7, kLetterStep = 6;

/// Pixels that the text is wide at scale 1.
[[nodiscard]] int text_width(std::string_view text);
/// Whether the text has ink at this pixel; x and y from its top left corner at scale 1. A letter that is not known is a
/// filled box.
[[nodiscard]] bool letter_pixel(std::string_view text, int x, int y);

}  // namespace provenit::signal::pictures
