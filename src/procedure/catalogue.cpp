#include "provenit/procedure/catalogue.h"

#include <algorithm>
#include <array>

#include "provenit/base/text.h"

namespace provenit::procedure {
namespace {

constexpr std::array<Quantity, 98> kCatalogue{{
    {"settle_time", "Time to settle after switching on", "s", "warm_up", "tolerance_percent",
     "Time from the first reading until the reference patch stays within the tolerance."},
    {"drift", "Residual drift of luminance", "%/h", "warm_up", "",
     "Slope of the reference patch's luminance after settling, relative to its mean."},
    {"black_luminance", "Black luminance, full field", "cd/m2", "black_level", "",
     "Luminance of a full field of code black."},
    {"peak_luminance", "Peak luminance", "cd/m2", "window_peak", "window_percent",
     "Luminance of a centred white window on black at the highest code value."},
    {"loading", "Luminance loading", "%", "window_peak", "window_percent",
     "100 % x (window luminance - full-field luminance) / full-field luminance."},
    {"sequential_contrast", "Sequential contrast", "1", "black_level", "window_percent",
     "Peak luminance of the window over full-field black, read one after the other."},
    {"eotf_mean_delta_e_itp", "EOTF tracking, mean Delta E ITP", "1", "greyscale", "",
     "Mean Delta E ITP (BT.2124) between shown and target light over the greyscale steps below the clip point."},
    {"eotf_max_delta_e_itp", "EOTF tracking, largest Delta E ITP", "1", "greyscale", "",
     "Largest Delta E ITP over the greyscale steps below the clip point."},
    {"eotf_mean_luminance_part", "EOTF tracking, luminance part of the mean Delta E ITP", "1", "greyscale", "",
     "Mean over the same steps of the difference that luminance alone makes."},
    {"eotf_mean_chromaticity_part", "EOTF tracking, chromaticity part of the mean Delta E ITP", "1", "greyscale", "",
     "Mean over the same steps of the difference that chromaticity alone makes."},
    {"eotf_max_luminance_deviation", "EOTF tracking, largest luminance deviation", "%", "greyscale", "",
     "Largest |L / L_target - 1| over the greyscale steps from 1 cd/m2 up to the clip point."},
    {"greyscale_max_delta_uv", "Greyscale chromaticity, largest Delta u'v' from the white target", "1", "greyscale", "",
     "Largest distance in u'v' from the target white over the steps from 1 cd/m2 up to the clip point."},
    {"clip_luminance", "Clip point, luminance", "cd/m2", "greyscale", "",
     "Luminance above which a higher code value gives no more light."},
    {"clip_signal", "Clip point, signal", "1", "greyscale", "", "Lowest E' that already gives the clip luminance."},
    {"roll_off_start", "Start of roll-off, target luminance", "cd/m2", "greyscale", "",
     "Target luminance from which the display falls below its EOTF by more than 5 % for good."},
    {"white_u_prime", "White point u'", "1", "white_point", "", "CIE 1976 u' of white."},
    {"white_v_prime", "White point v'", "1", "white_point", "", "CIE 1976 v' of white."},
    {"white_delta_uv", "White point, Delta u'v' from D65", "1", "white_point", "",
     "Distance in u'v' from x 0.3127, y 0.3290."},
    {"white_delta_e_itp_chromaticity", "White point, chromaticity part of Delta E ITP", "1", "white_point", "",
     "Delta E ITP from D65 at equal luminance."},
    {"white_cct", "Correlated colour temperature of white", "K", "white_point", "", "CCT by Ohno's method, CIE 1931."},
    {"white_duv", "Duv of white", "1", "white_point", "", "Signed distance from the Planckian locus in CIE 1960 u, v."},
    {"primary_delta_uv", "Primary, Delta u'v' from the container's", "1", "primaries", "primary",
     "Distance in u'v' of a primary from the one its encoding names."},
    {"gamut_coverage", "Gamut coverage", "%", "primaries", "reference,plane",
     "Area of the intersection of the display's triangle with the reference triangle over the area of the reference."},
    {"gamut_area_ratio", "Gamut area ratio", "%", "primaries", "reference,plane",
     "Area of the display's triangle over the area of the reference triangle."},
    {"checkerboard_contrast", "Checkerboard contrast", "1", "checkerboard", "columns,rows",
     "White over black luminance of the centre square of a checkerboard in its two phases."},
    {"additivity_error", "Additivity of the primaries", "%", "primaries", "",
     "100 % x (R + G + B - 2 black) / white - 100 %, luminances."},
    {"dimming_checkerboard_contrast", "Checkerboard contrast, local dimming switched", "1", "checkerboard",
     "columns,rows,local_dimming", "The same with the display's local dimming switched on or off."},
    {"checkerboard_black", "Black of the checkerboard", "cd/m2", "checkerboard", "columns,rows,local_dimming",
     "Luminance of the measured square of a checkerboard in its black phase."},
    {"luminance_nonuniformity", "Luminance non-uniformity", "%", "uniformity", "points",
     "100 % x (1 - smallest / largest luminance) over a grid of points on a grey field."},
    {"uniformity_max_delta_uv", "Uniformity, largest Delta u'v' from the centre", "1", "uniformity", "points",
     "Largest distance in u'v' of a point of the grid from the centre."},
    {"camera_nonuniformity", "Luminance non-uniformity, from a camera's pictures", "%", "field_picture", "points",
     "100 % x (1 - smallest / largest relative luminance) over a grid of points on a grey field, flat field taken "
     "out."},
    {"off_axis_luminance", "Luminance kept off axis", "%", "off_axis", "angle_deg,direction",
     "Luminance seen at an angle over that seen head on."},
    {"off_axis_delta_uv", "Colour shift off axis, Delta u'v'", "1", "off_axis", "angle_deg,direction",
     "Distance in u'v' between a grey seen at an angle and the same seen head on."},
    {"halo_luminance", "Black beside a bright window", "cd/m2", "halo", "window_percent,distance_percent",
     "Luminance of black at a distance, in % of the picture's width, from the edge of a centred white window."},
    {"halo_half_distance", "Distance over which the halo halves", "%", "halo", "window_percent",
     "Distance from the window's edge, in % of the width, where black above the farthest one read is half of that "
     "nearest."},
    {"halo_bar_share", "Halo's share in a letterbox bar", "%", "halo", "window_percent",
     "Luminance of the middle of a black bar over that of the white window that touches it."},
    {"sustained_luminance", "Sustained luminance", "cd/m2", "sustained", "window_percent,minutes",
     "Luminance of a white window after it has stayed on for so many minutes."},
    {"sustained_change", "Change of luminance under a long stay", "%", "sustained", "window_percent,minutes",
     "100 % x (luminance after so many minutes / that at first - 1)."},
    {"sustained_settle_time", "Time for a long stay to settle", "s", "sustained", "window_percent,tolerance_percent",
     "Time from which luminance stays within the tolerance of the last one read."},
    {"recovery_luminance", "Recovery after a long stay", "%", "sustained", "window_percent,minutes",
     "Luminance of a smaller window so many minutes after the stay over that before it."},
    {"stability_slope", "Slope of luminance over hours", "%/h", "stability", "",
     "Slope of the least-squares line through the luminance of one patch, relative to its mean."},
    {"stability_wander", "Wander of luminance over hours", "%", "stability", "",
     "Largest less smallest distance of the luminance from that line, relative to its mean."},
    {"stability_max_delta_uv", "Wander of colour over hours, Delta u'v'", "1", "stability", "",
     "Largest distance in u'v' from the mean chromaticity."},
    {"zone_columns", "Dimming zones, columns", "1", "zone_walk", "",
     "Number of dimming zones along the width, from the steps that a small box walking along the top makes."},
    {"zone_rows", "Dimming zones, rows", "1", "zone_walk", "",
     "Number of dimming zones along the height, from the steps that a small box walking down the side makes."},
    {"zone_count", "Dimming zones", "1", "zone_walk", "", "Columns x rows, if the grid is regular."},
    {"zone_pitch", "Pitch of the dimming zones", "px", "zone_walk", "axis",
     "Pixels from one zone to the next along an axis (columns: along the width)."},
    {"rise_time", "Rise time of the light", "ms", "light_steps", "",
     "From 10 % to 90 % of a step from black to light."},
    {"fall_time", "Fall time of the light", "ms", "light_steps", "",
     "From 90 % to 10 % of a step from light to black."},
    {"afterglow", "Afterglow", "%", "light_steps", "after_s",
     "Share of the step that is left so long after the light has fallen to 90 %."},
    {"flicker_frequency", "Flicker, frequency", "Hz", "flicker", "",
     "Repetition rate of the light on a steady picture."},
    {"flicker_percent", "Flicker, modulation depth", "%", "flicker", "",
     "100 x (max - min) / (max + min) of the light over its mean period."},
    {"flicker_index", "Flicker index", "1", "flicker", "",
     "Area of the mean period above its mean over its whole area."},
    {"input_delay", "Delay from input to light", "ms", "input_delay", "",
     "Mean time from half way of the signal marker's rise to half way of the light's."},
    {"input_delay_jitter", "Delay from input to light, jitter", "ms", "input_delay", "",
     "Standard deviation of the delay from step to step."},
    {"chroma_kept", "Chroma of fine lines kept", "%", "chroma_capture", "lines,line_pixels",
     "Difference of the chroma of neighbouring lines over that of plain fields of their colours, in a captured frame."},
    {"edge_overshoot", "Overshoot of edges", "%", "scaling_capture", "direction",
     "How far the signal goes beyond the two levels of an edge, of the step, in a captured frame."},
    {"edge_rise", "Edge rise, 10 % to 90 %", "px", "scaling_capture", "direction,pixels",
     "Distance from 10 to 90 % of a leaning edge's step in a captured frame, in pixels of the source or of the "
     "capture."},
    {"edge_mtf", "Modulation transfer of edges", "%", "scaling_capture", "direction,cycles_per_pixel",
     "Modulation transfer of a leaning edge at a frequency in cycles per source pixel, in a captured frame."},
    {"edge_mtf50", "MTF50 of edges", "1/px", "scaling_capture", "direction",
     "Cycles per source pixel at which the modulation transfer of a leaning edge falls to 50 %."},
    {"alias_share", "Alias share of waves", "%", "alias_capture", "direction,band",
     "Energy of what a zone plate's source does not have at its place, of the energy it has, in a captured frame."},
    {"ramp_levels_kept", "Levels of a ramp kept", "1", "ramp_capture", "",
     "Levels of a captured ramp that lie above the one before by at least half of the mean rise around them."},
    {"ramp_effective_bits", "Effective bit depth of a captured ramp", "1", "ramp_capture", "",
     "Bits of the ramp plus the binary logarithm of the share of its steps that are kept."},
    {"ramp_largest_step", "Largest step of a captured ramp", "1", "ramp_capture", "",
     "Largest difference of neighbouring levels of a captured ramp, in code values of the ramp."},
    {"captured_clip_luminance", "Clip, from a captured frame", "cd/m2", "clip_capture", "",
     "Luminance of the code at which white's steps end in a captured frame, on the encoding's reference display."},
    {"captured_clip_start", "Start of the clip, from a captured frame", "cd/m2", "clip_capture", "",
     "Luminance sent from which what a captured frame has left stays below 95 % of it."},
    {"captured_clip_softness", "Softness of the clip, from a captured frame", "%", "clip_capture", "",
     "Largest shortfall of white's steps from a hard clip at the same luminance, in a captured frame."},
    {"captured_clip_hue_shift", "Hue above the clip, from a captured frame", "deg", "clip_capture", "colour",
     "Largest change of the ICtCp hue angle of a mixture over the clip steps, against light sent at the same "
     "luminance."},
    {"white_tracking_max_delta_uv", "White over level, largest Delta u'v' from its own white", "1", "greyscale", "",
     "Largest distance in u'v' from the grey step next to 203 cd/m2, over the steps from 1 cd/m2 up to the clip "
     "point."},
    {"clip_softness", "Softness of the clip", "%", "greyscale", "",
     "How far below the target of a hard clip the roll-off starts: 100 % x (clip luminance / (0.95 x start) - 1)."},
    {"near_black_mean_luminance_part", "Near black, mean luminance part of Delta E ITP", "1", "near_black", "",
     "Mean difference that luminance alone makes between shown and target light over the steps from 0.005 to 1 cd/m2."},
    {"near_black_max_delta_uv", "Near black, largest Delta u'v' from the white target", "1", "near_black", "",
     "Largest distance in u'v' from the target white over the steps from 0.1 to 1 cd/m2."},
    {"near_black_first_code", "Near black, first code with light", "1", "near_black", "",
     "Codes above black of the lowest code read whose light above black is a tenth of what it asks for."},
    {"near_black_reversals", "Near black, reversals", "1", "near_black", "",
     "Number of neighbouring steps read of which the higher code gives less light."},
    {"steps_resolved", "Steps resolved", "%", "step_resolution", "level_cdm2",
     "Share of neighbouring codes around the level that differ by at least half the light step they ask for."},
    {"effective_bits", "Effective bit depth", "1", "step_resolution", "level_cdm2",
     "Bits of the signal plus the binary logarithm of the share of steps resolved around the level."},
    {"colour_volume", "Colour volume", "1", "colour_volume", "space",
     "Volume of the display's colours in cubes of one Delta E ITP (space ictcp) or one Delta E*ab to its white (lab)."},
    {"colour_volume_coverage", "Colour volume coverage", "%", "colour_volume", "reference,space",
     "Share of the reference container's volume, at the display's own peak and black, that the display's covers."},
    {"volume_mean_delta_e_itp", "Colours over the volume, mean Delta E ITP", "1", "colour_volume", "",
     "Mean Delta E ITP between shown and target light over the seeded set of colours."},
    {"volume_p95_delta_e_itp", "Colours over the volume, 95th percentile of Delta E ITP", "1", "colour_volume", "",
     "Smallest Delta E ITP that at least 95 % of the set do not exceed."},
    {"volume_max_delta_e_itp", "Colours over the volume, largest Delta E ITP", "1", "colour_volume", "",
     "Largest Delta E ITP of the set."},
    {"chart_mean_delta_e_itp", "Surface colours, mean Delta E ITP", "1", "chart_accuracy", "",
     "Mean Delta E ITP between shown and target light over the patches of the surface-colour chart."},
    {"chart_p95_delta_e_itp", "Surface colours, 95th percentile of Delta E ITP", "1", "chart_accuracy", "",
     "Smallest Delta E ITP that at least 95 % of the patches do not exceed."},
    {"chart_max_delta_e_itp", "Surface colours, largest Delta E ITP", "1", "chart_accuracy", "",
     "Largest Delta E ITP of the patches."},
    {"chart_mean_ciede2000", "Surface colours, mean CIEDE2000", "1", "chart_accuracy", "",
     "Mean CIEDE2000 over the same patches, CIELAB for the chart's perfect diffuser."},
    {"chart_p95_ciede2000", "Surface colours, 95th percentile of CIEDE2000", "1", "chart_accuracy", "",
     "Smallest CIEDE2000 that at least 95 % of the patches do not exceed."},
    {"chart_max_ciede2000", "Surface colours, largest CIEDE2000", "1", "chart_accuracy", "",
     "Largest CIEDE2000 of the patches."},
    {"hue_linearity_error", "Hue over saturation, largest change", "deg", "hue_linearity", "colour",
     "Largest change of the ICtCp hue angle's error over saturation, against that at full saturation."},
    {"clip_hue_shift", "Hue above the clip, largest change", "deg", "clip_hue", "colour",
     "Largest change of the ICtCp hue angle's error when the colour is driven above white, against that below it."},
    {"peak_wavelength", "Peak wavelength", "nm", "spectra", "primary",
     "Middle between the wavelengths of half height of a primary's strongest peak."},
    {"peak_width", "Width of the peak", "nm", "spectra", "primary",
     "Full width at half maximum of a primary's strongest peak, without the instrument's bandwidth."},
    {"emitter_class", "Kind of emitters, probability", "1", "spectra", "",
     "Probability of the likeliest kind of emitters by the peaks of the primaries; the kind itself is in parts.kind."},
    {"white_delta_uv_by_observer", "White point by observer, Delta u'v' from D65", "1", "spectra", "observer",
     "Distance of white from D65 in u'v', both from their spectra for the observer named."},
    {"correction_before", "Without the correction, mean Delta E ITP", "1", "correction_proof", "region",
     "Mean Delta E ITP between shown and target light over colours of the region that the correction was not made "
     "from."},
    {"correction_after", "With the correction, mean Delta E ITP", "1", "correction_proof", "region",
     "The same of the same colours, each sent as the correction has it."},
    {"correction_gain", "Gain of the correction, mean Delta E ITP", "1", "correction_proof", "region",
     "Mean over the colours of the difference without the correction less that with it: above 0 is better."},
    {"forecast_held", "Does the forecast hold: readings within its intervals", "%", "forecast_spots", "",
     "Of the eye check's readings, those within the 90 % intervals that were forecast for them."},
    {"forecast_light_error", "Forecast of light, median error", "%", "forecast_spots", "",
     "Median of |forecast / read - 1| over the lit places of the eye check."},
}};

}  // namespace

std::span<const Quantity> catalogue() {
  return kCatalogue;
}

const Quantity* find_quantity(std::string_view key) {
  const auto* found = std::ranges::find(kCatalogue, key, &Quantity::key);
  return found == kCatalogue.end() ? nullptr : found;
}

std::vector<std::string> condition_keys(const Quantity& quantity) {
  std::vector<std::string> keys;
  if (quantity.conditions.empty()) return keys;
  for (std::string_view key : split(quantity.conditions, ',')) keys.emplace_back(key);
  return keys;
}

std::vector<std::string> required_procedures(const Quantity& quantity, signal::Transfer transfer) {
  std::vector<std::string> procedures{std::string(quantity.procedure)};
  const bool needs_target =
      quantity.procedure == "greyscale" && (quantity.key.starts_with("eotf") || quantity.key == "roll_off_start");
  if (quantity.key == "sequential_contrast" || (needs_target && transfer != signal::Transfer::pq))
    for (const char* other : {"black_level", "window_peak"})
      if (procedures.front() != other) procedures.emplace_back(other);
  return procedures;
}

}  // namespace provenit::procedure
