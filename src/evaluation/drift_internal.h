#pragma once
// The state of the display against that at the first reference reading of its run.
#include <array>
#include <cstddef>
#include <utility>
#include <vector>

#include "provenit/colour/quantities.h"
#include "provenit/colour/uncertainty.h"

namespace provenit::evaluation {

class DriftCurve {
 public:
  struct Reference {
    double time_s = 0;
    colour::AbsoluteXyz<colour::Uncertain> xyz;
  };
  /// No drift is known: the ratio is 1.
  DriftCurve() = default;
  /// References in order of time. `sources` takes one more source per interval, for curvature that linear interpolation
  /// cannot follow; pass nullptr to have values only.
  DriftCurve(std::vector<Reference> references, colour::Sources* sources);

  /// Ratio of X, Y, Z to those at the first reference. Linear between references; the first one's before it, the last
  /// one's after it. Channel by channel for greys, that of Y in all three otherwise.
  [[nodiscard]] std::array<colour::Uncertain, 3> at(double time_s, bool grey) const;
  /// How much each reference weighs in the relative error of that ratio.
  [[nodiscard]] std::vector<double> weights(double time_s) const;

 private:
  /// The reference at or before this time, and the share of the one after it. Only after the first reference.
  [[nodiscard]] std::pair<std::size_t, double> place(double time_s) const;

  std::vector<Reference> references_;
  std::vector<colour::SourceId> between_;
};

}  // namespace provenit::evaluation
