#pragma once
// The numbers of Optics and Unevenness that readings of known signals at known places say most.
#include <vector>

#include "provenit/forecast/display.h"

namespace provenit::forecast {

/// From full fields read at five places or more; else even.
[[nodiscard]] Unevenness unevenness_of(const std::vector<SpotReading>& spots);

struct OpticsFit {
  Optics optics;
  double cap_deviation = 0.02, headroom_deviation = 0.02, black_deviation = 0.1;  ///< relative
};
/// grid: columns, rows and aspect are taken from it. start: where the search begins (leak, colour).
[[nodiscard]] OpticsFit optics_of(const Channels& channels, const Unevenness& unevenness, const Optics& grid,
                                  const std::vector<SpotReading>& spots);

}  // namespace provenit::forecast
