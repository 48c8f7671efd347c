#include "provenit/correct/limiter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "state.h"

namespace provenit::correct {
namespace {

struct Pool {
  double value = 0, weight = 0;
  int count = 0;
};

/// Pool adjacent violators: the nearest sequence, by weight, that never rises.
std::vector<double> never_rising(const std::vector<double>& values, const std::vector<double>& weights) {
  std::vector<Pool> pools;
  for (std::size_t i = 0; i < values.size(); ++i) {
    pools.push_back({values[i], weights[i], 1});
    while (pools.size() > 1 && pools.back().value > pools[pools.size() - 2].value) {
      const Pool last = pools.back();
      pools.pop_back();
      Pool& before = pools.back();
      before.value = (before.value * before.weight + last.value * last.weight) / (before.weight + last.weight);
      before.weight += last.weight;
      before.count += last.count;
    }
  }
  std::vector<double> out;
  for (const auto& p : pools) out.insert(out.end(), static_cast<std::size_t>(p.count), p.value);
  return out;
}

tl::unexpected<Error> refuse(const WindowReading& w, const std::string& what) {
  return fail(ErrorCode::invalid_input, fmt::format("{}: {}", w.name, what), "Read this window again.",
              {.field = w.name});
}

}  // namespace

Result<LimiterCurve> LimiterCurve::fit(std::span<const WindowReading> windows) {
  std::map<double, Pool> areas;
  constexpr double kLeastRelative = 1e-3;  // so that one lucky pair of readings does not count for all
  for (const auto& w : windows) {
    if (!std::isfinite(w.luminance.cdm2) || !std::isfinite(w.standard_uncertainty_cdm2) ||
        !std::isfinite(w.area_percent))
      return refuse(w, "a number is not finite");
    if (!(w.area_percent > 0 && w.area_percent <= 100))
      return refuse(w, fmt::format("{} % is no area of a window", w.area_percent));
    if (!(w.luminance.cdm2 > 0)) return refuse(w, "white gave no light");
    const double sd = std::max(w.standard_uncertainty_cdm2, kLeastRelative * w.luminance.cdm2);
    Pool& p = areas[w.area_percent];
    const double weight = 1 / (sd * sd);
    p.value = (p.value * p.weight + w.luminance.cdm2 * weight) / (p.weight + weight);
    p.weight += weight;
  }
  if (areas.size() < 2)
    return fail(ErrorCode::invalid_input, "a limiter's curve needs white windows of at least two areas",
                "Run the procedure window_peak.");
  std::vector<double> values, weights;
  LimiterCurve out;
  for (const auto& [area, p] : areas) {
    out.load_.push_back(area / 100);
    values.push_back(p.value);
    weights.push_back(p.weight);
  }
  values = never_rising(values, weights);
  const double most = values.front();
  for (std::size_t i = 0; i < values.size(); ++i) {
    out.cap_.push_back(values[i] / most);
    out.sd_.push_back(1 / std::sqrt(weights[i]) / most);
  }
  // Harmonic means of neighbouring slopes keep the cubic from rising.
  out.slope_.assign(values.size(), 0);
  for (std::size_t i = 1; i + 1 < values.size(); ++i) {
    const double h0 = std::log(out.load_[i] / out.load_[i - 1]), h1 = std::log(out.load_[i + 1] / out.load_[i]);
    const double d0 = (out.cap_[i] - out.cap_[i - 1]) / h0, d1 = (out.cap_[i + 1] - out.cap_[i]) / h1;
    if (d0 * d1 > 0) out.slope_[i] = 3 * (h0 + h1) / ((2 * h1 + h0) / d0 + (h1 + 2 * h0) / d1);
  }
  return out;
}

double LimiterCurve::cap(double load) const {
  if (load <= load_.front()) return cap_.front();
  if (load >= load_.back()) return cap_.back();
  const auto i = static_cast<std::size_t>(std::ranges::upper_bound(load_, load) - load_.begin()) - 1;
  const double h = std::log(load_[i + 1] / load_[i]), t = std::log(load / load_[i]) / h, rest = 1 - t;
  return cap_[i] * (1 + 2 * t) * rest * rest + slope_[i] * h * t * rest * rest + cap_[i + 1] * t * t * (3 - 2 * t) -
         slope_[i + 1] * h * t * t * rest;
}

double LimiterCurve::uncertainty(double load) const {
  const auto next = std::ranges::lower_bound(load_, load);
  if (next == load_.end()) return sd_.back();
  const auto i = static_cast<std::size_t>(next - load_.begin());
  return i == 0 ? sd_.front() : std::max(sd_[i], sd_[i - 1]);
}

colour::AbsoluteXyz<> limited_light(const DisplayModel& model, const LimiterCurve& limiter,
                                    const colour::SignalRgb<>& signal, double area_percent) {
  const DisplayModel::State& s = model.state();
  const auto& physics = s.fit.physics;
  model::Vector drive = physics.drive(s.container_light(signal));
  const double most = std::max({drive[0], drive[1], drive[2]}), top = physics.start().top_cdm2;
  double mean = 0;
  for (int c = 0; c < 3; ++c) mean += std::min(model::light_of(physics.lit(c, drive[c], most)) / top, 1.0) / 3;
  const double cap = limiter.cap(area_percent / 100 * mean) / limiter.cap(limiter.smallest_load());
  const model::Vector ends = physics.drives_of({cap * top, cap * top, cap * top});
  for (int c = 0; c < 3; ++c) drive[c] = std::min(drive[c], ends[c]);
  const model::Vector xyz = physics.xyz(drive, {1, 1, 1});
  return {.X = xyz[0], .Y = xyz[1], .Z = xyz[2]};
}

}  // namespace provenit::correct
