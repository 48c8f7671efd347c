#pragma once
// Looking at one picture: where its light and colour lie, as numbers. Definitions: docs/looking.md. The same as
// drawings: look.h.
#include <array>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// A picture decoded once, pixel by pixel as pixel_at does, kept in single precision (relative error 6e-8).
struct LightImage {
  PictureFormat format;
  int width = 0, height = 0;
  std::int64_t index = 0;
  double time_s = 0;
  std::vector<std::array<float, 3>> signal;  ///< R'G'B' before any clamp; linear stills: the samples
  std::vector<std::array<float, 3>> light;   ///< linear R, G, B in the picture's own primaries, cd/m2
  colour::Matrix3<> to_xyz;                  ///< from there to XYZ
  [[nodiscard]] std::size_t at(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x);
  }
  [[nodiscard]] double luminance(std::size_t i) const {
    return to_xyz(1, 0) * light[i][0] + to_xyz(1, 1) * light[i][1] + to_xyz(1, 2) * light[i][2];
  }
};
/// Rows in parallel. Errors: those of check_picture.
[[nodiscard]] Result<LightImage> light_image(const Picture& picture);

/// Luminances that part a scale; which part a luminance falls into, exactly.
class LevelScale {
 public:
  /// `count` parts of equal PQ signal from 0 to 1 (0 to 10 000 cd/m2).
  explicit LevelScale(int count);
  [[nodiscard]] int count() const { return count_; }
  /// floor(count x PQ(cd/m2)), clamped to the scale.
  [[nodiscard]] int part(double cdm2) const;
  [[nodiscard]] double lower_cdm2(int part) const { return edges_[static_cast<std::size_t>(part)]; }

 private:
  int count_;
  std::vector<double> edges_;
  std::vector<std::int32_t> start_;  // by the upper bits of a float: the part of the smallest such number
};

/// Counts of pixels over two axes, row 0 at the lowest value of y.
struct Counts {
  int columns = 0, rows = 0;
  double x_first = 0, x_last = 0, y_first = 0, y_last = 0;  ///< at the outer edges
  std::string x_name, y_name;                               ///< with unit
  std::vector<std::uint32_t> count;
  std::uint64_t left_out = 0;  ///< pixels outside the axes, or without the quantity (black has no chromaticity)
  [[nodiscard]] std::uint32_t at(int column, int row) const {
    return count[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) + static_cast<std::size_t>(column)];
  }
};

inline constexpr int kWaveformLevels = 700, kWaveformColumns = 1280, kParadeColumns = 420;

/// Luminance over the picture's width: y is the PQ signal of the luminance (LevelScale), x the luma column. At most
/// kWaveformColumns columns; column c takes the picture columns x with floor(x columns / width) = c.
[[nodiscard]] Counts luminance_waveform(const LightImage& image);
/// R', G', B' over the width, at most kParadeColumns each, y from -0.1 to 1.1 of the signal. Linear stills: the
/// sample's share of 1.0.
[[nodiscard]] std::array<Counts, 3> signal_parade(const LightImage& image);
inline constexpr double kChromaRange = 0.55;
/// x = Cb, y = Cr, each from -range to range, of the picture's own matrix; R'G'B' pictures: the matrix that belongs to
/// their primaries (BT.709 or BT.2020 NCL; for P3 that of BT.709), named in x_name. Linear stills are coded to PQ
/// first.
[[nodiscard]] Counts chroma_counts(const LightImage& image, double range = kChromaRange);
inline constexpr double kDarkestWithColour_cdm2 = 0.05;  ///< below it, chromaticity is mostly noise: left out
/// x = u' from 0 to 0.65, y = v' from 0 to 0.65 of each pixel of kDarkestWithColour_cdm2 or more.
[[nodiscard]] Counts chromaticity_counts(const LightImage& image);

inline constexpr int kHistogramLevels = 256;
/// Pixels by luminance and by max(R,G,B) over kHistogramLevels parts of equal PQ signal.
struct LevelHistogram {
  std::vector<std::uint32_t> luminance, max_rgb;
};
[[nodiscard]] LevelHistogram level_histogram(const LightImage& image);

// Gamut ---------------------------------------------------------------------------------------------------------------

/// The smallest of these gamuts that holds a pixel; the survey's definition (a component below -1e-6 x the largest).
enum class GamutNeed : std::uint8_t { inside_bt709, beyond_bt709, beyond_p3 };
[[nodiscard]] GamutNeed gamut_need(const colour::AbsoluteRgb<>& light, Gamut primaries);
struct GamutShares {
  double beyond_bt709 = 0, beyond_p3 = 0;  ///< of all pixels; the first holds the second
};
[[nodiscard]] GamutShares gamut_shares(const LightImage& image);

// False colour --------------------------------------------------------------------------------------------------------

/// Drawing colour: sRGB R', G', B' of 16 bits, full range.
using Ink = std::array<std::uint16_t, 3>;

/// Luminances at which the false colour changes its hue; below the first and above the last there is one part each.
inline constexpr std::array<double, 11> kFalseColourSteps{0.005, 0.05, 0.5, 5, 26, 100, 203, 400, 1000, 2000, 4000};

/// Lightness says the luminance, hue says the step. CIELAB L* rises strictly with the PQ signal, from 6 at 0 to 97 at
/// 10 000 cd/m2, by 1.6 at each step and evenly in between; the hue turns at each step from a cold to a warm one and
/// back, both drifting, so that neighbours differ along the blue-yellow and the red-green axis at once, and no two
/// parts share a hue.
class FalseColour {
 public:
  FalseColour();
  [[nodiscard]] const Ink& of(double cdm2) const { return table_[static_cast<std::size_t>(scale_.part(cdm2))]; }
  /// 0 below kFalseColourSteps[0], kFalseColourSteps.size() above the last; a step belongs to the part above it.
  [[nodiscard]] static std::size_t part(double cdm2);

 private:
  LevelScale scale_;
  std::vector<Ink> table_;
};
/// Share of the pixels in each part, by luminance.
[[nodiscard]] std::array<double, kFalseColourSteps.size() + 1> false_colour_shares(const LightImage& image);

// HDR to SDR ----------------------------------------------------------------------------------------------------------

inline constexpr double kSdrPeak_cdm2 = 100;

/// EETF of Report ITU-R BT.2390 (also BT.2408 Annex 5) on a luminance: roll-off from a source of [black, peak] to a
/// display of [black, peak], all in cd/m2; light outside the source is clamped to it first.
/// range   0 <= black < peak <= 10 000 for both. A display that reaches the source's peak has no roll-off.
/// source  second-hand (five agreeing implementations); check values in docs/looking.md
struct EetfRange {
  double black_cdm2 = 0, peak_cdm2 = 0;
};
[[nodiscard]] double eetf_bt2390(double cdm2, const EetfRange& source, const EetfRange& display);

enum class SdrMethod { bt2390_eetf, bt2446_a };
/// "BT.2390 EETF on I of ICtCp", "BT.2446-1 method A"
[[nodiscard]] const char* name_of(SdrMethod value);
/// R'G'B' of a BT.709 picture for a BT.1886 display of 100 cd/m2 and no black.
///   bt2390_eetf  I of ICtCp by the EETF from [0, source peak] to [0, 100]; Ct and Cp scaled by min(I/I', I'/I)
///   bt2446_a     with L_HDR = source peak, L_SDR = 100
/// then BT.709 by matrix, out-of-gamut components clipped (the simplest conversion of BT.2407).
/// in      linear light, cd/m2, in the primaries named; above the source peak it is clipped, channel by channel
[[nodiscard]] colour::SignalRgb<> to_sdr(const colour::AbsoluteRgb<>& light, Gamut primaries, SdrMethod method,
                                         double source_peak_cdm2);

}  // namespace provenit::programme
