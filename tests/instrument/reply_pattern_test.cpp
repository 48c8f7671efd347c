#include "provenit/instrument/reply_pattern.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace provenit::instrument {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

ReplyMatch match(const std::string& pattern, const std::string& bytes, const ReplyLimits& limits = {}) {
  const auto compiled = ReplyPattern::compile(pattern);
  if (!compiled) throw std::runtime_error(compiled.error().text());
  return compiled->match(bytes, limits);
}

TEST(ReplyPattern, TakesNumbersWithTheirUnits) {
  const auto m = match("{Y:cd/m2},{x},{y}", "+2.03E+02,0.3127,.3290\n");
  ASSERT_EQ(m.state, ReplyState::good) << m.why;
  EXPECT_EQ(m.consumed, 23U);
  EXPECT_THAT(m.fields.numbers.at("Y"), ElementsAre(203.0));
  EXPECT_THAT(m.fields.numbers.at("y"), ElementsAre(0.329));
  EXPECT_THAT(match("{Y:mcd/m2}", "5\n").fields.numbers.at("Y"), ElementsAre(0.005));
  EXPECT_THAT(match("{integration:ms}", "5\n").fields.numbers.at("integration"), ElementsAre(0.005));
  EXPECT_THAT(match("{wavelength:um}", "0.55\n").fields.numbers.at("wavelength"), ElementsAre(550.0));
  // 1 fL = 1/pi cd/ft2 = 3.426259 cd/m2 (NIST SP 811, 2008, appendix B.8, from memory)
  EXPECT_NEAR(match("{Y:fL}", "1\n").fields.numbers.at("Y").front(), 3.426259, 5e-7);
}

TEST(ReplyPattern, BlanksInThePatternStandForAnyNumberAndNumbersSkipThem) {
  for (const char* reply : {"L 5 x 0.3\n", "  L   5\t x  0.3  \r\n"})
    EXPECT_EQ(match("L {Y:cd/m2} x {x}", reply).state, ReplyState::good) << reply;
  EXPECT_EQ(match("{Y:cd/m2},{x}", "  5 ,  0.3\n").state, ReplyState::bad) << "no blank stands before the comma";
  EXPECT_EQ(match("{Y:cd/m2},{x}", "  5,  0.3\n").state, ReplyState::good);
  EXPECT_EQ(match("L {Y:cd/m2}", "L5\n").state, ReplyState::bad);
}

TEST(ReplyPattern, SaysWhereAReplyGoesWrong) {
  const auto m = match("{Y:cd/m2},{x},{y}", "203,abc,0.3\nrest");
  ASSERT_EQ(m.state, ReplyState::bad);
  EXPECT_EQ(m.consumed, 12U);
  EXPECT_EQ(m.why, "line 1, place 5: a number (x) was expected, 'abc,0.3' came");
  EXPECT_THAT(match("{Y:cd/m2}", "203 nits\n").why, HasSubstr("the end of the line was expected"));
  EXPECT_THAT(match("{Y:cd/m2},{x}", "203\n").why, HasSubstr("',' was expected, the end of the line came"));
}

TEST(ReplyPattern, NumbersThatAreNoneAreBad) {
  for (const char* reply : {"NaN", "inf", "-", "", "1e999", "0x10", "--1", "+-1"})
    EXPECT_EQ(match("{Y:cd/m2}", std::string(reply) + "\n").state, ReplyState::bad) << reply;
}

// Whatever is cut off a good reply, what is left may still become one; whatever follows it is left for the next.
TEST(ReplyPattern, EveryPrefixNeedsMoreAndNothingBehindItIsTaken) {
  const auto pattern =
      ReplyPattern::compile({{"BEGIN {start:nm} {step:nm} {count}"}, {"{radiance:W/(sr m2 nm)}", 1, true}, {"END"}});
  ASSERT_TRUE(pattern);
  const std::string reply = "BEGIN 380 5 3\n0.1\n0.2\n0.3\nEND\n";
  for (std::size_t n = 0; n < reply.size(); ++n)
    EXPECT_EQ(pattern->match(reply.substr(0, n), {}).state, ReplyState::more) << n;
  const auto m = pattern->match(reply + "BEGIN", {});
  ASSERT_EQ(m.state, ReplyState::good) << m.why;
  EXPECT_EQ(m.consumed, reply.size());
  EXPECT_THAT(m.fields.numbers.at("radiance"), ElementsAre(0.1, 0.2, 0.3));
}

TEST(ReplyPattern, BadLineOfSeveralIsFoundAtOnceAndPlaced) {
  const auto pattern = ReplyPattern::compile({{"BEGIN"}, {"{wavelength:nm};{radiance:W/(sr m2 nm)}", 2}, {"END"}});
  ASSERT_TRUE(pattern);
  const auto m = pattern->match("BEGIN\n380;1\nERROR 5\n", {});
  ASSERT_EQ(m.state, ReplyState::bad);
  EXPECT_EQ(m.line_begin, 12U);
  EXPECT_EQ(m.consumed, 20U);
  EXPECT_THAT(m.why, HasSubstr("line 3"));
}

TEST(ReplyPattern, ListsOnOneLine) {
  const auto list = [](const std::string& reply, const ReplyLimits& limits = {}) {
    return match("S {radiance...:W/(sr m2 nm)}", reply + "\n", limits);
  };
  for (const char* reply : {"S 1,2,3", "S 1;2;3", "S 1 2 3", "S 1, 2 ,3"}) {
    const auto m = list(reply);
    ASSERT_EQ(m.state, ReplyState::good) << reply << m.why;
    EXPECT_THAT(m.fields.numbers.at("radiance"), ElementsAre(1, 2, 3)) << reply;
  }
  for (const char* reply : {"S 1,,3", "S 1,2,", "S", "S x", "S 1,2,x"})
    EXPECT_EQ(list(reply).state, ReplyState::bad) << reply;
  EXPECT_THAT(list("S 1,5;2,5", {.decimal_comma = true}).fields.numbers.at("radiance"), ElementsAre(1.5, 2.5));
  EXPECT_EQ(match("{radiance...:W/(sr m2 nm)},END", "1,2,END\n").state, ReplyState::good);
}

TEST(ReplyPattern, TextReachesToWhatFollowsItInThePattern) {
  auto m = match("{text},{name},{serial},{firmware}", "MAKER,METER 5,77,1.0\n");
  EXPECT_EQ(m.fields.texts.at("name"), "METER 5");
  EXPECT_EQ(m.fields.texts.at("firmware"), "1.0");
  EXPECT_FALSE(m.fields.texts.contains("text"));
  m = match("ID {name} / {serial}", "ID COLOUR METER / 12 / 34\n");
  EXPECT_EQ(m.fields.texts.at("name"), "COLOUR METER");
  EXPECT_EQ(m.fields.texts.at("serial"), "12 / 34");
  m = match("{code},\"{message}\"", "-113,\"Undefined \"\"header\"\"\"\n");
  EXPECT_EQ(m.fields.texts.at("message"), "Undefined \"\"header\"\"");
  EXPECT_EQ(match("{name} END", "a b EN\n").state, ReplyState::bad);
  EXPECT_EQ(match("{name}", "\x1b[2J\xff\n").fields.texts.at("name"), "\\x1B[2J\\xFF");
}

TEST(ReplyPattern, LineEndings) {
  EXPECT_EQ(match("OK", "OK\r", {.ending = "\r"}).state, ReplyState::good);
  EXPECT_EQ(match("OK", "OK\r", {.ending = "\r\n"}).state, ReplyState::more);
  EXPECT_EQ(match("OK", "OK\r\n", {.ending = "\n"}).state, ReplyState::good);
  EXPECT_EQ(match("", "\n").state, ReplyState::good);
  EXPECT_EQ(match("{{{name}}}", "{abc}\n").fields.texts.at("name"), "abc");
}

TEST(ReplyPattern, LongLinesAreBadBeforeTheyEnd) {
  const ReplyLimits limits{.line_bytes = 32};
  EXPECT_EQ(match("{name}", std::string(32, 'a'), limits).state, ReplyState::more);
  const auto m = match("{name}", std::string(33, 'a'), limits);
  EXPECT_EQ(m.state, ReplyState::bad);
  EXPECT_EQ(m.consumed, 33U);
}

TEST(ReplyPattern, CountsHaveALimit) {
  const auto pattern = ReplyPattern::compile({{"{count}"}, {"{radiance:W/(sr m2 nm)}", 1, true}});
  ASSERT_TRUE(pattern);
  for (const char* count : {"0\n", "-1\n", "1.5\n", "10001\n", "9e37\n"})
    EXPECT_EQ(pattern->match(count, {}).state, ReplyState::bad) << count;
}

TEST(ReplyPattern, BadPatternsAreRefusedWithWhatToWrite) {
  const auto why = [](std::vector<LinePattern> lines) {
    const auto compiled = ReplyPattern::compile(std::move(lines));
    return compiled ? std::string("accepted") : compiled.error().text();
  };
  EXPECT_THAT(why({{"{Y}"}}), HasSubstr("Write {Y:unit} with one of: cd/m2, mcd/m2, fL"));
  EXPECT_THAT(why({{"{Y:lux}"}}), HasSubstr("the unit 'lux'"));
  EXPECT_THAT(why({{"{luma:cd/m2}"}}), HasSubstr("there is no field {luma}"));
  EXPECT_THAT(why({{"{name:cd}"}}), HasSubstr("has no unit"));
  EXPECT_THAT(why({{"{x"}}), HasSubstr("not closed"));
  EXPECT_THAT(why({{"x}"}}), HasSubstr("stands alone"));
  EXPECT_THAT(why({{"{x}{y}"}}), HasSubstr("nothing parts {y}"));
  EXPECT_THAT(why({{"{x} {x}"}}), HasSubstr("occurs twice"));
  EXPECT_THAT(why({{"{x...}"}}), HasSubstr("cannot be a list"));
  EXPECT_THAT(why({{"{radiance:W/(sr m2 nm)}", 1, true}}), HasSubstr("no line before it has {count}"));
  EXPECT_THAT(why({{"{x}", 3}}), HasSubstr("repeated line"));
  EXPECT_THAT(why({{"{radiance:W/(sr m2 nm)}", 10001}}), HasSubstr("10001 times"));
  EXPECT_THAT(why({{"a\nb"}}), HasSubstr("line break"));
  EXPECT_THAT(why({}), HasSubstr("at least one line"));
  EXPECT_EQ(why({{"{skip} {skip} {text} {text}"}}), "accepted");
}

}  // namespace
}  // namespace provenit::instrument
