#include "provenit/correct/proof.h"

#include <gmock/gmock.h>

#include <limits>
#include <random>

#include "provenit/colour/primaries.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;

/// Colours over the volume; what is shown is off by factors of X, Y, Z, and the reading by noise.
std::vector<ProofPair> pairs(double before_off, double after_off, unsigned seed, int count = 40) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, 1);
  std::uniform_real_distribution<double> uniform(0, 1);
  std::vector<ProofPair> out;
  for (int i = 0; i < count; ++i) {
    const double y = std::pow(10, -1 + 3.5 * uniform(random));
    const colour::AbsoluteXyz<> asked{.X = y * (0.6 + 0.7 * uniform(random)), .Y = y, .Z = y * (0.5 + uniform(random))};
    const auto shown = [&](double off, colour::Matrix3<>& noise) {
      const double sd = 0.001 * y + 0.0005;
      colour::AbsoluteXyz<> c;
      c.X = asked.X * (1 + off) + sd * normal(random);
      c.Y = asked.Y * (1 - off / 2) + sd * normal(random);
      c.Z = asked.Z * (1 + off) + sd * normal(random);
      noise = colour::diagonal(colour::Vector3<>{sd * sd, sd * sd, sd * sd});
      return c;
    };
    ProofPair p{.name = "colour " + std::to_string(i + 1), .asked = asked};
    p.before = shown(before_off, p.before_noise);
    p.after = shown(after_off, p.after_noise);
    out.push_back(p);
  }
  return out;
}

TEST(Proof, SaysBetterWorseOrNeither) {
  const SharedErrors shared{.luminance = 0.01, .dx = 0.00075, .dy = 0.00075};
  const auto better = prove(pairs(0.05, 0.002, 1), shared, 1);
  ASSERT_TRUE(better);
  EXPECT_EQ(better->regions.front().verdict, ProofVerdict::better);
  EXPECT_EQ(better->regions.front().colours, 40);
  EXPECT_GT(better->before_p95, better->after_p95);
  const auto worse = prove(pairs(0.002, 0.05, 2), shared, 1);
  ASSERT_TRUE(worse);
  EXPECT_EQ(worse->regions.front().verdict, ProofVerdict::worse);
  const auto same = prove(pairs(0.02, 0.02, 3), shared, 1);
  ASSERT_TRUE(same);
  EXPECT_EQ(same->regions.front().verdict, ProofVerdict::no_difference_shown);
}

TEST(Proof, AnInstrumentsOwnErrorsCanHideAGain) {
  // The same pairs: a gain of half a per cent is plain to a perfect instrument, and not to one that is off by 5 %.
  const auto p = pairs(0.008, 0.001, 4);
  EXPECT_EQ(prove(p, {}, 1)->regions.front().verdict, ProofVerdict::better);
  EXPECT_EQ(prove(p, {.luminance = 0.05, .dx = 0.004, .dy = 0.004}, 1)->regions.front().verdict,
            ProofVerdict::no_difference_shown);
}

TEST(Proof, FalseAlarmsAreAsRareAsTheIntervalSays) {
  // No gain at all: how often is one claimed, either way? 5 % of 40, so at most 6 (99.6 % of the binomial).
  int claimed = 0;
  for (unsigned seed = 10; seed < 50; ++seed)
    claimed += prove(pairs(0.01, 0.01, seed, 24), {.luminance = 0.01}, seed)->regions.front().verdict !=
               ProofVerdict::no_difference_shown;
  EXPECT_LE(claimed, 6);
}

TEST(Proof, IsTheSameForTheSameSeedAndNamesBadPairs) {
  const auto p = pairs(0.03, 0.01, 5);
  EXPECT_EQ(prove(p, {}, 7)->regions.front().gain.upper, prove(p, {}, 7)->regions.front().gain.upper);
  EXPECT_THAT(prove(pairs(0.03, 0.01, 5, 11), {}, 7).error().text(), HasSubstr("needs 12"));
  auto bad = p;
  bad[3].after.Z = std::numeric_limits<double>::infinity();
  EXPECT_THAT(prove(bad, {}, 7).error().text(), HasSubstr("colour 4"));
  bad = p;
  bad[5].asked = {};
  EXPECT_THAT(prove(bad, {}, 7).error().text(), HasSubstr("colour 6"));
}

}  // namespace
}  // namespace provenit::correct
