#include <cmath>

#include "matrix_errors_internal.h"
#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {

using colour::Uncertain;

Result<MatrixErrors> MatrixErrors::of(const ReadingMatrix& matrix, colour::Sources& sources) {
  MatrixErrors out;
  out.inverse_ = inverse(matrix.value);
  out.misfit_ = matrix.misfit;
  if (matrix.degrees_of_freedom > 0) out.pool_ = sources.add_pool(matrix.degrees_of_freedom);
  auto entries = uncertain(matrix, out.pool_, sources);
  if (!entries) return tl::unexpected(entries.error());
  out.errors_ = std::move(*entries);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) out.errors_(i, j) -= matrix.value(i, j);
  if (!out.fits()) out.of_greys_ = out.new_misfit(sources);
  return out;
}

std::array<colour::SourceId, 3> MatrixErrors::new_misfit(colour::Sources& sources) const {
  std::array<colour::SourceId, 3> ids{};
  for (std::size_t i = 0; i < 3; ++i)
    ids[i] = sources.add({.name = kColorimeterMisfit, .standard_uncertainty = misfit_[i], .pool = pool_});
  return ids;
}

std::vector<colour::SourceId> MatrixErrors::common() const {
  std::vector<colour::SourceId> ids;
  for (const auto& row : errors_.row)
    for (const auto& entry : row) ids.push_back(entry.terms().front().source);
  if (!fits()) ids.insert(ids.end(), of_greys_.begin(), of_greys_.end());
  return ids;
}

std::array<Uncertain, 3> MatrixErrors::at(const std::array<double, 3>& light, bool grey, colour::Sources& sources) {
  auto out = errors_ * (inverse_ * light);
  if (fits()) return out;
  const auto ids = grey ? of_greys_ : new_misfit(sources);
  const double sum = std::fabs(light[0] + light[1] + light[2]);
  for (std::size_t i = 0; i < 3; ++i) out[i] += Uncertain(0, ids[i], sum);
  return out;
}

}  // namespace provenit::evaluation
