#pragma once
// What one reading of a colour is worth and costs, by the instrument's capabilities.
#include "provenit/colour/matrix3.h"
#include "provenit/colour/quantities.h"
#include "provenit/instrument/instrument.h"

namespace provenit::correct {

/// Covariance of X, Y, Z of one reading, (cd/m2)^2: repeatability, of whose variance 80 % count as common to the three
/// (our own choice: a colorimeter's channels look at one light), shot noise and floor of each.
/// in      integration: of that reading
[[nodiscard]] colour::Matrix3<> reading_noise(const instrument::Capabilities& capabilities,
                                              const colour::AbsoluteXyz<>& light, Seconds integration);

struct ReadingCost {
  double seconds = 0;            ///< with settling
  colour::Matrix3<> covariance;  ///< of its noise, (cd/m2)^2
};
/// What a reading of this light is expected to take, after this settling time.
[[nodiscard]] ReadingCost reading_cost(const instrument::Capabilities& capabilities, Seconds settle,
                                       const colour::AbsoluteXyz<>& light);

}  // namespace provenit::correct
