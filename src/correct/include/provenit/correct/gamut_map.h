#pragma once
// Colours that a target cannot show, brought into it with their hue kept, in ICtCp (PQ form).
#include <vector>

#include "provenit/base/error.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/quantities.h"
#include "provenit/correct/lut.h"

namespace provenit::correct {

/// What can be shown: light = black + (peak - black) x linear R, G, B of the primaries, each 0 to 1.
struct Target {
  colour::Primaries<> primaries;
  colour::Luminance<> peak, black;  ///< 0 <= black < peak <= 10 000 cd/m2
};

enum class Mapping {
  hard_clip,     ///< what can be shown is not touched; all else lands on the boundary
  soft_shoulder  ///< what lies near the boundary gives way, so that what lies beyond keeps some difference
};

struct MappingChoice {
  Mapping mapping = Mapping::soft_shoulder;
  /// soft_shoulder: the brightest light that can come in; its intensity becomes that of the target's peak.
  colour::Luminance<> source_peak{.cdm2 = 10000};
  /// soft_shoulder: shares of the way from the anchor to the boundary. Up to the knee nothing changes; what lies at the
  /// reach or beyond lands on the boundary. 0 < knee < 1 < reach <= 3 - 2 knee, so that the shoulder rises everywhere.
  double knee = 0.8, reach = 1.3;
};

/// x up to the knee, from there on a cubic that leaves with slope 1 and arrives at (reach, top) with slope 0; top
/// beyond. range   knee < top < reach, reach - knee <= 3 (top - knee) source  the shape of the roll-off in Rep. ITU-R
/// BT.2390 (EETF, Hermite spline)
[[nodiscard]] double shoulder(double x, double knee, double reach, double top);

/// The mapping, made for one target.
///   1. soft_shoulder only, where source_peak lies above the peak: I rolls off as BT.2390 has it (knee at 1.5 x peak -
///      0.5, in shares of the source), Ct and Cp scaled by the smaller of the ratios of I after and before.
///   2. The colour moves straight towards an anchor on the grey axis until it fits (hard), or as the shoulder has it
///      (soft). The anchor has the colour's own I; for saturated colours above the I of the most saturated colour of
///      that hue it slides down to that, so that bright saturated colours keep saturation rather than turn white.
/// Hue (the angle of Ct, Cp) is kept; greys stay grey. Which line the anchor slides along is our own choice.
/// source  BT.2390 and BT.2124 (ICtCp, T = Ct / 2 as the measure of length); the idea of an anchor at the most
/// saturated
///         colour: CIE 156:2004 (sigmoidal clipping towards a cusp), from memory
class GamutMap {
 public:
  /// Errors: out_of_range naming the number that is outside its stated range.
  [[nodiscard]] static Result<GamutMap> make(const Target& target, const MappingChoice& choice);

  /// in      absolute light of BT.2020 primaries; negative channels (colours outside BT.2020) are allowed
  /// out     BT.2020 light that the target can show, to rounding
  /// exact   hard_clip: colours that fit come back unchanged. Hue: within 1e-9 rad where chroma is left. NaN comes back
  ///         as black
  [[nodiscard]] colour::AbsoluteRgb<> mapped(const colour::AbsoluteRgb<>& colour) const;

  /// How far inside the target: the least distance of its linear R, G, B from 0 or 1; negative outside.
  [[nodiscard]] double margin(const colour::AbsoluteRgb<>& colour) const;

 private:
  struct Cusp {
    double hue, i, chroma;
  };
  GamutMap() = default;
  [[nodiscard]] Cusp cusp_at(double hue) const;
  [[nodiscard]] double rolled_off(double i) const;
  [[nodiscard]] double margin_at(double i, double chroma, double hue) const;
  [[nodiscard]] colour::AbsoluteRgb<> moved(double i, double chroma, double hue) const;

  Target target_;
  MappingChoice choice_;
  colour::Matrix3<> to_target_;  ///< BT.2020 light to the target's linear R, G, B, before black is taken off
  double i_black_ = 0, i_peak_ = 1, i_source_ = 1;
  std::vector<Cusp> cusps_;  ///< by hue, the first and last repeated a turn away
};

/// The mapping as a 3D table: numbers of `input` in, numbers of `output` out, both of any encoding.
/// in      size 2 to 129; HLG and BT.1886 at their nominal peak, black 0
/// errors  out_of_range for the size or encodings
[[nodiscard]] Result<Lut> gamut_lut(const GamutMap& map, int size, const Values& input, const Values& output);

}  // namespace provenit::correct
