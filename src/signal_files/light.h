#pragma once
// The light that code values stand for on the encoding's reference display.
#include <vector>

#include "provenit/colour/quantities.h"
#include "provenit/colour/transfer_hlg.h"
#include "provenit/signal/signal.h"

namespace provenit::signal {

/// Light of R'G'B' codes in cd/m2, in the container's primaries; none for signals below 0. PQ as it is; HLG and BT.1886
/// on a display of the nominal peak with black at 0, HLG with the system gamma of a 5 cd/m2 surround.
class ReferenceLight {
 public:
  /// The encoding must be valid.
  explicit ReferenceLight(const Encoding& encoding);
  /// in      codes of the encoding's bit depth
  [[nodiscard]] colour::AbsoluteRgb<> of(int r, int g, int b) const;

 private:
  /// By code: light in cd/m2 of one channel (PQ, BT.1886), or the non-linear signal (HLG, whose OOTF needs all three).
  std::vector<double> table_;
  bool hlg_;
  colour::HlgDisplay<> display_;
};

}  // namespace provenit::signal
