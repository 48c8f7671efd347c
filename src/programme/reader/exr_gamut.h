#pragma once
// Linear RGB in any primaries, brought to one of the three gamuts of a picture.
#include <array>
#include <optional>
#include <string>

#include "provenit/base/error.h"
#include "provenit/colour/matrix3.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

/// x, y of red, green, blue and white, as the `chromaticities` attribute of OpenEXR has them.
using Chromaticities = std::array<double, 8>;

struct GamutChoice {
  Gamut gamut = Gamut::bt709;
  std::optional<colour::Matrix3<>> to_gamut;  ///< of linear RGB; nullopt if the samples are in it already
  std::string note;
};

/// BT.709, P3-D65 and BT.2020 are kept if all eight numbers agree within 0.001. All others become linear BT.2020:
/// through XYZ, with Bradford's transform from their white to D65 (adaptation.h). CIE XYZ itself (1,0 0,1 0,0) is
/// tristimulus values and gets no adaptation. Errors: invalid_input for numbers that make no colour space.
[[nodiscard]] Result<GamutChoice> choose_gamut(const Chromaticities& xy);

}  // namespace provenit::programme
