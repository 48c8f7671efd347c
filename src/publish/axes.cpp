#include "axes.h"

#include <algorithm>
#include <cmath>

#include "words.h"

namespace provenit::publish {

double Scale::operator()(double value) const {
  const double v = std::clamp(value, low, high);
  const double share = logarithmic ? std::log(v / low) / std::log(high / low) : (v - low) / (high - low);
  return from + share * (to - from);
}

double round_up(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0})
    if (step * power >= value * (1 - 1e-9)) return step * power;
  return 10 * power;
}

std::vector<Tick> even_ticks(double low, double high, int count) {
  const double rough = (high - low) / count;
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  double step = 10 * power;
  for (const double s : {1.0, 2.0, 2.5, 5.0})
    if (s * power >= rough * (1 - 1e-9)) {
      step = s * power;
      break;
    }
  std::vector<Tick> out;
  const double first = std::ceil(low / step - 1e-9), last = std::floor(high / step + 1e-9);
  for (double k = first; k <= last; ++k) out.push_back({k * step, given_text(k * step)});
  return out;
}

std::vector<Tick> decade_ticks(double low, double high) {
  std::vector<Tick> out;
  const bool fine = std::log10(high / low) < 2.2;
  for (int e = static_cast<int>(std::floor(std::log10(low))); std::pow(10.0, e) <= high; ++e)
    for (const double s : {1.0, 2.0, 5.0}) {
      const double value = s * std::pow(10.0, e);
      if ((s == 1 || fine) && value >= low * (1 - 1e-9) && value <= high * (1 + 1e-9))
        out.push_back({value, given_text(value), s == 1});
    }
  return out;
}

void draw_left_axis(Drawing& d, const Box& plot, const Scale& scale, const std::vector<Tick>& ticks, bool labelled) {
  double last = 1e9;
  for (const auto& tick : ticks) {
    const double y = scale(tick.value);
    d.line("grid", {plot.left, y}, {plot.right, y});
    if (!labelled || std::abs(last - y) < 1.1 * d.text()) continue;
    d.say("tick", {plot.left - 0.5 * d.text(), y + 0.35 * d.text()}, Anchor::end, tick.label);
    last = y;
  }
}

void draw_bottom_axis(Drawing& d, const Box& plot, const Scale& scale, const std::vector<Tick>& ticks, bool labelled) {
  d.line("base", {plot.left, plot.bottom}, {plot.right, plot.bottom});
  std::vector<std::pair<double, double>> taken;
  const auto label = [&](const Tick& tick) {
    const double x = scale(tick.value), half = d.width_of(tick.label) / 2 + 0.3 * d.text();
    if (std::ranges::any_of(taken, [&](const auto& t) { return x - half < t.second && x + half > t.first; })) return;
    d.say("tick", {x, plot.bottom + 1.45 * d.text()}, Anchor::middle, tick.label);
    taken.emplace_back(x - half, x + half);
  };
  for (const auto& tick : ticks) {
    const double x = scale(tick.value);
    d.line("base", {x, plot.bottom}, {x, plot.bottom + 0.3 * d.text()});
    if (labelled && tick.first) label(tick);
  }
  for (const auto& tick : ticks)
    if (labelled && !tick.first) label(tick);
}

}  // namespace provenit::publish
