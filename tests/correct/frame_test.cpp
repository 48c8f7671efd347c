#include "provenit/correct/frame.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstring>
#include <limits>

#include "tables.h"

namespace provenit::correct {
namespace {

std::vector<float> drawn_frame(int pixels, unsigned seed) {
  std::vector<float> frame;
  for (const Triple& v : Draw(seed).triples(pixels, -0.05, 1.05))
    for (const double x : v) frame.push_back(static_cast<float>(x));
  // Ties, ends and what is no number.
  const float nan = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
  const float special[] = {0, 0, 0, 1, 1, 1, 0.5F, 0.5F, 0.5F, 0.25F, 0.25F, 0.75F, nan, 0.5F, nan, inf, -inf, 0.1F};
  std::copy(std::begin(special), std::end(special), frame.begin());
  return frame;
}

std::vector<Lut> luts() {
  return {lut_of({rough_3d(17, 21)}), lut_of({rough_3d(65, 22)}), lut_of({bent_1d(1024)}),
          lut_of({bent_1d(4096), some_matrix(), bent_1d(33), rough_3d(33, 23), bent_1d(2)}), lut_of({some_matrix()})};
}

std::vector<float> applied(const Lut& lut, const std::string& level, std::vector<float> frame, int threads) {
  const auto processor = FrameLut::make(lut, level);
  EXPECT_TRUE(processor) << level;
  EXPECT_TRUE(processor->apply(frame, frame, threads));
  return frame;
}

TEST(FrameLut, EveryLevelAndThreadCountGivesTheSameBits) {
  const std::vector<float> frame = drawn_frame(20011, 24);
  ASSERT_GE(FrameLut::levels().size(), 1U);
  for (const Lut& lut : luts()) {
    if (std::holds_alternative<Affine>(lut.stages[0])) continue;  // a NaN goes through it, and NaNs have many bits
    const std::vector<float> plain = applied(lut, "plain", frame, 1);
    for (const std::string& level : FrameLut::levels())
      for (const int threads : {1, 2}) {
        const std::vector<float> other = applied(lut, level, frame, threads);
        EXPECT_EQ(std::memcmp(plain.data(), other.data(), plain.size() * sizeof(float)), 0) << level << threads;
      }
  }
}

TEST(FrameLut, AgreesWithTheReference) {
  const std::vector<float> frame = drawn_frame(5000, 25);
  for (const Lut& lut : luts()) {
    const std::vector<float> out = applied(lut, "", frame, 2);
    double worst = 0;
    for (std::size_t i = 18; i < frame.size(); i += 3) {
      const Triple exact = evaluate(lut, {frame[i], frame[i + 1], frame[i + 2]});
      worst = std::max(worst, largest_difference(exact, {out[i], out[i + 1], out[i + 2]}));
    }
    // Nodes without rule have the steepest steps there are, so the place in the cell counts at its full rounding.
    EXPECT_LE(worst, lut.stages.size() > 1 ? 3e-5 : 8e-6);
  }
}

TEST(FrameLut, SmoothTablesWithinTheStatedError) {
  Lut3d smooth = identity_3d(65);
  for (Triple& node : smooth.nodes) node = evaluate(bent_1d(65), node);
  const Lut lut = lut_of({smooth});
  const std::vector<float> frame = drawn_frame(5000, 26), out = applied(lut, "", frame, 1);
  for (std::size_t i = 18; i < frame.size(); i += 3)
    ASSERT_LE(
        largest_difference(evaluate(lut, {frame[i], frame[i + 1], frame[i + 2]}), {out[i], out[i + 1], out[i + 2]}),
        1e-6);
}

TEST(FrameLut, ShortFramesAreWhole) {
  const Lut lut = lut_of({rough_3d(5, 27)});
  const std::vector<float> frame = drawn_frame(600, 28), whole = applied(lut, "", frame, 1);
  for (const int pixels : {6, 7, 15, 16, 17, 511, 512, 513}) {
    const std::vector<float> part(frame.begin(), frame.begin() + 3 * pixels), out = applied(lut, "", part, 1);
    EXPECT_TRUE(std::equal(out.begin(), out.end(), whole.begin())) << pixels;
  }
}

TEST(FrameLut, Refusals) {
  const Lut lut = lut_of({rough_3d(3, 1)});
  EXPECT_EQ(FrameLut::make(lut, "abacus").error().code, ErrorCode::not_found);
  EXPECT_FALSE(FrameLut::make(lut_of({Lut3d{.size = 1}})));
  const auto processor = FrameLut::make(lut);
  ASSERT_TRUE(processor);
  std::vector<float> four(4), three(3);
  EXPECT_EQ(processor->apply(four, four, 1).error().code, ErrorCode::invalid_input);
  EXPECT_EQ(processor->apply(four, three, 1).error().code, ErrorCode::invalid_input);
}

}  // namespace
}  // namespace provenit::correct
