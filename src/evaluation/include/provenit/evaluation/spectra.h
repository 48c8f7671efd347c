#pragma once
// What a display's spectra tell: peaks and their widths, the kind of emitters, and the offset at which two displays of
// different spectra look alike. Pure functions of spectra; findings come from evaluate().
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/observer.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/spectrum.h"

namespace provenit::evaluation {

struct SpectralPeak {
  double centre_nm = 0;  ///< middle between the two places of half height
  double width_nm = 0;   ///< full width at half maximum
  double height = 0;     ///< in the spectrum's unit
};

/// The strongest peak between two wavelengths: its height by a parabola through the samples near the top, its half
/// height by straight lines between samples, outwards from the top to the first place that lies lower. in      spectrum
/// with steps of 5 nm or less out     nullopt if there is no light, or no half height within the spectrum on both sides
/// exact   a Gaussian of 20 nm or more read at 1 nm: centre and width within 0.02 nm (tests)
[[nodiscard]] std::optional<SpectralPeak> strongest_peak(const colour::Spectrum& spectrum, double first_nm = 380,
                                                         double last_nm = 780);

/// The spectrum as an instrument of a Gaussian bandpass of this FWHM would read it. 0 changes nothing.
[[nodiscard]] colour::Spectrum blurred(const colour::Spectrum& spectrum, double bandwidth_nm);

/// The peak as it would be without the instrument's bandwidth, by blurring what was read once more: width^2 = 2 w1^2 -
/// w2^2 (exact for Gaussians), centre = 2 c1 - c2. out     width 0 where what was read is no wider than the bandwidth:
/// then it is "up to the width as read". nullopt as
///         strongest_peak
[[nodiscard]] std::optional<SpectralPeak> peak_without_bandwidth(const colour::Spectrum& spectrum, double bandwidth_nm,
                                                                 double first_nm = 380, double last_nm = 780);

/// What is looked at to name a kind of emitter.
struct EmitterEvidence {
  std::array<SpectralPeak, 3> peaks;  ///< red, green, blue, bandwidth taken out
  bool fluoride_lines = false;        ///< narrow red lines next to 631 nm with one next to 613 nm beside it
};
/// Lines of K2SiF6:Mn4+ in the spectrum of the red primary: local maxima within 2.5 nm of 631 nm and within 3 nm of
/// 613 nm that stand out by a twentieth of the strongest.
/// source  631 nm, about 3 nm wide: Wang et al., Opt. Express 23, 28707 (2015); 613 nm: from memory
[[nodiscard]] bool has_fluoride_lines(const colour::Spectrum& red);

struct EmitterShare {
  std::string kind;  ///< "fluoride phosphor", "quantum dots", "self-emissive RGB", "broadband phosphor", "white emitter
                     ///< with filters", "laser", "none of these"
  double probability = 0;
};
/// Probability of each kind, largest first: the evidence against templates of centre and width for each primary
/// (normal, independent), equal beforehand, with one wide template for what is none of them. Kinds of emitters, never
/// makers. source  templates: this project (docs/methods/spectra.md), from published figures second hand or from memory
[[nodiscard]] std::vector<EmitterShare> emitter_shares(const EmitterEvidence& evidence);

/// Where the second display's white must be put, in CIE 1931 x, y, to look like the first one's.
struct MatchOffset {
  colour::Xy<> reference, matched;  ///< CIE 1931: white of the first display; of the second at the match
  double dx = 0, dy = 0;            ///< matched - reference
};
/// Mixes the second display's primaries to the tristimulus values that the first display's white has for the observer,
/// and reads both as CIE 1931. A calculated start for a match by eye, not the match itself: observers differ.
/// errors  those of xyz_from_radiance; out_of_range if the second display would need negative light
/// source  CIE 170-2:2015 (observer); method: this project
[[nodiscard]] Result<MatchOffset> visual_match_offset(const colour::Spectrum& reference_white,
                                                      const std::array<colour::Spectrum, 3>& primaries,
                                                      colour::Observer observer = colour::Observer::cie2015_2deg);

}  // namespace provenit::evaluation
