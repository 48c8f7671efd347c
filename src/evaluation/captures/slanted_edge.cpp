// Edge rise and modulation transfer of a leaning edge.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "captures/places.h"
#include "provenit/evaluation/scaled_captures.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

using signal::PixelRectangle;
using Complex = std::complex<double>;

constexpr double kLean = 0.1;      // of the picture's edges
constexpr int kPeriod = 10;        // source pixels along the edge after which its place in the pixel repeats
constexpr double kWindow = 6;      // source pixels on either side that the edge's spread is taken of
constexpr double kMargin = 3;      // source pixels at the border of the field that neighbours reach into
constexpr double kLeastPlain = 2;  // source pixels beyond the window for the levels
constexpr int kBins = 16;          // per pixel of the capture: finer than the places a lean of a tenth gives
constexpr int kPlaces = 10;        // about as many places per pixel of the capture are read
constexpr double kStep = 0.005;    // cycles per source pixel: grid on which 50 % is looked for

/// The field of an edge in source pixels: along the way over the edge, and along the edge.
struct Field {
  double middle = 0, reach = 0;      ///< of the edge at the middle of its length; half of what can be read
  double side_middle = 0, side = 0;  ///< middle and whole length along the edge
};

Field field_of(const PixelRectangle& bright, const PixelRectangle& dark, bool across) {
  const double from = across ? bright.left : bright.top, to = across ? dark.left + dark.width : dark.top + dark.height;
  const double side = across ? bright.height : bright.width;
  return {.middle = (from + to) / 2,
          .reach = (to - from) / 2 - kLean * side / 2 - kMargin,
          .side_middle = (across ? bright.top : bright.left) + side / 2,
          .side = side};
}

/// Sums of one period of the lean over bins of distance from the edge.
struct Spread {
  std::vector<double> sum, place, count;
  explicit Spread(std::size_t bins) : sum(bins), place(bins), count(bins) {}
  void add(std::size_t bin, double u, double value) {
    sum[bin] += value;
    place[bin] += u;
    ++count[bin];
  }
};

struct Reading {
  std::vector<Spread> periods;
  double bright = 0, dark = 0;  ///< levels
  double noise = 0;             ///< standard deviation of a pixel on the plain parts
  double pixel = 1;             ///< of the capture, in source pixels
  double samples = 1;           ///< pixels of one period per place
};

Reading read_edge(const CapturedFrame& frame, const Field& f, const std::array<double, 2>& scale, bool across) {
  const double along = scale[across ? 0 : 1], side = scale[across ? 1 : 0];
  const int periods = static_cast<int>((f.side - 2 * kMargin) / kPeriod);
  const double side_from = f.side_middle - 0.5 * periods * kPeriod, width = 1 / (along * kBins);
  const auto bins = static_cast<std::size_t>(std::ceil(2 * kWindow / width));
  Reading out{.periods = std::vector<Spread>(static_cast<std::size_t>(std::max(0, periods)), Spread(bins)),
              .pixel = 1 / along};
  std::array<std::vector<double>, 2> plain;
  const int k_to = static_cast<int>(std::ceil((side_from + periods * kPeriod) * side));
  for (int k = static_cast<int>(std::floor(side_from * side)); k < k_to; ++k) {
    const double y = (k + 0.5) / side;
    const auto period = static_cast<int>(std::floor((y - side_from) / kPeriod));
    if (period < 0 || period >= periods) continue;
    const double edge = f.middle + kLean * (y - f.side_middle);
    const int from = static_cast<int>(std::ceil((edge - f.reach) * along - 0.5));
    const int to = static_cast<int>(std::floor((edge + f.reach) * along - 0.5));
    for (int i = from; i <= to; ++i) {
      const double u = (i + 0.5) / along - edge, value = mean_of_channels(across ? frame.at(i, k) : frame.at(k, i));
      if (std::fabs(u) > kWindow)
        plain[u < 0 ? 0 : 1].push_back(value);
      else if (const auto bin = static_cast<std::size_t>((u + kWindow) / width); bin < bins)
        out.periods[static_cast<std::size_t>(period)].add(bin, u, value);
    }
  }
  out.bright = colour::mean(plain[0]);
  out.dark = colour::mean(plain[1]);
  out.noise = std::hypot(colour::standard_deviation(plain[0]), colour::standard_deviation(plain[1])) / std::sqrt(2.0);
  out.samples = kPeriod * side / kPlaces;
  return out;
}

/// Edge spread from 0 to 1 at the places that have pixels, and its integral up to there.
struct Curve {
  std::vector<double> u, value, integral;
};

Curve curve_of(const Reading& r, const Spread& s) {
  Curve out;
  for (std::size_t i = 0; i < s.count.size(); ++i) {
    if (s.count[i] == 0) continue;
    const double u = s.place[i] / s.count[i], value = (s.sum[i] / s.count[i] - r.bright) / (r.dark - r.bright);
    const double more = out.u.empty() ? 0 : (u - out.u.back()) * (value + out.value.back()) / 2;
    out.integral.push_back(out.u.empty() ? 0 : out.integral.back() + more);
    out.u.push_back(u);
    out.value.push_back(value);
  }
  return out;
}

/// Fourier transform of the line spread at f cycles per source pixel. The spread of a scaled edge is a stair of the
/// capture's pixels, so its differences need no correction for a smooth curve's.
Complex transform(const Curve& c, double f) {
  Complex sum = 0;
  for (std::size_t i = 1; i < c.u.size(); ++i)
    sum += (c.value[i] - c.value[i - 1]) * std::polar(1.0, -std::numbers::pi * f * (c.u[i] + c.u[i - 1]));
  return sum;
}

double integral_to(const Curve& c, double u) {
  const auto above = static_cast<std::size_t>(std::ranges::lower_bound(c.u, u) - c.u.begin());
  const auto i = std::clamp<std::size_t>(above, 1, c.u.size() - 1);
  const double w = (u - c.u[i - 1]) / (c.u[i] - c.u[i - 1]);
  const double value = c.value[i - 1] + w * (c.value[i] - c.value[i - 1]);
  return c.integral[i - 1] + (u - c.u[i - 1]) * (value + c.value[i - 1]) / 2;
}

/// Place at which the spread, as square pixels show it, passes `share`, from the middle outwards.
double crossing(const Curve& c, double share, double pixel) {
  const double step = pixel / kBins;
  const auto shown = [&](double u) { return (integral_to(c, u + pixel / 2) - integral_to(c, u - pixel / 2)) / pixel; };
  double at = -2;
  while (at < kWindow - pixel && shown(at) < 0.5) at += step;
  const double way = share < 0.5 ? -step : step;
  while (std::fabs(at) < kWindow - pixel && (share < 0.5 ? shown(at) >= share : shown(at) < share)) at += way;
  const double now = shown(at), before = shown(at - way);
  return at - way * (now - share) / (now - before);
}

/// Modulation at f: mean of the periods' transforms along their own direction, with their scatter.
struct Modulation {
  double value = 0;
  std::vector<double> of_period;
};
Modulation modulation(const std::vector<Curve>& curves, double f) {
  std::vector<Complex> all;
  Complex mean = 0;
  for (const auto& c : curves) mean += all.emplace_back(transform(c, f)) / static_cast<double>(curves.size());
  Modulation out{.value = std::abs(mean), .of_period = {}};
  for (const auto& h : all) out.of_period.push_back(std::real(h * std::conj(mean)) / std::max(1e-12, out.value));
  return out;
}

class LeaningEdge {
 public:
  explicit LeaningEdge(const Reading& r) : reading_(r) {
    for (const auto& s : r.periods) curves_.push_back(curve_of(r, s));
  }
  [[nodiscard]] Figure rise(double unit) const {
    std::vector<double> values;
    double level_places = 0;  // variance of a rise whose two levels are off
    const double level = std::hypot(kLevelError, rounding() / std::sqrt(kPlaces));
    for (const auto& c : curves_) {
      const auto at = [&](double share) { return crossing(c, share, reading_.pixel) / unit; };
      values.push_back(at(0.9) - at(0.1));
      for (const double share : {0.1, 0.9})
        level_places += std::pow((at(share + level) - at(share - level)) / 2, 2) / static_cast<double>(curves_.size());
    }
    return mean_figure(values, {{"levels of the edge", std::sqrt(level_places)}}, "scatter of the edge's periods");
  }
  [[nodiscard]] Figure percent(double f) const {
    const auto m = modulation(curves_, f);
    const double lean = lean_loss(f);
    std::vector<double> values;
    for (const double v : m.of_period) values.push_back(100 * v / lean);
    return mean_figure(values, common(f, m.value / lean), "scatter of the edge's periods");
  }
  [[nodiscard]] std::optional<Figure> mtf50() const {
    const double highest = std::min(1.0, 0.5 / reading_.pixel);
    double before = 1;
    for (double f = kStep; f <= highest; f += kStep) {
      const double now = modulation(curves_, f).value / lean_loss(f);
      if (now >= 0.5) {
        before = now;
        continue;
      }
      const double at = f - kStep * (0.5 - now) / (before - now);
      const auto p = percent(at);
      const double slope = 100 * (before - now) / kStep;
      return scaled(p, at, slope);
    }
    return std::nullopt;
  }

 private:
  // A frame reads the edge at a few places of the source's pixel only: what that leaves, from chains of known kernels
  // without noise.
  static constexpr double kLevelError = 0.0045;   // of the step
  static constexpr double kTransferError = 0.18;  // %, and twice as much per cycle per source pixel
  /// What the lean itself takes: the chain's own spread along the edge, a tenth of it across.
  [[nodiscard]] double lean_loss(double f) const { return std::clamp(modulation(curves_, kLean * f).value, 0.9, 1.02); }
  /// Standard deviation of the rounding of one place of one period, of the step; 0 where noise averages it.
  [[nodiscard]] double rounding() const {
    if (reading_.noise > 0.25) return 0;
    return 1 / std::sqrt(12 * std::max(1.0, reading_.samples)) / std::fabs(reading_.dark - reading_.bright);
  }
  [[nodiscard]] std::vector<std::pair<std::string, double>> common(double f, double value) const {
    // Differences of neighbouring places, added with a turning phase.
    const double apart = reading_.pixel / kPlaces, places = 2 * kWindow / apart;
    const double of_rounding = rounding() * 2 * std::sin(std::numbers::pi * f * apart) * std::sqrt(places / 2);
    return {{"steps of the code", 100 * of_rounding},
            {"lean of the edge", 100 * value * std::fabs(1 - lean_loss(f)) / 2},
            {"places of the pixels", kTransferError * (1 + 2 * f)}};
  }
  /// A figure in % turned into one of frequency by the slope, % per cycle per pixel.
  static Figure scaled(Figure p, double at, double slope) {
    const double lower = (p.value - p.interval.lower) / slope, upper = (p.interval.upper - p.value) / slope;
    p.value = at;
    p.standard_uncertainty /= slope;
    p.interval = {at - lower, at + upper};
    return p;
  }

  const Reading& reading_;
  std::vector<Curve> curves_;
};

}  // namespace

Result<std::vector<EdgeResponse>> measure_edges(const CapturedFrame& frame, const signal::TestPicture& picture) {
  const auto scale = scale_of(frame, picture, "scaling_set", 1);
  if (!scale) return tl::unexpected(scale.error());
  const auto places = picture.places(0);
  std::vector<EdgeResponse> out;
  for (const bool across : {true, false}) {
    const std::string name = across ? "upright leaning edge, " : "lying leaning edge, ";
    const auto bright = find_place(places, name + "bright"), dark = find_place(places, name + "dark");
    if (!bright || !dark) return fail(ErrorCode::invalid_input, "the picture has no " + name + "plain on both sides");
    const auto field = field_of(*bright, *dark, across);
    const auto reading = read_edge(frame, field, *scale, across);
    if (reading.periods.size() < 3 || field.reach < kWindow + kLeastPlain)
      return fail(ErrorCode::invalid_input, "the picture is too small for its leaning edges to be read",
                  "Send it on a larger raster.");
    const double step = reading.bright - reading.dark;
    const bool stands_out = step > 0.05 * std::fabs(reading.bright) && step > 8 * reading.noise;
    const LeaningEdge edge(reading);
    const auto rise = stands_out ? edge.rise(1) : Figure{};
    if (!stands_out || !(rise.value < kWindow))
      return fail(ErrorCode::invalid_input,
                  "the " + name.substr(0, name.size() - 2) + " is not where the picture has it",
                  "Check that the frame shows the whole picture, not cut or shifted.");
    out.push_back({.across = across,
                   .rise_source_px = rise,
                   .rise_frame_px = edge.rise(reading.pixel),
                   .mtf50 = edge.mtf50(),
                   .half_percent = edge.percent(0.25),
                   .full_percent = edge.percent(0.5)});
  }
  return out;
}

}  // namespace provenit::evaluation
