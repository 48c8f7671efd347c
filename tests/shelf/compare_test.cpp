// Findings held against each other: differences, requirement sets and ageing by hand-made numbers.
#include "provenit/shelf/compare.h"

#include <gmock/gmock.h>

#include <limits>

namespace provenit::shelf {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

store::FindingRecord finding(const std::string& quantity, double value, double u, const nlohmann::json& conditions) {
  return {.quantity = quantity,
          .conditions = conditions,
          .value = value,
          .unit = "cd/m2",
          .standard_uncertainty = u,
          .lower95 = value - 1.96 * u,
          .upper95 = value + 1.96 * u,
          .method = "peak/1"};
}
store::FindingRecord peak(double value, double u) {
  return finding("peak_luminance", value, u, {{"window_percent", 10}});
}

Item item(const std::string& name, std::vector<store::FindingRecord> findings, Timestamp starts = {1.8e9}) {
  Item out{.name = name, .findings = std::move(findings)};
  out.display.name = name;
  out.loan.starts = starts;
  return out;
}

TEST(Compare, OnlyIntervalsThatSeparateAreDifferences) {
  const auto a = item("A", {peak(1000, 10), finding("black_luminance", 0.01, 0.004, {})});
  const auto b = item("B", {peak(1050, 10), finding("black_luminance", 0.012, 0.004, {})});
  const auto found = between(a, b);
  ASSERT_EQ(found.separate.size(), 1U);
  EXPECT_EQ(found.separate.front().quantity, "peak_luminance");
  EXPECT_DOUBLE_EQ(found.separate.front().comparison.difference, -50);
  // u of a difference of independent results: sqrt(2) 10; k = 1.96 (JCGM 100:2008, 5.1.2, table G.1)
  EXPECT_NEAR(found.separate.front().comparison.interval.upper, -50 + 1.959964 * 14.142136, 1e-4);
  ASSERT_EQ(found.not_shown.size(), 1U);
  EXPECT_EQ(found.not_shown.front().quantity, "black_luminance");
}

TEST(Compare, WhatCannotBeComparedIsNamed) {
  auto other = peak(900, 5);
  other.method_version = 2;
  const auto a = item("A", {peak(1000, 10)});
  EXPECT_THAT(between(a, item("B", {other})).not_compared.front().why, HasSubstr("version 1"));
  other = peak(900, 5);
  other.method = "peak/2";
  EXPECT_THAT(between(a, item("B", {other})).not_compared.front().why, HasSubstr("peak/2"));
  other = peak(900, std::numeric_limits<double>::infinity());
  EXPECT_THAT(between(a, item("B", {other})).not_compared.front().why, HasSubstr("no finite uncertainty"));
  auto hlg = item("B", {peak(900, 5)});
  hlg.display.encoding.transfer = signal::Transfer::hlg;
  EXPECT_THAT(between(a, hlg).not_compared.front().why, HasSubstr("fed with pq against hlg"));
  // Other conditions are another row, not a comparison.
  const auto full = between(a, item("B", {finding("peak_luminance", 500, 5, {{"window_percent", 100}})}));
  EXPECT_TRUE(full.separate.empty() && full.not_shown.empty() && full.not_compared.empty());
}

TEST(Compare, RoomsAndSimulationAreCautions) {
  auto a = item("A", {}), b = item("B", {});
  EXPECT_EQ(caution(a, b), "");
  a.room.screen_illuminance_lx = 1;
  b.room.screen_illuminance_lx = 3.5;
  EXPECT_EQ(caution(a, b), "");
  b.room.screen_illuminance_lx = 20;
  EXPECT_THAT(caution(a, b), HasSubstr("20 lx"));
  b.display.details["simulated"] = "tern-32";
  EXPECT_THAT(caution(a, b), HasSubstr("B is simulated"));
}

TEST(Compare, TheSameInstrumentNeedsItsSerialAndItsCertificate) {
  store::InstrumentRecord a{.name = "Meter", .kind = "line"}, b = a;
  EXPECT_FALSE(same_instrument(a, b));  // nobody knows
  a.details["serial"] = b.details["serial"] = "17";
  EXPECT_TRUE(same_instrument(a, b));
  b.certificate.date = "2026-02";
  EXPECT_FALSE(same_instrument(a, b));
}

TEST(Compare, RowsOverManyDisplaysAndTheirOrder) {
  auto odd = peak(5000, 1);
  odd.method_version = 2;
  const std::vector items{item("A", {finding("black_luminance", 0.01, 0.001, {}), peak(1000, 10)}), item("B", {}),
                          item("C", {peak(1400, 10)}), item("D", {odd})};
  const auto rows = side_by_side(items);
  ASSERT_EQ(rows.size(), 2U);
  const auto peaks = side_by_side(items, "peak").at(0);
  EXPECT_EQ(peaks.cells[1], nullptr);
  EXPECT_EQ(peaks.why_not[2], "");
  EXPECT_NE(peaks.why_not[3], "");
  EXPECT_THAT(order_by(peaks, true), ElementsAre(2, 0, 1, 3));
  EXPECT_THAT(order_by(peaks, false), ElementsAre(0, 2, 1, 3));
}

TEST(Compare, RowsOfOneQuantityGoByTheNumbersOfTheirConditions) {
  std::vector<store::FindingRecord> findings;
  for (const int percent : {100, 25, 1, 10, 2})
    findings.push_back(finding("peak_luminance", 1000, 10, {{"window_percent", percent}}));
  const std::vector items{item("A", findings)};
  std::vector<int> order;
  for (const auto& row : side_by_side(items)) order.push_back(row.conditions.at("window_percent"));
  EXPECT_THAT(order, ElementsAre(1, 2, 10, 25, 100));
}

evaluation::RequirementSet two_limits() {
  const auto set = evaluation::parse_requirement_set(R"(
id = "two"
title = "Two limits"
source = "invented"
mark = "claim"
[[question]]
quantity = "peak_luminance"
conditions = { window_percent = 10 }
at_least = 1000
unit = "cd/m2"
[[question]]
quantity = "black_luminance"
at_most = 0.005
unit = "cd/m2"
[[question]]
key = "open"
quantity = "peak_luminance"
conditions = { window_percent = 100 }
unit = "cd/m2"
)",
                                                     "two.toml");
  EXPECT_TRUE(set) << set.error().text();
  return set.value();
}

TEST(Compare, SetsOverDisplays) {
  const auto set = two_limits();
  ASSERT_EQ(limits_of(set).size(), 2U);
  const auto black = [](double value) { return finding("black_luminance", value, 0.0002, {}); };
  const auto good = item("A", {peak(1100, 10), black(0.001)});
  EXPECT_EQ(standing_of(good, set).overall, Standing::meets);
  const auto near = item("B", {peak(1010, 10), black(0.001)});
  const auto standing = standing_of(near, set);
  EXPECT_EQ(standing.overall, Standing::undecided);
  EXPECT_EQ(standing.questions.at(0).standing, Standing::undecided);
  const auto bad = item("C", {peak(1100, 10), black(0.01)});
  EXPECT_EQ(standing_of(bad, set).overall, Standing::fails);
  const auto lacking = item("D", {peak(1100, 10)});
  EXPECT_EQ(standing_of(lacking, set).overall, Standing::undecided);
  EXPECT_EQ(standing_of(lacking, set).count(Standing::not_found), 1U);
}

TEST(Compare, AgeingOfOneSpecimen) {
  const double year = 365.25 * 86400;
  std::vector items{item("Tern 32", {peak(1300, 8), finding("black_luminance", 0.01, 0.004, {})}, {1.8e9 + 2 * year}),
                    item("Curlew 27", {peak(900, 8)}),
                    item("Tern 32", {peak(1400, 8), finding("black_luminance", 0.011, 0.004, {})}),
                    item("Tern 32", {peak(1360, 8)}, {1.8e9 + year})};
  const auto found = ageing(items);
  ASSERT_EQ(found.size(), 1U);
  ASSERT_EQ(found.front().loans.size(), 3U);
  EXPECT_LT(found.front().loans[0]->loan.starts, found.front().loans[1]->loan.starts);
  ASSERT_EQ(found.front().courses.size(), 2U);
  for (const auto& course : found.front().courses) {
    const bool is_peak = course.row.quantity == "peak_luminance";
    EXPECT_EQ(course.changed, is_peak) << course.row.quantity;
    if (!is_peak) continue;
    EXPECT_DOUBLE_EQ(course.first_last.comparison.difference, -100);
  }
  // Two specimens of one model are not one that aged.
  items[0].display.details["serial"] = "1";
  items[2].display.details["serial"] = "2";
  items[3].display.details["serial"] = "2";
  ASSERT_EQ(ageing(items).front().loans.size(), 2U);
}

TEST(Compare, NamesTellDisplaysApart) {
  std::vector items{item("Tern 32", {}), item("Tern 32", {}, {1.9e9}), item("Curlew 27", {})};
  name_items(items);
  EXPECT_EQ(items[0].name, "Tern 32, 2027-01-15");
  EXPECT_EQ(items[1].name, "Tern 32, 2030-03-17");
  EXPECT_EQ(items[2].name, "Curlew 27");
}

}  // namespace
}  // namespace provenit::shelf
