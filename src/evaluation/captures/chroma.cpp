// What is left of lines of two colours: difference of their chroma over that of the plain fields.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "captures/places.h"
#include "provenit/colour/primaries.h"
#include "provenit/evaluation/captures.h"
#include "provenit/signal/encoding.h"
#include "traces/figure.h"

namespace provenit::evaluation {
namespace {

using signal::PixelRectangle;
using Chroma = std::array<double, 2>;  // B' - Y', R' - Y'

constexpr const char* kPairs[] = {"red pair", "green pair", "blue pair"};
constexpr const char* kMore[] = {"red", "green", "blue"};
constexpr const char* kLess[] = {"cyan", "magenta", "yellow"};
constexpr double kLeast = 0.02;  // of the largest value in the frame: chroma that the plain fields of a pair differ by
constexpr double kHalf = 50;     // %: lines of 1 pixel keep more of their chroma than this, or it is carried at half

class ChromaReader {
 public:
  ChromaReader(const CapturedFrame& frame, const signal::TestPicture& picture)
      : frame_(frame), places_(picture.places(0)) {
    const auto m = colour::rgb_to_xyz_matrix(signal::primaries_of(picture.request().encoding.container));
    weight_ = {m(1, 0), m(1, 1), m(1, 2)};
  }
  [[nodiscard]] std::optional<PixelRectangle> find(const std::string& name) const { return find_place(places_, name); }
  /// Standard uncertainty of the mean along a direction, from the area's own pixels, which should all be alike.
  [[nodiscard]] double error_along(const Chroma& direction, const PixelRectangle& area) const {
    const double length = std::hypot(direction[0], direction[1]);
    double sum = 0, squares = 0;
    for (int y = area.top; y < area.top + area.height; ++y)
      for (int x = area.left; x < area.left + area.width; ++x) {
        const auto c = mean({x, y, 1, 1});
        const double v = (c[0] * direction[0] + c[1] * direction[1]) / length;
        sum += v;
        squares += v * v;
      }
    const double n = static_cast<double>(area.width) * area.height;
    return std::sqrt(std::max(0.0, squares - sum * sum / n)) / n;
  }
  [[nodiscard]] Chroma mean(const PixelRectangle& area) const {
    Chroma sum{};
    for (int y = area.top; y < area.top + area.height; ++y)
      for (int x = area.left; x < area.left + area.width; ++x) {
        const float* p = frame_.at(x, y);
        const double luma = weight_[0] * p[0] + weight_[1] * p[1] + weight_[2] * p[2];
        sum[0] += p[2] - luma;
        sum[1] += p[0] - luma;
      }
    const double n = static_cast<double>(area.width) * area.height;
    return {sum[0] / n, sum[1] / n};
  }

 private:
  const CapturedFrame& frame_;
  std::vector<signal::PicturePlace> places_;
  std::array<double, 3> weight_{};
};

PixelRectangle inner(PixelRectangle area, int by) {
  return {area.left + by, area.top + by, area.width - 2 * by, area.height - 2 * by};
}

/// Share of the plain difference that neighbouring lines of this field keep, one value per pair of lines; the outer
/// eight pixels are left out, where the grey around reaches in.
void add_shares(std::vector<double>& out, const ChromaReader& read, const Chroma& less, const Chroma& plain,
                PixelRectangle field, int width, bool upright) {
  constexpr int margin = 8;
  (upright ? field.top : field.left) += margin;
  (upright ? field.height : field.width) -= 2 * margin;
  const int length = upright ? field.width : field.height, lines = length / width;
  const int skip = (margin + width - 1) / width / 2 * 2 + 2;
  const double square = plain[0] * plain[0] + plain[1] * plain[1];
  const auto share = [&](int line) {
    auto area = field;
    (upright ? area.left : area.top) += line * width;
    (upright ? area.width : area.height) = width;
    const auto c = read.mean(area);
    return ((c[0] - less[0]) * plain[0] + (c[1] - less[1]) * plain[1]) / square;
  };
  for (int line = skip; line + 1 < lines - skip; line += 2) out.push_back(100 * (share(line) - share(line + 1)));
}

}  // namespace

Result<ChromaKept> measure_chroma(const CapturedFrame& frame, const signal::TestPicture& picture) {
  if (auto same = check_same_raster(frame, picture, "chroma_lines"); !same) return tl::unexpected(same.error());
  const ChromaReader read(frame, picture);
  const double largest = *std::ranges::max_element(frame.rgb);
  ChromaKept out;
  for (const bool upright : {true, false})
    for (const int width : {1, 2, 4}) {
      std::vector<double> shares;
      double plain_error = 0;  // variance, relative, of the plain differences' mean over the pairs
      for (int k = 0; k < 3; ++k) {
        const std::string pair = kPairs[k];
        const auto more = read.find(pair + ", plain " + kMore[k]), less = read.find(pair + ", plain " + kLess[k]);
        const auto line = read.find(
            fmt::format("{}, {} px {} line 1, {}", pair, width, upright ? "vertical" : "horizontal", kMore[k]));
        if (!more || !less || !line) return fail(ErrorCode::invalid_input, "the picture has no " + pair);
        const auto a = read.mean(inner(*more, 8)), b = read.mean(inner(*less, 8));
        const Chroma plain{a[0] - b[0], a[1] - b[1]};
        const std::size_t own = k == 0 ? 1 : 0;
        const bool right = k == 1 || (plain[own] > 0 && std::fabs(plain[own]) >= 0.5 * std::fabs(plain[1 - own]));
        if (!right || std::hypot(plain[0], plain[1]) < kLeast * largest)
          return fail(ErrorCode::invalid_input, "the plain fields of the " + pair + " do not differ as they should",
                      "Check that the frame is of this picture, not shifted, and that its order is R', G', B'.");
        for (const auto& area : {inner(*more, 8), inner(*less, 8)})
          plain_error += std::pow(read.error_along(plain, area) / std::hypot(plain[0], plain[1]) / 3, 2);
        // Fields of one row are equally large but for rounding to eight pixels.
        const PixelRectangle field{line->left, line->top, std::min(more->width, less->width) - 8,
                                   std::min(more->height, less->height) - 8};
        add_shares(shares, read, b, plain, field, width, upright);
      }
      if (shares.size() < 6)
        return fail(ErrorCode::invalid_input, "the fields are too small to be read", "Use a larger raster.");
      out.details.push_back(
          {width, upright,
           mean_figure(shares, {{"plain fields", std::fabs(colour::mean(shares)) * std::sqrt(plain_error)}},
                       "scatter of the lines")});
    }
  const bool full_across = out.details[0].percent.value > kHalf, full_down = out.details[3].percent.value > kHalf;
  out.kept = full_across ? (full_down ? "4:4:4" : "4:4:0") : (full_down ? "4:2:2" : "4:2:0");
  return out;
}

}  // namespace provenit::evaluation
