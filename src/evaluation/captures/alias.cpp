// Waves of a circular zone plate that come out as others: what the wave of known phase leaves, by least squares.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

#include "captures/places.h"
#include "provenit/evaluation/scaled_captures.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

constexpr std::array<double, 3> kBands{0.05, 0.25, 0.45};  // cycles per source pixel
constexpr double kGuard = 0.04;  // cycles per source pixel around the frame's own limit, where a wave meets its alias
constexpr double kLowest = 0.1;  // cycles per source pixel: below, the wave's height is read
constexpr double kBreadth = 1 / 60.0;  // of the diameter: half breadth of the strips along the axes
constexpr int kOrder = 5;              // of the polynomials in frequency that the wave's height may follow
constexpr int kImageOrder = 3;         // likewise of an image of it
constexpr double kApart = 0.2;         // cycles per frame pixel between waves that one fit can tell apart
constexpr std::size_t kFewest = 200;   // pixels in a part

/// Images of the wave that the frame's pixels tell from the wave and from each other, in cycles per source pixel away.
std::vector<int> images_told_apart(double scale) {
  const auto apart = [&](double cycles) { return std::fabs(std::remainder(cycles / scale, 1.0)) >= kApart; };
  if (!apart(1)) return {};
  return apart(2) ? std::vector{1, -1} : std::vector{1};
}

/// What strips of finite length leave: relative, and in % what polynomials leave of a kernel's own response. Tuned on
/// simulated chains of other seeds than the figures use.
struct StripError {
  double relative = 0, percent = 0;
};
StripError strip_error(double scale, double to) {
  const double whole = scale >= 1 ? scale : 1 / scale;
  // Many images cross in the strip when a source pixel is no whole number of frame pixels; how they add up depends on
  // where they cross.
  if (std::fabs(std::remainder(whole, 1.0)) > 0.01) return {0.06, 0.02};
  if (!(scale > 1.5) || images_told_apart(scale).empty()) return {0.02, 0.0009};
  // Images lie far from the wave in the lower band.
  return to > kBands[1] ? StripError{0.005, 0.0009} : StripError{0.001, 0.0004};
}

/// The zone plate in source pixels.
struct Plate {
  double x = 0, y = 0, diameter = 0;
  double rate = 0;  ///< cycles per pixel, per pixel from the middle
  [[nodiscard]] double phase(double px, double py) const {
    return std::numbers::pi * rate * ((px - x) * (px - x) + (py - y) * (py - y));
  }
};

/// A part of the frame with the wave's own frequency along the strip.
struct Part {
  std::vector<double> value, phase;
  std::vector<double> place, side;            ///< -1 to 1 over the part's frequencies, and over its breadth
  std::vector<double> source, source_across;  ///< place in source pixels along the strip and across
  std::vector<double> weight;                 ///< share of the pixel's length that is in the part
  double scale = 1;                           ///< frame pixels per source pixel along the strip
  [[nodiscard]] std::size_t size() const { return value.size(); }
  [[nodiscard]] double pixels() const { return std::accumulate(weight.begin(), weight.end(), 0.0); }
};

struct Fit {
  double left = 0;  ///< sum of the squares of what is left
  Eigen::VectorXd coefficient;
  Eigen::MatrixXd normal;  ///< its lower half
};

/// Least squares of the values by the columns that `row` writes for each pixel.
Fit fit(const Part& p, int columns, const std::function<void(std::size_t, Eigen::VectorXd&)>& row) {
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(columns, columns);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(columns), a(columns);
  double squares = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    row(i, a);
    normal.selfadjointView<Eigen::Lower>().rankUpdate(a, p.weight[i]);
    right += p.weight[i] * p.value[i] * a;
    squares += p.weight[i] * p.value[i] * p.value[i];
  }
  Fit out;
  out.coefficient = normal.selfadjointView<Eigen::Lower>().ldlt().solve(right);
  out.left = std::max(0.0, squares - out.coefficient.dot(right));
  out.normal = std::move(normal);
  return out;
}

class Reader {
 public:
  Reader(const CapturedFrame& frame, const Plate& plate, const std::array<double, 2>& scale)
      : frame_(frame), plate_(plate), scale_(scale) {}

  /// Pixels of the strip on one side of the middle whose frequency lies between; values about `mean`.
  [[nodiscard]] Part strip(bool across, int side, double from, double to, double mean) const {
    Part out;
    const double half = kBreadth * plate_.diameter, low = from / plate_.rate, high = to / plate_.rate;
    const double along_middle = across ? plate_.x : plate_.y, side_middle = across ? plate_.y : plate_.x;
    const double along = scale_[across ? 0 : 1], other = scale_[across ? 1 : 0];
    out.scale = along;
    const auto first = [](double source, double s) { return static_cast<int>(std::ceil(source * s - 0.5)); };
    const double near = (along_middle + side * low) * along, far = (along_middle + side * high) * along;
    const auto [begin, end] = std::minmax(near, far);
    for (int k = first(side_middle - half, other); k < first(side_middle + half, other); ++k)
      for (int i = static_cast<int>(std::floor(begin)); i < end; ++i) {
        const double u = (i + 0.5) / along, v = (k + 0.5) / other;
        out.value.push_back(mean_of_channels(across ? frame_.at(i, k) : frame_.at(k, i)) - mean);
        out.phase.push_back(across ? plate_.phase(u, v) : plate_.phase(v, u));
        out.place.push_back(2 * (std::fabs(u - along_middle) - low) / (high - low) - 1);
        out.side.push_back((v - side_middle) / half);
        out.weight.push_back(std::min(i + 1.0, end) - std::max(static_cast<double>(i), begin));
        out.source.push_back(u);
        out.source_across.push_back(v);
      }
    return out;
  }
  /// All pixels out to this frequency; place: its square over the largest, 0 to 1.
  [[nodiscard]] Part disc(double to) const {
    Part out;
    const double radius = to / plate_.rate;
    for (int j = static_cast<int>((plate_.y - radius) * scale_[1]); j < (plate_.y + radius) * scale_[1]; ++j)
      for (int i = static_cast<int>((plate_.x - radius) * scale_[0]); i < (plate_.x + radius) * scale_[0]; ++i) {
        const double x = (i + 0.5) / scale_[0], y = (j + 0.5) / scale_[1];
        const double square = std::pow((x - plate_.x) / radius, 2) + std::pow((y - plate_.y) / radius, 2);
        if (square > 1) continue;
        out.value.push_back(mean_of_channels(frame_.at(i, j)));
        out.phase.push_back(plate_.phase(x, y));
        out.place.push_back(square);
        out.weight.push_back(1);
      }
    return out;
  }

 private:
  const CapturedFrame& frame_;
  const Plate& plate_;
  const std::array<double, 2>& scale_;
};

/// The wave as captured where it is slow, extrapolated to frequency 0 (its height falls with the square of it first).
struct Wave {
  double mean = 0, height = 0, noise = 0;  ///< noise: mean square of what is left
};
Wave slow_wave(const Part& p) {
  const auto f = fit(p, 5, [&](std::size_t i, Eigen::VectorXd& a) {
    const double c = std::cos(p.phase[i]), s = std::sin(p.phase[i]);
    a << 1, c, s, p.place[i] * c, p.place[i] * s;
  });
  return {f.coefficient[0], std::hypot(f.coefficient[1], f.coefficient[2]), f.left / static_cast<double>(p.size())};
}

/// What is left in parts of the frame besides the waves sent: images of them, ringing, noise.
struct Left {
  double sum = 0, pixels = 0, degrees = 0;  ///< sum of squares; degrees of freedom: how many pixels' noise is in it
  void add(double squares, double n, int taken) {
    sum += squares;
    pixels += n;
    degrees += n - taken;
  }
};

/// Adds what the wave of its own frequency leaves in a strip that can carry it. The sampling's own images of the wave
/// are fitted beside it and counted whole: alone, the wave would take a part of them where the two come near each
/// other.
void add_left_by_wave(const Part& p, Left& out) {
  constexpr int terms = kOrder + 1, image_terms = kImageOrder + 1, own = 2 * terms + 6;
  const auto images = images_told_apart(p.scale);
  const int columns = own + 2 * image_terms * static_cast<int>(images.size());
  const auto waves = [&](std::size_t i, Eigen::VectorXd& a, int from, int count, double phase) {
    double power = 1;
    for (int k = 0; k < count; ++k, power *= p.place[i]) {
      a[from + 2 * k] = power * std::cos(phase);
      a[from + 2 * k + 1] = power * std::sin(phase);
    }
  };
  const auto f = fit(p, columns, [&](std::size_t i, Eigen::VectorXd& a) {
    constexpr double turn = 2 * std::numbers::pi;
    const double c = std::cos(p.phase[i]), s = std::sin(p.phase[i]);
    waves(i, a, 0, terms, p.phase[i]);
    // A frame shifted by a part of a pixel turns the phase with the frequency across the strip; that frequency's own
    // images, which belong to the other axis, grow with it.
    const double image_across = p.side[i] * std::sin(turn * p.source_across[i]);
    a.segment(2 * terms, own - 2 * terms) << 1, p.place[i], p.side[i] * c, p.side[i] * s, image_across * c,
        image_across * s;
    for (std::size_t k = 0; k < images.size(); ++k)
      waves(i, a, own + static_cast<int>(2 * image_terms * k), image_terms,
            p.phase[i] - turn * images[k] * p.source[i]);
  });
  const auto image = f.coefficient.tail(columns - own);
  const Eigen::MatrixXd block = f.normal.bottomRightCorner(columns - own, columns - own);
  out.add(f.left + image.dot(block.selfadjointView<Eigen::Lower>() * image), p.pixels(), own);
}

/// Adds everything that varies, in a strip whose wave the frame cannot carry.
void add_all_left(const Part& p, Left& out) {
  const auto f = fit(p, 2, [&](std::size_t i, Eigen::VectorXd& a) { a << 1, p.place[i]; });
  out.add(f.left, p.pixels(), 2);
}

/// Noise of the frame: mean square over the ground's corners, about the mean of each.
struct Noise {
  double square = 0, degrees = 0;
};
Noise ground_noise(const CapturedFrame& frame, const signal::PixelRectangle& corner, const Plate& plate,
                   const std::array<double, 2>& scale) {
  Noise out;
  constexpr int inset = 3;  // source pixels that a scaler's kernel reaches
  for (int k = 0; k < 4; ++k) {
    const double left = k % 2 == 0 ? corner.left : 2 * plate.x - corner.left - corner.width;
    const double top = k / 2 == 0 ? corner.top : 2 * plate.y - corner.top - corner.height;
    std::vector<double> values;
    for (int j = static_cast<int>((top + inset) * scale[1]) + 1; j < (top + corner.height - inset) * scale[1] - 1; ++j)
      for (int i = static_cast<int>((left + inset) * scale[0]) + 1; i < (left + corner.width - inset) * scale[0] - 1;
           ++i)
        values.push_back(mean_of_channels(frame.at(i, j)));
    const auto s = colour::sum_of_squares(values);
    out.square += s.sum;
    out.degrees += s.degrees_of_freedom;
  }
  if (out.degrees > 0) out.square /= out.degrees;
  return out;
}

/// Parts of a band that the frame can carry, and those it cannot, both sides of the middle.
Left left_in_band(const Reader& read, bool across, double from, double to, double limit, double mean) {
  Left out;
  for (const int side : {-1, 1}) {
    const double carried_to = std::min(to, limit - kGuard), lost_from = std::max(from, limit + kGuard);
    if (carried_to > from) {
      const auto p = read.strip(across, side, from, carried_to, mean);
      if (p.size() >= kFewest) add_left_by_wave(p, out);
    }
    if (lost_from < to) {
      const auto p = read.strip(across, side, lost_from, to, mean);
      if (p.size() >= kFewest) add_all_left(p, out);
    }
  }
  return out;
}

Figure share_of(const Left& left, const Wave& wave, const Noise& noise, double code, const StripError& strip) {
  // Rounding of the picture's codes, and of the frame's where its noise does not hide it: at most a twelfth each.
  const double rounding = (code * code + (noise.square > 1 / 16.0 ? 0 : 1)) / 12;
  const double unit = 100 / (wave.height * wave.height / 2);
  const double alias = std::max(0.0, left.sum - left.degrees * (noise.square + rounding / 2)) / left.pixels;
  const double frame_noise = std::sqrt((2 * noise.square * noise.square + 4 * noise.square * alias) / left.pixels +
                                       2 * noise.square * noise.square / std::max(1.0, noise.degrees));
  auto f = figure_of(unit * alias,
                     {{"noise of the frame", unit * frame_noise},
                      {"steps of the code", unit * rounding / 2 / std::sqrt(3.0)},
                      {"length of the strips", std::hypot(unit * alias * strip.relative, strip.percent)}},
                     1e6);
  f.interval.lower = std::max(0.0, f.interval.lower);
  return f;
}

/// Height of the picture's own wave in codes, from the lowest and highest in its middle row.
double height_in_codes(const signal::TestPicture& picture) {
  const auto row = picture.row(0, picture.request().size.height / 2);
  const auto [low, high] = std::ranges::minmax(row);
  return std::max(1.0, (high - low) / 2.0);
}

}  // namespace

Result<std::vector<AliasShare>> measure_alias(const CapturedFrame& frame, const signal::TestPicture& picture) {
  const auto scale = scale_of(frame, picture, "zone_plate", 0.25);
  if (!scale) return tl::unexpected(scale.error());
  const auto corner = find_place(picture.places(0), "ground, top left");
  const double share = picture.request().parameters.at("highest_frequency_percent").get<double>() / 100;
  if (!corner || share < 0.9)
    return fail(ErrorCode::invalid_input, "the zone plate's rings do not reach 0.45 cycles per pixel",
                "Send it with highest_frequency_percent at 90 or more.");
  const auto size = picture.request().size;
  Plate plate{.x = size.width / 2.0, .y = size.height / 2.0, .diameter = size.width - 2.0 * corner->left};
  plate.rate = share / plate.diameter;
  const Reader read(frame, plate, *scale);
  const double least = std::min({1.0, (*scale)[0], (*scale)[1]});
  const auto disc = read.disc(kLowest * least);
  if (disc.size() < kFewest)
    return fail(ErrorCode::invalid_input, "the zone plate is too small to be read", "Send it on a larger raster.");
  const auto wave = slow_wave(disc);
  const auto noise = ground_noise(frame, *corner, plate, *scale);
  if (!(wave.height * wave.height > 4 * wave.noise) || !(wave.height > 0.02 * std::fabs(wave.mean)))
    return fail(ErrorCode::invalid_input, "the rings are not where the picture has them",
                "Check that the frame shows the whole picture, not cut or shifted.");
  const double own = height_in_codes(picture);
  std::vector<AliasShare> out;
  for (const bool across : {true, false})
    for (std::size_t b = 0; b + 1 < kBands.size(); ++b) {
      const double along = (*scale)[across ? 0 : 1], limit = along / 2;
      const auto left = left_in_band(read, across, kBands[b], kBands[b + 1], limit < 0.5 ? limit : 1, wave.mean);
      if (left.pixels == 0) continue;
      out.push_back({across, kBands[b], kBands[b + 1],
                     share_of(left, wave, noise, wave.height / own, strip_error(along, kBands[b + 1]))});
    }
  return out;
}

}  // namespace provenit::evaluation
