#pragma once
// The display's own controls: where they stand, and what that does to the channels.
#include <vector>

#include "decoder_internal.h"
#include "provenit/instrument/control.h"
#include "provenit/simulated/physics.h"

namespace provenit::simulated {

/// Neutral when made.
class PictureControls {
 public:
  explicit PictureControls(const DisplayPhysics& physics);
  /// True if any of them moved; none is, if one of them cannot be. Errors: not_found; out_of_range for a value outside
  /// the control's range or between its steps.
  [[nodiscard]] Result<bool> set(const instrument::ControlSettings& wanted);
  [[nodiscard]] std::vector<instrument::DisplayControl> state() const;
  /// With every control at neutral the drive itself, to the bit.
  [[nodiscard]] Drive applied(const Drive& drive) const;

 private:
  std::vector<PictureControl> controls_;
  std::vector<double> values_;
  bool neutral_ = true;
};

}  // namespace provenit::simulated
