#pragma once
// The patches of the clip steps in a captured frame, as codes of the picture.
#include <array>
#include <string>
#include <vector>

#include "captures/places.h"
#include "provenit/evaluation/code_captures.h"

namespace provenit::evaluation {

using CodeTriple = std::array<double, 3>;

/// A patch: codes sent, mean codes left on the picture's scale, and what the frame adds to their standard uncertainty.
struct ClipPatch {
  CodeTriple sent{}, left{};
  double of_frame = 0;
  /// Standard uncertainty of a code left: the chain's own rounding to whole codes, and the frame.
  [[nodiscard]] double error() const { return std::hypot(1 / std::sqrt(12.0), of_frame); }
};

/// The rows of patches. `frame` must outlive it.
class ClipRows {
 public:
  ClipRows(const CapturedFrame& frame, const signal::TestPicture& picture, double black_code);
  /// Codes of the frame per code of the picture.
  [[nodiscard]] double gain() const { return gain_; }
  [[nodiscard]] std::vector<ClipPatch> row(const std::string& name) const;

 private:
  [[nodiscard]] const signal::PicturePlace* find(const std::string& name, int step) const;

  const CapturedFrame& frame_;
  std::vector<signal::PicturePlace> places_;
  double black_code_, gain_ = 1;
  CodeTriple black_{};  ///< in codes of the frame
};

}  // namespace provenit::evaluation
