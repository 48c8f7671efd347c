#include "provenit/simulated/trace.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>
#include <random>

namespace provenit::simulated {
namespace {

double overlap(double a0, double a1, double b0, double b1) {
  return std::max(0.0, std::min(a1, b1) - std::max(a0, b0));
}

/// Light of a zone at a place: Gaussian core, wide halo, both in zone heights. `aspect`: of a zone.
double zone_spread(const Zones& zones, double aspect, int column, int row, double x, double y) {
  const double dx = (column + 0.5 - x * zones.columns) * aspect, dy = row + 0.5 - y * zones.rows;
  const double d = std::hypot(dx, dy), s = zones.spread_zones, h = zones.halo_zones;
  return (1 - zones.halo_share) * aspect * std::exp(-d * d / (2 * s * s)) / (2 * std::numbers::pi * s * s) +
         zones.halo_share * aspect * std::exp(-d / h) / (2 * std::numbers::pi * h * h);
}

double zone_aspect(const DisplayPhysics& physics) {
  return physics.aspect * physics.zones->rows / physics.zones->columns;
}

/// Zones under a walking box. Lengths in shares of the picture.
class Walker {
 public:
  Walker(const DisplayPhysics& physics, const BoxWalk& walk, const SensorView& view)
      : zones_(*physics.zones), walk_(walk), masked_(view.box_masked), leakage_(view.leakage) {
    const auto n = static_cast<std::size_t>(zones_.columns) * static_cast<std::size_t>(zones_.rows);
    level_.assign(n, zones_.minimum_drive);
    target_ = level_;
    aspect_ = zone_aspect(physics);
    double sum = 0;
    for (int row = 0; row < zones_.rows; ++row)
      for (int column = 0; column < zones_.columns; ++column) {
        const double at = view.place ? spread(column, row, (*view.place)[0], (*view.place)[1]) : 1;
        weight_.push_back(at);
        sum += at;
      }
    for (double& w : weight_) w /= view.place ? 1 : sum;
    box_seen_ = view.place ? 0 : 1;
  }

  [[nodiscard]] std::vector<double> levels(double t) {
    while (next_s_ <= t) begin_frame();
    const double since = t - frame_s_;
    const double rise = std::exp(-since / zones_.rise_s), fall = std::exp(-since / zones_.fall_s);
    auto out = target_;
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] += (level_[i] - target_[i]) * (target_[i] > level_[i] ? rise : fall);
    return out;
  }

  double operator()(double t) {
    while (next_s_ <= t) begin_frame();
    const double since = t - frame_s_;
    return still_ + rising_ * std::exp(-since / zones_.rise_s) + falling_ * std::exp(-since / zones_.fall_s);
  }

 private:
  [[nodiscard]] double spread(int column, int row, double x, double y) const {
    return zone_spread(zones_, aspect_, column, row, x, y);
  }

  void begin_frame() {
    // Let the zones move until now.
    const double span = next_s_ - frame_s_;
    for (std::size_t i = 0; i < level_.size(); ++i) {
      const double tau = target_[i] > level_[i] ? zones_.rise_s : zones_.fall_s;
      level_[i] = target_[i] + (level_[i] - target_[i]) * std::exp(-span / tau);
    }
    frame_s_ = next_s_;
    const int frame = frame_++;
    const bool shown = frame >= 0 && frame < walk_.frames();
    next_s_ = frame < 0 ? walk_.black_before_s : frame < walk_.frames() ? frame_s_ + walk_.frame_s : 1e300;
    if (frame < 0) frame_ = 0;
    drive(shown ? frame : -1);
    weigh(shown ? frame : -1);
  }

  /// Box of the frame in zones: x from, to, y from, to.
  [[nodiscard]] std::array<double, 4> box(int frame) const {
    const double at = static_cast<double>(frame) * walk_.step;
    const double x = walk_.down ? 0 : at, y = walk_.down ? at : 0;
    const double w = walk_.down ? walk_.across : walk_.along, h = walk_.down ? walk_.along : walk_.across;
    const double sx = static_cast<double>(zones_.columns) / walk_.width;
    const double sy = static_cast<double>(zones_.rows) / walk_.height;
    return {x * sx, (x + w) * sx, y * sy, (y + h) * sy};
  }

  [[nodiscard]] std::size_t index_of(int column, int row) const {
    return static_cast<std::size_t>(row) * static_cast<std::size_t>(zones_.columns) + static_cast<std::size_t>(column);
  }

  void drive(int frame) {
    std::ranges::fill(target_, zones_.minimum_drive);
    if (frame < 0) return;
    const auto b = box(frame);
    const auto index = [&](int column, int row) { return index_of(column, row); };
    auto own = target_;
    for (int row = 0; row < std::min<int>(zones_.rows, static_cast<int>(std::ceil(b[3]))); ++row)
      for (int column = 0; column < zones_.columns; ++column) {
        const double share = overlap(b[0], b[1], column, column + 1) * overlap(b[2], b[3], row, row + 1);
        if (share < 1e-9) continue;
        const double demand = zones_.maximum_share + (1 - zones_.maximum_share) * share;
        own[index(column, row)] =
            zones_.minimum_drive + (1 - zones_.minimum_drive) * std::pow(demand, zones_.drive_exponent);
      }
    for (int row = 0; row < zones_.rows; ++row)
      for (int column = 0; column < zones_.columns; ++column) {
        double most = 0;
        for (int r = std::max(0, row - 1); r <= std::min(zones_.rows - 1, row + 1); ++r)
          for (int c = std::max(0, column - 1); c <= std::min(zones_.columns - 1, column + 1); ++c)
            most = std::max(most, own[index(c, r)]);
        target_[index(column, row)] = std::max(own[index(column, row)], zones_.neighbour_share * most);
      }
  }

  /// Light as still + rising e^(-t / rise) + falling e^(-t / fall) until the next frame.
  void weigh(int frame) {
    still_ = rising_ = falling_ = 0;
    double box_weight = 0;
    std::array<double, 4> b{};
    if (frame >= 0 && !masked_ && box_seen_ > 0) {
      b = box(frame);
      box_weight = (b[1] - b[0]) * (b[3] - b[2]) / (zones_.columns * zones_.rows);
    }
    for (int row = 0; row < zones_.rows; ++row)
      for (int column = 0; column < zones_.columns; ++column) {
        const auto i = index_of(column, row);
        double w = leakage_ * weight_[i];
        // The open pixels of the box show the backlight behind them.
        if (box_weight > 0)
          w +=
              box_weight * spread(column, row, 0.5 * (b[0] + b[1]) / zones_.columns, 0.5 * (b[2] + b[3]) / zones_.rows);
        still_ += w * target_[i];
        (target_[i] > level_[i] ? rising_ : falling_) += w * (level_[i] - target_[i]);
      }
  }

  Zones zones_;
  BoxWalk walk_;
  bool masked_;
  double leakage_, aspect_ = 1, box_seen_ = 1;
  std::vector<double> level_, target_, weight_;
  double frame_s_ = 0, next_s_ = 0;
  int frame_ = -1;
  double still_ = 0, rising_ = 0, falling_ = 0;
};

}  // namespace

std::vector<double> sense(const std::function<double(double)>& light, double seconds, const SensorModel& sensor) {
  constexpr int parts = 4;  // of a sample: the filter's steps
  std::mt19937_64 random(sensor.seed);
  std::normal_distribution<double> normal;
  const double step = 1 / (sensor.rate_hz * (1 + sensor.rate_error) * parts);
  const double keep = sensor.bandwidth_hz > 0 ? std::exp(-2 * std::numbers::pi * sensor.bandwidth_hz * step) : 0;
  std::vector<double> out;
  double state = light(0);
  const auto count = static_cast<std::size_t>(seconds / (step * parts));
  out.reserve(count);
  for (std::size_t i = 0; i < count; ++i) {
    out.push_back(sensor.dark + sensor.gain * (state + sensor.noise * normal(random)));
    for (int k = 1; k <= parts; ++k) {
      // Midpoint of the step, so that the filter alone delays.
      const double t = (static_cast<double>(i * parts + static_cast<std::size_t>(k)) - (keep > 0 ? 0.5 : 0)) * step;
      if (keep > 0 || k == parts) state = keep * state + (1 - keep) * light(t);
    }
  }
  return out;
}

std::function<std::vector<double>(double)> walk_levels(const DisplayPhysics& physics, const BoxWalk& walk) {
  auto walker = std::make_shared<Walker>(physics, walk, SensorView{});
  return [walker](double t) { return walker->levels(t); };
}

double zone_light_at(const DisplayPhysics& physics, int column, int row, double x, double y) {
  return zone_spread(*physics.zones, zone_aspect(physics), column, row, x, y);
}

std::function<double(double)> walk_light(const DisplayPhysics& physics, const BoxWalk& walk, const SensorView& view) {
  auto walker = std::make_shared<Walker>(physics, walk, view);
  return [walker](double t) { return (*walker)(t); };
}

}  // namespace provenit::simulated
