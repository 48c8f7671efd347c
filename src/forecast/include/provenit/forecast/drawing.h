#pragma once
// A forecast as pictures: the light that would be shown, in every view that a programme's picture has, and how far it
// is from what is intended.
#include <array>
#include <string>

#include "provenit/forecast/frame.h"
#include "provenit/programme/look.h"
#include "provenit/programme/scopes.h"

namespace provenit::forecast {

/// The shown light in place of the intended one, in the picture's own primaries; R'G'B' signals are left out, as no
/// signal was sent for it. `shown` is of the same picture.
[[nodiscard]] programme::LightImage shown_image(const programme::LightImage& intended, const ShownLight& shown);

/// Delta E ITP that part the grey steps of a difference picture. Our own choice.
inline constexpr std::array<double, 4> kDifferenceSteps{1, 3, 10, 30};
/// Grey of each step as an sRGB signal, the darkest below kDifferenceSteps[0].
inline constexpr std::array<double, kDifferenceSteps.size() + 1> kDifferenceGreys{0.06, 0.27, 0.47, 0.69, 0.95};

/// The difference in five greys, reduced by a whole factor to fit, each point the mean over its pixels. The same steps
/// for every picture, so that two may be compared.
[[nodiscard]] programme::Drawing difference_drawing(const ShownLight& shown, int most_width, int most_height);

/// The frame as `display` would show it, drawn in SDR, and the difference with the key of its greys, each with what is
/// to stand below it on a contact sheet.
[[nodiscard]] std::array<programme::SheetEntry, 2> sheet_entries(const std::string& display,
                                                                 const programme::LightImage& intended,
                                                                 const ShownLight& shown, const FrameForecast& forecast,
                                                                 double source_peak_cdm2);
/// The frame as it is meant.
[[nodiscard]] programme::SheetEntry intended_entry(const programme::LightImage& intended, double source_peak_cdm2);

}  // namespace provenit::forecast
