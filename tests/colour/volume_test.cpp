#include "provenit/colour/volume.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <random>

#include "provenit/colour/dual.h"

namespace provenit::colour {
namespace {

constexpr AdditiveDisplay<> kSrgb{bt709_primaries, {100}, {0}};
constexpr AdditiveDisplay<> kP3{p3_d65_primaries, {1000}, {0}};
constexpr AdditiveDisplay<> kBt2020{bt2020_primaries, {1000}, {0}};

Solid<> ictcp_of(const AdditiveDisplay<>& display, int samples = kVolumeSamples) {
  const auto cube = rgb_cube_surface(samples);
  return ictcp_solid(cube, surface_light(cube, display));
}

struct Box {
  double low[3], high[3];
  [[nodiscard]] double volume() const { return (high[0] - low[0]) * (high[1] - low[1]) * (high[2] - low[2]); }
};

/// Volume by counting random points inside, with its standard error: shares nothing with the triangles but the space's
/// inverse.
struct Count {
  double volume = 0, standard_error = 0;
};
template <class Inside>
Count hit_count(const Box& box, int points, Inside inside) {
  std::mt19937_64 random(4711);
  std::uniform_real_distribution<double> axis[3];
  for (int i = 0; i < 3; ++i) axis[i] = std::uniform_real_distribution<double>(box.low[i], box.high[i]);
  int hits = 0;
  for (int i = 0; i < points; ++i) {
    const double a = axis[0](random), b = axis[1](random), c = axis[2](random);
    hits += inside(a, b, c);
  }
  const double share = static_cast<double>(hits) / points;
  return {box.volume() * share, box.volume() * std::sqrt(share * (1 - share) / points)};
}

bool shows(const AdditiveDisplay<>& display, const AbsoluteXyz<>& c) {
  const auto light = rgb_from_xyz(c, xyz_to_rgb_matrix(display.primaries));
  const auto within = [&](double x) { return x >= 0 && x <= display.peak.cdm2; };
  return within(light.r) && within(light.g) && within(light.b);
}

TEST(Volume, CubeSurfaceIsClosedAndOutward) {
  for (const int n : {2, 3, 9}) {
    const auto cube = rgb_cube_surface(n);
    EXPECT_EQ(cube.vertices.size(), static_cast<std::size_t>(6 * (n - 1) * (n - 1) + 2));
    EXPECT_NEAR(signed_volume(cube), 1, 1e-14);
    std::map<std::pair<int, int>, int> edges;
    for (const auto& t : cube.triangles)
      for (int i = 0; i < 3; ++i) ++edges[{t[i], t[(i + 1) % 3]}];
    for (const auto& [edge, count] : edges) {
      EXPECT_EQ(count, 1);
      EXPECT_EQ((edges[{edge.second, edge.first}]), 1) << "each edge is walked once in each direction";
    }
  }
}

// Published figures for sRGB in CIELAB (D65 or D50) lie about 8.2e5 to 8.3e5; from memory, so the check that counts is
// hit counting.
TEST(Volume, CielabOfBt709AgreesWithHitCounting) {
  const auto white = xyz_from_xy(bt709_primaries.white, kSrgb.peak);
  const auto count = hit_count({{0, -90, -110}, {100, 100, 96}}, 1500000, [&](double L, double a, double b) {
    return shows(kSrgb, xyz_from_lab(Lab<>{L, a, b}, white));
  });
  EXPECT_NEAR(lab_volume(kSrgb), count.volume, 3.5 * count.standard_error);
  EXPECT_LT(count.standard_error, 2e-3 * count.volume);
  EXPECT_NEAR(lab_volume(kSrgb), 8.203e5, 100);
}

TEST(Volume, IctcpOfP3AgreesWithHitCounting) {
  const auto count = hit_count({{0, -0.5, -0.5}, {0.76, 0.5, 0.6}}, 1500000, [&](double i, double ct, double cp) {
    const auto lms = detail::lms_from_ictcp_pq * Vector3<>{i, ct, cp};
    if (lms[0] < 0 || lms[1] < 0 || lms[2] < 0) return false;
    const auto rgb = pq_rgb_from_ictcp(Ictcp<>{i, ct, cp});
    return shows(kP3, xyz_from_rgb(rgb, rgb_to_xyz_matrix(bt2020_primaries)));
  });
  EXPECT_NEAR(ictcp_volume(kP3), count.volume, 3.5 * count.standard_error + 1e-3 * count.volume);
  EXPECT_LT(count.standard_error, 4e-3 * count.volume);
}

TEST(Volume, FinerSamplesConverge) {
  const double limit = ictcp_volume(kP3, 129);
  EXPECT_NEAR(ictcp_volume(kP3, 9) / limit, 1, 0.015);
  EXPECT_NEAR(ictcp_volume(kP3, 33) / limit, 1, 0.001);
  EXPECT_NEAR(lab_volume(kSrgb, 9) / lab_volume(kSrgb, 129), 1, 4e-4);
  EXPECT_NEAR(lab_volume(kSrgb, 33) / lab_volume(kSrgb, 129), 1, 2e-5);
}

TEST(Volume, ColumnsSeeTheVolumeThatTetrahedraGive) {
  const auto p3 = ictcp_of(kP3), bt2020 = ictcp_of(kBt2020);
  const auto overlap = volume_overlap(p3, bt2020, 256);
  EXPECT_NEAR(overlap.reference / volume(bt2020), 1, 1e-5);
  EXPECT_NEAR(volume_overlap(p3, p3, 256).coverage(), 1, 1e-12);
  // P3 lies almost wholly inside BT.2020 at the same peak, so its share is nearly the ratio of the volumes.
  EXPECT_NEAR(overlap.coverage(), volume(p3) / volume(bt2020), 2e-3);
  EXPECT_LT(overlap.coverage(), volume(p3) / volume(bt2020));
}

// Two tilted boxes that share a third: exact answers, no axis-parallel face.
TEST(Volume, OverlapOfBoxesIsExact) {
  const auto tilted = [](double shift) {
    auto box = rgb_cube_surface(2);
    for (auto& v : box.vertices) {
      const double l = v[0], a = 3 * v[1] + shift, b = v[2];
      v = {l + 0.31 * a + 0.17 * b, 0.8 * a - 0.6 * b, 0.6 * a + 0.8 * b};
    }
    return box;
  };
  const auto overlap = volume_overlap(tilted(2), tilted(0), 300);
  EXPECT_NEAR(volume(tilted(0)), 3, 1e-12);
  EXPECT_NEAR(overlap.reference, 3, 0.02);
  EXPECT_NEAR(overlap.coverage(), 1.0 / 3, 2e-3);
  EXPECT_EQ(volume_overlap(tilted(10), tilted(0), 100).both, 0);
}

// Columns that stand exactly on the diagonals between triangles are counted once.
TEST(Volume, ColumnsOnEdgesAreCountedOnce) {
  const auto cube = rgb_cube_surface(2);
  const auto overlap = volume_overlap(cube, cube, 8);
  EXPECT_EQ(overlap.reference, 1);
  EXPECT_EQ(overlap.both, 1);
}

TEST(Volume, LightRunsFromBlackToPeak) {
  const auto cube = rgb_cube_surface(3);
  const auto light = surface_light(cube, AdditiveDisplay<>{p3_d65_primaries, {1000}, {0.05}});
  for (std::size_t i = 0; i < light.size(); ++i) {
    const auto& s = cube.vertices[i];
    const double sum = s[0] + s[1] + s[2];
    if (sum == 3) {
      EXPECT_NEAR(light[i].Y, 1000, 1e-9);
    }
    if (sum == 0) {
      EXPECT_NEAR(light[i].Y, 0.05, 1e-12);
    }
  }
}

TEST(Volume, CoverageAgreesWithHitCounting) {
  const AdditiveDisplay<> test{{{0.675, 0.322}, {0.27, 0.68}, {0.151, 0.058}, d65_video}, {800}, {0}};
  const auto cover = volume_overlap(ictcp_of(test), ictcp_of(kP3)).coverage();
  int in_reference = 0, in_both = 0;
  const auto to_xyz = rgb_to_xyz_matrix(bt2020_primaries);
  hit_count({{0, -0.5, -0.5}, {0.76, 0.5, 0.6}}, 1000000, [&](double i, double ct, double cp) {
    const auto lms = detail::lms_from_ictcp_pq * Vector3<>{i, ct, cp};
    if (lms[0] < 0 || lms[1] < 0 || lms[2] < 0) return false;
    const auto c = xyz_from_rgb(pq_rgb_from_ictcp(Ictcp<>{i, ct, cp}), to_xyz);
    const bool inside = shows(kP3, c);
    in_reference += inside;
    in_both += inside && shows(test, c);
    return inside;
  });
  const double counted = static_cast<double>(in_both) / in_reference;
  EXPECT_NEAR(cover, counted, 3.5 * std::sqrt(counted * (1 - counted) / in_reference) + 5e-4);
  EXPECT_LT(cover, 0.97);
}

TEST(Volume, BlackAndPeakMoveTheVolume) {
  const AdditiveDisplay<> raised{p3_d65_primaries, {1000}, {0.05}};
  EXPECT_LT(ictcp_volume(raised), 0.985 * ictcp_volume(kP3));
  const AdditiveDisplay<Dual<1>> peak{
      {{0.68, 0.32}, {0.265, 0.69}, {0.15, 0.06}, {0.3127, 0.329}}, {Dual<1>::variable(1000, 0)}, {0.001}};
  const AdditiveDisplay<> up{p3_d65_primaries, {1001}, {0.001}}, down{p3_d65_primaries, {999}, {0.001}};
  const auto v = ictcp_volume(peak, 9);
  EXPECT_NEAR(v.slope[0], (ictcp_volume(up, 9) - ictcp_volume(down, 9)) / 2, 1e-3 * v.slope[0]);
  EXPECT_EQ(itp_cubes(2.0), 720.0 * 720 * 720);
}

}  // namespace
}  // namespace provenit::colour
