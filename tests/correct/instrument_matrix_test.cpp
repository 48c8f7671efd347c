#include "provenit/correct/instrument_matrix.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>

#include "tables.h"

namespace provenit::correct {
namespace {

using colour::AbsoluteXyz;
using colour::Matrix3;
using colour::Xy;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

// An additive display of four narrow emitters, and two instruments: sums over the spectrum weighted by three functions.
// The reference's functions are Gaussian humps, the colorimeter's the same ones moved and widened.
constexpr int kSamples = 401;
double wavelength(int i) {
  return 380 + i;
}
double hump(double nm, double centre, double width) {
  return std::exp(-0.5 * std::pow((nm - centre) / width, 2));
}
struct Responses {
  double moved = 0, widened = 1;
  [[nodiscard]] AbsoluteXyz<> of(const std::vector<double>& spectrum) const {
    AbsoluteXyz<> c;
    for (int i = 0; i < kSamples; ++i) {
      const double nm = wavelength(i) - moved;
      c.X += spectrum[i] * (1.06 * hump(nm, 599, 38 * widened) + 0.36 * hump(nm, 446, 20));
      c.Y += spectrum[i] * 1.0 * hump(nm, 556, 46 * widened);
      c.Z += spectrum[i] * 1.8 * hump(nm, 449, 23);
    }
    return c;
  }
};
std::vector<double> light(double r, double g, double b, double fourth = 0) {
  std::vector<double> s(kSamples);
  for (int i = 0; i < kSamples; ++i) {
    const double nm = wavelength(i);
    s[i] = r * hump(nm, 625, 10) + g * hump(nm, 530, 14) + b * hump(nm, 455, 9) + fourth * hump(nm, 590, 30);
  }
  return s;
}
const Responses kReference, kColorimeter{.moved = 3, .widened = 1.08};

AbsoluteXyz<Uncertain> exact(const AbsoluteXyz<>& c) {
  return {.X = c.X, .Y = c.Y, .Z = c.Z};
}
PairedReading pair_of(const std::string& name, const std::vector<double>& spectrum) {
  return {.name = name, .colorimeter = exact(kColorimeter.of(spectrum)), .reference = exact(kReference.of(spectrum))};
}
std::array<PairedReading, 4> four_pairs() {
  return {pair_of("red", light(1, 0, 0)), pair_of("green", light(0, 0.8, 0)), pair_of("blue", light(0, 0, 1.2)),
          pair_of("white", light(1, 0.8, 1.2))};
}
/// Each of X, Y, Z with an error of its own, relative to Y.
AbsoluteXyz<Uncertain> noisy(const AbsoluteXyz<Uncertain>& c, double relative, Sources& sources) {
  const auto with = [&](const Uncertain& x) {
    return x + Uncertain(0, sources.add({.name = "noise", .standard_uncertainty = relative * c.Y.value()}));
  };
  return {.X = with(c.X), .Y = with(c.Y), .Z = with(c.Z)};
}
double xy_error(const AbsoluteXyz<Uncertain>& a, const AbsoluteXyz<Uncertain>& b) {
  const auto p = colour::xy_from_xyz(a), q = colour::xy_from_xyz(b);
  return std::hypot(p.x.value() - q.x.value(), p.y.value() - q.y.value());
}

TEST(FourColour, AnAlgebraicCaseIsSolvedExactly) {
  // Target chromaticities follow from the reference's by a known matrix; the method must find its inverse, up to a
  // factor.
  const Matrix3<> known{.row = {{{0.97, 0.05, -0.01}, {0.02, 1.01, 0.03}, {-0.01, 0.02, 1.08}}}};
  const Matrix3<> wanted = inverse(known);
  const std::array<Xy<>, 4> reference{
      Xy<>{.x = 0.68, .y = 0.32}, {.x = 0.265, .y = 0.69}, {.x = 0.15, .y = 0.06}, {.x = 0.3127, .y = 0.329}};
  std::array<Xy<>, 4> target;
  for (std::size_t i = 0; i < 4; ++i) {
    const auto v = known * Triple{reference[i].x, reference[i].y, 1 - reference[i].x - reference[i].y};
    target[i] = {.x = v[0] / (v[0] + v[1] + v[2]), .y = v[1] / (v[0] + v[1] + v[2])};
  }
  const Matrix3<> found = four_colour_matrix<double>(target, reference);
  const double factor = wanted(0, 0) / found(0, 0);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) EXPECT_NEAR(factor * found(i, j), wanted(i, j), 1e-13);
}

// The published principle: chromaticities alone go in, so the readings' luminances do not matter.
TEST(FourColour, LuminancesOfTheReadingsDoNotMatter) {
  Sources sources;
  auto pairs = four_pairs();
  const auto before = four_colour(pairs, sources);
  for (std::size_t i = 0; i < 3; ++i)
    for (Uncertain* x : {&pairs[i].colorimeter.X, &pairs[i].colorimeter.Y, &pairs[i].colorimeter.Z})
      *x *= 0.5 + 0.3 * static_cast<double>(i);
  const auto after = four_colour(pairs, sources);
  ASSERT_TRUE(before && after);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) EXPECT_NEAR(before->matrix(i, j).value(), after->matrix(i, j).value(), 1e-12);
}

// And: right for every colour that the display adds from the same primaries, of which only four were read.
TEST(FourColour, EveryMixtureComesOutRight) {
  Sources sources;
  const auto m = four_colour(four_pairs(), sources);
  ASSERT_TRUE(m) << m.error().text();
  double uncorrected = 0;
  for (const Triple& v : Draw(61).triples(200, 0.02, 1)) {
    const PairedReading mixture = pair_of("mixture", light(v[0], v[1], v[2]));
    uncorrected = std::max(uncorrected, xy_error(mixture.colorimeter, mixture.reference));
    const auto c = corrected(*m, mixture.colorimeter, sources);
    EXPECT_LE(xy_error(c, mixture.reference), 1e-12);
    EXPECT_NEAR(c.Y.value() / mixture.reference.Y.value(), 1, 1e-12);
  }
  EXPECT_GT(uncorrected, 0.005);
}

TEST(FourColour, AFourthEmitterBreaksIt) {
  Sources sources;
  const auto m = four_colour(four_pairs(), sources).value();
  const PairedReading yellow = pair_of("with a fourth emitter", light(0.3, 0.3, 0.3, 1));
  EXPECT_GT(xy_error(corrected(m, yellow.colorimeter, sources), yellow.reference), 0.002);
}

TEST(FourColour, UncertaintyAgreesWithDraws) {
  const auto exact_pairs = four_pairs();
  Sources sources;
  auto pairs = exact_pairs;
  for (PairedReading& p : pairs) {
    p.colorimeter = noisy(p.colorimeter, 0.004, sources);
    p.reference = noisy(p.reference, 0.002, sources);
  }
  const auto m = four_colour(pairs, sources).value();
  const AbsoluteXyz<Uncertain> reading = exact(kColorimeter.of(light(0.4, 0.5, 0.6)));
  const auto c = corrected(m, reading, sources);
  const auto xy = colour::xy_from_xyz(c);
  std::mt19937_64 random(5);
  std::normal_distribution<double> normal;
  double xx = 0, yy = 0, ll = 0;
  constexpr int kDraws = 4000;
  for (int draw = 0; draw < kDraws; ++draw) {
    Sources none;
    auto drawn = exact_pairs;
    for (PairedReading& p : drawn)
      for (auto [colour, u] : {std::pair{&p.colorimeter, 0.004}, {&p.reference, 0.002}}) {
        const double s = u * colour->Y.value();
        colour->X += s * normal(random);
        colour->Y += s * normal(random);
        colour->Z += s * normal(random);
      }
    const auto d = corrected(four_colour(drawn, none).value(), reading, none);
    const auto dxy = colour::xy_from_xyz(d);
    xx += std::pow(dxy.x.value() - xy.x.value(), 2);
    yy += std::pow(dxy.y.value() - xy.y.value(), 2);
    ll += std::pow(d.Y.value() - c.Y.value(), 2);
  }
  EXPECT_NEAR(std::sqrt(xx / kDraws) / standard_uncertainty(xy.x, sources), 1, 0.05);
  EXPECT_NEAR(std::sqrt(yy / kDraws) / standard_uncertainty(xy.y, sources), 1, 0.05);
  EXPECT_NEAR(std::sqrt(ll / kDraws) / standard_uncertainty(c.Y, sources), 1, 0.05);
}

TEST(LeastSquares, ConsistentPairsAreMetExactly) {
  Sources sources;
  std::vector<PairedReading> pairs;
  for (const Triple& v : Draw(62).triples(7, 0.05, 1))
    pairs.push_back(pair_of("p" + std::to_string(pairs.size()), light(v[0], v[1], v[2])));
  const auto m = least_squares(pairs, sources);
  ASSERT_TRUE(m) << m.error().text();
  for (const double u : m->misfit) EXPECT_LE(u, 1e-12);
  const auto four = four_colour(four_pairs(), sources).value();
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) EXPECT_NEAR(m->matrix(i, j).value(), four.matrix(i, j).value(), 1e-9);
}

TEST(LeastSquares, MisfitBeyondTheNoiseIsFoundAndNoiseAloneIsNot) {
  // Pairs whose references are off by 0.5 % of X + Y + Z, on top of known noise of 0.1 % of Y.
  const auto mean_misfit = [](double off) {
    double sum = 0;
    for (unsigned seed = 0; seed < 40; ++seed) {
      std::mt19937_64 random(seed);
      std::normal_distribution<double> normal;
      Sources sources;
      std::vector<PairedReading> pairs;
      for (const Triple& v : Draw(100 + seed).triples(12, 0.05, 1)) {
        PairedReading p = pair_of("p" + std::to_string(pairs.size()), light(v[0], v[1], v[2]));
        const double s = p.reference.X.value() + p.reference.Y.value() + p.reference.Z.value();
        const double noise = 0.001 * p.reference.Y.value();
        for (Uncertain* x : {&p.reference.X, &p.reference.Y, &p.reference.Z}) {
          const double error = off * s * normal(random) + noise * normal(random);
          *x += Uncertain(error, sources.add({.name = "noise", .standard_uncertainty = noise}));
        }
        pairs.push_back(p);
      }
      const auto m = least_squares(pairs, sources);
      if (!m) throw std::runtime_error(m.error().text());
      for (const double u : m->misfit) sum += u * u / 3;
    }
    return std::sqrt(sum / 40);
  };
  EXPECT_NEAR(mean_misfit(0.005), 0.005, 0.0004);
  EXPECT_LE(mean_misfit(0), 0.0003);
}

TEST(LeastSquares, IntervalsHoldTheTruth) {
  // A display with a fourth emitter, whose share differs from colour to colour: no matrix fits. The stated intervals of
  // colours that were not read must hold the reference's value about as often as they say.
  int held = 0, all = 0;
  for (unsigned seed = 0; seed < 30; ++seed) {
    Draw draw(200 + seed);
    const auto drawn = [&] {
      const Triple v = draw.triple(0.1, 1);
      return light(v[0], v[1], v[2], draw.between(0, 0.3));
    };
    Sources sources;
    std::vector<PairedReading> pairs;
    for (int i = 0; i < 12; ++i) pairs.push_back(pair_of("p" + std::to_string(i), drawn()));
    const auto m = least_squares(pairs, sources).value();
    for (int i = 0; i < 20; ++i) {
      const PairedReading unseen = pair_of("unseen", drawn());
      const auto c = corrected(m, unseen.colorimeter, sources);
      const auto result = linear_result(c.X, sources);
      ++all;
      held +=
          result.interval.lower <= unseen.reference.X.value() && unseen.reference.X.value() <= result.interval.upper;
    }
  }
  EXPECT_GE(held, 0.90 * all);
  EXPECT_LE(held, 0.99 * all);
}

TEST(InstrumentMatrix, FaultsAreNamed) {
  Sources sources;
  const auto fault = [&](const std::array<PairedReading, 4>& pairs) {
    const auto m = four_colour(pairs, sources);
    return m ? std::string("none") : m.error().text();
  };
  auto pairs = four_pairs();
  std::swap(pairs[0].reference, pairs[1].reference);
  EXPECT_THAT(fault(pairs), HasSubstr("channels may be swapped"));
  pairs = four_pairs();
  std::swap(pairs[2], pairs[3]);
  EXPECT_THAT(fault(pairs), HasSubstr("lies outside its red, green and blue"));
  pairs = four_pairs();
  pairs[1] = pair_of("green", light(1, 0.01, 0));
  EXPECT_THAT(fault(pairs), HasSubstr("nearly in one line"));
  pairs = four_pairs();
  pairs[1].colorimeter.X = std::numeric_limits<double>::quiet_NaN();
  EXPECT_THAT(fault(pairs), HasSubstr("(green): the colorimeter's reading of 'green' has no light or is not finite"));
  pairs = four_pairs();
  pairs[2].reference.Y = -0.1;
  EXPECT_THAT(fault(pairs), HasSubstr("the reference's reading of 'blue'"));
  pairs = four_pairs();
  pairs[0].colorimeter = noisy(pairs[0].colorimeter, 0.1, sources);
  EXPECT_THAT(fault(pairs), HasSubstr("the chromaticity of 'red' is only known to"));

  std::vector<PairedReading> greys;
  for (const double k : {0.2, 0.5, 1.0, 2.0}) greys.push_back(pair_of("grey", light(k, k, k)));
  EXPECT_THAT(least_squares(greys, sources).error().text(), HasSubstr("too close together"));
  greys.resize(2);
  EXPECT_THAT(least_squares(greys, sources).error().text(), HasSubstr("at least 3 pairs"));
}

TEST(InstrumentMatrix, AChangeOfTheDisplayIsNoticed) {
  const MatrixConditions then{.display = "Tern 32", .mode = "cinema", .instrument = "Meter A", .made = {0}};
  EXPECT_THAT(warnings(then, then), IsEmpty());
  EXPECT_THAT(
      warnings(then, {.display = "Tern 32", .mode = "bright", .instrument = "Meter A", .made = {100 * 86400.0}}),
      ElementsAre("The matrix was made for the mode 'cinema', not for 'bright'.", "The matrix is 100 days old."));

  colour::Spectrum white{.start_nm = 380, .step_nm = 1, .values = light(1, 1, 1)}, brighter = white, aged = white;
  for (double& v : brighter.values) v *= 3;
  aged.values = light(1, 1, 0.8);
  EXPECT_NEAR(moved_light(white, brighter).value(), 0, 1e-14);
  // Shares before: widths 10, 14, 9 of 33; after: 10, 14, 7.2 of 31.2. Half the sum of differences is blue's loss.
  EXPECT_NEAR(moved_light(white, aged).value(), 9 / 33.0 - 7.2 / 31.2, 1e-3);
  EXPECT_GT(moved_light(white, aged).value(), kMovedLightLimit);
  colour::Spectrum narrow = white;
  narrow.values.resize(100);
  EXPECT_EQ(moved_light(white, narrow).error().code, ErrorCode::out_of_range);
}

TEST(InstrumentMatrix, APairReadLaterTellsWhetherItHolds) {
  Sources sources;
  auto pairs = four_pairs();
  for (PairedReading& p : pairs) {
    p.colorimeter = noisy(p.colorimeter, 0.002, sources);
    p.reference = noisy(p.reference, 0.002, sources);
  }
  const auto m = four_colour(pairs, sources).value();
  PairedReading same = pair_of("grey", light(0.5, 0.4, 0.6)), other = pair_of("grey", light(0.5, 0.4, 0.6, 0.5));
  for (PairedReading* p : {&same, &other}) p->colorimeter = noisy(p->colorimeter, 0.002, sources);
  EXPECT_TRUE(check(m, same, sources).value().holds);
  EXPECT_FALSE(check(m, other, sources).value().holds);
  EXPECT_GT(check(m, other, sources).value().distance, 5.99);
}

}  // namespace
}  // namespace provenit::correct
