#pragma once
// One pixel with all that can be said of it.
#include <array>
#include <nlohmann/json_fwd.hpp>
#include <optional>

#include "provenit/base/error.h"
#include "provenit/colour/quantities.h"
#include "provenit/programme/picture.h"
#include "provenit/programme/pixel.h"

namespace provenit::programme {

struct ProbeReading {
  int x = 0, y = 0;
  Pixel pixel;                ///< codes, R'G'B', linear light, XYZ
  double luminance_cdm2 = 0;  ///< Y
  double max_rgb_cdm2 = 0;
  std::optional<colour::Xy<>> xy;             ///< none for black
  std::optional<colour::UvPrime<>> uv_prime;  ///< none for black
  /// Where a CCT means something: |Duv| <= 0.05, 1000 to 100 000 K.
  std::optional<double> cct_kelvin, duv;
  bool inside_bt709 = true, inside_p3 = true;  ///< by the survey's definition; black is inside
};
/// Errors: those of check_picture; out_of_range for a pixel outside the picture.
[[nodiscard]] Result<ProbeReading> probe(const Picture& picture, int x, int y);
[[nodiscard]] nlohmann::ordered_json to_json(const ProbeReading& reading);

}  // namespace provenit::programme
