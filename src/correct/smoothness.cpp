#include "provenit/correct/smoothness.h"

#include <algorithm>
#include <cmath>

namespace provenit::correct {
namespace {

class Sum {
 public:
  void second(double before, double at, double after) {
    const double d = std::fabs(before - 2 * at + after);
    result_.largest = std::max(result_.largest, d);
    squares_ += d * d;
    ++count_;
  }
  void grey(double before, double at, double after) {
    result_.largest_on_greys = std::max(result_.largest_on_greys, std::fabs(before - 2 * at + after));
  }
  void step(double from, double to) { result_.falling_steps += to < from ? 1 : 0; }
  [[nodiscard]] Smoothness result() const {
    Smoothness r = result_;
    if (count_ > 0) r.root_mean_square = std::sqrt(squares_ / static_cast<double>(count_));
    return r;
  }

 private:
  Smoothness result_;
  double squares_ = 0;
  long long count_ = 0;
};

}  // namespace

Smoothness smoothness(const Lut1d& table) {
  Sum sum;
  for (const auto& curve : table.channel)
    for (std::size_t i = 1; i < curve.size(); ++i) {
      sum.step(curve[i - 1], curve[i]);
      if (i + 1 < curve.size()) sum.second(curve[i - 1], curve[i], curve[i + 1]);
    }
  return sum.result();
}

Smoothness smoothness(const Lut3d& table) {
  Sum sum;
  const int n = table.size;
  const std::size_t stride[3] = {static_cast<std::size_t>(n) * n, static_cast<std::size_t>(n), 1};
  for (std::size_t axis = 0; axis < 3; ++axis)
    for (std::size_t at = 0; at < table.nodes.size(); ++at) {
      const auto place = static_cast<int>(at / stride[axis]) % n;
      if (place == 0) continue;
      const Triple &before = table.nodes[at - stride[axis]], &here = table.nodes[at];
      sum.step(before[axis], here[axis]);
      if (place + 1 == n) continue;
      const Triple& after = table.nodes[at + stride[axis]];
      for (std::size_t c = 0; c < 3; ++c) sum.second(before[c], here[c], after[c]);
    }
  for (int i = 1; i + 1 < n; ++i)
    for (std::size_t c = 0; c < 3; ++c)
      sum.grey(table.node(i - 1, i - 1, i - 1)[c], table.node(i, i, i)[c], table.node(i + 1, i + 1, i + 1)[c]);
  return sum.result();
}

}  // namespace provenit::correct
