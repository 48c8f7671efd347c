#pragma once
// From code values to the drive each channel is asked for: the display's own, slightly wrong, idea of signal and self.
#include <array>

#include "provenit/colour/matrix3.h"
#include "provenit/signal/signal.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

using Drive = std::array<double, 3>;  ///< R, G, B of the display's own primaries; 1 = share of white at its peak

class Decoder {
 public:
  explicit Decoder(const Decoding& decoding);
  /// Each in [0, 1]. Light outside the display's triangle is cut channel by channel, light above its peak by the soft
  /// clip, which turns hues.
  [[nodiscard]] Drive drive(const signal::Encoding& encoding, const signal::CodeRgb& code) const;

 private:
  [[nodiscard]] double rolled_off(double drive) const;
  Decoding decoding_;
  std::array<colour::Matrix3<>, 3> to_native_;  ///< by Container
};

}  // namespace provenit::simulated
