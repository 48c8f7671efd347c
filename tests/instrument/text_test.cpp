// Numbers and bytes from outside.
#include <gtest/gtest.h>

#include "number.h"
#include "provenit/instrument/raw_text.h"

namespace provenit::instrument {
namespace {

TEST(ParseCell, OneNumberWithOneDecimalMark) {
  EXPECT_EQ(parse_cell("1.5")->mark, DecimalMark::point);
  EXPECT_EQ(parse_cell(" 1,5 ")->value, 1.5);
  EXPECT_EQ(parse_cell("1,5")->mark, DecimalMark::comma);
  EXPECT_EQ(parse_cell("-3e2")->value, -300);
  EXPECT_EQ(parse_cell("7")->mark, DecimalMark::none);
  for (const char* bad : {"1.234,5", "1,234.5", "1,234,5", "1 234", "", "-", "1e", "nan", "1.5.2", "0x1", "1e999"})
    EXPECT_FALSE(parse_cell(bad)) << bad;
}

TEST(TakeNumber, LeavesWhatFollows) {
  std::string_view text = "1.5e3x";
  EXPECT_EQ(take_number(text), 1500.0);
  EXPECT_EQ(text, "x");
  text = "1,5";
  EXPECT_EQ(take_number(text), 1.0);
  EXPECT_EQ(text, ",5");
  text = "1,";
  EXPECT_EQ(take_number(text, true), 1.0);
  EXPECT_EQ(text, ",");
  text = "abc";
  EXPECT_FALSE(take_number(text));
  EXPECT_EQ(text, "abc");
}

TEST(Escaped, KeepsEveryByteReadable) {
  EXPECT_EQ(escaped(std::string("a\n\r\t\\\x00\xff", 7)), "a\\n\\r\\t\\\\\\x00\\xFF");
}

TEST(IsUtf8, TakesWellFormedTextOnly) {
  for (const char* good : {"", "abc", "\u00e4\u20ac", "\U0001F600"}) EXPECT_TRUE(is_utf8(good)) << good;
  for (const char* bad :
       {"\xff", "\xc3", "\xc0\x80", "\xe0\x80\x80", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xe2\x82", "\x80"})
    EXPECT_FALSE(is_utf8(bad));
  EXPECT_FALSE(is_utf8(std::string_view("\0", 1)));
}

}  // namespace
}  // namespace provenit::instrument
