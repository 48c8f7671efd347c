#include "provenit/selfcheck/selfcheck.h"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <set>

#include "provenit/base/text.h"

namespace provenit::selfcheck {
namespace {

std::string file(const std::string& path) {
  return read_file(std::string(PROVENIT_SOURCE_DIR) + "/" + path).value();
}

TEST(Selfcheck, EveryRowOfTheBuiltInTablePasses) {
  EXPECT_EQ(built_in_table(), file("data/reference/worked_values.csv"));
  const auto report = check_table(built_in_table(), "worked_values.csv").value();
  EXPECT_TRUE(report.all_pass()) << text_of(report, true);
  EXPECT_EQ(report.rows.size(), 360U);
  std::set<std::string> seen;
  for (const auto& row : report.rows) seen.insert(row.quantity);
  const auto known = quantities();
  EXPECT_EQ(seen, std::set<std::string>(known.begin(), known.end()))
      << "each quantity has a row, and each row's is known";
  EXPECT_EQ(known.size(), 44U);
}

// Other numbers, bit depths, primaries, frames, spectra and samples, from a second implementation with 40 digits
// (data/make_other_values.py, mpmath 1.3.0).
TEST(Selfcheck, OtherNumbersPassAsWell) {
  const auto report = check_table(file("tests/selfcheck/data/other_values.csv"), "other_values.csv").value();
  EXPECT_TRUE(report.all_pass()) << text_of(report, true);
  EXPECT_GE(report.rows.size(), 300U);
  std::set<std::string> seen;
  for (const auto& row : report.rows) seen.insert(row.quantity);
  EXPECT_EQ(seen.size(), quantities().size());
}

TEST(Selfcheck, EveryReferenceTableIsCovered) {
  const auto report = check_built_in();
  EXPECT_TRUE(report.all_pass()) << text_of(report, true);
  std::set<std::string> covered{"e308_sample.csv"};  // an input of rows of worked_values.csv
  for (const auto& row : report.rows) {
    covered.insert(row.file);
    EXPECT_FALSE(row.source.empty()) << row.id;
  }
  for (const auto& entry : std::filesystem::directory_iterator(std::string(PROVENIT_SOURCE_DIR) + "/data/reference"))
    if (entry.path().extension() == ".csv") {
      EXPECT_TRUE(covered.contains(entry.path().filename().string())) << entry.path();
    }
}

/// The table with component `k` of every expected value moved to twice its tolerance.
std::string with_wrong_component(std::string_view table, std::size_t k, std::set<std::string>& wrong_ids) {
  std::string out;
  for (const auto line : split(table, '\n')) {
    auto cells = split(line, ',');
    if (line.empty() || line.front() == '#' || cells[0] == "id") {
      out += std::string(line) + '\n';
      continue;
    }
    auto expected = split(cells[3], ' ');
    std::string moved;
    if (k < expected.size()) {
      const double value = parse_double(expected[k]).value();
      const double tolerance = cells[4] == "exact" ? 1 : parse_double(cells[4].substr(4)).value();
      const bool relative = cells[4].starts_with("rel");
      moved = exact_text(value + (relative ? (value == 0 ? 1e-3 : 2 * tolerance * value) : 2 * tolerance));
      expected[k] = moved;
      wrong_ids.emplace(cells[0]);
    }
    std::string joined;
    for (const auto part : expected) joined += (joined.empty() ? "" : " ") + std::string(part);
    out += std::string(cells[0]) + ',' + std::string(cells[1]) + ',' + std::string(cells[2]) + ',' + joined + ',' +
           std::string(cells[4]) + ',' + std::string(cells[5]) + '\n';
  }
  return out;
}

TEST(Selfcheck, AWrongExpectedValueIsFoundInEveryRowAndComponent) {
  int checked = 0;
  for (std::size_t k = 0; k < 9; ++k) {
    std::set<std::string> wrong, failed;
    const auto table = with_wrong_component(built_in_table(), k, wrong);
    const auto report = check_table(table, "moved.csv").value();
    EXPECT_TRUE(report.errors.empty());
    for (const auto& row : report.rows)
      if (row.verdict == Verdict::fail) failed.insert(row.id);
    EXPECT_EQ(failed, wrong) << "component " << k;
    checked += static_cast<int>(wrong.size());
  }
  EXPECT_GT(checked, 800);
}

Row only_row(const std::string& fields) {
  const auto report = check_table("id,quantity,inputs,expected,tolerance,source\n" + fields + "\n", "t.csv").value();
  EXPECT_EQ(report.rows.size(), 1U) << text_of(report);
  return report.rows.at(0);
}

TEST(Selfcheck, TolerancesAreAbsoluteRelativeOrExact) {
  const auto verdict = [](const std::string& expected, const std::string& tolerance) {
    return only_row("a,hlg_system_gamma,L_W=1000," + expected + ',' + tolerance + ",s").verdict;
  };
  EXPECT_EQ(verdict("1.3", "abs:0.1001"), Verdict::pass);
  EXPECT_EQ(verdict("1.3", "abs:0.0999"), Verdict::fail);
  EXPECT_EQ(verdict("1.25", "rel:0.0401"), Verdict::pass);
  EXPECT_EQ(verdict("1.25", "rel:0.0399"), Verdict::fail);
  EXPECT_EQ(verdict("1.2", "exact"), Verdict::pass);
  EXPECT_EQ(verdict("1.2000000000000002", "exact"), Verdict::fail);
  EXPECT_EQ(verdict("6/5", "exact"), Verdict::pass) << "fractions are numbers";
  EXPECT_EQ(verdict("1.2", "abs:0"), Verdict::pass);
}

TEST(Selfcheck, RelativeToNothingPassesOnlyForNothing) {
  EXPECT_EQ(only_row("a,pq_eotf,E=0,0,rel:1e-9,s").verdict, Verdict::pass);
  const auto row = only_row("a,pq_eotf,E=0.5,0,rel:1e-9,s");
  EXPECT_EQ(row.verdict, Verdict::fail);
  EXPECT_TRUE(std::isinf(row.error));
}

TEST(Selfcheck, AsTakesOverInputsAndMayChangeSome) {
  const auto report = check_table(
                          "id,quantity,inputs,expected,tolerance,source\n"
                          "b,hlg_black_lift_beta,as a; L_B=0,0,abs:0,s\n"
                          "a,hlg_black_lift_beta,L_W=1000; L_B=0.005; gamma=1.2,0.0107102135226035,abs:1e-12,s\n"
                          "c,hlg_black_lift_beta,as b; L_B=0.005,0.0107102135226035,abs:1e-12,s\n",
                          "t.csv")
                          .value();
  EXPECT_TRUE(report.all_pass()) << text_of(report);
  EXPECT_EQ(report.rows.size(), 3U);
}

TEST(Selfcheck, ColumnsInAnyOrderQuotesAndLineEnds) {
  const auto report = check_table(
                          "\xEF\xBB\xBF# a comment\r\n\r\nsource,tolerance,expected,inputs,quantity,id\r\n"
                          "\"a, \"\"quoted\"\" source\",abs:0,0,E=0,pq_eotf,a\r\n",
                          "t.csv")
                          .value();
  ASSERT_TRUE(report.all_pass()) << text_of(report);
  EXPECT_EQ(report.rows[0].source, "a, \"quoted\" source");
  EXPECT_EQ(report.rows[0].line, 4);
}

TEST(Selfcheck, ATableWithoutRowsDoesNotPass) {
  const auto report = check_table("id,quantity,inputs,expected,tolerance,source\n", "t.csv").value();
  EXPECT_FALSE(report.all_pass());
}

}  // namespace
}  // namespace provenit::selfcheck
