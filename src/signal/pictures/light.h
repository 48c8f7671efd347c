#pragma once
// Light to codes and back, for colours: what codes.h does for greys.
#include <optional>

#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/signal/encoded_light.h"
#include "provenit/signal/signal.h"

namespace provenit::signal::pictures {

/// The encoding's reference display: PQ absolute; HLG at the nominal peak with black at 0 and its system gamma for a
/// 5 cd/m2 surround; BT.1886 at the nominal peak with black at 0. HLG's OOTF is taken with the weights of BT.2100 in
/// every container, as the other parts of the bench do.
class Light {
 public:
  explicit Light(const Encoding& encoding);

  /// Luminance of E' = 1: 10000 cd/m2 for PQ, the nominal peak otherwise.
  [[nodiscard]] double top_cdm2() const { return top_cdm2_; }
  /// Codes whose signals lie nearest to those of the light; nullopt if it lies outside the container or above its
  /// peak. A component below 0 by at most kNegativeShare of the largest counts as 0: P3 red in BT.2020 is 0.0016.
  [[nodiscard]] std::optional<CodeRgb> code(const colour::AbsoluteRgb<>& light) const;
  [[nodiscard]] std::optional<CodeRgb> code(const colour::AbsoluteXyz<>& light) const;
  /// What the reference display shows for codes.
  [[nodiscard]] colour::AbsoluteRgb<> light(const CodeRgb& code) const;
  /// Luminance of a colour at these codes.
  [[nodiscard]] double cdm2(const CodeRgb& code) const;

  static constexpr double kNegativeShare = 0.002;

 private:
  Encoding encoding_;
  EncodedLight light_;
  double top_cdm2_;
  colour::Matrix3<> to_xyz_, from_xyz_;
};

}  // namespace provenit::signal::pictures
