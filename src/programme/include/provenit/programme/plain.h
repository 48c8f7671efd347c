#pragma once
// Views of one picture without page, letters and legend: for a page that has words, axes and a pointer of its own. The
// same with them: look.h. What each shows: docs/looking.md.
#include <optional>
#include <string_view>

#include "provenit/programme/look.h"

namespace provenit::programme {

enum class PlainView { sdr, sdr_eetf, false_colour, gamut, excursion };
inline constexpr std::array kPlainViews{PlainView::sdr, PlainView::sdr_eetf, PlainView::false_colour, PlainView::gamut,
                                        PlainView::excursion};
/// "sdr" (BT.2446-1 method A), "sdr_eetf" (BT.2390 EETF), "false_colour", "gamut", "excursion"
[[nodiscard]] const char* name_of(PlainView value);
[[nodiscard]] std::optional<PlainView> plain_view_from_name(std::string_view name);

/// What counts as an excursion; a limit that is not set marks nothing.
struct ExcursionLimits {
  std::optional<double> above_cdm2;            ///< max(R,G,B) above it
  std::optional<double> below_cdm2;            ///< luminance below it
  GamutNeed beyond = GamutNeed::inside_bt709;  ///< beyond_bt709 or beyond_p3: needs that much or more; inside: none
};
/// Shares of all pixels, 0 to 1.
struct ExcursionShares {
  double above = 0, below = 0, beyond = 0;
};
[[nodiscard]] ExcursionShares excursion_shares(const LightImage& image, const ExcursionLimits& limits);

struct PlainOptions {
  int most_width = 1280, most_height = 1280;  ///< the picture is reduced by a whole factor to fit
  double source_peak_cdm2 = 1000;             ///< that the ways to SDR roll off from
  ExcursionLimits excursion;
};
/// The picture, each point the mean light of its pixels; marks (gamut: stripes beyond BT.709, dots beyond P3;
/// excursion: rising stripes above, falling stripes below, dots beyond the gamut) where any of its pixels calls for it.
[[nodiscard]] Drawing plain_picture(PlainView view, const LightImage& image, const PlainOptions& options);

/// Counts as light on a dark ground, one point for each cell, the highest y on top, by the logarithm of the count.
/// picture_width > 0: of counts over the width whose columns hold unlike numbers of pixels, evened out.
[[nodiscard]] Drawing plain_counts(const Counts& counts, int picture_width = 0);

/// The false-colour scale from 0 to 10 000 cd/m2, one column, evenly by PQ signal, the lightest on top.
[[nodiscard]] Drawing false_colour_bar(int height);

}  // namespace provenit::programme
