// Levels of a captured ramp that stay apart.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "captures/places.h"
#include "provenit/evaluation/code_captures.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

constexpr std::size_t kFewestPixels = 16;  // levels
constexpr double kFlat = 1e-3;             // of the mean rise: a part that rises less is clipped
constexpr double kCoarse = 0.75;           // codes of the frame per code of the picture: a file of a bit less has half
constexpr double kAveraged = 0.4;          // codes of the frame: noise that lets means fall between codes

/// A level of the picture with what the frame has there.
struct Level {
  int code = 0;
  double sum = 0, squares = 0, pixels = 0;
  [[nodiscard]] double mean() const { return sum / pixels; }
};

std::vector<Level> levels_of(const CapturedFrame& frame, const signal::TestPicture& picture) {
  const bool down = picture.request().parameters.at("vertical").get<double>() != 0;
  const int length = down ? frame.height : frame.width, side = down ? frame.width : frame.height;
  std::vector<Level> out;
  const auto codes = picture.row(0, 0);
  for (int i = 0; i < length; ++i) {
    const int code = down ? picture.row(0, i)[0] : codes[3 * static_cast<std::size_t>(i)];
    if (out.empty() || out.back().code != code) out.push_back({.code = code});
    for (int k = 0; k < side; ++k) {
      const double v = mean_of_channels(down ? frame.at(k, i) : frame.at(i, k));
      out.back().sum += v;
      out.back().squares += v * v;
      ++out.back().pixels;
    }
  }
  return out;
}

/// Standard deviation of a pixel about its level, over all levels.
double scatter_of(const std::vector<Level>& levels) {
  double squares = 0, degrees = 0;
  for (const auto& l : levels) {
    squares += std::max(0.0, l.squares - l.sum * l.sum / l.pixels);
    degrees += l.pixels - 1;
  }
  return degrees > 0 ? std::sqrt(squares / degrees) : 0;
}

/// A rise from one level to the next, in frame codes.
struct Rise {
  double value = 0, error = 0;
  double expected = 0;  ///< by the mean rise around it
  bool flat = false;
};

std::vector<Rise> rises_of(const std::vector<Level>& levels, double scatter, double gain) {
  const std::size_t n = levels.size(), half = std::min((n - 1) / 2, std::max<std::size_t>(8, n / 16));
  std::vector<Rise> out;
  for (std::size_t i = 1; i < n; ++i) {
    const auto& a = levels[i - 1];
    const auto& b = levels[i];
    // A window of the same length everywhere, pushed inwards at the ends.
    const std::size_t from = std::min(i > half ? i - half : 0, n - 1 - 2 * half), to = from + 2 * half;
    const double slope = (levels[to].mean() - levels[from].mean()) / (levels[to].code - levels[from].code);
    const double slope_error =
        scatter * std::sqrt(1 / levels[to].pixels + 1 / levels[from].pixels) / (levels[to].code - levels[from].code);
    out.push_back({.value = b.mean() - a.mean(),
                   .error = scatter * std::sqrt(1 / a.pixels + 1 / b.pixels),
                   .expected = slope * (b.code - a.code),
                   .flat = slope < std::max(kFlat * gain, 4 * slope_error)});
  }
  return out;
}

/// First and last level of the part that is not clipped: ends of more than a window's half at one mean are.
struct Span {
  std::size_t first = 0, last = 0;
};
Span unclipped(const std::vector<Level>& levels, double scatter) {
  const std::size_t n = levels.size(), least = std::max<std::size_t>(8, n / 16);
  const auto same = [&](const Level& a, const Level& b) {
    return std::fabs(a.mean() - b.mean()) <= 4 * scatter * std::sqrt(1 / a.pixels + 1 / b.pixels);
  };
  Span out{0, n - 1};
  while (out.first + 1 < n && same(levels[out.first + 1], levels.front())) ++out.first;
  while (out.last > 0 && same(levels[out.last - 1], levels.back())) --out.last;
  if (out.first < least) out.first = 0;
  if (n - 1 - out.last < least) out.last = n - 1;
  return out;
}

Figure count_figure(double value, double least, double most) {
  Figure f{.value = value, .standard_uncertainty = (most - least) / std::sqrt(12.0), .interval = {least, most}};
  f.interval_method = "shown to be apart to not shown to be lost (Bonferroni)";
  if (most > least) f.variance.push_back({"noise of the frame", 1});
  return f;
}

/// The largest of several equal ones with errors is read too large: mean and spread of the highest of m normal ones.
/// source  Blom, Statistical estimates and transformed beta-variables (1958): expected order statistics (from memory)
Figure largest_of(const std::vector<Rise>& rises, double gain) {
  const auto top = std::ranges::max_element(rises, {}, &Rise::value);
  const auto equal = static_cast<double>(
      std::ranges::count_if(rises, [&](const Rise& r) { return r.value >= top->value - 6 * r.error; }));
  double low = 0, high = 6;  // of the normal distribution at (m - 3/8) / (m + 1/4)
  for (int k = 0; k < 60; ++k) {
    const double middle = (low + high) / 2;
    (colour::normal_probability(middle) < (equal - 0.375) / (equal + 0.25) ? low : high) = middle;
  }
  const double bias = equal > 1 ? low : 0, spread = 1 / std::sqrt(1 + 0.7 * std::log(equal));
  return figure_of((top->value - bias * top->error) / gain, {{"noise of the frame", spread * top->error / gain}}, 1e6);
}

}  // namespace

Result<RampLevels> measure_ramp(const CapturedFrame& frame, const signal::TestPicture& picture) {
  if (auto same = check_same_raster(frame, picture, "luminance_ramp"); !same) return tl::unexpected(same.error());
  const auto levels = levels_of(frame, picture);
  if (levels.size() < kFewestPixels)
    return fail(ErrorCode::invalid_input, fmt::format("the ramp has {} levels", levels.size()),
                "Send one of 16 levels or more.");
  const double scatter = scatter_of(levels);
  const auto span = unclipped(levels, scatter);
  const auto &low = levels[span.first], &high = levels[span.last];
  const double gain = span.first < span.last ? (high.mean() - low.mean()) / (high.code - low.code) : 0;
  if (!(gain > 0 && high.mean() - low.mean() > 0.05 * high.mean()))
    return fail(ErrorCode::invalid_input, "what was captured does not rise as the ramp does",
                "Check that the frame is of this picture and not turned.");
  const auto rises = rises_of(levels, scatter, gain);
  const double factor = colour::normal_factor(1 - (1 - colour::kCoverage) / static_cast<double>(rises.size()));
  double kept = 0, least = 0, most = 0;
  RampLevels out{.sent = static_cast<int>(levels.size())};
  for (std::size_t i = 0; i < rises.size(); ++i) {
    const auto& r = rises[i];
    const double above = r.value - r.expected / 2;
    kept += !r.flat && above >= 0;
    least += !r.flat && above >= factor * r.error;
    most += !r.flat && above >= -factor * r.error;
    out.steps.push_back({levels[i + 1].code, r.value / gain});
  }
  const int asked = picture.request().parameters.at("step_bits").get<int>();
  const int bits = asked == 0 ? picture.request().encoding.bits : asked;
  // Bits are those of the part that is not clipped: a ramp of PQ goes far above what any display shows.
  const auto steps = static_cast<double>(span.last - span.first);
  out.clipped = static_cast<int>(rises.size() - (span.last - span.first));
  const double smallest = rises.empty() ? 1 : levels[1].code - levels[0].code;
  out.capture_too_coarse = gain * smallest < kCoarse && scatter < kAveraged;
  if (out.capture_too_coarse) most = steps;
  const auto bits_of = [&](double count) { return count > 0 ? bits + std::log2(std::min(1.0, count / steps)) : 0; };
  out.kept = count_figure(kept + 1, least + 1, most + 1);
  out.bits = count_figure(bits_of(kept), bits_of(least), bits_of(most));
  out.largest_step = largest_of(rises, gain);
  out.scatter_codes = scatter / gain;
  return out;
}

}  // namespace provenit::evaluation
