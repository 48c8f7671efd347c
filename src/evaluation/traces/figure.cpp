#include "traces/figure.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace provenit::evaluation {

Figure figure_of(double value, const std::vector<std::pair<std::string, double>>& parts, double degrees_of_freedom) {
  Figure f{.value = value};
  double variance = 0;
  for (const auto& [name, u] : parts) variance += u * u;
  f.standard_uncertainty = std::sqrt(variance);
  const double first = parts.empty() ? 0 : parts.front().second;
  // u^4 / (u_1^4 / nu_1): the others are known without end.
  const double dof = first > 0 ? degrees_of_freedom * std::pow(f.standard_uncertainty / first, 4)
                               : std::numeric_limits<double>::infinity();
  const double reach = colour::student_factor(dof) * f.standard_uncertainty;
  f.interval = {value - reach, value + reach};
  f.interval_method = "linear, t-factor (JCGM 100 G.4)";
  for (const auto& [name, u] : parts)
    if (variance > 0 && u > 0) f.variance.push_back({name, u * u / variance});
  std::ranges::stable_sort(f.variance, std::greater{}, &Figure::Share::fraction);
  return f;
}

Figure mean_figure(std::span<const double> values, const std::vector<std::pair<std::string, double>>& common,
                   const std::string& repeat_name) {
  const auto n = static_cast<double>(values.size());
  std::vector<std::pair<std::string, double>> parts{
      {repeat_name, colour::standard_deviation(values) / std::sqrt(std::max(1.0, n))}};
  parts.insert(parts.end(), common.begin(), common.end());
  return figure_of(colour::mean(values), parts, n - 1);
}

namespace {

/// Running means over 2 half + 1 samples, fewer at the ends.
std::vector<double> smoothed(std::span<const double> values, std::size_t half) {
  std::vector<double> sum(values.size() + 1, 0.0), out(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) sum[i + 1] = sum[i] + values[i];
  for (std::size_t i = 0; i < values.size(); ++i) {
    const std::size_t from = i < half ? 0 : i - half, to = std::min(values.size(), i + half + 1);
    out[i] = (sum[to] - sum[from]) / static_cast<double>(to - from);
  }
  return out;
}

double mean_of(std::span<const double> values, std::size_t from, std::size_t to) {
  return colour::mean(values.subspan(from, std::max<std::size_t>(1, to - from)));
}

/// Ends of the states low and high: where the light passes 30 % going down or 70 % going up.
struct State {
  bool high = false;
  std::size_t from = 0, to = 0;
};
/// Where it has come to rest and the next edge has not begun.
double level_of(std::span<const double> values, const State& s) {
  return mean_of(values, s.from + (s.to - s.from) * 75 / 100, s.from + (s.to - s.from) * 92 / 100);
}
std::vector<State> states_of(const std::vector<double>& values, double low, double high) {
  std::vector<State> states;
  const double down = low + 0.3 * (high - low), up = low + 0.7 * (high - low);
  bool is_high = values.front() > 0.5 * (low + high);
  std::size_t from = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (is_high ? values[i] >= down : values[i] <= up) continue;
    states.push_back({is_high, from, i});
    is_high = !is_high;
    from = i;
  }
  states.push_back({is_high, from, values.size()});
  return states;
}

}  // namespace

std::vector<Edge> find_edges(std::span<const double> values) {
  if (values.size() < 16) return {};
  std::vector<double> sorted(values.begin(), values.end());
  std::ranges::sort(sorted);
  const double low = colour::quantile(sorted, 0.03), high = colour::quantile(sorted, 0.97);
  // Noise from differences of neighbours; smoothing until it is a twentieth of the step.
  std::vector<double> steps;
  for (std::size_t i = 1; i < values.size(); ++i) steps.push_back(std::fabs(values[i] - values[i - 1]));
  std::ranges::sort(steps);
  const double noise = 1.4826 * colour::quantile(steps, 0.5) / std::sqrt(2.0);
  if (!(high - low > 4 * noise)) return {};
  const double wanted = std::pow(20 * noise / (high - low), 2);
  const auto half = static_cast<std::size_t>(std::min(std::ceil(wanted), static_cast<double>(values.size()) / 200));
  const auto smooth = smoothed(values, half);
  const auto states = states_of(smooth, low, high);
  std::vector<Edge> edges;
  const auto usual = [&](bool state_high) {
    std::vector<double> lengths;
    for (const auto& s : states)
      if (s.high == state_high) lengths.push_back(static_cast<double>(s.to - s.from));
    std::ranges::sort(lengths);
    return colour::quantile(lengths, 0.5);
  };
  const double usual_low = usual(false), usual_high = usual(true);
  for (std::size_t k = 1; k < states.size(); ++k) {
    const auto &a = states[k - 1], &b = states[k];
    // A state that the recording cuts short has not come to rest.
    if (static_cast<double>(b.to - b.from) < 0.5 * (b.high ? usual_high : usual_low)) continue;
    Edge edge{.rising = b.high, .from = (a.from + a.to) / 2, .to = (b.from + b.to) / 2, .until = b.to - 1};
    edge.before = level_of(values, a);
    edge.after = level_of(values, b);
    // A wave has no levels: in the middle of its states it is elsewhere than near their end.
    const double half_way = mean_of(values, b.from + (b.to - b.from) * 45 / 100, b.from + (b.to - b.from) * 55 / 100);
    if (std::fabs(half_way - edge.after) > 0.25 * std::fabs(edge.after - edge.before)) continue;
    const double middle = 0.5 * (edge.before + edge.after);
    edge.crossing = edge.from;
    for (std::size_t i = edge.from; i <= edge.to; ++i)
      if (edge.rising ? smooth[i] >= middle : smooth[i] <= middle) {
        edge.crossing = i;
        break;
      }
    edges.push_back(edge);
  }
  return edges;
}

namespace {

/// y = a + b u + c u^2 by least squares over [at - h, at + h], u in units of h; nullopt where the samples end sooner.
struct Parabola {
  double a = 0, b = 0, c = 0;
};
std::optional<Parabola> parabola(std::span<const double> values, std::ptrdiff_t at, std::ptrdiff_t h) {
  if (at < h || at + h >= static_cast<std::ptrdiff_t>(values.size())) return std::nullopt;
  double s[5] = {}, m[3] = {};
  for (std::ptrdiff_t i = -h; i <= h; ++i) {
    const double u = static_cast<double>(i) / static_cast<double>(h);
    const double y = values[static_cast<std::size_t>(at + i)];
    double power = 1;
    for (int k = 0; k < 5; ++k, power *= u) {
      s[k] += power;
      if (k < 3) m[k] += power * y;
    }
  }
  // Odd sums vanish by symmetry.
  const double det = s[0] * s[4] - s[2] * s[2];
  return Parabola{(m[0] * s[4] - m[2] * s[2]) / det, m[1] / s[2], (m[2] * s[0] - m[0] * s[2]) / det};
}

}  // namespace

LocalFit local_fit(std::span<const double> values, double at, std::size_t half_width) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  if (!(at >= 0 && at < static_cast<double>(values.size()))) return {nan, nan};
  const auto h = static_cast<std::ptrdiff_t>(std::max<std::size_t>(2, half_width));
  const auto middle = static_cast<std::ptrdiff_t>(std::llround(at));
  const auto fit = parabola(values, middle, h);
  if (!fit) return {nan, nan};
  const double u = (at - static_cast<double>(middle)) / static_cast<double>(h);
  return {fit->a + fit->b * u + fit->c * u * u, (fit->b + 2 * fit->c * u) / static_cast<double>(h)};
}

double crossing_time(std::span<const double> values, const Edge& edge, double share, std::size_t half_width) {
  const double level = edge.before + share * (edge.after - edge.before);
  const double sign = edge.rising ? 1 : -1;
  const auto smooth =
      smoothed(values.subspan(edge.from, edge.to - edge.from + 1), std::max<std::size_t>(1, half_width / 2));
  const auto middle = static_cast<std::ptrdiff_t>(edge.crossing - edge.from);
  const auto size = static_cast<std::ptrdiff_t>(smooth.size());
  // Outwards from half way: the last place below the level, or the first above it.
  std::ptrdiff_t at = std::clamp<std::ptrdiff_t>(middle, 0, size - 1);
  const auto above = [&](std::ptrdiff_t i) { return sign * (smooth[static_cast<std::size_t>(i)] - level) >= 0; };
  if (share <= 0.5)
    while (at > 0 && above(at)) --at;
  else
    while (at < size - 1 && !above(at)) ++at;
  const auto h = static_cast<std::ptrdiff_t>(std::max<std::size_t>(1, half_width));
  const auto fit = parabola(values, at + static_cast<std::ptrdiff_t>(edge.from), h);
  if (!fit) return std::numeric_limits<double>::quiet_NaN();
  const double a = fit->a - level, b = fit->b, c = fit->c;
  double u = b != 0 ? -a / b : 0;
  for (int k = 0; k < 20; ++k) {
    const double slope = b + 2 * c * u;
    if (slope == 0) break;
    const double step = (a + b * u + c * u * u) / slope;
    u -= step;
    if (std::fabs(step) < 1e-12) break;
  }
  if (!(std::fabs(u) <= 2)) return std::numeric_limits<double>::quiet_NaN();
  return static_cast<double>(at + static_cast<std::ptrdiff_t>(edge.from)) + u * static_cast<double>(h);
}

}  // namespace provenit::evaluation
