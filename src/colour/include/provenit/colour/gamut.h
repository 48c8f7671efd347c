#pragma once
// Gamut area and coverage in a chromaticity plane, by exact polygons. A figure without its plane means nothing: the two
// planes give different numbers for the same display.
#include <span>

#include "provenit/colour/polygon.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"

namespace provenit::colour {

enum class ChromaticityPlane { xy, uv_prime };

/// The chromaticity as a point of that plane.
template <class T>
[[nodiscard]] Point2<T> point_in(ChromaticityPlane plane, const Xy<T>& c) {
  if (plane == ChromaticityPlane::xy) return {c.x, c.y};
  const auto uv = uv_prime_from_xy(c);
  return {uv.u, uv.v};
}

/// Triangle of the primaries (their white is not used).
template <class T>
[[nodiscard]] Polygon<T> gamut_polygon(ChromaticityPlane plane, const Primaries<T>& p) {
  return {point_in(plane, p.red), point_in(plane, p.green), point_in(plane, p.blue)};
}

/// Convex hull of any number of primaries (displays with more than three).
template <class T>
[[nodiscard]] Polygon<T> gamut_polygon(ChromaticityPlane plane, std::span<const Xy<T>> primaries) {
  std::vector<Point2<T>> points;
  for (const auto& c : primaries) points.push_back(point_in(plane, c));
  return convex_hull(std::move(points));
}

/// The same polygon in another scalar: gamut_coverage wants one scalar for both.
template <class T, class S>
[[nodiscard]] Polygon<T> polygon_cast(const Polygon<S>& polygon) {
  Polygon<T> out;
  for (const auto& p : polygon) out.push_back({T(p.x), T(p.y)});
  return out;
}

/// Area of (test and reference together) / area of reference, 0 to 1, of convex polygons.
/// slope   0 once the test holds the whole reference: near coverage 1 use Monte Carlo, its distribution is one-sided
/// errors  none; a reference of area 0 gives NaN
template <class T>
[[nodiscard]] T polygon_coverage(const Polygon<T>& test, const Polygon<T>& reference) {
  return T(area(convex_intersection(test, reference)) / area(reference));
}

template <class T>
[[nodiscard]] T gamut_area(ChromaticityPlane plane, const Primaries<T>& p) {
  return area(gamut_polygon(plane, p));
}

/// Share of the reference gamut that the test gamut reproduces.
template <class A, class B>
[[nodiscard]] Mixed<A, B> gamut_coverage(ChromaticityPlane plane, const Primaries<A>& test,
                                         const Primaries<B>& reference) {
  using T = Mixed<A, B>;
  return polygon_coverage(polygon_cast<T>(gamut_polygon(plane, test)),
                          polygon_cast<T>(gamut_polygon(plane, reference)));
}

/// Area of test / area of reference, above 1 if larger: says nothing about what is covered.
template <class A, class B>
[[nodiscard]] Mixed<A, B> gamut_area_ratio(ChromaticityPlane plane, const Primaries<A>& test,
                                           const Primaries<B>& reference) {
  return gamut_area(plane, test) / gamut_area(plane, reference);
}

}  // namespace provenit::colour
