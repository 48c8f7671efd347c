#include "provenit/instrument/trace.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace provenit::instrument {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

std::string rows(int count, char separator = ',', double step = 0.5) {
  std::string out;
  for (int i = 0; i < count; ++i) out += fmt::format("{}{}{}\n", i * step, separator, i % 3 - 0.25);
  return out;
}

std::string refusal(const std::string& text, const TraceOptions& options = {.file = "a.csv"}) {
  const auto trace = parse_trace(text, options);
  return trace ? "accepted" : trace.error().text();
}

TEST(Trace, TimesGiveTheRate) {
  const auto trace = parse_trace("# sensor 3\r\n\r\nTime (ms);light [V]\r\n" + rows(20, ';')).value();
  EXPECT_NEAR(trace.rate_hz, 2000, 1e-9);
  ASSERT_EQ(trace.channels.size(), 1u);
  EXPECT_EQ(trace.channels[0].unit, "V");
  EXPECT_EQ(trace.samples(), 20u);
  EXPECT_EQ(trace.channel("light")->values[1], 0.75);
  EXPECT_EQ(trace.channel("dark"), nullptr);
}

TEST(Trace, ARateServesAFileWithoutTimes) {
  std::string text = "marker,light (V)\n";
  for (int i = 0; i < 16; ++i) text += fmt::format("{},{}\n", i, -i);
  const auto trace = parse_trace(text, {.rate_hz = 48000}).value();
  EXPECT_EQ(trace.rate_hz, 48000);
  EXPECT_EQ(trace.start_s, 0);
  EXPECT_EQ(trace.channels[1].values[15], -15);
  EXPECT_THAT(refusal(text), HasSubstr("a.csv:1"));
  EXPECT_THAT(refusal(text), HasSubstr("--rate"));
}

TEST(Trace, DecimalCommasBetweenSemicolons) {
  std::string text = "t (s);light (V)\n";
  for (int i = 0; i < 16; ++i) text += fmt::format("{},5;1,25\n", i);
  const auto trace = parse_trace(text).value();
  EXPECT_EQ(trace.start_s, 0.5);
  EXPECT_EQ(trace.channels[0].values[3], 1.25);
  EXPECT_NEAR(trace.rate_hz, 1, 1e-12);
}

TEST(Trace, WhatIsNotWholeIsRefusedWithLineAndColumn) {
  const std::string head = "time (s),light (V)\n";
  EXPECT_THAT(refusal(""), HasSubstr("no heading"));
  EXPECT_THAT(refusal(rows(20)), HasSubstr("has no name"));
  EXPECT_THAT(refusal("time,light (V)\n" + rows(20)), HasSubstr("a.csv:1 (time): the time has no unit"));
  EXPECT_THAT(refusal("time (h),light (V)\n" + rows(20)), HasSubstr("'h' is no unit"));
  EXPECT_THAT(refusal("time (s),light,light\n" + rows(20)), HasSubstr("two columns are named"));
  EXPECT_THAT(refusal("time (s)\n0\n1\n"), HasSubstr("names no channel"));
  EXPECT_THAT(refusal(head + rows(20) + "10,nan\n"), HasSubstr("a.csv:22 (light): 'nan' is not a number"));
  EXPECT_THAT(refusal(head + rows(20) + "10,\n"), HasSubstr("a.csv:22 (light)"));
  EXPECT_THAT(refusal(head + rows(20) + "10,inf\n"), HasSubstr("(light): 'inf'"));
  EXPECT_THAT(refusal(head + rows(20) + "10\n"), HasSubstr("1 columns where the heading has 2"));
  EXPECT_THAT(refusal(head + rows(20) + "10,1,5\n"), HasSubstr("semicolons"));
  EXPECT_THAT(refusal(head + rows(20) + "9.5,1\n"), HasSubstr("a.csv:22 (time): the time does not rise"));
  EXPECT_THAT(refusal(head + rows(20) + "10.5,1\n"), HasSubstr("a.csv:22 (time): a gap of 1 s"));
  EXPECT_THAT(refusal(head + rows(15)), HasSubstr("15 samples"));
  EXPECT_THAT(refusal(head + rows(20), {.rate_hz = 3}), HasSubstr("2 samples per second, 3 were stated"));
  EXPECT_THAT(refusal(head + rows(20), {.rate_hz = -1}), HasSubstr("cannot be"));
}

TEST(Trace, ARateThatChangesIsRefused) {
  std::string text = "time (s),light (V)\n";
  for (int i = 0; i < 40; ++i) text += fmt::format("{:.4f},1\n", i < 20 ? i * 1.0 : 20 + (i - 20) * 1.3);
  EXPECT_THAT(refusal(text), HasSubstr("evenly"));
}

}  // namespace
}  // namespace provenit::instrument
