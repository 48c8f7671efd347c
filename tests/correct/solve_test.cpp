// Tables solved from a model: exact to it where the display can show the colour, rising, even, and the same through
// OpenColorIO 2.1.2 (BSD-3-Clause) once written.
#include "provenit/correct/solve.h"

#include <gmock/gmock.h>

#include "files.h"
#include "measured_display.h"
#include "ocio.h"
#include "provenit/colour/difference.h"
#include "provenit/colour/primaries.h"
#include "provenit/colour/spaces.h"
#include "provenit/correct/lut_files.h"
#include "provenit/correct/smoothness.h"
#include "tables.h"

namespace provenit::correct {
namespace {

using bench::MeasuredDisplay;
using testing::HasSubstr;

const MeasuredDisplay& display() {
  static const MeasuredDisplay read = [] {
    MeasuredDisplay d("curlew-27", 6);
    d.read_chosen(3, colour::p3_d65_primaries);
    return d;
  }();
  return read;
}
const DisplayModel& model() {
  static const DisplayModel m =
      DisplayModel::fit(MeasuredDisplay::encoding(), display().readings(), {.diagnose = false}).value();
  return m;
}
const CorrectionGoal kGoal{.input = MeasuredDisplay::encoding()};
const Solved& table() {
  static const Solved solved = solve_3d(model(), kGoal, 33).value();
  return solved;
}
double mean(const std::vector<double>& v) {
  double sum = 0;
  for (const double x : v) sum += x / static_cast<double>(v.size());
  return sum;
}

TEST(Solve3d, IsExactToTheModelAndBetterOnTheDisplay) {
  const auto& solved = table();
  ASSERT_TRUE(validate(solved.lut));
  EXPECT_LT(mean(solved.errors), 0.25);
  EXPECT_LT(solved.errors[solved.errors.size() * 95 / 100], 1);
  EXPECT_LT(solved.mapped, 200);

  const auto to_xyz = rgb_to_xyz_matrix(colour::bt2020_primaries);
  double before = 0, after = 0;
  int count = 0;
  for (const auto& e : target_signals(kGoal.input, kGoal.primaries, {.cdm2 = 0.95 * solved.peak.cdm2}, 150, 900000)) {
    const auto want = xyz_from_rgb(colour::pq_eotf(e), to_xyz);
    if (model().signal_for(want).delta_e_itp > 0.3) continue;
    const auto out = evaluate(solved.lut, {e.r, e.g, e.b});
    before += colour::itp_difference(want, display().truth(e)).total;
    after += colour::itp_difference(want, display().truth({.r = out[0], .g = out[1], .b = out[2]})).total;
    ++count;
  }
  ASSERT_GT(count, 100);
  EXPECT_GT(before / count, 1.5);
  EXPECT_LT(after / count, 0.7);
}

TEST(Solve3d, GreysRiseEvenly) {
  const auto& lattice = std::get<Lut3d>(table().lut.stages[0]);
  for (int i = 1; i < lattice.size; ++i)
    for (std::size_t c = 0; c < 3; ++c) EXPECT_GE(lattice.node(i, i, i)[c], lattice.node(i - 1, i - 1, i - 1)[c]) << i;
  // Below the peak a step of the input is never more than half as long again, or half as short, as it asks for.
  const double peak = colour::pq_inverse_eotf(table().peak).value;
  for (double e = 0.15; e < peak - 0.03; e += 0.002) {
    const Triple a = evaluate(table().lut, {e, e, e}), b = evaluate(table().lut, {e + 0.002, e + 0.002, e + 0.002});
    for (std::size_t c = 0; c < 3; ++c) {
      EXPECT_GT(b[c] - a[c], 0.5 * 0.002) << e;
      EXPECT_LT(b[c] - a[c], 1.5 * 0.002) << e;
    }
  }
}

TEST(Solve3d, MapsWhatTheDisplayCannotShow) {
  // Far beyond the peak: the peak's white. Beyond the gamut: something the display can show, by the model.
  const Triple white = evaluate(table().lut, {1, 1, 1});
  const auto light = model().light({.r = white[0], .g = white[1], .b = white[2]});
  const auto uv = colour::uv_prime_from_xyz(light), d65 = colour::uv_prime_from_xy(colour::d65_video);
  EXPECT_LT(colour::delta_uv_prime(uv, d65), 0.004);
  EXPECT_NEAR(light.Y / table().peak.cdm2, 1, 0.03);
  auto soft = kGoal;
  soft.mapping.mapping = Mapping::soft_shoulder;
  const auto rolled = solve_3d(model(), soft, 17);
  ASSERT_TRUE(rolled);
  EXPECT_NE(evaluate(rolled->lut, {0.7, 0.7, 0.7}), evaluate(table().lut, {0.7, 0.7, 0.7}));
}

using SolveFiles = Files;
TEST_F(SolveFiles, WrittenTablesAreTheSameThroughOpenColorIo) {
  const auto curves = solve_1d(model(), kGoal, 1024), matrix = solve_matrix(model(), kGoal, 4096);
  ASSERT_TRUE(curves);
  ASSERT_TRUE(matrix);
  const std::array<const Solved*, 3> all{&table(), &*curves, &*matrix};
  int i = 0;
  for (const Solved* solved : all) {
    const auto file = path(std::to_string(++i) + ".clf");
    ASSERT_TRUE(write_lut(solved->lut, file, {}));
    const auto theirs = file_processor(file);
    double worst = 0;
    for (const Triple& v : Draw(7).triples(500))
      worst = std::max(worst, largest_difference(evaluate(solved->lut, v), applied(theirs, v)));
    // Single precision; the last curve of the third is steep near black.
    EXPECT_LT(worst, solved == &*matrix ? 1e-3 : 1e-5) << i;
  }
}

TEST(SolveCurves, MakeGreysRight) {
  const auto curves = solve_1d(model(), kGoal, 1024);
  ASSERT_TRUE(curves);
  for (const double cdm2 : {0.5, 5.0, 50.0, 300.0}) {
    const double e = colour::pq_inverse_eotf(colour::Luminance<>{.cdm2 = cdm2}).value;
    const Triple out = evaluate(curves->lut, {e, e, e});
    const auto want = colour::xyz_from_xy(colour::d65_video, colour::Luminance<>{.cdm2 = cdm2});
    EXPECT_LT(colour::itp_difference(want, model().light({.r = out[0], .g = out[1], .b = out[2]})).total, 0.2) << cdm2;
  }
  const auto matrix = solve_matrix(model(), kGoal, 16384);
  ASSERT_TRUE(matrix);
  EXPECT_LT(mean(matrix->errors), mean(curves->errors));
}

TEST(Chained, IsOneTableAfterTheOther) {
  const Lut first = lut_of({bent_1d(256)}), second = lut_of({some_matrix()});
  const auto both = chained(first, second, 33);
  ASSERT_TRUE(both);
  for (int i = 0; i < 33; i += 4) {
    const Triple v{i / 32.0, (32 - i) / 32.0, 0.5};
    EXPECT_LT(largest_difference(evaluate(*both, v), evaluate(second, evaluate(first, v))), 1e-12);
  }
  EXPECT_FALSE(chained(first, second, 1));
}

TEST(Solve, RefusesWhatItCannotDo) {
  EXPECT_THAT(solve_3d(model(), kGoal, 1).error().text(), HasSubstr("1 nodes"));
  EXPECT_THAT(solve_1d(model(), kGoal, 1).error().text(), HasSubstr("1 entries"));
  auto bright = kGoal;
  bright.peak = colour::Luminance<>{.cdm2 = 5000};
  EXPECT_THAT(solve_3d(model(), bright, 17).error().text(), HasSubstr("5000 cd/m2 cannot be corrected to"));
}

}  // namespace
}  // namespace provenit::correct
