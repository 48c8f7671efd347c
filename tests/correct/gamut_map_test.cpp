#include "provenit/correct/gamut_map.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>

#include "provenit/colour/difference.h"
#include "provenit/correct/smoothness.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using colour::AbsoluteRgb;
using testing::HasSubstr;

const Target kP3{.primaries = colour::p3_d65_primaries, .peak = {.cdm2 = 600}, .black = {.cdm2 = 0.002}};
const Target kSdr{.primaries = colour::bt709_primaries, .peak = {.cdm2 = 100}, .black = {.cdm2 = 0.05}};
const MappingChoice kHard{.mapping = Mapping::hard_clip};

GamutMap map_of(const Target& target, const MappingChoice& choice) {
  return GamutMap::make(target, choice).value();
}

/// BT.2020 light over the whole of PQ.
AbsoluteRgb<> light(const Triple& e) {
  return pq_eotf(colour::SignalRgb<>{.r = e[0], .g = e[1], .b = e[2]});
}
colour::Itp<> itp(const AbsoluteRgb<>& c) {
  return itp_from_ictcp(ictcp_from_pq_rgb(c));
}
double chroma(const colour::Itp<>& c) {
  return std::hypot(c.t, c.p);
}
double difference(const AbsoluteRgb<>& a, const AbsoluteRgb<>& b) {
  return delta_e_itp(ictcp_from_pq_rgb(a), ictcp_from_pq_rgb(b));
}

TEST(Shoulder, LeavesWithSlopeOneArrivesWithNoneAndRises) {
  for (const auto& [knee, reach, top] : {Triple{0.8, 1.3, 1}, {0.5, 2, 1}, {0.2, 1, 0.6}}) {
    constexpr double h = 1e-6;
    EXPECT_NEAR((shoulder(knee + h, knee, reach, top) - knee) / h, 1, 1e-4);
    EXPECT_NEAR((top - shoulder(reach - h, knee, reach, top)) / h, 0, 1e-4);
    double before = 0;
    for (double x = 0; x < 2.2; x += 0.001) {
      const double y = shoulder(x, knee, reach, top);
      EXPECT_GE(y, before) << x;
      before = y;
    }
    EXPECT_EQ(before, top);
  }
}

// BT.2390-11 5.4.1 as computed for 0 to 4000 cd/m2 into 0.005 to 1000; black left out here, which changes the levels
// below by less than 0.1 %.
TEST(GamutMap, GreysRollOffAsBt2390HasIt) {
  const GamutMap map = map_of({.primaries = colour::bt2020_primaries, .peak = {.cdm2 = 1000}, .black = {.cdm2 = 0}},
                              {.source_peak = {.cdm2 = 4000}});
  for (const auto& [in, out] :
       {std::pair{400.0, 400.0}, {600.0, 590.94}, {1000.0, 814.77}, {2000.0, 975.05}, {4000.0, 1000.0}}) {
    const auto c = map.mapped({.r = in, .g = in, .b = in});
    EXPECT_NEAR(c.g / out, 1, 1e-3) << in;
    EXPECT_NEAR(c.r, c.g, 1e-9 * out);
    EXPECT_NEAR(c.b, c.g, 1e-9 * out);
  }
}

TEST(GamutMap, EverythingFitsAfterwardsAndKeepsItsHue) {
  for (const Target& target : {kP3, kSdr})
    for (const MappingChoice& choice : {kHard, MappingChoice{}, MappingChoice{.knee = 0.5, .reach = 1.8}}) {
      const GamutMap map = map_of(target, choice);
      for (const Triple& e : Draw(71).triples(3000)) {
        const AbsoluteRgb<> in = light(e), out = map.mapped(in);
        ASSERT_GE(map.margin(out), -1e-9) << e[0] << ' ' << e[1] << ' ' << e[2];
        const auto a = itp(in), b = itp(out);
        if (chroma(b) < 1e-6) continue;
        const double turn = std::remainder(std::atan2(a.p, a.t) - std::atan2(b.p, b.t), 2 * std::numbers::pi);
        ASSERT_NEAR(turn, 0, 1e-9 / chroma(b)) << e[0] << ' ' << e[1] << ' ' << e[2];
      }
    }
}

TEST(GamutMap, ColoursOutsideBt2020AndNoNumbers) {
  const GamutMap map = map_of(kP3, {});
  for (const AbsoluteRgb<>& c : {AbsoluteRgb<>{.r = 300, .g = -5, .b = 20},
                                 {.r = -40, .g = 200, .b = -10},
                                 {.r = -1, .g = -1, .b = -1},
                                 {.r = 0, .g = 0, .b = 0},
                                 {.r = 1e5, .g = 1e5, .b = 0}})
    EXPECT_GE(map.margin(map.mapped(c)), -1e-9) << c.r << ' ' << c.g << ' ' << c.b;
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto black = map.mapped({.r = nan, .g = 1, .b = 1});
  EXPECT_NEAR(black.g, kP3.black.cdm2, 1e-9);
}

TEST(GamutMap, HardClipLeavesWhatFits) {
  const GamutMap map = map_of(kP3, kHard);
  const auto from_p3 = rgb_to_rgb_matrix(colour::p3_d65_primaries, colour::bt2020_primaries);
  for (const Triple& v : Draw(72).triples(2000)) {
    const AbsoluteRgb<> own{.r = 0.002 + 599.9 * v[0], .g = 0.002 + 599.9 * v[1], .b = 0.002 + 599.9 * v[2]};
    const AbsoluteRgb<> in = rgb_from_rgb(own, from_p3), out = map.mapped(in);
    EXPECT_EQ(in.r, out.r);
    EXPECT_EQ(in.g, out.g);
    EXPECT_EQ(in.b, out.b);
  }
}

TEST(GamutMap, SoftShoulderLeavesTheInnerPart) {
  // A source no brighter than the target: only chroma can give way, and at half of what fits it does not.
  const MappingChoice choice{.source_peak = kP3.peak};
  const GamutMap map = map_of(kP3, choice);
  int far_inside = 0;
  for (const Triple& v : Draw(73).triples(2000)) {
    const double grey = 0.3333 * (v[0] + v[1] + v[2]);
    const auto mixed = [&](double x) { return 0.002 + 500 * (0.5 * grey + 0.5 * x); };
    const AbsoluteRgb<> in{.r = mixed(v[0]), .g = mixed(v[1]), .b = mixed(v[2])};
    auto further = itp(in);
    further.t *= 1.3;
    further.p *= 1.3;
    if (map.margin(pq_rgb_from_ictcp(ictcp_from_itp(further))) < 0.05 || in.g > 250) continue;
    ++far_inside;
    EXPECT_LE(difference(in, map.mapped(in)), 1e-6);
  }
  EXPECT_GT(far_inside, 300);
}

TEST(GamutMap, HueBeatsClippingOfChannels) {
  const GamutMap map = map_of(kSdr, kHard);
  const auto to_709 = rgb_to_rgb_matrix(colour::bt2020_primaries, colour::bt709_primaries);
  const auto from_709 = rgb_to_rgb_matrix(colour::bt709_primaries, colour::bt2020_primaries);
  const auto turn = [](const AbsoluteRgb<>& a, const AbsoluteRgb<>& b) {
    const auto p = itp(a), q = itp(b);
    return chroma(q) < 1e-4
               ? 0
               : std::fabs(std::remainder(std::atan2(p.p, p.t) - std::atan2(q.p, q.t), 2 * std::numbers::pi));
  };
  double ours = 0, channels = 0;
  for (const Triple& e : Draw(74).triples(500, 0.2, 0.6)) {
    const AbsoluteRgb<> in = light(e);
    auto own = rgb_from_rgb(in, to_709);
    for (double* x : {&own.r, &own.g, &own.b}) *x = std::clamp(*x, 0.05, 100.0);
    ours = std::max(ours, turn(in, map.mapped(in)));
    channels = std::max(channels, turn(in, rgb_from_rgb(own, from_709)));
  }
  EXPECT_LE(ours, 1e-6);
  EXPECT_GE(channels, 0.2);  // more than 11 degrees
}

/// What happens along straight lines through PQ, in steps of 1/1000 of a line, in Delta E ITP.
struct AlongLines {
  std::vector<double> steepness;  ///< step that comes out over step that goes in, sorted
  std::vector<double> bends;      ///< second differences of what comes out, sorted
  [[nodiscard]] static double in_thousand(const std::vector<double>& v, std::size_t n) {
    return v[v.size() * n / 1000];
  }
};
AlongLines along_lines(const GamutMap& map) {
  Draw draw(75);
  AlongLines result;
  for (int line = 0; line < 20; ++line) {
    const Triple a = draw.triple(), b = draw.triple();
    std::vector<colour::Itp<>> in, out;
    for (int k = 0; k <= 1000; ++k) {
      const double t = k / 1000.0;
      const AbsoluteRgb<> c = light({a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2])});
      in.push_back(itp(c));
      out.push_back(itp(map.mapped(c)));
    }
    const auto step = [](const auto& v, std::size_t k) {
      return 720 * std::hypot(v[k].i - v[k - 1].i, v[k].t - v[k - 1].t, v[k].p - v[k - 1].p);
    };
    for (std::size_t k = 1; k < out.size(); ++k) {
      result.steepness.push_back(step(out, k) / step(in, k));
      if (k + 1 == out.size()) continue;
      const auto second = [&](auto f) { return f(out[k - 1]) - 2 * f(out[k]) + f(out[k + 1]); };
      result.bends.push_back(720 * std::hypot(second([](const auto& c) { return c.i; }),
                                              second([](const auto& c) { return c.t; }),
                                              second([](const auto& c) { return c.p; })));
    }
  }
  std::ranges::sort(result.steepness);
  std::ranges::sort(result.bends);
  return result;
}

TEST(GamutMap, StepsStaySmallAndTheShoulderBendsLess) {
  const auto hard = along_lines(map_of(kP3, kHard)), soft = along_lines(map_of(kP3, {}));
  EXPECT_LE(hard.steepness.back(), 8);
  EXPECT_LE(soft.steepness.back(), 4);
  EXPECT_LE(AlongLines::in_thousand(hard.steepness, 999), 3);
  EXPECT_LE(AlongLines::in_thousand(soft.steepness, 999), 2);
  EXPECT_LT(AlongLines::in_thousand(soft.bends, 999), 0.6 * AlongLines::in_thousand(hard.bends, 999));
  RecordProperty("bend", std::to_string(AlongLines::in_thousand(hard.bends, 999)) + " " +
                             std::to_string(AlongLines::in_thousand(soft.bends, 999)));
  // Near the blue of BT.709 the gamut is a bent horn in ICtCp: keeping hue exactly, a way out can graze it (see the
  // docs).
  for (const MappingChoice& choice : {kHard, MappingChoice{}})
    EXPECT_LE(AlongLines::in_thousand(along_lines(map_of(kSdr, choice)).steepness, 999), 3);
}

TEST(GamutMap, NearNeutralIsSmooth) {
  for (const MappingChoice& choice : {kHard, MappingChoice{}}) {
    const GamutMap map = map_of(kP3, choice);
    for (const double e : {0.1, 0.4, 0.6, 0.7, 0.8, 0.95}) {
      const AbsoluteRgb<> grey = map.mapped(light({e, e, e}));
      for (int k = 0; k < 36; ++k) {
        const double h = k * std::numbers::pi / 18;
        const colour::Itp<> near{.i = e, .t = 1e-5 * std::cos(h), .p = 1e-5 * std::sin(h)};
        EXPECT_LE(difference(grey, map.mapped(pq_rgb_from_ictcp(ictcp_from_itp(near)))), 720 * 2e-5) << e << ' ' << k;
      }
    }
  }
}

const Values kPq{.encoding = {.bits = 12, .range = signal::Range::full}};

TEST(GamutLut, SoftIsSmootherThanHardAndGreysDoNotBand) {
  const auto hard = gamut_lut(map_of(kP3, kHard), 33, kPq, kPq), soft = gamut_lut(map_of(kP3, {}), 33, kPq, kPq);
  ASSERT_TRUE(hard && soft);
  const Smoothness h = smoothness(std::get<Lut3d>(hard->stages[0])), s = smoothness(std::get<Lut3d>(soft->stages[0]));
  EXPECT_LT(s.root_mean_square, h.root_mean_square);
  EXPECT_LT(s.largest_on_greys, 0.5 * h.largest_on_greys);
  // A hard clip bends a grey ramp by a whole step at the peak; the shoulder spreads it over the steps above its knee.
  EXPECT_NEAR(h.largest_on_greys, 1.0 / 32, 1.0 / 64);
  for (const auto& [name, value] : {std::pair{"hard", h}, {"soft", s}})
    RecordProperty(name, std::to_string(value.largest) + " " + std::to_string(value.root_mean_square) + " " +
                             std::to_string(value.largest_on_greys) + " " + std::to_string(value.falling_steps));
}

TEST(GamutLut, NodesThatFitAreExactInEveryEncoding) {
  const Values hlg{.encoding = {.transfer = signal::Transfer::hlg, .bits = 10, .range = signal::Range::narrow},
                   .scale = Scale::code};
  const Values sdr{.encoding = {.transfer = signal::Transfer::bt1886,
                                .container = signal::Container::bt709,
                                .bits = 10,
                                .range = signal::Range::narrow,
                                .nominal_peak_cdm2 = 100},
                   .scale = Scale::code};
  const Target everything{.primaries = colour::bt2020_primaries, .peak = {.cdm2 = 10000}, .black = {.cdm2 = 0}};
  const GamutMap map = map_of(everything, kHard);
  for (const Values& values : {kPq, hlg, sdr}) {
    const auto lut = gamut_lut(map, 9, values, values);
    ASSERT_TRUE(lut);
    ASSERT_TRUE(validate(*lut));
    const auto& table = std::get<Lut3d>(lut->stages[0]);
    const double low = number_of(values, {.value = 0});
    for (int i = 0; i < 9 * 9 * 9; ++i) {
      const int r = i / 81, g = i / 9 % 9, b = i % 9;
      const Triple in{r / 8.0, g / 8.0, b / 8.0};
      if (std::min({in[0], in[1], in[2]}) <= low + 1e-3) continue;  // below black no light is to be had
      EXPECT_LE(largest_difference(table.node(r, g, b), in), 1e-9) << r << g << b;
    }
  }
}

TEST(GamutMap, WhatCannotBe) {
  const auto fault = [](const Target& target, const MappingChoice& choice) {
    const auto map = GamutMap::make(target, choice);
    return map ? std::string("none") : map.error().text();
  };
  EXPECT_EQ(fault(kP3, {}), "none");
  EXPECT_THAT(fault({.primaries = kP3.primaries, .peak = {.cdm2 = 1}, .black = {.cdm2 = 2}}, {}),
              HasSubstr("a target of 2 to 1"));
  EXPECT_THAT(fault({.primaries = {}, .peak = {.cdm2 = 100}, .black = {.cdm2 = 0}}, {}), HasSubstr("span no gamut"));
  EXPECT_THAT(fault(kP3, {.source_peak = {.cdm2 = 0}}), HasSubstr("a source of 0"));
  EXPECT_THAT(fault(kP3, {.knee = 0.9, .reach = 1.5}), HasSubstr("knee 0.9 and reach 1.5"));
  EXPECT_EQ(gamut_lut(map_of(kP3, {}), 1, kPq, kPq).error().code, ErrorCode::out_of_range);
}

TEST(Smoothness, OfAKnownBend) {
  Lut1d line = identity_1d(5);
  EXPECT_NEAR(smoothness(line).largest, 0, 1e-15);
  line.channel[1][2] += 0.1;
  EXPECT_NEAR(smoothness(line).largest, 0.2, 1e-12);
  line.channel[2][3] = 0.1;
  EXPECT_EQ(smoothness(line).falling_steps, 1);
  Lut3d cube = identity_3d(5);
  EXPECT_NEAR(smoothness(cube).largest, 0, 1e-15);
  cube.node(2, 2, 2)[1] += 0.05;
  EXPECT_NEAR(smoothness(cube).largest, 0.1, 1e-12);
  EXPECT_NEAR(smoothness(cube).largest_on_greys, 0.1, 1e-12);
  EXPECT_GT(smoothness(cube).root_mean_square, 0);
}

}  // namespace
}  // namespace provenit::correct
