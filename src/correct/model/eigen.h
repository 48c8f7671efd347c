#pragma once
// Small matrices of the project as Eigen's, and back.
#include <Eigen/Core>

#include "provenit/colour/matrix3.h"

namespace provenit::correct::model {

[[nodiscard]] inline Eigen::Vector3d eigen_of(const colour::Vector3<>& v) {
  return {v[0], v[1], v[2]};
}
[[nodiscard]] inline Eigen::Matrix3d eigen_of(const colour::Matrix3<>& m) {
  Eigen::Matrix3d out;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) out(i, j) = m(i, j);
  return out;
}
[[nodiscard]] inline colour::Matrix3<> matrix_of(const Eigen::Matrix3d& m) {
  colour::Matrix3<> out;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) out(i, j) = m(i, j);
  return out;
}

}  // namespace provenit::correct::model
