// Where the display lies in a camera's picture.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "provenit/colour/statistics.h"
#include "provenit/evaluation/field_picture.h"

namespace provenit::evaluation {
namespace {

using Point = std::array<double, 2>;

constexpr int kLines = 96;                   // along which each side is looked for
constexpr double kFewestOutlineEdges = 0.8;  // of them must find it
constexpr double kStraight = 0.005;          // of the width: largest distance from the line that counts as straight

double light(const LinearPicture& p, int x, int y) {
  const float* v = p.at(x, y);
  return static_cast<double>(v[0]) + static_cast<double>(v[1]) + static_cast<double>(v[2]);
}

/// Mean of five pixels across the way in which the side is looked for: a screen's own grid should not matter.
double light_across(const LinearPicture& p, int x, int y, bool along_x) {
  double sum = 0;
  for (int d = -2; d <= 2; ++d) {
    const int u = std::clamp(along_x ? x : x + d, 0, p.width - 1), v = std::clamp(along_x ? y + d : y, 0, p.height - 1);
    sum += light(p, u, v) / 5;
  }
  return sum;
}

/// Median over a lattice in the middle of the picture, which the display must cover.
double field_level(const LinearPicture& p) {
  std::vector<double> values;
  for (int j = 0; j < 24; ++j)
    for (int i = 0; i < 24; ++i) values.push_back(light(p, p.width * (36 + i) / 96, p.height * (36 + j) / 96));
  std::ranges::sort(values);
  return colour::quantile(values, 0.5);
}

struct Line {  ///< a x + b y = c, (a, b) of length 1
  double a = 0, b = 0, c = 0;
  [[nodiscard]] double distance(const Point& p) const { return std::fabs(a * p[0] + b * p[1] - c); }
};

/// Through the points by least squares, twice: the second time without those that lie far off.
Line fit(std::vector<Point> points) {
  Line line;
  for (int pass = 0; pass < 3; ++pass) {
    const auto n = static_cast<double>(points.size());
    Point mean{};
    for (const auto& p : points) mean[0] += p[0] / n, mean[1] += p[1] / n;
    double xx = 0, xy = 0, yy = 0;
    for (const auto& p : points) {
      const double dx = p[0] - mean[0], dy = p[1] - mean[1];
      xx += dx * dx, xy += dx * dy, yy += dy * dy;
    }
    const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
    line = {.a = -std::sin(angle), .b = std::cos(angle), .c = 0};
    line.c = line.a * mean[0] + line.b * mean[1];
    std::ranges::sort(points, {}, [&](const Point& p) { return line.distance(p); });
    if (pass < 2) points.resize(std::max<std::size_t>(8, points.size() * 9 / 10));
  }
  return line;
}

Point crossing(const Line& p, const Line& q) {
  const double d = p.a * q.b - p.b * q.a;
  return {(p.c * q.b - p.b * q.c) / d, (p.a * q.c - p.c * q.a) / d};
}

struct Side {
  const char* name;
  bool along_x;  ///< looked for along rows
  bool from_start;
};

/// Where light first passes half of the field's, from the border inwards; the border itself must be dark.
Result<Line> find_side(const LinearPicture& p, const Side& side, double half) {
  std::vector<Point> points;
  const int across = side.along_x ? p.height : p.width, length = side.along_x ? p.width : p.height;
  int asked = 0;
  for (int k = 0; k < kLines; ++k) {
    const int line = across * (k + kLines / 2) / (2 * kLines);  // the middle half: corners lie elsewhere
    ++asked;
    const auto value = [&](int i) {
      const int at = side.from_start ? i : length - 1 - i;
      return side.along_x ? light_across(p, at, line, true) : light_across(p, line, at, false);
    };
    if (value(0) >= half) continue;
    for (int i = 1; i < length / 2; ++i) {
      const double before = value(i - 1), now = value(i);
      if (now < half) continue;
      const double at = i - 1 + (half - before) / (now - before);
      const double place = 0.5 + (side.from_start ? at : length - 1 - at);
      points.push_back(side.along_x ? Point{place, line + 0.5} : Point{line + 0.5, place});
      break;
    }
  }
  if (static_cast<double>(points.size()) < kFewestOutlineEdges * asked)
    return fail(ErrorCode::invalid_input, fmt::format("the {} side of the display cannot be seen", side.name),
                "Let the camera see the whole display with something dark around it.");
  const Line line = fit(points);
  std::vector<double> off;
  for (const auto& point : points) off.push_back(line.distance(point));
  std::ranges::sort(off);
  if (colour::quantile(off, 0.9) > kStraight * p.width)
    return fail(ErrorCode::invalid_input,
                fmt::format("the {} side of the display is not straight: {:.1f} pixels off", side.name,
                            colour::quantile(off, 0.9)),
                "Use a lens that keeps lines straight, take away what stands before the display, and do not move.");
  return line;
}

}  // namespace

std::array<double, 2> DisplayOutline::at(double u, double v) const {
  // Unit square to quadrilateral. source  Heckbert, Fundamentals of texture mapping and image warping (1989), 2.2.3
  // (from memory)
  const auto& [p0, p1, p2, p3] = corner;  // (0,0), (1,0), (1,1), (0,1)
  const double sx = p0[0] - p1[0] + p2[0] - p3[0], sy = p0[1] - p1[1] + p2[1] - p3[1];
  const double dx1 = p1[0] - p2[0], dx2 = p3[0] - p2[0], dy1 = p1[1] - p2[1], dy2 = p3[1] - p2[1];
  const double d = dx1 * dy2 - dx2 * dy1;
  const double g = (sx * dy2 - dx2 * sy) / d, h = (dx1 * sy - sx * dy1) / d;
  const double w = g * u + h * v + 1;
  return {((p1[0] - p0[0] + g * p1[0]) * u + (p3[0] - p0[0] + h * p3[0]) * v + p0[0]) / w,
          ((p1[1] - p0[1] + g * p1[1]) * u + (p3[1] - p0[1] + h * p3[1]) * v + p0[1]) / w};
}

Result<DisplayOutline> find_display(const LinearPicture& picture) {
  const double half = 0.5 * field_level(picture);
  if (!(half > 0))
    return fail(ErrorCode::invalid_input, "the middle of the picture is dark", "Let the display fill the middle.");
  std::array<Line, 4> lines;
  constexpr std::array<Side, 4> sides{
      {{"left", true, true}, {"top", false, true}, {"right", true, false}, {"bottom", false, false}}};
  for (std::size_t i = 0; i < sides.size(); ++i) {
    const auto line = find_side(picture, sides[i], half);
    if (!line) return tl::unexpected(line.error());
    lines[i] = *line;
  }
  const auto& [left, top, right, bottom] = lines;
  return DisplayOutline{{crossing(left, top), crossing(top, right), crossing(right, bottom), crossing(bottom, left)}};
}

}  // namespace provenit::evaluation
