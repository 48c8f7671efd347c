// The colour methods on displays whose answer is known beforehand, read by a meter without errors.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <numbers>

#include "colour_loans.h"
#include "light_source.h"
#include "provenit/evaluation/lengths.h"

namespace provenit::evaluation {
namespace {

using bench::pq_light;
using colour::AbsoluteXyz;

signal::Signal colour_signal(int r, int g, int b, int bits = 10) {
  auto s = grey_signal(64 << (bits - 10));
  s.encoding.bits = bits;
  s.surround = s.patch;
  s.patch = {{r, g, b}};
  return s;
}

/// A run of steps whose light is a function of the signal, and what is found in it.
class ColourRun {
 public:
  using Light = std::function<AbsoluteXyz<>(const signal::Signal&)>;
  ColourRun(std::string procedure, Light light) : light_(std::move(light)), builder_(std::move(procedure), meter_) {
    builder_.reference();
  }
  ColourRun& read(const std::string& step, const signal::Signal& signal) {
    builder_.read(step, signal, light_(signal));
    return *this;
  }
  ColourRun& parameter(const std::string& key, const nlohmann::json& value) {
    parameters_[key] = value;
    return *this;
  }
  std::vector<store::FindingRecord> findings() {
    builder_.reference();
    auto data = builder_.done();
    data.run.parameters = parameters_;
    const auto found = evaluate(std::array{data}, usual_input(1000));
    EXPECT_TRUE(found) << (found ? "" : found.error().text());
    return found.value_or(std::vector<store::FindingRecord>{});
  }

 private:
  FakeMeter meter_;
  Light light_;
  nlohmann::json parameters_ = nlohmann::json::object();
  RunBuilder builder_;
};

const store::FindingRecord& must_find(const std::vector<store::FindingRecord>& findings, std::string_view quantity,
                                      const nlohmann::json& conditions = nlohmann::json::object()) {
  static const store::FindingRecord none;
  const auto* f = find(findings, quantity, conditions);
  EXPECT_NE(f, nullptr) << quantity << conditions;
  return f == nullptr ? none : *f;
}

// ---- volume

constexpr colour::AdditiveDisplay<> kP3{
    .primaries = colour::p3_d65_primaries, .peak = {.cdm2 = 1000}, .black = {.cdm2 = 0.01}};

/// An additive P3 display: each container channel lights its own primary, black shines through. `share` multiplies
/// white.
AbsoluteXyz<> p3_light(const signal::Signal& s, double white_share = 1) {
  const auto to_xyz = colour::rgb_to_xyz_matrix(kP3.primaries);
  const auto channel = [&](int code) {
    return kP3.black.cdm2 + (kP3.peak.cdm2 - kP3.black.cdm2) * std::min(pq_target(code), kP3.peak.cdm2) / kP3.peak.cdm2;
  };
  const auto& c = s.patch.code;
  auto light =
      colour::xyz_from_rgb(colour::AbsoluteRgb<>{.r = channel(c[0]), .g = channel(c[1]), .b = channel(c[2])}, to_xyz);
  if (c[0] == 940 && c[1] == 940 && c[2] == 940)
    light = {.X = white_share * light.X, .Y = white_share * light.Y, .Z = white_share * light.Z};
  return light;
}

ColourRun five_of(double white_share = 1) {
  ColourRun run("colour_volume", [white_share](const auto& s) { return p3_light(s, white_share); });
  run.read("white", colour_signal(940, 940, 940)).read("black", colour_signal(64, 64, 64));
  run.read("red", colour_signal(940, 64, 64))
      .read("green", colour_signal(64, 940, 64))
      .read("blue", colour_signal(64, 64, 940));
  return run;
}

TEST(ColourVolume, FiveReadingsGiveTheVolumeOfTheAdditiveDisplay) {
  const auto found = five_of().findings();
  const auto& itp = must_find(found, "colour_volume", {{"space", "ictcp"}});
  EXPECT_NEAR(itp.value / colour::itp_cubes(colour::ictcp_volume(kP3)), 1, 1e-4);
  EXPECT_EQ(itp.parts["points"], 5);
  EXPECT_NEAR(itp.parts["additivity_error_percent"].get<double>(), 0, 1e-6);
  EXPECT_NEAR(must_find(found, "colour_volume", {{"space", "lab"}}).value / colour::lab_volume(kP3), 1, 1e-4);
}

TEST(ColourVolume, ADisplayCoversItselfAndAsMuchOfALargerOneAsItsVolumeIs) {
  const auto found = five_of().findings();
  const auto percent = [&](const char* reference) {
    return must_find(found, "colour_volume_coverage", {{"reference", reference}, {"space", "ictcp"}}).value;
  };
  EXPECT_NEAR(percent("p3_d65"), 100, 0.1);
  // P3 lies inside BT.2020 but for a sliver at red.
  colour::AdditiveDisplay<> larger = kP3;
  larger.primaries = colour::bt2020_primaries;
  EXPECT_NEAR(percent("bt2020"), 100 * colour::ictcp_volume(kP3) / colour::ictcp_volume(larger), 0.5);
}

TEST(ColourVolume, AWholeSurfaceIsUsedWhenItWasRead) {
  auto run = five_of();
  run.parameter("surface_samples", 3);
  const double top = colour::pq_inverse_eotf(kP3.peak).value;
  for (int i = 0; i < 27; ++i) {
    const std::array index{i / 9, i / 3 % 3, i % 3};
    const int ends = static_cast<int>(std::ranges::count_if(index, [](int k) { return k != 1; }));
    if (ends == 0 || (ends == 3 && std::ranges::count(index, 2) != 2)) continue;
    std::array<int, 3> code{};
    for (std::size_t c = 0; c < 3; ++c)
      code[c] = index[c] == 2 ? 940 : 64 + static_cast<int>(std::lround(876 * index[c] / 2.0 * top));
    run.read(fmt::format("surface_{}_{}_{}", index[0], index[1], index[2]), colour_signal(code[0], code[1], code[2]));
  }
  const auto found = run.findings();
  const auto& volume = must_find(found, "colour_volume", {{"space", "ictcp"}});
  EXPECT_EQ(volume.parts["points"], 26);
  EXPECT_NEAR(volume.value / colour::itp_cubes(colour::ictcp_volume(kP3, 3)), 1, 5e-3);  // codes are whole
}

// ---- accuracy over sets

TEST(SetAccuracy, IsTheDifferenceOfLightAndCodeAndOfTheClippedColourAboveTheClip) {
  // Red too strong by a tenth; one colour above the clip of 1000 cd/m2, which this display clips as defined.
  const auto shown = [](const signal::Signal& s) {
    const auto c = pq_light(s.patch, 1000);
    const bool one = s.patch.code[0] == 500;
    const auto m = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
    auto rgb = colour::rgb_from_xyz(c, m);
    if (one) rgb.r *= 1.1;
    return colour::xyz_from_rgb(rgb, colour::rgb_to_xyz_matrix(colour::bt2020_primaries));
  };
  ColourRun run("colour_volume", shown);
  run.read("white", colour_signal(940, 940, 940)).read("black", colour_signal(64, 64, 64));
  run.read("set_001", colour_signal(500, 400, 300))
      .read("set_002", colour_signal(900, 600, 500))
      .read("set_003", colour_signal(300, 300, 300));
  const auto found = run.findings();
  const auto wanted = pq_light({{500, 400, 300}}, 1e5);
  const double difference = colour::itp_difference(wanted, shown(colour_signal(500, 400, 300))).total;
  EXPECT_NEAR(must_find(found, "volume_max_delta_e_itp").parts["as_read"].get<double>(), difference, 1e-3);
  EXPECT_EQ(must_find(found, "volume_max_delta_e_itp").parts["step"], "set_001");
  EXPECT_NEAR(must_find(found, "volume_mean_delta_e_itp").parts["as_read"].get<double>(), difference / 3, 1e-3);
  EXPECT_NEAR(must_find(found, "volume_p95_delta_e_itp").parts["as_read"].get<double>(), difference, 1e-3);
}

TEST(ChartAccuracy, Ciede2000IsThatOfTheDiffuserAsWhite) {
  const auto dim = [](const signal::Signal& s) {
    auto c = pq_light(s.patch, 1000);
    if (s.patch.code[0] == 940) return c;
    return AbsoluteXyz<>{.X = 0.93 * c.X, .Y = 0.95 * c.Y, .Z = 0.95 * c.Z};
  };
  ColourRun run("chart_accuracy", dim);
  run.parameter("white_cdm2", 203.0);
  run.read("white", colour_signal(940, 940, 940)).read("black", colour_signal(64, 64, 64));
  run.read("chart_001", colour_signal(480, 450, 400));
  const auto found = run.findings();
  const auto white = pq_light({{573, 573, 573}}, 1e5);  // code next to 203 cd/m2
  const auto wanted = colour::lab_from_xyz(pq_light({{480, 450, 400}}, 1e5), white);
  const auto shown = colour::lab_from_xyz(dim(colour_signal(480, 450, 400)), white);
  const auto& f = must_find(found, "chart_mean_ciede2000");
  EXPECT_NEAR(f.parts["as_read"].get<double>(), colour::ciede2000(wanted, shown), 1e-4);
  EXPECT_NEAR(f.parts["white_cdm2"].get<double>(), white.Y, 1e-6);
  EXPECT_NEAR(must_find(found, "chart_mean_delta_e_itp").parts["as_read"].get<double>(),
              colour::itp_difference(pq_light({{480, 450, 400}}, 1e5), dim(colour_signal(480, 450, 400))).total, 1e-4);
}

TEST(Lengths, The95thPercentileIsByNearestRank) {
  LengthProblem p{.points = 40, .dimension = 1};
  for (int j = 0; j < 40; ++j) p.measured.push_back(j + 1.0);
  p.noise_variance.assign(40, 0);
  p.errors.assign(40 * 100, 0);
  p.statistic = LengthStatistic::percentile95;
  EXPECT_NEAR(length_interval(p).as_read, 38, 1e-9);  // 0.95 x 40
}

// ---- near black, steps

TEST(NearBlack, CrushAndReversalAreFound) {
  // No light but the leak up to code 70; code 88 darker than code 80.
  const auto light = [](const signal::Signal& s) {
    const int code = s.patch.code[0];
    const double cdm2 = code <= 70 ? 0 : code == 88 ? 0.9 * pq_target(80) : pq_target(code);
    return d65_light(cdm2 + 0.002);
  };
  ColourRun run("near_black", light);
  run.read("black", grey_signal(64));
  for (int code : {66, 70, 72, 80, 88, 112, 160, 190}) run.read(fmt::format("grey_{}", code), grey_signal(code));
  run.read("white", grey_signal(940));
  const auto found = run.findings();
  const auto& first = must_find(found, "near_black_first_code");
  EXPECT_EQ(first.value, 8);
  EXPECT_LE(first.lower95, 8);
  EXPECT_GE(first.upper95, 8);
  EXPECT_EQ(must_find(found, "near_black_reversals").value, 1);
  EXPECT_GT(must_find(found, "near_black_mean_luminance_part").value, 0.1);
  EXPECT_EQ(must_find(found, "near_black_max_delta_uv").parts["steps"], 2);  // from 0.1 cd/m2: 160 and 190
}

TEST(StepResolution, APanelOfTenBitsUnderTwelveIsFound) {
  // The panel drops the two lowest bits of a 12-bit signal.
  const auto light = [](const signal::Signal& s) {
    const int code = s.patch.code[0] == 3760 ? 3760 : s.patch.code[0] & ~3;
    return d65_light(colour::pq_eotf(colour::Signal<>{.value = (code - 256) / 3504.0}).cdm2);
  };
  ColourRun run("step_resolution", light);
  run.parameter("steps", 16).parameter("levels_cdm2", {100.0});
  for (int repeat = 0; repeat < 40; ++repeat)
    for (int code = 2028; code <= 2044; ++code)  // around 100 cd/m2: 2036
      run.read(fmt::format("grey_{}", code), colour_signal(code, code, code, 12));
  run.read("white", colour_signal(3760, 3760, 3760, 12)).read("black", colour_signal(256, 256, 256, 12));
  const auto found = run.findings();
  EXPECT_EQ(must_find(found, "steps_resolved").value, 25);
  const auto& bits = must_find(found, "effective_bits", {{"level_cdm2", 100.0}});
  EXPECT_EQ(bits.value, 10);
  EXPECT_EQ(bits.lower95, 10);
  EXPECT_EQ(bits.upper95, 10);
}

// ---- hue

TEST(Hue, ATurnByFiveDegreesAtOneSaturationIsThatTurn) {
  const signal::CodeRgb pale{{500, 480, 470}};
  const auto light = [&](const signal::Signal& s) {
    const auto c = pq_light(s.patch, 1000);
    if (s.patch != pale) return c;
    constexpr auto m = colour::xyz_to_rgb_matrix(colour::bt2020_primaries);
    auto i = colour::ictcp_from_pq_rgb(colour::rgb_from_xyz(c, m));
    const double turn = 5 * std::numbers::pi / 180, ct = i.ct;
    i.ct = ct * std::cos(turn) - i.cp * std::sin(turn);
    i.cp = ct * std::sin(turn) + i.cp * std::cos(turn);
    return colour::xyz_from_rgb(colour::pq_rgb_from_ictcp(i), colour::rgb_to_xyz_matrix(colour::bt2020_primaries));
  };
  for (const auto& [procedure, quantity, base] : {std::tuple{"hue_linearity", "hue_linearity_error", "red_100"},
                                                  std::tuple{"clip_hue", "clip_hue_shift", "red_010"}}) {
    ColourRun run(procedure, light);
    run.read("white", colour_signal(940, 940, 940)).read("black", colour_signal(64, 64, 64));
    run.read("red_25", colour_signal(500, 480, 470)).read(base, colour_signal(500, 300, 250));
    const auto found = run.findings();
    const auto& f = must_find(found, quantity, {{"colour", "red"}});
    EXPECT_NEAR(f.parts["shift_as_read"].get<double>(), 5, 1e-6) << quantity;
    EXPECT_EQ(f.parts["base"], base);
    EXPECT_LE(f.lower95, 5);
    EXPECT_GE(f.upper95, 5);
  }
}

// ---- greyscale: own white, softness of the clip

ColourRun greyscale_of(const ColourRun::Light& light) {
  ColourRun run("greyscale", light);
  for (int code = 80; code <= 940; code += code < 640 || code > 800 ? 20 : 4)
    run.read(fmt::format("grey_{}", code), grey_signal(code));
  return run;
}

TEST(WhiteTracking, IsTheDistanceFromTheDisplaysOwnWhite) {
  // White is off D65 everywhere, and further off in one step.
  const auto found = greyscale_of([](const signal::Signal& s) {
                       const double y = std::min(pq_target(s.patch.code[0]), 1000.0);
                       const colour::Xy<> white{.x = s.patch.code[0] == 400 ? 0.324 : 0.320, .y = 0.330};
                       return colour::xyz_from_xy(white, colour::Luminance<>{.cdm2 = y});
                     }).findings();
  const auto own = colour::uv_prime_from_xy(colour::Xy<>{.x = 0.320, .y = 0.330});
  const auto off = colour::uv_prime_from_xy(colour::Xy<>{.x = 0.324, .y = 0.330});
  const auto& f = must_find(found, "white_tracking_max_delta_uv");
  EXPECT_NEAR(f.parts["as_read"].get<double>(), std::hypot(off.u - own.u, off.v - own.v), 1e-6);
}

TEST(ClipSoftness, TellsAHardClipFromASoftOne) {
  const auto hard = greyscale_of([](const signal::Signal& s) {
                      return d65_light(std::min(pq_target(s.patch.code[0]), 1000.0));
                    }).findings();
  EXPECT_NEAR(must_find(hard, "clip_softness").value, 0, 0.7);
  const auto soft =
      greyscale_of([](const signal::Signal& s) {
        const double x = pq_target(s.patch.code[0]) / 1000, from = 0.5;
        const double y = x <= from ? x : x >= 2 - from ? 1 : x - (x - from) * (x - from) / (4 * (1 - from));
        return d65_light(1000 * y);
      }).findings();
  // 5 % below x where (x - 0.5)^2 / 2 = 0.05 x: x = 0.7791; 1 / (0.95 x 0.7791) - 1.
  const auto& f = must_find(soft, "clip_softness");
  EXPECT_NEAR(f.value, 100 * (1 / (0.95 * 0.779129) - 1), 0.5);
  EXPECT_EQ(f.parts["clip"], "rolled");
}

}  // namespace
}  // namespace provenit::evaluation
