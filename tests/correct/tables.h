#pragma once
// Tables and colours to try things on: drawn, but the same each time.
#include <cmath>
#include <random>
#include <vector>

#include "provenit/correct/lut.h"

namespace provenit::correct {

class Draw {
 public:
  explicit Draw(unsigned seed) : random_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(random_() >> 11) * 0x1p-53;
  }
  Triple triple(double low = 0, double high = 1) {
    const double r = between(low, high), g = between(low, high), b = between(low, high);
    return {r, g, b};
  }
  std::vector<Triple> triples(int count, double low = 0, double high = 1) {
    std::vector<Triple> result;
    for (int i = 0; i < count; ++i) result.push_back(triple(low, high));
    return result;
  }

 private:
  std::mt19937_64 random_;
};

/// Nodes that follow no rule, so that a wrong corner or weight shows.
inline Lut3d rough_3d(int size, unsigned seed) {
  Draw draw(seed);
  Lut3d table = identity_3d(size);
  for (Triple& node : table.nodes) node = draw.triple();
  return table;
}

/// Three different rising curves with a bend.
inline Lut1d bent_1d(int size) {
  Lut1d table = identity_1d(size);
  for (std::size_t c = 0; c < 3; ++c)
    for (double& v : table.channel[c]) v = std::pow(v, 0.8 + 0.3 * static_cast<double>(c));
  return table;
}

inline Lut lut_of(std::vector<Stage> stages) {
  return {.title = "a table of the tests", .input = {}, .output = {}, .stages = std::move(stages)};
}

inline const Affine& some_matrix() {
  static const Affine a{.matrix = {.row = {{{0.9, 0.07, 0.03}, {0.02, 0.95, 0.03}, {0.01, 0.04, 0.95}}}},
                        .offset = {0.001, -0.002, 0.003}};
  return a;
}

inline double largest_difference(const Triple& a, const Triple& b) {
  return std::max({std::fabs(a[0] - b[0]), std::fabs(a[1] - b[1]), std::fabs(a[2] - b[2])});
}

}  // namespace provenit::correct
