// False colour and the two ways to SDR.
#include <gtest/gtest.h>

#include <cmath>

#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/colour/transfer_pq.h"
#include "provenit/colour/transfer_sdr.h"
#include "provenit/programme/scopes.h"

namespace provenit::programme {
namespace {

double light_at(double signal) {
  return colour::pq_eotf(colour::Signal<>{.value = signal}).cdm2;
}

enum class Shown { bt1886, srgb };
colour::RelativeRgb<> linear(const Ink& ink, Shown shown) {
  const auto one = [&](std::uint16_t code) {
    const colour::Signal<> s{.value = code / 65535.0};
    return shown == Shown::srgb ? colour::srgb_eotf(s).value : colour::power_eotf(s, 2.4).value;
  };
  return {.r = one(ink[0]), .g = one(ink[1]), .b = one(ink[2])};
}
colour::Lab<> lab(const colour::RelativeRgb<>& c) {
  return colour::lab_from_xyz(colour::xyz_from_rgb(c, colour::rgb_to_xyz_matrix(colour::bt709_primaries)),
                              colour::white_xyz(colour::d65_video));
}

TEST(FalseColour, LightnessRisesStrictlyWithLuminance) {
  const FalseColour scale;
  for (const auto shown : {Shown::bt1886, Shown::srgb}) {
    double before = -1;
    for (int i = 0; i < 4096; ++i) {
      const double L = lab(linear(scale.of(light_at((i + 0.5) / 4096)), shown)).L;
      EXPECT_GT(L, before) << i;
      before = L;
    }
    EXPECT_LT(lab(linear(scale.of(0), shown)).L, 8);
    EXPECT_GT(before, 94);
  }
}

TEST(FalseColour, LightnessIsWhatTheHeaderSays) {
  const FalseColour scale;
  for (int i = 0; i < 256; ++i) {
    const double signal = (i + 0.5) / 256, steps = static_cast<double>(FalseColour::part(light_at(signal)));
    EXPECT_NEAR(lab(linear(scale.of(light_at(signal)), Shown::srgb)).L, 6 + 1.6 * steps + (91 - 11 * 1.6) * signal,
                0.1);
  }
}

TEST(FalseColour, PartsAreThoseOfTheLegend) {
  EXPECT_EQ(FalseColour::part(0), 0U);
  for (std::size_t i = 0; i < kFalseColourSteps.size(); ++i) {
    EXPECT_EQ(FalseColour::part(kFalseColourSteps[i]), i + 1);
    EXPECT_EQ(FalseColour::part(0.999 * kFalseColourSteps[i]), i);
  }
  EXPECT_EQ(FalseColour::part(10000), kFalseColourSteps.size());
}

/// What a viewer with a full deficiency sees, linear RGB to linear RGB. Machado, Oliveira, Fernandes 2009, severity 1
/// (the tritan matrix from memory).
const std::array<colour::Matrix3<>, 3> kDeficient{
    colour::Matrix3<>{
        .row = {{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}}},
    colour::Matrix3<>{
        .row = {{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}}},
    colour::Matrix3<>{
        .row = {{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}}}};

TEST(FalseColour, EveryStepIsSeenByColourDeficientViewersToo) {
  const FalseColour scale;
  for (const double step : kFalseColourSteps) {
    const auto below = linear(scale.of(0.99 * step), Shown::bt1886),
               above = linear(scale.of(1.02 * step), Shown::bt1886);
    const double normal = colour::ciede2000(lab(below), lab(above));
    EXPECT_GT(normal, 15) << step;
    for (std::size_t k = 0; k < 3; ++k) {
      const double seen = colour::ciede2000(lab(colour::rgb_from_rgb(below, kDeficient[k])),
                                            lab(colour::rgb_from_rgb(above, kDeficient[k])));
      EXPECT_GT(seen, 15) << step << ", deficiency " << k;
    }
  }
}

// Check values of the EETF, 0 to 4000 shown on 0.005 to 1000 cd/m2, calculated from the formula of BT.2390 (knee at a
// signal of 0.676454) outside this project.
TEST(Eetf, CheckValuesOfBt2390) {
  const EetfRange source{.black_cdm2 = 0, .peak_cdm2 = 4000}, display{.black_cdm2 = 0.005, .peak_cdm2 = 1000};
  const std::pair<double, std::pair<double, double>> values[] = {{100, {100.550, 5e-4}}, {400, {400.331, 5e-4}},
                                                                 {600, {590.94, 5e-3}},  {1000, {814.77, 5e-3}},
                                                                 {2000, {975.05, 5e-3}}, {4000, {1000.108, 5e-4}}};
  for (const auto& [in, out] : values) EXPECT_NEAR(eetf_bt2390(in, source, display), out.first, out.second) << in;
  EXPECT_NEAR(eetf_bt2390(0, source, display), 0.005, 1e-6);
  EXPECT_EQ(eetf_bt2390(9000, source, display), eetf_bt2390(4000, source, display));
}

TEST(Eetf, ADisplayThatReachesThePeakChangesNothing) {
  const EetfRange range{.black_cdm2 = 0, .peak_cdm2 = 1000};
  for (const double cdm2 : {0.001, 1.0, 100.0, 999.0, 1000.0})
    EXPECT_NEAR(eetf_bt2390(cdm2, range, range), cdm2, 1e-9 * cdm2);
  EXPECT_NEAR(eetf_bt2390(500, range, {.black_cdm2 = 0, .peak_cdm2 = 4000}), 500, 1e-6);
}

TEST(Eetf, IsMonotone) {
  double before = -1;
  for (int i = 0; i <= 2000; ++i) {
    const double now = eetf_bt2390(light_at(i / 2000.0), {0, 10000}, {0, 100});
    EXPECT_GE(now, before - 1e-12);
    before = now;
  }
}

colour::SignalRgb<> grey_sdr(double cdm2, SdrMethod method, double peak = 1000) {
  return to_sdr({.r = cdm2, .g = cdm2, .b = cdm2}, Gamut::bt2020, method, peak);
}

// Greys by the formulas of BT.2446-1, method A, for 1000 to 100 cd/m2, calculated outside this project.
TEST(Sdr, MethodAOfGreys) {
  const std::pair<double, double> values[] = {{1, 0.0984761359},   {26, 0.3345850479},  {100, 0.5387478716},
                                              {203, 0.6868550440}, {600, 0.9129092370}, {1000, 1.0}};
  for (const auto& [in, out] : values) {
    const auto s = grey_sdr(in, SdrMethod::bt2446_a);
    EXPECT_NEAR(s.r, out, 1e-6) << in;
    EXPECT_NEAR(s.g, out, 1e-6) << in;
    EXPECT_NEAR(s.b, out, 1e-6) << in;
  }
  EXPECT_EQ(grey_sdr(0, SdrMethod::bt2446_a).g, 0);
}

TEST(Sdr, EetfOfGreysIsThatOfLuminance) {
  for (const double cdm2 : {0.1, 10.0, 50.0, 203.0, 1000.0}) {
    const auto s = grey_sdr(cdm2, SdrMethod::bt2390_eetf);
    const double light = eetf_bt2390(cdm2, {0, 1000}, {0, 100});
    EXPECT_NEAR(100 * std::pow(s.g, 2.4), light, 2e-3 * light) << cdm2;
    EXPECT_NEAR(s.r, s.b, 2e-3);
  }
}

TEST(Sdr, BothStayInsideTheSdrSignalAndKeepWhite) {
  for (const auto method : {SdrMethod::bt2390_eetf, SdrMethod::bt2446_a}) {
    EXPECT_NEAR(grey_sdr(1000, method).g, 1, 2e-3) << name_of(method);
    EXPECT_NEAR(grey_sdr(5000, method).g, 1, 2e-3) << name_of(method);
    for (const auto& c :
         {colour::AbsoluteRgb<>{.r = 1000, .g = 0, .b = 0}, {.r = 0, .g = 900, .b = 3}, {.r = 2, .g = 1, .b = 700}}) {
      const auto s = to_sdr(c, Gamut::bt2020, method, 1000);
      for (const double v : {s.r, s.g, s.b}) {
        EXPECT_GE(v, 0);
        EXPECT_LE(v, 1);
      }
    }
  }
}

}  // namespace
}  // namespace provenit::programme
