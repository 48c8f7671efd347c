#pragma once
// A smooth course through readings at rising places or times.
#include <cstddef>
#include <vector>

namespace provenit::evaluation {

/// Monotone between neighbouring points, with a continuous slope: cubic Hermite, inner slopes by the weighted harmonic
/// mean, end slopes by the parabola through three points, kept from turning. Two points: a straight line.
/// source  Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300 (from memory)
class Course {
 public:
  /// At least two points; `at` strictly rising.
  Course(std::vector<double> at, std::vector<double> value);
  /// Where between points i and i + 1 it passes `level`; one of the two is at or above it, the other at or below.
  [[nodiscard]] double crossing(std::size_t i, double level) const;

 private:
  [[nodiscard]] double value_at(std::size_t i, double share) const;

  std::vector<double> at_, value_, slope_;
};

}  // namespace provenit::evaluation
