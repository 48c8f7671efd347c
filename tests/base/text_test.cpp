#include "provenit/base/text.h"

#include <gtest/gtest.h>

#include <filesystem>

namespace provenit {
namespace {

TEST(ParseDouble, TakesWhatInstrumentsAndPeopleWrite) {
  EXPECT_EQ(parse_double(" +1.0E+02 "), 100.0);
  EXPECT_EQ(parse_double("-.5"), -0.5);
  EXPECT_EQ(parse_double("1e-400"), std::nullopt);
  for (const char* bad : {"", " ", "1,5", "abc", "1.5x", "nan", "inf", "+-1", "++1", "0x10"})
    EXPECT_EQ(parse_double(bad), std::nullopt) << bad;
}

TEST(ExactText, ReadsBackAsTheSameDouble) {
  for (double v : {0.1, 1e-300, 1.0 / 3.0, 723.0, -2.5e17}) EXPECT_EQ(parse_double(exact_text(v)), v);
}

TEST(Iso8601, RoundTripsAndKnowsOffsets) {
  const auto t = parse_iso8601("2026-11-25T09:30:00.250Z");
  ASSERT_TRUE(t);
  EXPECT_EQ(iso8601(*t), "2026-11-25T09:30:00.250Z");
  const auto offset = parse_iso8601("2026-11-25T10:30:00.25+01:00");
  ASSERT_TRUE(offset);
  EXPECT_DOUBLE_EQ(offset->unix_s, t->unix_s);
  EXPECT_DOUBLE_EQ(parse_iso8601("1970-01-02T00:00:00Z")->unix_s, 86400.0);
  for (const char* bad : {"2026-11-25", "2026-02-30T00:00:00Z", "2026-11-25T25:00:00Z", "2026-11-25T09:30:00", "x"})
    EXPECT_FALSE(parse_iso8601(bad)) << bad;
}

TEST(Sha256, MatchesTheStandardsExample) {
  // FIPS 180-4 example "abc" (NIST, SHA-256 example values).
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST(Files, WriteIsWholeAndErrorsNameThePath) {
  const auto path = (std::filesystem::temp_directory_path() / "provenit_text_test.txt").string();
  ASSERT_TRUE(write_file(path, "one\ntwo"));
  EXPECT_EQ(read_file(path).value(), "one\ntwo");
  std::filesystem::remove(path);
  const auto missing = read_file(path);
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.error().where.file, path);
  EXPECT_FALSE(write_file("/nonexistent/folder/file", "x"));
}

TEST(ErrorText, SaysWhereWhatAndWhatToDo) {
  const Error e{ErrorCode::invalid_input,
                "'abc' is not a number",
                "Give luminance in cd/m2.",
                {.file = "readings.csv", .line = 12, .field = "Y"}};
  EXPECT_EQ(e.text(), "readings.csv:12 (Y): 'abc' is not a number. Give luminance in cd/m2.");
}

}  // namespace
}  // namespace provenit
