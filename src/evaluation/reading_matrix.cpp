#include "provenit/evaluation/reading_matrix.h"

#include <cmath>
#include <string>

#include "provenit/evaluation/measurement_model.h"

namespace provenit::evaluation {

std::vector<store::ReadingRecord> corrected(const ReadingMatrix& matrix,
                                            std::span<const store::ReadingRecord> readings) {
  std::vector<store::ReadingRecord> out(readings.begin(), readings.end());
  for (auto& r : out) {
    if (r.measurement.spectrum) continue;
    auto& c = r.measurement.xyz;
    const auto v = matrix.value * colour::Vector3<>{c.X, c.Y, c.Z};
    c = {.X = v[0], .Y = v[1], .Z = v[2]};
  }
  return out;
}

Result<colour::Matrix3<colour::Uncertain>> uncertain(const ReadingMatrix& matrix, colour::PoolId pool,
                                                     colour::Sources& sources) {
  constexpr std::size_t kEntries = 9;
  std::vector<colour::Source> entries;
  std::vector<double> correlation;
  const auto deviation = [&](std::size_t i) { return std::sqrt(matrix.covariance[kEntries * i + i]); };
  for (std::size_t i = 0; i < kEntries; ++i) {
    entries.push_back({.name = kColorimeterMatrix, .standard_uncertainty = deviation(i), .pool = pool});
    for (std::size_t j = 0; j < kEntries; ++j) {
      const double scale = deviation(i) * deviation(j);
      correlation.push_back(i == j ? 1 : scale > 0 ? matrix.covariance[kEntries * i + j] / scale : 0);
    }
  }
  const auto first = sources.add_correlated(entries, correlation);
  if (!first) return tl::unexpected(first.error());
  colour::Matrix3<colour::Uncertain> out;
  for (std::size_t i = 0; i < kEntries; ++i)
    out(i / 3, i % 3) = colour::Uncertain(matrix.value(i / 3, i % 3), *first + static_cast<colour::SourceId>(i));
  return out;
}

}  // namespace provenit::evaluation
