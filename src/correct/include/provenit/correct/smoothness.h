#pragma once
// How smooth a table is: second differences, which show as bands in a ramp long before the eye could name a cause.
#include "provenit/correct/lut.h"

namespace provenit::correct {

/// Second differences |v(k-1) - 2 v(k) + v(k+1)| of neighbouring entries, in the table's own numbers.
struct Smoothness {
  double largest = 0;  ///< of all channels along all axes
  double root_mean_square = 0;
  double largest_on_greys = 0;  ///< along the grey diagonal of a 3D table
  int falling_steps = 0;        ///< steps along a channel's own axis in which that channel falls
};

/// range   a valid table of at least 3 entries or nodes; of 2, all figures but falling_steps are 0
[[nodiscard]] Smoothness smoothness(const Lut1d& table);
[[nodiscard]] Smoothness smoothness(const Lut3d& table);

}  // namespace provenit::correct
