// One quantity of every display: value and interval, one line each.
#include <algorithm>
#include <cmath>

#include "axes.h"
#include "chart.h"
#include "words.h"

namespace provenit::publish {
namespace {

/// Both ends of the axis: all intervals with a margin; from 0 where 0 is near; logarithmic where values are of
/// different sizes.
Scale extent_of_rungs(const std::vector<Rung>& rungs) {
  double low = INFINITY, high = -INFINITY, least = INFINITY, most = -INFINITY;
  for (const auto& r : rungs) {
    const auto& f = *r.finding;
    least = std::min(least, f.value), most = std::max(most, f.value);
    low = std::min({low, f.value, std::isfinite(f.lower95) ? f.lower95 : INFINITY});
    high = std::max({high, f.value, std::isfinite(f.upper95) ? f.upper95 : -INFINITY});
  }
  constexpr double kOtherSize = 30;
  if (least > 0 && most > kOtherSize * least)
    return {.low = std::pow(10.0, std::floor(std::log10(std::max(low, least / 3)))),
            .high = 1.1 * high,
            .logarithmic = true};
  if (low > 0 && low < 0.5 * high) low = 0;
  if (high < 0 && high > 0.5 * low) high = 0;
  double margin = 0.04 * (high - low);
  if (!(margin > 0)) margin = high != 0 ? 0.1 * std::abs(high) : 1;
  return {.low = low == 0 ? 0 : low - margin, .high = high == 0 ? 0 : high + margin};
}

void draw_ladder(Drawing& d, const std::vector<Rung>& rungs) {
  const double text = d.text();
  double names = 0, values = 0;
  for (const auto& r : rungs) {
    names = std::max(names, d.width_of(r.name + (r.comparable ? "" : " *")));
    values = std::max(values, d.width_of(figure_words(*r.finding).value));
  }
  // On a narrow page the name stands above its line.
  const bool above = d.width() < 34 * text;
  const double left = above ? 0.4 * text : names + 0.9 * text;
  const Box plot{left, 0.3 * text, d.width() - values - 1.2 * text, d.height() - 2 * text};
  auto x = extent_of_rungs(rungs);
  x.from = plot.left, x.to = plot.right;
  const auto ticks = x.logarithmic ? decade_ticks(x.low, x.high) : even_ticks(x.low, x.high, 4);
  for (const auto& tick : ticks) d.line("grid", {x(tick.value), plot.top}, {x(tick.value), plot.bottom});
  draw_bottom_axis(d, plot, x, ticks, true);
  const double pitch = plot.height() / static_cast<double>(rungs.size());
  for (std::size_t i = 0; i < rungs.size(); ++i) {
    const auto& f = *rungs[i].finding;
    const double y = plot.top + pitch * (static_cast<double>(i) + (above ? 0.68 : 0.5));
    const auto name = rungs[i].name + (rungs[i].comparable ? "" : " *");
    if (above)
      d.say("note", {0, y - 0.65 * text}, Anchor::start, name, 0.92);
    else
      d.say("plain", {0, y + 0.35 * text}, Anchor::start, name);
    const double low = x(std::isfinite(f.lower95) ? f.lower95 : x.low),
                 high = x(std::isfinite(f.upper95) ? f.upper95 : x.high);
    d.line("span", {low, y}, {high, y});
    for (const double end : {low, high}) d.line("span", {end, y - 0.3 * text}, {end, y + 0.3 * text});
    const Place at{x(f.value), y};
    d.dot(rungs[i].comparable ? "dot" : "ring", at, 0.32);
    d.spot(at);
    d.say("plain", {d.width(), y + 0.35 * text}, Anchor::end, figure_words(f).value);
  }
}

}  // namespace

Chart ladder_chart(const std::string& id, const std::string& title, const std::vector<Rung>& rungs) {
  Chart chart{.id = id, .title = title};
  if (rungs.empty()) return chart;
  const auto unit = figure_words(*rungs.front().finding).unit;
  chart.caption = unit.empty() ? "Value and 95 % interval." : "In " + unit + ", with the 95 % interval.";
  if (unit.starts_with(':')) chart.caption = "Contrast as x : 1, with the 95 % interval.";
  if (extent_of_rungs(rungs).logarithmic) chart.caption += " The axis is logarithmic.";
  if (std::ranges::any_of(rungs, [](const Rung& r) { return !r.comparable; }))
    chart.caption += " * not to be compared; why stands in the table.";
  chart.numbers.columns = {"Display", "Value", "95 % interval"};
  for (const auto& r : rungs) {
    const auto words = figure_words(*r.finding);
    chart.numbers.rows.push_back({r.name, words.with_unit(), words.interval});
  }
  const auto count = static_cast<double>(rungs.size());
  chart.rise = 0.05 + 0.042 * count;
  chart.narrow_rise = 0.09 + 0.125 * count;
  chart.draw = [rungs](Drawing& d) { draw_ladder(d, rungs); };
  return chart;
}

}  // namespace provenit::publish
