#include "provenit/colour/polygon.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "provenit/colour/dual.h"

// Boost.Geometry is the outside check here and is included nowhere else: it costs ten seconds of compiling. Without the
// define, 1.74 rounds coordinates to a grid and is off by 1e-8.
#define BOOST_GEOMETRY_NO_ROBUSTNESS
#include <boost/geometry.hpp>
#include <boost/geometry/geometries/point_xy.hpp>
#include <boost/geometry/geometries/polygon.hpp>

namespace provenit::colour {
namespace {

Polygon<> random_convex(std::mt19937_64& random, int points) {
  std::uniform_real_distribution<double> unit(0, 1);
  std::vector<Point2<>> cloud;
  for (int i = 0; i < points; ++i) cloud.push_back({unit(random), unit(random)});
  return convex_hull(std::move(cloud));
}

double area_by_boost(const Polygon<>& a, const Polygon<>& b) {  // Boost.Geometry 1.74
  namespace bg = boost::geometry;
  using Point = bg::model::d2::point_xy<double>;
  using Shape = bg::model::polygon<Point, false, false>;
  const auto shape = [](const Polygon<>& p) {
    Shape s;
    for (const auto& c : p) bg::append(s.outer(), Point(c.x, c.y));
    return s;
  };
  std::vector<Shape> both;
  bg::intersection(shape(a), shape(b), both);
  double sum = 0;
  for (const auto& s : both) sum += bg::area(s);
  return sum;
}

TEST(Polygon, IntersectionAgreesWithBoostGeometry) {
  std::mt19937_64 random(20250101);
  for (int i = 0; i < 2000; ++i) {
    const auto a = random_convex(random, 3 + i % 5), b = random_convex(random, 3 + i % 7);
    EXPECT_NEAR(area(convex_intersection(a, b)), area_by_boost(a, b), 1e-12) << i;
  }
}

TEST(Polygon, IntersectionHasItsProperties) {
  std::mt19937_64 random(11);
  for (int i = 0; i < 500; ++i) {
    auto a = random_convex(random, 6);
    const auto b = random_convex(random, 3);
    const double both = area(convex_intersection(a, b));
    EXPECT_NEAR(both, area(convex_intersection(b, a)), 1e-15);
    EXPECT_LE(both, std::min(area(a), area(b)) + 1e-15);
    EXPECT_NEAR(area(convex_intersection(a, a)), area(a), 1e-15);
    std::reverse(a.begin(), a.end());
    EXPECT_NEAR(both, area(convex_intersection(a, b)), 1e-15) << "orientation does not matter";
  }
}

TEST(Polygon, SharedSidesAndCornersAreNoTrouble) {
  const Polygon<> unit{{0, 0}, {1, 0}, {1, 1}, {0, 1}}, right{{1, 0}, {2, 0}, {2, 1}, {1, 1}};
  EXPECT_EQ(area(convex_intersection(unit, right)), 0) << "they touch along a side";
  const Polygon<> half{{0, 0}, {1, 0}, {1, 1}};
  EXPECT_EQ(area(convex_intersection(unit, half)), 0.5) << "two sides and three corners in common";
  const Polygon<> far{{5, 5}, {6, 5}, {6, 6}};
  EXPECT_TRUE(convex_intersection(unit, far).empty());
}

TEST(Polygon, HullDropsWhatIsInsideAndOnTheSides) {
  const auto hull = convex_hull<double>({{0, 0}, {1, 0}, {0.5, 0}, {1, 1}, {0.5, 0.5}, {0, 1}, {0, 0}});
  EXPECT_EQ(hull.size(), 4U);
  EXPECT_EQ(signed_area(hull), 1);
}

TEST(Polygon, ContainsItsBorder) {
  const Polygon<> triangle{{0, 0}, {0, 1}, {1, 0}};
  EXPECT_TRUE(contains(triangle, {0.5, 0.5}));
  EXPECT_TRUE(contains(triangle, {0.0, 0.0}));
  EXPECT_TRUE(contains(triangle, {0.2, 0.3}));
  EXPECT_FALSE(contains(triangle, {0.51, 0.5}));
  EXPECT_FALSE(contains(Polygon<>{{0, 0}, {1, 0}}, {0.5, 0.0}));
}

TEST(Polygon, SlopesAgreeWithDifferences) {
  const Polygon<> b{{0, 0}, {1, 0.1}, {0.4, 1}};
  const auto with = [&b](double x, double y) {
    return area(convex_intersection(Polygon<>{{x, y}, {1.2, 0.3}, {0.2, 0.9}}, b));
  };
  const Polygon<Dual<2>> a{{Dual<2>::variable(0.1, 0), Dual<2>::variable(-0.1, 1)}, {1.2, 0.3}, {0.2, 0.9}};
  Polygon<Dual<2>> b_dual;
  for (const auto& p : b) b_dual.push_back({p.x, p.y});
  const auto both = area(convex_intersection(a, b_dual));
  EXPECT_NEAR(both.slope[0], (with(0.1 + 1e-6, -0.1) - with(0.1 - 1e-6, -0.1)) / 2e-6, 1e-8);
  EXPECT_NEAR(both.slope[1], (with(0.1, -0.1 + 1e-6) - with(0.1, -0.1 - 1e-6)) / 2e-6, 1e-8);
  EXPECT_GT(std::abs(both.slope[0]), 0.01);
}

}  // namespace
}  // namespace provenit::colour
