// Uniformity from a camera's picture over its flat field.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "provenit/evaluation/field_picture.h"
#include "ranges_internal.h"

namespace provenit::evaluation {
namespace {

constexpr double kPatch = 0.02;   // half width of what is read at a point, of the display's width
constexpr double kMoved = 0.003;  // of the width: corners that differ by more have moved
constexpr double kSaturatedShare = 0.001;
constexpr double kDarkestFlat = 0.15;  // of its brightest part
constexpr int kFlatBlocks = 16;
// A camera's channels are no observer: the weights that give luminance from them are wrong, the same at every place.
// Standard uncertainty of those of red and blue; green takes what they lose. Tuned on simulated cameras of other seeds
// than the figures use.
constexpr double kWeights = 0.12;
constexpr std::array<std::array<int, 2>, 3> kGrids{{{3, 3}, {5, 5}, {11, 9}}};

using Rgb = std::array<double, 3>;

Result<void> check_moved(const DisplayOutline& a, const DisplayOutline& b, int width) {
  double most = 0;
  for (std::size_t i = 0; i < 4; ++i)
    most = std::max(most, std::hypot(a.corner[i][0] - b.corner[i][0], a.corner[i][1] - b.corner[i][1]));
  if (most <= kMoved * width) return {};
  return fail(ErrorCode::invalid_input,
              fmt::format("the camera has moved: a corner of the display lies {:.1f} pixels elsewhere in the second "
                          "picture",
                          most),
              "Fix the camera, and take both pictures again.");
}

/// Mean and standard deviation of the mean of each channel over a patch.
struct PatchMean {
  Rgb mean{}, deviation{};
};

template <class Value>
PatchMean mean_over(const std::array<int, 4>& box, Value&& value) {
  PatchMean out;
  const double n = static_cast<double>(box[2] - box[0]) * (box[3] - box[1]);
  Rgb squares{};
  for (int y = box[1]; y < box[3]; ++y)
    for (int x = box[0]; x < box[2]; ++x)
      for (std::size_t c = 0; c < 3; ++c) {
        const double v = value(x, y, c);
        out.mean[c] += v / n;
        squares[c] += v * v / n;
      }
  for (std::size_t c = 0; c < 3; ++c)
    out.deviation[c] = std::sqrt(std::max(0.0, squares[c] - out.mean[c] * out.mean[c]) / n);
  return out;
}

struct Read {
  double u = 0, v = 0;
  Rgb value{};       ///< field over flat field
  double noise = 0;  ///< standard uncertainty of the luminance, relative
};

class FieldReader {
 public:
  FieldReader(const LinearPicture& field, const LinearPicture& again, const LinearPicture& flat,
              const DisplayOutline& outline, const Rgb& weights)
      : field_(field), again_(again), flat_(flat), outline_(outline), weights_(weights) {}

  [[nodiscard]] Result<Read> at(double u, double v) const {
    const double aspect =
        std::hypot(outline_.corner[1][0] - outline_.corner[0][0], outline_.corner[1][1] - outline_.corner[0][1]) /
        std::hypot(outline_.corner[3][0] - outline_.corner[0][0], outline_.corner[3][1] - outline_.corner[0][1]);
    const auto from = outline_.at(u - kPatch, v - kPatch * aspect), to = outline_.at(u + kPatch, v + kPatch * aspect);
    const std::array<int, 4> box{std::max(0, static_cast<int>(std::lround(from[0]))),
                                 std::max(0, static_cast<int>(std::lround(from[1]))),
                                 std::min(field_.width, static_cast<int>(std::lround(to[0]))),
                                 std::min(field_.height, static_cast<int>(std::lround(to[1])))};
    if (box[2] - box[0] < 4 || box[3] - box[1] < 4)
      return fail(ErrorCode::invalid_input, "the display is too small in the picture",
                  "Let it fill most of the picture, which should have 1000 pixels across or more.");
    const auto both = mean_over(box, [&](int x, int y, std::size_t c) {
      return 0.5 * (static_cast<double>(field_.at(x, y)[c]) + static_cast<double>(again_.at(x, y)[c]));
    });
    // What the two pictures differ by is noise; the screen's own grid is in both.
    const auto apart = mean_over(box, [&](int x, int y, std::size_t c) {
      return 0.5 * (static_cast<double>(field_.at(x, y)[c]) - static_cast<double>(again_.at(x, y)[c]));
    });
    // The flat field has no grid; its slope over a patch is far below its noise.
    const auto even =
        mean_over(box, [&](int x, int y, std::size_t c) { return static_cast<double>(flat_.at(x, y)[c]); });
    Read out{.u = u, .v = v};
    double variance = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      if (!(both.mean[c] > 0 && even.mean[c] > 0))
        return fail(ErrorCode::invalid_input,
                    fmt::format("channel {} is dark at {:.1f} % across and {:.1f} % down", c, 100 * u, 100 * v),
                    "Expose longer, and develop without any correction.");
      out.value[c] = both.mean[c] / even.mean[c];
      variance += std::pow(weights_[c], 2) *
                  (std::pow(apart.deviation[c] / both.mean[c], 2) + std::pow(even.deviation[c] / even.mean[c], 2));
    }
    out.noise = std::sqrt(variance);
    return out;
  }

 private:
  const LinearPicture &field_, &again_, &flat_;
  const DisplayOutline& outline_;
  Rgb weights_;
};

// Shares of the flat field's variance, of a half wave across and down, a whole wave across and down, and the product of
// the half waves: most of what is uneven in an even light is a slope. Less than 1 together: such waves reach farther
// apart than what they stand for. Tuned on simulated flat fields of other seeds than the figures use.
constexpr std::array kShares{0.34, 0.34, 0.04, 0.04, 0.085};

/// A flat field's error: half waves and whole waves over the picture, together of this standard deviation over it.
class Surface {
 public:
  explicit Surface(double deviation) : deviation_(deviation) {}
  void draw(std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < k_.size(); ++i) k_[i] = deviation_ * std::sqrt(kShares[i]) * normal(random);
  }
  [[nodiscard]] double at(double u, double v) const {
    constexpr double pi = std::numbers::pi, root = std::numbers::sqrt2;
    // Each of mean square 1, level at the borders.
    return root * (k_[0] * std::cos(pi * u) + k_[1] * std::cos(pi * v) + k_[2] * std::cos(2 * pi * u) +
                   k_[3] * std::cos(2 * pi * v)) +
           2 * k_[4] * std::cos(pi * u) * std::cos(pi * v);
  }

 private:
  double deviation_;
  std::array<double, 5> k_{};
};

FieldGrid grid_of(const std::vector<Read>& points, const Read& centre, std::array<int, 2> size,
                  const FieldOptions& options) {
  FieldGrid out{.columns = size[0], .rows = size[1]};
  const std::size_t n = points.size();
  std::vector<double> logs;
  std::vector<Rgb> shares;
  for (const auto& p : points) {
    Rgb share{};
    double luminance = 0;
    for (std::size_t c = 0; c < 3; ++c) {
      share[c] = p.value[c] / centre.value[c];
      luminance += options.weights[c] * share[c];
    }
    logs.push_back(std::log(luminance));
    for (double& s : share) s /= luminance;
    shares.push_back(share);
    out.points.push_back({.u = p.u,
                          .v = p.v,
                          .percent = 100 * luminance,
                          .percent_95 = {},
                          .red_to_green = share[0] / share[1],
                          .blue_to_green = share[2] / share[1]});
  }
  // Errors of each draw, and of each part of it alone: what dominates.
  std::mt19937_64 random(options.seed * 7919 + n);
  std::normal_distribution<double> normal;
  Surface flat(options.flat_relative);
  RangeProblem problem{.measured = logs, .errors = {}};
  std::vector<std::vector<double>> at_point(n);
  std::array<double, 3> parts{};
  for (int d = 0; d < options.draws; ++d) {
    flat.draw(random);
    const double centre_error = flat.at(0.5, 0.5) + centre.noise * normal(random);
    const double red = kWeights * normal(random), blue = kWeights * normal(random);
    for (std::size_t i = 0; i < n; ++i) {
      const double noise = points[i].noise * normal(random), even = flat.at(points[i].u, points[i].v);
      const double seen = red * (shares[i][0] - shares[i][1]) + blue * (shares[i][2] - shares[i][1]);
      problem.errors.push_back(static_cast<float>(noise + even + seen));
      at_point[i].push_back(100 * std::exp(logs[i] - (noise + even + seen - centre_error)));
      parts[0] += even * even, parts[1] += noise * noise, parts[2] += seen * seen;
    }
  }
  const auto range = range_interval(problem);
  const auto percent = [](double log_range) { return 100 * (1 - std::exp(-log_range)); };
  out.as_read = percent(range.as_read);
  auto& f = out.nonuniformity;
  f.value = percent(range.value);
  f.interval = {percent(range.interval.lower), percent(range.interval.upper)};
  f.standard_uncertainty = colour::standard_deviation(range.sample) * std::exp(-range.value) * 100;
  f.interval_method =
      fmt::format("true ranges that do not make the one as read unlikely, Monte Carlo, {} draws", options.draws);
  const double sum = parts[0] + parts[1] + parts[2];
  constexpr std::array names{"flat field", "noise of the pictures", "camera is no observer"};
  for (std::size_t k = 0; k < 3; ++k) f.variance.push_back({names[k], sum > 0 ? parts[k] / sum : 0});
  std::ranges::stable_sort(f.variance, std::greater{}, &Figure::Share::fraction);
  for (std::size_t i = 0; i < n; ++i) {
    std::ranges::sort(at_point[i]);
    out.points[i].percent_95 = {colour::quantile(at_point[i], 0.025), colour::quantile(at_point[i], 0.975)};
  }
  return out;
}

}  // namespace

Result<void> check_exposure(const LinearPicture& p, const char* name) {
  const float largest = *std::ranges::max_element(p.rgb);
  const float full = p.saturates.value_or(largest);
  const auto count = std::ranges::count_if(p.rgb, [full](float v) { return v >= full; });
  if (static_cast<double>(count) <= kSaturatedShare * static_cast<double>(p.rgb.size())) return {};
  return fail(ErrorCode::invalid_input,
              fmt::format("the {} is overexposed: {} of {} values are at the highest", name, count, p.rgb.size()),
              "Expose shorter, so that no channel reaches its highest value.");
}

Result<void> check_flat_field(const LinearPicture& flat) {
  double least = 1e300, most = 0;
  for (int j = 0; j < kFlatBlocks; ++j)
    for (int i = 0; i < kFlatBlocks; ++i) {
      double sum = 0;
      int n = 0;
      for (int y = flat.height * j / kFlatBlocks; y < flat.height * (j + 1) / kFlatBlocks; y += 2)
        for (int x = flat.width * i / kFlatBlocks; x < flat.width * (i + 1) / kFlatBlocks; x += 2) {
          const float* v = flat.at(x, y);
          sum += static_cast<double>(v[0] + v[1] + v[2]);
          ++n;
        }
      least = std::min(least, sum / n);
      most = std::max(most, sum / n);
    }
  if (least >= kDarkestFlat * most && most > 0) return {};
  return fail(ErrorCode::invalid_input,
              fmt::format("the flat-field picture is dark in a part: {:.0f} % of its brightest", 100 * least / most),
              "Take it of an even light that fills the whole picture, with lens, aperture and focus untouched.");
}

namespace {

Result<void> check(const LinearPicture& field, const LinearPicture& again, const LinearPicture& flat) {
  for (const auto& [p, name] :
       {std::pair{&again, "second picture of the field"}, std::pair{&flat, "flat-field picture"}})
    if (p->width != field.width || p->height != field.height)
      return fail(ErrorCode::invalid_input,
                  fmt::format("the {} has {} x {} pixels, the picture of the field {} x {}", name, p->width, p->height,
                              field.width, field.height),
                  "Take all with one camera, uncropped.");
  for (const auto& [p, name] :
       {std::pair{&field, "picture of the field"}, std::pair{&again, "second picture of the field"},
        std::pair{&flat, "flat-field picture"}})
    if (auto ok = check_exposure(*p, name); !ok) return ok;
  return check_flat_field(flat);
}

}  // namespace

Result<std::vector<FieldGrid>> measure_field(const LinearPicture& field, const LinearPicture& again,
                                             const LinearPicture& flat, const FieldOptions& options) {
  if (auto ok = check(field, again, flat); !ok) return tl::unexpected(ok.error());
  const auto outline = find_display(field);
  if (!outline) return tl::unexpected(outline.error());
  const auto later = find_display(again);
  if (!later) return tl::unexpected(later.error());
  if (auto ok = check_moved(*outline, *later, field.width); !ok) return tl::unexpected(ok.error());
  const FieldReader read(field, again, flat, *outline, options.weights);
  const auto centre = read.at(0.5, 0.5);
  if (!centre) return tl::unexpected(centre.error());
  std::vector<FieldGrid> out;
  for (const auto& size : kGrids) {
    std::vector<Read> points;
    for (int row = 0; row < size[1]; ++row)
      for (int column = 0; column < size[0]; ++column) {
        auto point = read.at((column + 0.5) / size[0], (row + 0.5) / size[1]);
        if (!point) return tl::unexpected(point.error());
        points.push_back(*point);
      }
    out.push_back(grid_of(points, *centre, size, options));
  }
  return out;
}

}  // namespace provenit::evaluation
