#pragma once
// Plane polygons of any scalar: area, convex hull, exact convex clip. Templates, so that derivatives flow; branches
// look at values only.
#include <algorithm>
#include <cstddef>
#include <vector>

#include "provenit/colour/scalar.h"

namespace provenit::colour {

template <class T = double>
struct Point2 {
  T x{}, y{};
};

/// Corners in order, the last joined to the first; either orientation.
template <class T = double>
using Polygon = std::vector<Point2<T>>;

namespace detail {
/// Twice the area of the triangle a, b, c; positive if they turn left.
template <class T>
T turn(const Point2<T>& a, const Point2<T>& b, const Point2<T>& c) {
  return T((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x));
}
}  // namespace detail

/// Area by the shoelace formula, positive for corners that turn left (anticlockwise). Fewer than three corners: 0.
template <class T>
[[nodiscard]] T signed_area(const Polygon<T>& polygon) {
  T twice(0.0);
  for (std::size_t i = 1; i + 1 < polygon.size(); ++i)
    twice = twice + detail::turn(polygon[0], polygon[i], polygon[i + 1]);
  return T(0.5 * twice);
}

template <class T>
[[nodiscard]] T area(const Polygon<T>& polygon) {
  const T a = signed_area(polygon);
  return a < 0.0 ? T(-a) : a;
}

/// The same corners, anticlockwise.
template <class T>
[[nodiscard]] Polygon<T> anticlockwise(Polygon<T> polygon) {
  if (signed_area(polygon) < 0.0) std::reverse(polygon.begin(), polygon.end());
  return polygon;
}

/// Smallest convex polygon around the points, anticlockwise, without corners that lie on a side.
template <class T>
[[nodiscard]] Polygon<T> convex_hull(std::vector<Point2<T>> points) {
  std::sort(points.begin(), points.end(),
            [](const auto& a, const auto& b) { return a.x < b.x || (!(b.x < a.x) && a.y < b.y); });
  if (points.size() < 3) return points;
  Polygon<T> hull;
  const auto add_chain = [&hull](auto first, auto last) {  // Andrew's monotone chain
    const std::size_t base = hull.size();
    for (auto p = first; p != last; ++p) {
      while (hull.size() >= base + 2 && !(detail::turn(hull[hull.size() - 2], hull.back(), *p) > 0.0)) hull.pop_back();
      hull.push_back(*p);
    }
    hull.pop_back();
  };
  add_chain(points.begin(), points.end());
  add_chain(points.rbegin(), points.rend());
  return hull;
}

/// The part of a convex polygon inside another, anticlockwise; empty if they do not meet.
/// range   both convex; shared corners and sides are allowed
/// exact   to rounding: corners of the result are corners of the two or crossings of their sides
/// slope   that of the corners that form the result; at coincidences (a corner on the other's side) it is one-sided
/// source  Sutherland and Hodgman, Comm. ACM 17(1), 32-42, 1974
template <class T>
[[nodiscard]] Polygon<T> convex_intersection(const Polygon<T>& a, const Polygon<T>& b) {
  Polygon<T> kept = anticlockwise(a);
  const Polygon<T> clip = anticlockwise(b);
  for (std::size_t side = 0; side < clip.size() && !kept.empty(); ++side) {
    const Point2<T>&from = clip[side], &to = clip[(side + 1) % clip.size()];
    Polygon<T> next;
    for (std::size_t i = 0; i < kept.size(); ++i) {
      const Point2<T>&p = kept[i], &q = kept[(i + 1) % kept.size()];
      const T dp = detail::turn(from, to, p), dq = detail::turn(from, to, q);
      if (dp >= 0.0) next.push_back(p);
      if ((dp > 0.0 && dq < 0.0) || (dp < 0.0 && dq > 0.0)) {
        const T t = dp / (dp - dq);
        next.push_back({T(p.x + t * (q.x - p.x)), T(p.y + t * (q.y - p.y))});
      }
    }
    kept = std::move(next);
  }
  return kept;
}

/// Inside or on the border of a convex polygon.
template <class T>
[[nodiscard]] bool contains(const Polygon<T>& convex, const Point2<T>& point) {
  const Polygon<T> p = anticlockwise(convex);
  for (std::size_t i = 0; i < p.size(); ++i)
    if (detail::turn(p[i], p[(i + 1) % p.size()], point) < 0.0) return false;
  return p.size() >= 3;
}

}  // namespace provenit::colour
