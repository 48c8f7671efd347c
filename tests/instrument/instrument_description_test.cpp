#include "provenit/instrument/instrument_description.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

namespace provenit::instrument {
namespace {

using ::testing::HasSubstr;

const std::string kBase = R"(title = "meter"
[transport]
kind = "tcp"
host = "h"
port = 5025
[[measure]]
send = "M"
reply = "{Y:cd/m2} {x} {y}"
)";

std::string why(const std::string& toml) {
  const auto d = parse_description(toml, "meter.toml");
  return d ? "accepted" : d.error().text();
}

TEST(InstrumentDescription, EveryShippedExampleIsReadAndNamesNoLimitsItDoesNotHave) {
  int count = 0;
  for (const auto& entry :
       std::filesystem::directory_iterator(std::string(PROVENIT_SOURCE_DIR) + "/data/instruments")) {
    if (entry.path().extension() != ".toml") continue;
    const auto d = read_description(entry.path());
    ASSERT_TRUE(d) << d.error().text();
    EXPECT_FALSE(d->measure.empty());
    EXPECT_FALSE(d->title.empty());
    EXPECT_GT(d->capabilities.maximum_cdm2, d->capabilities.minimum_cdm2);
    ++count;
  }
  EXPECT_GE(count, 3);
}

TEST(InstrumentDescription, ReadsEveryKey) {
  const auto d = parse_description(kBase + R"(
timeout_s = 4
timeout_integrations = 1.5
delay_after_s = 0.25
[lines]
send_ending = "CRLF"
reply_ending = "CR"
longest_bytes = 1000
decimal_comma = true
echo = true
delay_between_s = 0.1
[identify]
send = "I"
reply = "{name}"
[[setup]]
send = "U"
[[error_reply]]
pattern = "E {code}"
meaning = "bad"
retry = true
[error_queue]
send = "Q"
reply = "{code}"
empty_code = 7
limit = 3
after_each = true
[recovery]
attempts = 4
drain_quiet_s = 0.3
drain_limit_s = 6
reconnect_attempts = 5
reconnect_wait_s = 0.7
reconnect_total = 8
[capabilities]
spectral = true
minimum_cdm2 = 0.1
maximum_cdm2 = 200
repeatability_relative = 0.01
noise_floor_cdm2 = 0.02
shot_noise = 0.03
[capabilities.integration]
overhead_s = 1
minimum_s = 2
maximum_s = 3
reference_s = 4
reference_cdm2 = 5
exponent = 0.6
[certificate]
luminance_expanded_relative = 0.05
x_expanded = 0.006
y_expanded = 0.007
coverage_factor = 3
zero_offset_standard_cdm2 = 0.001
number = "N"
issuer = "I"
date = "2026-01-02"
[spectrum]
observer = "CIE 1964 10deg"
summation = "linear"
[dark]
x = 0.3
y = 0.4
)",
                                   "meter.toml");
  ASSERT_TRUE(d) << d.error().text();
  EXPECT_EQ(d->transport.address(), "tcp:h:5025");
  EXPECT_EQ(d->measure[0].timeout.fixed, Seconds{4});
  EXPECT_EQ(d->measure[0].timeout.integrations, 1.5);
  EXPECT_EQ(d->measure[0].delay_after, Seconds{0.25});
  EXPECT_EQ(d->send_ending, "\r\n");
  EXPECT_EQ(d->lines.ending, "\r");
  EXPECT_EQ(d->lines.line_bytes, 1000U);
  EXPECT_TRUE(d->lines.decimal_comma);
  EXPECT_TRUE(d->echo);
  EXPECT_EQ(d->delay_between, Seconds{0.1});
  EXPECT_EQ(d->identify->send, "I");
  EXPECT_EQ(d->setup[0].send, "U");
  EXPECT_EQ(d->errors[0].meaning, "bad");
  EXPECT_TRUE(d->errors[0].retry);
  EXPECT_EQ(d->error_queue->empty_code, 7);
  EXPECT_EQ(d->error_queue->limit, 3);
  EXPECT_TRUE(d->error_queue->after_each);
  EXPECT_EQ(d->recovery.attempts, 4);
  EXPECT_EQ(d->recovery.drain_quiet, Seconds{0.3});
  EXPECT_EQ(d->recovery.drain_limit, Seconds{6});
  EXPECT_EQ(d->recovery.reconnect_attempts, 5);
  EXPECT_EQ(d->recovery.reconnect_wait, Seconds{0.7});
  EXPECT_EQ(d->recovery.reconnect_total, 8);
  EXPECT_TRUE(d->capabilities.spectral);
  EXPECT_EQ(d->capabilities.minimum_cdm2, 0.1);
  EXPECT_EQ(d->capabilities.maximum_cdm2, 200);
  EXPECT_EQ(d->capabilities.repeatability_relative, 0.01);
  EXPECT_EQ(d->capabilities.noise_floor_cdm2, 0.02);
  EXPECT_EQ(d->capabilities.shot_noise, 0.03);
  EXPECT_EQ(d->capabilities.integration.overhead, Seconds{1});
  EXPECT_EQ(d->capabilities.integration.minimum, Seconds{2});
  EXPECT_EQ(d->capabilities.integration.maximum, Seconds{3});
  EXPECT_EQ(d->capabilities.integration.reference, Seconds{4});
  EXPECT_EQ(d->capabilities.integration.reference_cdm2, 5);
  EXPECT_EQ(d->capabilities.integration.exponent, 0.6);
  EXPECT_EQ(d->certificate.luminance_expanded_relative, 0.05);
  EXPECT_EQ(d->certificate.x_expanded, 0.006);
  EXPECT_EQ(d->certificate.y_expanded, 0.007);
  EXPECT_EQ(d->certificate.coverage_factor, 3);
  EXPECT_EQ(d->certificate.zero_offset_standard_cdm2, 0.001);
  EXPECT_EQ(d->certificate.number + d->certificate.issuer + d->certificate.date, "NI2026-01-02");
  EXPECT_EQ(d->spectral.observer, colour::Observer::cie1964_10deg);
  EXPECT_EQ(d->spectral.summation, colour::Summation::linear);
  EXPECT_EQ(d->dark_chromaticity->x, 0.3);
}

TEST(InstrumentDescription, MistakesAreNamedWithLineAndKey) {
  EXPECT_EQ(why(kBase), "accepted");
  EXPECT_THAT(why("title = "), HasSubstr("meter.toml:1: is not TOML"));
  EXPECT_THAT(why(kBase + "timeuot_s = 3\n"), HasSubstr("meter.toml:9 (measure[0].timeuot_s): is not a key"));
  EXPECT_THAT(why(kBase + "timeout_s = \"3\"\n"), HasSubstr("(measure[0].timeout_s): is not a number"));
  EXPECT_THAT(why(kBase + "timeout_s = -1\n"), HasSubstr("-1 lies outside 0 to 3600"));
  EXPECT_THAT(why(kBase + "timeout_s = nan\n"), HasSubstr("lies outside"));
  EXPECT_THAT(why(kBase + "[lines]\nsend_ending = \"LFCR\"\n"), HasSubstr("Write one of: LF, CR, CRLF"));
  EXPECT_THAT(why(kBase + "[lines]\necho = 1\n"), HasSubstr("is not true or false"));
  EXPECT_THAT(why(kBase + "[identify]\nsend = \"I\"\n"), HasSubstr("(identify.reply): is missing"));
  EXPECT_THAT(why(kBase + "[setup]\nsend = \"I\"\n"), HasSubstr("Begin each with [[setup]]"));
  EXPECT_THAT(why(kBase + "[error_queue]\nsend = \"Q\"\nreply = \"{message}\"\n"), HasSubstr("has no {code}"));
  EXPECT_THAT(why(kBase + "[[error_reply]]\nmeaning = \"x\"\n"), HasSubstr("pattern"));
  EXPECT_THAT(why(kBase + "[capabilities.integration]\nminimum_s = 30\n"), HasSubstr("longer than maximum_s"));
  EXPECT_THAT(why(kBase + "[dark]\nx = 0.3\n"), HasSubstr("needs x and y"));
  EXPECT_THAT(why(kBase + "[[setup]]\nsend = \"a\\nb\"\n"), HasSubstr("holds a line break"));
  EXPECT_THAT(why(kBase + "transport = 3\n"), HasSubstr("transport"));
  EXPECT_THAT(why("title = \"m\"\n[transport]\nkind = \"tcp\"\n"), HasSubstr("(measure): is missing"));
  EXPECT_THAT(why("title = \"m\"\n[transport]\nkind = \"usb\"\n"), HasSubstr("Write one of: tcp, serial"));
  EXPECT_THAT(why("title = \"m\"\n[[measure]]\nsend=\"M\"\nreply=\"{Y:cd/m2}\"\n[transport]\nkind = \"tcp\"\n"),
              HasSubstr("give no colour"));
  EXPECT_THAT(why("title = \"m\"\n[transport]\nkind = \"tcp\"\nbaud = 9600\n"), HasSubstr("(transport.baud)"));
}

TEST(InstrumentDescription, AddressesAreReplaced) {
  auto d = parse_description(kBase, "meter.toml");
  ASSERT_TRUE(d);
  const auto set = [&](const char* address) { return set_address(*d, address) ? d->transport.address() : "refused"; };
  EXPECT_EQ(set("tcp:10.0.0.1:99"), "tcp:10.0.0.1:99");
  EXPECT_EQ(set("tcp:[::1]:99"), "tcp:[::1]:99");
  EXPECT_EQ(d->transport.host, "::1");
  EXPECT_EQ(set("serial:/dev/ttyS0"), "serial:/dev/ttyS0");
  EXPECT_EQ(set("serial:/dev/ttyS0:19200"), "serial:/dev/ttyS0");
  EXPECT_EQ(d->transport.baud, 19200);
  EXPECT_EQ(set("serial:/dev/serial/by-path/pci-0:1.2:1.0"), "serial:/dev/serial/by-path/pci-0:1.2:1.0");
  for (const char* bad : {"", "tcp", "tcp:", "tcp:host", "tcp::5", "tcp:host:0", "tcp:host:65536", "usb:1", "serial:"})
    EXPECT_EQ(set(bad), "refused") << bad;
}

ReplyFields fields(std::map<std::string, std::vector<double>> numbers) {
  return {std::move(numbers), {}};
}

TEST(MeasurementFrom, ThreeFormsGiveTheSameLight) {
  const InstrumentDescription d;
  // D65 as BT.2020 has it: x 0.3127, y 0.3290 are u' 0.19783, v' 0.46834 (CIE 1976 UCS)
  const auto xyz = measurement_from(fields({{"X", {95.0456}}, {"Y", {100}}, {"Z", {108.9058}}}), d);
  const auto yxy = measurement_from(fields({{"Y", {100}}, {"x", {0.3127}}, {"y", {0.3290}}}), d);
  const auto yuv = measurement_from(fields({{"Y", {100}}, {"u'", {0.1978300}}, {"v'", {0.4683199}}}), d);
  ASSERT_TRUE(xyz && yxy && yuv);
  for (const auto& m : {*yxy, *yuv}) {
    EXPECT_NEAR(m.xyz.X, xyz->xyz.X, 1e-3);
    EXPECT_NEAR(m.xyz.Y, 100, 1e-9);
    EXPECT_NEAR(m.xyz.Z, xyz->xyz.Z, 1e-3);
  }
}

TEST(MeasurementFrom, RangesAreFlaggedAndDarkChromaticityIsAssumedOnlyIfStated) {
  InstrumentDescription d;
  d.capabilities.minimum_cdm2 = 0.01;
  d.capabilities.maximum_cdm2 = 1000;
  EXPECT_TRUE(measurement_from(fields({{"Y", {2000}}, {"x", {0.3}}, {"y", {0.3}}}), d)->saturated);
  const auto dark = fields({{"Y", {0.002}}, {"x", {0}}, {"y", {0}}});
  EXPECT_FALSE(measurement_from(dark, d));
  d.dark_chromaticity = colour::Xy<>{.x = 0.25, .y = 0.25};
  const auto m = measurement_from(dark, d);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_TRUE(m->below_range);
  EXPECT_DOUBLE_EQ(m->xyz.X, 0.002);
  EXPECT_DOUBLE_EQ(m->xyz.Z, 0.004);
  EXPECT_FALSE(measurement_from(fields({{"Y", {5}}, {"x", {0}}, {"y", {0}}}), d)) << "bright light has a chromaticity";
}

TEST(MeasurementFrom, SpectraMustBeWhole) {
  const InstrumentDescription d;
  const std::vector<double> flat(401, 0.001);
  const auto good =
      measurement_from(fields({{"start", {380}}, {"step", {1}}, {"radiance", flat}, {"count", {401}}}), d);
  ASSERT_TRUE(good) << good.error().text();
  EXPECT_NEAR(good->xyz.Y, 683 * 0.001 * 106.857,
              0.02);  // sum of V, 380-780 nm at 1 nm (CIE 1924): 106.857, from memory
  const auto why = [&](std::map<std::string, std::vector<double>> numbers) {
    const auto m = measurement_from(fields(std::move(numbers)), d);
    return m ? "accepted" : m.error().text();
  };
  EXPECT_THAT(why({{"start", {380}}, {"step", {1}}, {"radiance", flat}, {"count", {400}}}),
              HasSubstr("announces 400 values, 401 came"));
  EXPECT_THAT(why({{"start", {380}}, {"step", {0}}, {"radiance", flat}}), HasSubstr("step of 0 nm"));
  EXPECT_THAT(why({{"start", {0.38}}, {"step", {1}}, {"radiance", flat}}), HasSubstr("cannot start at 0.38 nm"));
  EXPECT_THAT(why({{"start", {500}}, {"step", {1}}, {"radiance", std::vector<double>(100, 1)}}),
              HasSubstr("of a matching function"));
  EXPECT_THAT(why({{"wavelength", {400, 410, 430}}, {"radiance", {1, 1, 1}}}), HasSubstr("equal steps"));
  EXPECT_THAT(why({{"wavelength", {400, 410}}, {"radiance", {1, 1, 1}}}), HasSubstr("2 wavelengths came with 3"));
  EXPECT_THAT(why({{"start", {380}}, {"step", {1}}, {"radiance", std::vector<double>(401, -1)}}),
              HasSubstr("more negative"));
}

}  // namespace
}  // namespace provenit::instrument
