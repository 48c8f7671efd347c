#pragma once
// Light that an encoding stands for on its reference display, and back.
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/colour/transfer.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// PQ: BT.2100. HLG: BT.2100 with its OOTF, at the encoding's nominal peak. BT.1886 at the nominal peak. Black is 0.
class EncodedLight {
 public:
  /// range   a valid encoding
  explicit EncodedLight(const Encoding& encoding);

  /// Light of the container's primaries, cd/m2.
  [[nodiscard]] colour::AbsoluteRgb<> light(const colour::SignalRgb<>& signal) const;
  [[nodiscard]] colour::AbsoluteXyz<> xyz(const colour::SignalRgb<>& signal) const;
  /// The signal for it; above 1 for light beyond most(). Light below 0 counts as 0, NaN gives 0.
  [[nodiscard]] colour::SignalRgb<> signal(colour::AbsoluteRgb<> light) const;
  /// Light of the highest signal.
  [[nodiscard]] double most() const { return light({.r = 1, .g = 1, .b = 1}).g; }

 private:
  Transfer transfer_;
  colour::HlgDisplay<> hlg_;
  colour::Bt1886Display<> bt1886_;
  colour::Matrix3<> to_xyz_;
};

}  // namespace provenit::signal
