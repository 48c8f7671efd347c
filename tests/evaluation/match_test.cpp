// Where the whites of two simulated displays match, from what an instrument reads of them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "simulated_matches.h"

namespace provenit::evaluation {
namespace {

TEST(MatchWhites, HoldsTheTruthOfSeededInstruments) {
  for (const bool same : {true, false}) {
    int held = 0;
    constexpr int kTrials = 12;
    for (std::uint64_t seed = 7001; seed < 7001 + kTrials; ++seed) {
      const auto m = bench::simulated_match(seed, same);
      const auto found = match_whites(m.question);
      ASSERT_TRUE(found) << found.error().text();
      EXPECT_TRUE(found->flags.empty());
      held += found->dx.interval.contains(m.truth.dx) + found->dy.interval.contains(m.truth.dy);
    }
    EXPECT_GE(held, 18);  // of 24
  }
}

TEST(MatchWhites, TheOffsetIsKnownBetterThanEitherWhite) {
  auto m = bench::simulated_match(7001, true);
  const auto one = match_whites(m.question).value();
  m.question.same_instrument = false;
  const auto two = match_whites(m.question).value();
  EXPECT_LT(one.dx.standard_uncertainty, 0.3 * one.x.standard_uncertainty);
  EXPECT_LT(two.dx.standard_uncertainty, 0.3 * two.x.standard_uncertainty);
  EXPECT_NEAR(one.dx.value, two.dx.value, 1e-12);
}

TEST(MatchWhites, SpectraThatAreMissingAreNamedAndSingleReadingsFlagged) {
  auto m = bench::simulated_match(7001, true);
  m.question.reference.white.resize(1);
  EXPECT_EQ(match_whites(m.question)->flags.size(), 1u);
  m.question.adjusted.primaries[1].clear();
  EXPECT_THAT(match_whites(m.question).error().text(), testing::HasSubstr("the other display's green"));
}

}  // namespace
}  // namespace provenit::evaluation
