// Spectra that nobody here made up, imported and evaluated: display primaries to XYZ to gamut and white.
#include <gtest/gtest.h>

#include <map>

#include "provenit/colour/gamut.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/instrument/import.h"

namespace provenit::instrument {
namespace {

std::map<std::string, colour::AbsoluteXyz<>> import(const std::string& name, const std::string& white, double cdm2,
                                                    colour::Observer observer = colour::Observer::cie1931_2deg) {
  ImportOptions o;
  o.observer = observer;
  o.relative_white = RelativeWhite{.cdm2 = cdm2, .step = white};
  const auto report = import_file(std::string(PROVENIT_SOURCE_DIR) + "/data/spectra/" + name, o);
  if (!report) throw std::runtime_error(report.error().text());
  EXPECT_TRUE(report->refused.empty());
  EXPECT_TRUE(report->remarks.empty());
  std::map<std::string, colour::AbsoluteXyz<>> out;
  for (const auto& r : report->readings) out[r.step] = r.measurement.xyz;
  return out;
}

// Expected values: sums over the file's 81 wavelengths with the CIE 1931 table (ISO/CIE 11664-1:2019), and polygons
// clipped half-plane by half-plane, both in exact rational arithmetic by a script that shares nothing with this
// project. The source library prints no chromaticity for these primaries. Tolerances: the digits given here.
TEST(OpenSpectra, CrtPrimariesGiveTheirChromaticities) {
  const auto xyz = import("crt_primaries.csv", "white", 80);
  const std::map<std::string, std::array<double, 3>> expected{{"red", {0.6188537724, 0.3440399336, 0.2161995098}},
                                                              {"green", {0.2764939917, 0.6049170566, 0.6975072149}},
                                                              {"blue", {0.1511900228, 0.0610849611, 0.0862932753}},
                                                              {"white", {0.2884313461, 0.3130720571, 1.0}}};
  ASSERT_EQ(xyz.size(), expected.size());
  for (const auto& [step, e] : expected) {
    const auto xy = colour::xy_from_xyz(xyz.at(step));
    EXPECT_NEAR(xy.x, e[0], 1e-9) << step;
    EXPECT_NEAR(xy.y, e[1], 1e-9) << step;
    EXPECT_NEAR(xyz.at(step).Y, 80 * e[2], 80e-9) << step;
  }
  const auto uv = colour::uv_prime_from_xyz(xyz.at("white"));
  EXPECT_NEAR(uv.u, 0.1866868952, 1e-9);
  EXPECT_NEAR(uv.v, 0.4559300332, 1e-9);
}

TEST(OpenSpectra, CrtPrimariesGiveTheirGamutCoverage) {
  const auto xyz = import("crt_primaries.csv", "white", 80);
  const colour::Primaries<> test{.red = colour::xy_from_xyz(xyz.at("red")),
                                 .green = colour::xy_from_xyz(xyz.at("green")),
                                 .blue = colour::xy_from_xyz(xyz.at("blue")),
                                 .white = colour::xy_from_xyz(xyz.at("white"))};
  struct Case {
    colour::Primaries<> reference;
    double xy, uv;
  };
  const std::vector<Case> cases{{colour::bt709_primaries, 0.9201459047, 0.8971359267},
                                {colour::p3_d65_primaries, 0.7199841312, 0.7395197011},
                                {colour::bt2020_primaries, 0.5165403116, 0.5388554220}};
  for (const auto& c : cases) {
    EXPECT_NEAR(colour::gamut_coverage(colour::ChromaticityPlane::xy, test, c.reference), c.xy, 1e-9);
    EXPECT_NEAR(colour::gamut_coverage(colour::ChromaticityPlane::uv_prime, test, c.reference), c.uv, 1e-9);
  }
}

// Published chromaticities, CIE 15:2018 (LED) and CIE 15:2004 table T.6 (FL), as listed by colour-science/colour: four
// decimals. LED-B1 differs from its published x by 4.9e-5, hence the tolerance of one unit of the last digit.
TEST(OpenSpectra, CieSourcesGiveTheirPublishedChromaticities) {
  const auto xyz = import("cie_led_fl.csv", "FL2", 100);
  EXPECT_EQ(xyz.size(), 11U);
  const std::map<std::string, colour::Xy<>> published{{"LED-B1", {.x = 0.4560, .y = 0.4078}},
                                                      {"LED-B5", {.x = 0.3118, .y = 0.3236}},
                                                      {"LED-RGB1", {.x = 0.4557, .y = 0.4211}},
                                                      {"FL2", {.x = 0.3721, .y = 0.3751}}};
  for (const auto& [step, expected] : published) {
    const auto xy = colour::xy_from_xyz(xyz.at(step));
    EXPECT_NEAR(xy.x, expected.x, 1e-4) << step;
    EXPECT_NEAR(xy.y, expected.y, 1e-4) << step;
  }
}

}  // namespace
}  // namespace provenit::instrument
