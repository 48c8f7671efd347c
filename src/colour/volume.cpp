#include "provenit/colour/volume.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace provenit::colour {
namespace {

/// Adds one face, `axis` held at `at`, its n x n samples on the other two axes, corners anticlockwise from outside.
class SurfaceBuilder {
 public:
  explicit SurfaceBuilder(int n) : n_(n) {}

  void add_face(int axis, int at) {
    for (int i = 0; i + 1 < n_; ++i)
      for (int j = 0; j + 1 < n_; ++j) {
        const int a = vertex(axis, at, i, j), b = vertex(axis, at, i + 1, j);
        const int c = vertex(axis, at, i + 1, j + 1), d = vertex(axis, at, i, j + 1);
        add_triangle(at, a, b, c);
        add_triangle(at, a, c, d);
      }
  }
  Solid<> take() { return std::move(solid_); }

 private:
  int vertex(int axis, int at, int i, int j) {
    std::array<int, 3> key{};
    key[axis] = at * (n_ - 1);
    key[(axis + 1) % 3] = i;
    key[(axis + 2) % 3] = j;
    const auto [place, fresh] = index_.try_emplace(key, static_cast<int>(solid_.vertices.size()));
    if (fresh) {
      const double last = n_ - 1;
      solid_.vertices.push_back({key[0] / last, key[1] / last, key[2] / last});
    }
    return place->second;
  }
  void add_triangle(int at, int a, int b, int c) {
    solid_.triangles.push_back(at == 1 ? std::array{a, b, c} : std::array{a, c, b});
  }

  int n_;
  std::map<std::array<int, 3>, int> index_;
  Solid<> solid_;
};

/// The columns: point (i, j) of a regular grid over the second and third axis.
struct Grid {
  double low[2] = {0, 0}, step[2] = {0, 0};
  int n = 0;
  [[nodiscard]] double at(int axis, int i) const { return low[axis] + (i + 0.5) * step[axis]; }
  /// First grid index at or above x.
  [[nodiscard]] int from(int axis, double x) const {
    return static_cast<int>(std::clamp(std::ceil((x - low[axis]) / step[axis] - 0.5), 0.0, static_cast<double>(n)));
  }
};

Grid grid_over(const Solid<>& solid, int columns) {
  Grid grid{.n = columns};
  for (int axis = 0; axis < 2; ++axis) {
    const auto by_axis = [axis](const auto& p, const auto& q) { return p[axis + 1] < q[axis + 1]; };
    const auto [low, high] = std::minmax_element(solid.vertices.begin(), solid.vertices.end(), by_axis);
    grid.low[axis] = (*low)[axis + 1];
    grid.step[axis] = ((*high)[axis + 1] - grid.low[axis]) / columns;
  }
  return grid;
}

/// Which side of the edge from vertex a to vertex b the point lies on, decided so that the two triangles of an edge
/// always disagree, rounding and ties included: no column slips between them or is counted twice.
struct EdgeSide {
  double value = 0;
  bool left = false;
};
EdgeSide side_of(const Solid<>& solid, int a, int b, double x, double y) {
  const bool swapped = b < a;
  if (swapped) std::swap(a, b);
  const auto &p = solid.vertices[a], &q = solid.vertices[b];
  const double value = (q[1] - p[1]) * (y - p[2]) - (q[2] - p[2]) * (x - p[1]);
  return {swapped ? -value : value, (value >= 0) != swapped};
}

/// Where a column crosses the surface.
struct Crossing {
  int column = 0;
  double height = 0;
  friend auto operator<=>(const Crossing&, const Crossing&) = default;
};

void add_crossings(const Solid<>& solid, const std::array<int, 3>& t, const Grid& grid, std::vector<Crossing>& out) {
  double low[2], high[2];
  for (int axis = 0; axis < 2; ++axis) {
    const auto [least, most] =
        std::minmax({solid.vertices[t[0]][axis + 1], solid.vertices[t[1]][axis + 1], solid.vertices[t[2]][axis + 1]});
    low[axis] = least;
    high[axis] = most;
  }
  for (int i = grid.from(0, low[0]); i < grid.n && grid.at(0, i) <= high[0]; ++i)
    for (int j = grid.from(1, low[1]); j < grid.n && grid.at(1, j) <= high[1]; ++j) {
      const double x = grid.at(0, i), y = grid.at(1, j);
      const auto a = side_of(solid, t[1], t[2], x, y), b = side_of(solid, t[2], t[0], x, y),
                 c = side_of(solid, t[0], t[1], x, y);
      if (a.left != b.left || b.left != c.left) continue;
      const double sum = a.value + b.value + c.value;
      if (sum == 0) continue;
      const double height =
          (a.value * solid.vertices[t[0]][0] + b.value * solid.vertices[t[1]][0] + c.value * solid.vertices[t[2]][0]) /
          sum;
      out.push_back({i * grid.n + j, height});
    }
}

std::vector<Crossing> crossings_of(const Solid<>& solid, const Grid& grid) {
  std::vector<Crossing> out;
  for (const auto& t : solid.triangles) add_crossings(solid, t, grid, out);
  std::sort(out.begin(), out.end());
  return out;
}

/// Walks the crossings of one column from below; inside between the odd and the even ones.
class Column {
 public:
  Column(const std::vector<Crossing>& all, std::size_t& position, int column) {
    while (position < all.size() && all[position].column < column) ++position;
    first_ = position;
    while (position < all.size() && all[position].column == column) ++position;
    all_ = &all;
    count_ = position - first_;
  }
  [[nodiscard]] std::size_t pairs() const { return count_ / 2; }
  [[nodiscard]] std::pair<double, double> pair(std::size_t i) const {
    return {(*all_)[first_ + 2 * i].height, (*all_)[first_ + 2 * i + 1].height};
  }
  [[nodiscard]] double length() const {
    double sum = 0;
    for (std::size_t i = 0; i < pairs(); ++i) sum += pair(i).second - pair(i).first;
    return sum;
  }

 private:
  const std::vector<Crossing>* all_ = nullptr;
  std::size_t first_ = 0, count_ = 0;
};

double common_length(const Column& a, const Column& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.pairs(); ++i)
    for (std::size_t j = 0; j < b.pairs(); ++j) {
      const auto [a0, a1] = a.pair(i);
      const auto [b0, b1] = b.pair(j);
      sum += std::max(0.0, std::min(a1, b1) - std::max(a0, b0));
    }
  return sum;
}

}  // namespace

Solid<> rgb_cube_surface(int n) {
  SurfaceBuilder builder(std::max(n, 2));
  for (int axis = 0; axis < 3; ++axis)
    for (int at = 0; at < 2; ++at) builder.add_face(axis, at);
  return builder.take();
}

Overlap volume_overlap(const Solid<>& test, const Solid<>& reference, int columns) {
  const Grid grid = grid_over(reference, std::max(columns, 1));
  const auto a = crossings_of(test, grid), b = crossings_of(reference, grid);
  std::size_t at_a = 0, at_b = 0;
  Overlap sum;
  for (int column = 0; column < grid.n * grid.n; ++column) {
    const Column in_test(a, at_a, column), in_reference(b, at_b, column);
    sum.test += in_test.length();
    sum.reference += in_reference.length();
    sum.both += common_length(in_test, in_reference);
  }
  const double cell = grid.step[0] * grid.step[1];
  return {sum.test * cell, sum.reference * cell, sum.both * cell};
}

}  // namespace provenit::colour
