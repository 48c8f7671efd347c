#include "provenit/correct/lut.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>

#include "tables.h"

namespace provenit::correct {
namespace {

using testing::HasSubstr;
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(Values, NumbersOfSignals) {
  // BT.2100-3 narrow range, 10 bits: 64 and 940 of 1023.
  const Values codes{.encoding = {.bits = 10, .range = signal::Range::narrow}, .scale = Scale::code};
  EXPECT_DOUBLE_EQ(number_of(codes, {.value = 0}), 64.0 / 1023);
  EXPECT_DOUBLE_EQ(number_of(codes, {.value = 1}), 940.0 / 1023);
  EXPECT_NEAR(signal_of(codes, 1.0).value, (1023.0 - 64) / (940 - 64), 1e-15);
  const Values full{.encoding = {.bits = 12, .range = signal::Range::full}, .scale = Scale::code};
  EXPECT_EQ(number_of(full, {.value = 0.3}), 0.3);
  EXPECT_EQ(number_of(Values{}, {.value = 0.3}), 0.3);
}

TEST(Lut1d, StraightBetweenEntriesAndHeldOutside) {
  Lut1d table;
  table.channel = {std::vector<double>{0, 0.5, 0.6}, {1, 0, 2}, {0.25, 0.25, 0.5}};
  const Triple v = evaluate(table, {0.25, 0.75, 0.5});
  EXPECT_DOUBLE_EQ(v[0], 0.25);
  EXPECT_DOUBLE_EQ(v[1], 1);
  EXPECT_DOUBLE_EQ(v[2], 0.25);
  EXPECT_EQ(evaluate(table, {-3, 7, kNan}), (Triple{0, 2, 0.25}));
}

TEST(Lut3d, NodesThemselves) {
  const Lut3d table = rough_3d(5, 1);
  for (int r = 0; r < 5; ++r)
    for (int g = 0; g < 5; ++g)
      for (int b = 0; b < 5; ++b)
        EXPECT_EQ(evaluate(table, {r / 4.0, g / 4.0, b / 4.0}), table.node(r, g, b)) << r << g << b;
}

TEST(Lut3d, AffineMapsAreExact) {
  Lut3d table = identity_3d(17);
  for (Triple& node : table.nodes) node = evaluate(some_matrix(), node);
  for (const Triple& v : Draw(2).triples(2000))
    EXPECT_LE(largest_difference(evaluate(table, v), evaluate(some_matrix(), v)), 4e-16);
}

TEST(Lut3d, GreyOfTheDiagonalStaysBetweenItsTwoNodes) {
  const Lut3d table = rough_3d(9, 3);
  for (int i = 0; i < 8; ++i) {
    const double t = 0.3, x = (i + t) / 8;
    const Triple v = evaluate(table, {x, x, x});
    for (std::size_t c = 0; c < 3; ++c)
      EXPECT_NEAR(v[c], (1 - t) * table.node(i, i, i)[c] + t * table.node(i + 1, i + 1, i + 1)[c], 1e-14);
  }
}

TEST(Lut3d, ContinuousAcrossTies) {
  const Lut3d table = rough_3d(4, 4);
  Draw draw(5);
  for (int i = 0; i < 500; ++i) {
    Triple v = draw.triple(0.01, 0.99);
    v[1] = v[0];
    Triple beside = v;
    beside[1] += 1e-12;
    EXPECT_LE(largest_difference(evaluate(table, v), evaluate(table, beside)), 1e-10);
  }
}

TEST(Lut, StagesActInOrder) {
  const Lut lut = lut_of({bent_1d(64), some_matrix(), rough_3d(5, 6)});
  const Triple v{0.2, 0.5, 0.8};
  const Triple by_hand = evaluate(rough_3d(5, 6), evaluate(some_matrix(), evaluate(bent_1d(64), v)));
  EXPECT_EQ(evaluate(lut, v), by_hand);
  EXPECT_EQ(evaluate(lut_of({}), v), v);
}

TEST(Lut, RoundedEntriesAreCodes) {
  Lut lut = lut_of({bent_1d(33), rough_3d(3, 7)});
  std::get<Lut1d>(lut.stages[0]).channel[0][5] = 0.5 / 1023;  // half a step goes up
  std::get<Lut1d>(lut.stages[0]).channel[0][6] = 1.7;         // what no code reaches is the last code
  std::get<Lut3d>(lut.stages[1]).node(1, 1, 1) = {-0.1, 0.5, 1};
  const Lut ten = rounded(lut, 10);
  const auto& curve = std::get<Lut1d>(ten.stages[0]);
  const auto& lattice = std::get<Lut3d>(ten.stages[1]);
  EXPECT_EQ(curve.entry_bits, 10);
  EXPECT_DOUBLE_EQ(curve.channel[0][5], 1.0 / 1023);
  EXPECT_EQ(curve.channel[0][6], 1);
  EXPECT_EQ(lattice.node(1, 1, 1), (Triple{0, 512.0 / 1023, 1}));
  for (const double v : curve.channel[1]) EXPECT_NEAR(v * 1023, std::round(v * 1023), 1e-12);
  EXPECT_TRUE(validate(ten));
  EXPECT_TRUE(validate(rounded(lut, 12)));
  EXPECT_LE(largest_difference(evaluate(ten, {0.3, 0.4, 0.5}), evaluate(rounded(ten, 10), {0.3, 0.4, 0.5})), 0);
}

TEST(Lut, FaultsAreNamed) {
  const auto fault = [](Lut lut) {
    const auto result = validate(lut);
    return result ? std::string("none") : result.error().text();
  };
  Lut1d uneven = bent_1d(8);
  uneven.channel[2].pop_back();
  EXPECT_THAT(fault(lut_of({some_matrix(), uneven})), HasSubstr("stage 2 cannot be used: its three channels"));
  Lut1d holed = bent_1d(8);
  holed.channel[1][3] = kNan;
  EXPECT_THAT(fault(lut_of({holed})), HasSubstr("entry 3 is nan, no number within 1000000"));
  Lut3d short_of = rough_3d(3, 1);
  short_of.nodes.pop_back();
  EXPECT_THAT(fault(lut_of({short_of})), HasSubstr("it has 26 nodes and needs 27"));
  Lut1d promised = bent_1d(8);
  promised.entry_bits = 10;
  EXPECT_THAT(fault(lut_of({promised})), HasSubstr("which 10 bits cannot hold"));
  EXPECT_THAT(fault(lut_of({Lut1d{.channel = {std::vector<double>{1}, {1}, {1}}}})), HasSubstr("this one 1"));
  EXPECT_THAT(fault(lut_of({Affine{.offset = {0, kNan, 0}}})), HasSubstr("its offset"));
  Lut two_lines = lut_of({});
  two_lines.title = "a\nb";
  EXPECT_THAT(fault(two_lines), HasSubstr("more than one line"));
  Lut odd = lut_of({});
  odd.output = Values{.encoding = {.bits = 9}};
  EXPECT_NE(fault(odd), "none");
}

}  // namespace
}  // namespace provenit::correct
