#pragma once
#include <array>
#include <vector>

#include "provenit/colour/uncertainty.h"
#include "provenit/evaluation/reading_matrix.h"

namespace provenit::evaluation {

/// What a colorimeter's matrix leaves unknown, as errors of the light that went through it.
class MatrixErrors {
 public:
  /// Errors: those of uncertain().
  [[nodiscard]] static Result<MatrixErrors> of(const ReadingMatrix& matrix, colour::Sources& sources);

  /// Of this light, X, Y, Z; to be added to it. One misfit for all greys, one more for every other call.
  [[nodiscard]] std::array<colour::Uncertain, 3> at(const std::array<double, 3>& light, bool grey,
                                                    colour::Sources& sources);
  /// The sources that all greys share.
  [[nodiscard]] std::vector<colour::SourceId> common() const;

 private:
  [[nodiscard]] std::array<colour::SourceId, 3> new_misfit(colour::Sources& sources) const;
  [[nodiscard]] bool fits() const { return misfit_ == colour::Vector3<>{}; }

  colour::Matrix3<> inverse_;
  colour::Matrix3<colour::Uncertain> errors_;
  colour::Vector3<> misfit_{};
  colour::PoolId pool_ = colour::kNoPool;
  std::array<colour::SourceId, 3> of_greys_{};
};

}  // namespace provenit::evaluation
