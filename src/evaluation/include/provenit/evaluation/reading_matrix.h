#pragma once
// A matrix that sets a colorimeter's readings right, as evaluation takes it. provenit/correct/instrument_matrix.h finds
// such matrices from readings of the same colours by a reference.
#include <array>
#include <span>
#include <vector>

#include "provenit/colour/matrix3.h"
#include "provenit/colour/uncertainty.h"
#include "provenit/store/records.h"

namespace provenit::evaluation {

struct ReadingMatrix {
  colour::Matrix3<> value;  ///< XYZ of the reference = value x XYZ read
  /// Of its nine entries, row by row: what the noise of the paired readings, and their misfit, leave unknown.
  std::array<double, 81> covariance{};
  /// Standard deviations of X, Y, Z that a colour has beside it, as shares of X + Y + Z; greys have the same one.
  colour::Vector3<> misfit{};
  double degrees_of_freedom = 0;  ///< of covariance and misfit; 0: without end
};

/// The readings through the matrix; those of spectra as they are.
[[nodiscard]] std::vector<store::ReadingRecord> corrected(const ReadingMatrix& matrix,
                                                          std::span<const store::ReadingRecord> readings);

/// The matrix with its doubt as correlated sources of this pool. Errors: invalid_input for a covariance that is none.
[[nodiscard]] Result<colour::Matrix3<colour::Uncertain>> uncertain(const ReadingMatrix& matrix, colour::PoolId pool,
                                                                   colour::Sources& sources);

}  // namespace provenit::evaluation
