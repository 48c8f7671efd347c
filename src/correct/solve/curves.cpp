#include "curves.h"

#include <fmt/format.h>
#include <tbb/parallel_for.h>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/correct/patch_choice.h"

namespace provenit::correct::solving {
namespace {

/// Linear light over the peak, of a number of the goal's input, and back. Light beyond the peak counts as the peak.
struct Linear {
  explicit Linear(const Goal& goal) : light(goal.input()), peak(goal.peak().cdm2) {}
  [[nodiscard]] double of(double number) const {
    // Of greys, any channel has it, whatever the container.
    return std::clamp(light.of({number, number, number}).g / peak, 0.0, 1.0);
  }
  [[nodiscard]] double number(double linear) const {
    const double l = std::clamp(linear, 0.0, 1.0) * peak;
    return light.numbers({.r = l, .g = l, .b = l})[1];
  }
  TableLight light;
  double peak;
};

double between(const std::vector<double>& table, double at) {
  const double x = std::clamp(at, 0.0, 1.0) * static_cast<double>(table.size() - 1);
  const auto i = std::min(static_cast<std::size_t>(x), table.size() - 2);
  return table[i] + (x - static_cast<double>(i)) * (table[i + 1] - table[i]);
}

colour::Vector3<> itp_of(const colour::AbsoluteXyz<>& xyz) {
  const auto itp = colour::itp_from_xyz(xyz);
  return {itp.i, itp.t, itp.p};
}

/// The display behind a matrix in linear light and the curves of the greys.
class MatrixFit {
 public:
  MatrixFit(const Goal& goal, const Lut1d& greys) : goal_(goal), greys_(greys), linear_(goal) {}

  /// Rows sum to 1, so that greys stay grey: six numbers off the diagonal.
  static colour::Matrix3<> matrix_of(const Eigen::Matrix<double, 6, 1>& p) {
    colour::Matrix3<> m;
    int k = 0;
    for (int i = 0; i < 3; ++i) {
      m(i, i) = 1;
      for (int j = 0; j < 3; ++j) {
        if (i == j) continue;
        m(i, j) = p[k++];
        m(i, i) -= m(i, j);
      }
    }
    return m;
  }
  [[nodiscard]] colour::AbsoluteXyz<> light(const Triple& numbers, const colour::Matrix3<>& m) const {
    const Triple mixed = m * Triple{linear_.of(numbers[0]), linear_.of(numbers[1]), linear_.of(numbers[2])};
    const auto& values = goal_.output();
    Triple out{};
    for (std::size_t c = 0; c < 3; ++c) out[c] = between(greys_.channel[c], linear_.number(mixed[c]));
    return goal_.model().light({.r = signal_of(values, out[0]).value,
                                .g = signal_of(values, out[1]).value,
                                .b = signal_of(values, out[2]).value});
  }

  [[nodiscard]] colour::Matrix3<> solved() const {
    constexpr int kColours = 300, kRounds = 8;
    constexpr double kStep = 1e-4;
    std::vector<std::pair<Triple, colour::Vector3<>>> colours;
    for (const auto& s : target_signals(goal_.goal().input, goal_.goal().primaries, goal_.peak(), kColours)) {
      bool mapped = false;
      const Triple numbers = goal_.numbers(s);
      const auto want = goal_.asked(numbers, &mapped);
      if (!mapped) colours.emplace_back(numbers, itp_of(want));
    }
    Eigen::Matrix<double, 6, 1> p = Eigen::Matrix<double, 6, 1>::Zero();
    for (int round = 0; round < kRounds; ++round) {
      Eigen::Matrix<double, 6, 6> normal = 1e-9 * Eigen::Matrix<double, 6, 6>::Identity();
      Eigen::Matrix<double, 6, 1> right = Eigen::Matrix<double, 6, 1>::Zero();
      for (const auto& [numbers, want] : colours) {
        const auto here = itp_of(light(numbers, matrix_of(p)));
        Eigen::Matrix<double, 3, 6> slope;
        Eigen::Vector3d off;
        for (int k = 0; k < 3; ++k) off[k] = want[k] - here[k];
        for (int j = 0; j < 6; ++j) {
          auto moved = p;
          moved[j] += kStep;
          const auto there = itp_of(light(numbers, matrix_of(moved)));
          for (int k = 0; k < 3; ++k) slope(k, j) = (there[k] - here[k]) / kStep;
        }
        normal += slope.transpose() * slope;
        right += slope.transpose() * off;
      }
      const Eigen::Matrix<double, 6, 1> change = normal.ldlt().solve(right);
      p += change;
      if (change.norm() < 1e-7) break;
    }
    return matrix_of(p);
  }

 private:
  const Goal& goal_;
  const Lut1d& greys_;
  Linear linear_;
};

}  // namespace

Lut1d grey_curves(const Goal& goal, int entries) {
  Lut1d table = identity_1d(entries);
  tbb::parallel_for(0, entries, [&](int i) {
    const double x = static_cast<double>(i) / (entries - 1);
    const Triple numbers = goal.solved({x, x, x}).numbers;
    for (std::size_t c = 0; c < 3; ++c) table.channel[c][static_cast<std::size_t>(i)] = numbers[c];
  });
  // Beyond the peak, and where noise of the readings has its way near black, a curve must not turn back.
  for (auto& channel : table.channel)
    for (std::size_t i = 1; i < channel.size(); ++i) channel[i] = std::max(channel[i], channel[i - 1]);
  return table;
}

std::vector<Stage> curves_and_matrix(const Goal& goal, int entries) {
  const Lut1d greys = grey_curves(goal, std::max(entries, 1024));
  const colour::Matrix3<> matrix = MatrixFit(goal, greys).solved();
  const Linear linear(goal);
  Lut1d in = identity_1d(entries), out = identity_1d(entries);
  for (int i = 0; i < entries; ++i) {
    const double x = static_cast<double>(i) / (entries - 1);
    const auto at = static_cast<std::size_t>(i);
    for (std::size_t c = 0; c < 3; ++c) {
      in.channel[c][at] = linear.of(x);
      out.channel[c][at] = between(greys.channel[c], linear.number(x));
    }
  }
  return {in, Affine{.matrix = matrix}, out};
}

}  // namespace provenit::correct::solving
