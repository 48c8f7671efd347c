#pragma once
// One pixel in plain double precision: the definition that the fast kernel is held to, and what probe and scopes use.
#include <array>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/programme/picture.h"

namespace provenit::programme {

struct Pixel {
  std::array<double, 3>
      code{};                  ///< as decoded; Y' and the chroma sample of its block (not interpolated), or R', G', B'
  colour::SignalRgb<> signal;  ///< R'G'B' from the interpolated chroma, before any clamp (linear stills: the samples)
  colour::AbsoluteRgb<> rgb;   ///< linear light in the picture's own primaries, cd/m2, each >= 0
  colour::AbsoluteXyz<> xyz;   ///< cd/m2
};

/// Pixel at x, y. The picture's format must be one that check_format accepts and x, y inside it.
///   1. dequantised as real numbers (BT.2100-3, narrow or full range), nothing rounded
///   2. chroma interpolated between the nearest samples along each axis, weights by the siting (ITU-T H.273), samples
///      outside the picture taken as those at its edge
///   3. R'G'B' by the matrix in real arithmetic
///   4. clamped to [0, 1] (HLG: [0, 1.09...], the top of the narrow range), then the EOTF: PQ; BT.1886 with L_W = peak
///      and L_B = 0; sRGB scaled to the peak; HLG with the OOTF of L_W = peak, L_B = 0 (BT.2100-3)
/// Linear stills: sample x peak, negative and NaN as 0, infinite as the largest float.
[[nodiscard]] Pixel pixel_at(const Picture& picture, int x, int y);

/// Whether the format is one that kernel and pixel_at take. Errors: unsupported or out_of_range naming the field.
[[nodiscard]] Result<void> check_format(const PictureFormat& format);

/// Format, planes and their sizes fit together. Errors: those of check_format; invalid_input naming the plane.
[[nodiscard]] Result<void> check_picture(const Picture& picture);

}  // namespace provenit::programme
