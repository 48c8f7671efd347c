// Line instruments over real TCP and a real pseudo-terminal, against a meter that is another process.
#include "provenit/instrument/line_instrument.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <locale>

#include "peer.h"
#include "provenit/base/text.h"
#include "provenit/colour/spaces.h"

namespace provenit::instrument {
namespace {

using test::Peer;
using ::testing::Contains;
using ::testing::Field;
using ::testing::HasSubstr;
using ::testing::Not;

/// The shipped example of a dialect. Time-outs are long, so that a busy machine never decides a test, unless the
/// reading is expected to be bright: then 0.2 s (0.1 s + 10 x 0.01 s).
InstrumentDescription description(const std::string& dialect) {
  const std::string file = dialect == "scpi" ? "scpi_tcp" : dialect == "spectral" ? "spectral_tcp" : "plain_serial";
  auto d = read_description(std::string(PROVENIT_SOURCE_DIR) + "/data/instruments/" + file + ".toml");
  if (!d) throw std::runtime_error(d.error().text());
  d->identify->timeout = {.fixed = {5}};
  for (auto& c : d->setup) c.timeout = {.fixed = {5}};
  for (auto& c : d->measure) c.timeout = {.fixed = {0.1}, .integrations = 10};
  if (d->error_queue) d->error_queue->command.timeout = {.fixed = {5}};
  d->delay_between = {0};
  d->capabilities.integration = {.overhead = {0}, .minimum = {0.01}, .maximum = {0.8}};
  d->recovery = {.attempts = 1,
                 .drain_quiet = {0.02},
                 .drain_limit = {5},
                 .reconnect_attempts = 200,
                 .reconnect_wait = {0.02},
                 .reconnect_total = 20};
  return *d;
}
constexpr colour::Luminance<> kBright{.cdm2 = 1e9}, kDark{.cdm2 = 0};

std::string new_link() {
  static int count = 0;
  return (std::filesystem::temp_directory_path() /
          ("provenit-tty-" + std::to_string(::getpid()) + "-" + std::to_string(++count)))
      .string();
}

bool on_terminal(const std::string& dialect) {
  return dialect == "plain" || dialect == "echo";
}

/// A peer and the instrument connected to it. plain and echo speak over a pseudo-terminal, the others over TCP.
struct Bench {
  explicit Bench(const std::string& dialect, std::vector<std::string> behaviours = {},
                 const std::function<void(InstrumentDescription&)>& change = {})
      : peer(arguments(dialect, std::move(behaviours))) {
    auto d = description(dialect);
    const auto set = set_address(d, (on_terminal(dialect) ? "serial:" : "tcp:127.0.0.1:") + peer.place());
    EXPECT_TRUE(set);
    if (change) change(d);
    auto opened = LineInstrument::open(std::move(d));
    if (!opened) throw std::runtime_error(opened.error().text());  // fails the test that asked for it
    meter = std::move(*opened);
  }
  static std::vector<std::string> arguments(const std::string& dialect, std::vector<std::string> behaviours) {
    std::vector<std::string> out{"tcp", dialect};
    if (on_terminal(dialect)) out = {"pty", new_link(), dialect};
    out.insert(out.end(), behaviours.begin(), behaviours.end());
    return out;
  }
  Peer peer;
  std::unique_ptr<LineInstrument> meter;
};

auto event(const std::string& kind) {
  return Contains(Field(&InstrumentEvent::kind, kind));
}

class EachDialect : public ::testing::TestWithParam<std::string> {};
INSTANTIATE_TEST_SUITE_P(Line, EachDialect, ::testing::Values("scpi", "plain", "spectral"),
                         [](const auto& instance) { return instance.param; });

TEST_P(EachDialect, IdentifiesAndMeasures) {
  Bench b(GetParam());
  const auto identity = b.meter->identify();
  ASSERT_TRUE(identity) << identity.error().text();
  EXPECT_EQ(identity->name, "COLOUR METER");
  EXPECT_EQ(identity->serial, "1234");
  EXPECT_THAT(identity->raw, HasSubstr("COLOUR METER"));
  for (int n = 1; n <= 3; ++n) {
    const auto m = b.meter->measure(n - 1);
    ASSERT_TRUE(m) << m.error().text();
    EXPECT_FALSE(m->raw_reply.empty());
    if (GetParam() == "spectral") continue;
    EXPECT_NEAR(m->xyz.Y, 100 + n, 1e-9);
    const auto xy = colour::xy_from_xyz(m->xyz);
    EXPECT_NEAR(xy.x, 0.3127, 5e-5);
    EXPECT_NEAR(xy.y, 0.3290, 5e-5);
  }
  EXPECT_TRUE(b.meter->take_events().empty());
}

TEST(LineInstrument, PlainReplyGivesItsIntegrationTimeAndKeepsTheRawLine) {
  Bench b("plain");
  const auto m = b.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_EQ(m->integration, Seconds{0.5});
  EXPECT_EQ(m->raw_reply, "L 101 u 0.19783 v 0.46834 T 500\\r\\n");
}

// An equal-energy spectrum of E W/(sr m2 nm) gives X = Km E 5 nm x (sum of x over 380-780 nm at 5 nm) and so on; with
// sums 21.3714, 21.3714, 21.3715 (CIE 15:2004, table T.4 at 5 nm, from memory) all three lie within 1e-4 of each other.
TEST(LineInstrument, SpectralReplyGivesSpectrumAndXyz) {
  Bench b("spectral");
  const auto m = b.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  ASSERT_TRUE(m->spectrum);
  EXPECT_EQ(m->spectrum->radiance.size(), 81U);
  EXPECT_EQ(m->spectrum->start_nm, 380);
  EXPECT_EQ(m->spectrum->step_nm, 5);
  EXPECT_DOUBLE_EQ(m->spectrum->radiance.front(), 0.01);  // 10 mW
  EXPECT_NEAR(m->xyz.Y, 683 * 0.01 * 5 * 21.3714, 0.01);
  EXPECT_NEAR(m->xyz.X / m->xyz.Y, 1, 1e-4);
  EXPECT_NEAR(m->xyz.Z / m->xyz.Y, 1, 1e-4);
}

TEST_P(EachDialect, TakesSlowAndSplitReplies) {
  Bench b(GetParam(), {"slow", "split"});
  for (int i = 0; i < 2; ++i) {
    const auto m = b.meter->measure(i);
    EXPECT_TRUE(m) << m.error().text();
  }
  EXPECT_TRUE(b.meter->take_events().empty());
}

TEST_P(EachDialect, LateReplyIsNeverTakenForTheNextReading) {
  Bench b(GetParam(), {"overtaken"});
  b.meter->expect(kBright);
  const auto late = b.meter->measure(0);
  ASSERT_FALSE(late);
  EXPECT_EQ(late.error().code, ErrorCode::timeout);
  b.meter->expect(kDark);
  const auto next = b.meter->measure(1);
  ASSERT_TRUE(next) << next.error().text();
  if (GetParam() != "spectral") {
    EXPECT_NEAR(next->xyz.Y, 102, 1e-9);
  }
  const auto events = b.meter->take_events();
  EXPECT_THAT(events, event("timeout"));
  EXPECT_THAT(events, event("late_reply"));
}

// A late reading may fit a loose identification: it is no name, and it is not the identification that came first.
TEST(LineInstrument, LateReplyIsNoIdentification) {
  for (const char* loose : {"{text},{name},{serial}", "{text}"}) {
    Bench b("scpi", {"overtaken"}, [&](auto& d) { d.identify->reply = *ReplyPattern::compile(loose); });
    b.meter->expect(kBright);
    ASSERT_FALSE(b.meter->measure(0));
    b.meter->expect(kDark);
    const auto next = b.meter->measure(1);
    ASSERT_TRUE(next) << next.error().text();
    EXPECT_NEAR(next->xyz.Y, 102, 1e-9) << loose;
    const auto events = b.meter->take_events();
    EXPECT_THAT(events, event("late_reply")) << loose;
    EXPECT_THAT(events, Not(event("unasked_bytes"))) << loose;
  }
}

// Without an identification there is only silence to go by: the line is left alone for the longest integration.
TEST(LineInstrument, LateReplyIsDrainedWithoutAnIdentification) {
  Bench b("plain", {"late:500"}, [](auto& d) { d.identify.reset(); });
  b.meter->expect(kBright);
  ASSERT_FALSE(b.meter->measure(0));
  b.meter->expect(kDark);
  const auto next = b.meter->measure(1);
  ASSERT_TRUE(next) << next.error().text();
  EXPECT_NEAR(next->xyz.Y, 102, 1e-9);
}

TEST(LineInstrument, RetriesWithinOneReadingIfTheDescriptionAllows) {
  Bench b("scpi", {"garbage", "garbage"}, [](auto& d) { d.recovery.attempts = 3; });
  const auto m = b.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_NEAR(m->xyz.Y, 103, 1e-9);
  EXPECT_THAT(b.meter->take_events(), event("refused_reply"));
  EXPECT_TRUE(b.meter->take_events().empty());
}

TEST_P(EachDialect, GarbageIsRefusedAndKeptAndTheNextReadingIsRight) {
  Bench b(GetParam(), {"garbage"});
  const auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::invalid_input);
  const auto next = b.meter->measure(1);
  ASSERT_TRUE(next) << next.error().text();
  const auto events = b.meter->take_events();
  ASSERT_THAT(events, event("refused_reply"));
  EXPECT_THAT(events.front().raw, HasSubstr("\\x00\\xFF\\x80\\x1B"));
}

TEST(LineInstrument, SilenceIsATimeoutThatSaysWhatWasAsked) {
  Bench b("plain", {"silent"});
  b.meter->expect(kBright);
  const auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::timeout);
  EXPECT_THAT(bad.error().message, HasSubstr("'M' within 0.2 s"));
  b.meter->expect(kDark);
  EXPECT_TRUE(b.meter->measure(1));
}

TEST_P(EachDialect, LineCutInMidReplyIsMadeAgain) {
  Bench b(GetParam(), {"cut", "drop"});
  for (int i = 0; i < 2; ++i) {
    const auto bad = b.meter->measure(i);
    ASSERT_FALSE(bad);
    EXPECT_EQ(bad.error().code, ErrorCode::io) << bad.error().text();
  }
  const auto next = b.meter->measure(2);
  ASSERT_TRUE(next) << next.error().text();
  const auto events = b.meter->take_events();
  EXPECT_THAT(events, event("connection_lost"));
  EXPECT_THAT(events, event("reconnected"));
}

TEST(LineInstrument, ReconnectionWaitsForAMeterThatComesBack) {
  for (const char* dialect : {"scpi", "plain"}) {
    Bench b(dialect, {"stay-away:150"}, [](auto& d) { d.recovery.attempts = 2; });
    const auto m = b.meter->measure(0);
    ASSERT_TRUE(m) << dialect << ": " << m.error().text();
    EXPECT_NEAR(m->xyz.Y, 102, 1e-9);
  }
}

TEST(LineInstrument, ReconnectionHasItsLimits) {
  Bench gone("scpi", {"stay-away:10000"}, [](auto& d) {
    d.recovery.attempts = 2;
    d.recovery.reconnect_attempts = 2;
  });
  const auto m = gone.meter->measure(0);
  ASSERT_FALSE(m);
  EXPECT_EQ(m.error().code, ErrorCode::io);

  Bench unsteady("scpi", std::vector<std::string>(20, "drop"), [](auto& d) { d.recovery.reconnect_total = 3; });
  Result<Measurement> last = Measurement{};
  for (int i = 0; i < 6; ++i) last = unsteady.meter->measure(i);
  ASSERT_FALSE(last);
  EXPECT_THAT(last.error().message, HasSubstr("made again 3 times"));
}

TEST(LineInstrument, ErrorQueueExplainsATimeout) {
  Bench b("scpi", {"error"});
  b.meter->expect(kBright);
  const auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::instrument);
  EXPECT_THAT(bad.error().message, HasSubstr("-230: Data corrupt or stale"));
  b.meter->expect(kDark);
  EXPECT_TRUE(b.meter->measure(1));
}

TEST(LineInstrument, ErrorQueueIsAskedAfterEachReadingIfWanted) {
  Bench b("scpi", {}, [](auto& d) {
    d.error_queue->after_each = true;
    d.measure.insert(d.measure.begin(), Command{.send = "NONSENSE"});
  });
  const auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_THAT(bad.error().message, HasSubstr("Undefined header"));
}

TEST(LineInstrument, ErrorRepliesCarryTheirMeaning) {
  Bench plain("plain", {"error"});
  auto bad = plain.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::instrument);
  EXPECT_EQ(bad.error().message, "the meter refused the reading: TOO BRIGHT (code 12)");
  EXPECT_THAT(plain.meter->take_events(), event("instrument_error"));
  EXPECT_TRUE(plain.meter->measure(1));

  Bench spectral("spectral", {"error"});
  bad = spectral.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_THAT(bad.error().message, HasSubstr("TOO BRIGHT"));

  Bench midway("spectral", {"midway"});
  bad = midway.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().message, "the instrument reports an error: LAMP (code 7)");
  EXPECT_TRUE(midway.meter->measure(1));
}

TEST(LineInstrument, EchoedLinesAreNoReplies) {
  Bench b("echo", {"normal", "overtaken"}, [](auto& d) { d.echo = true; });
  auto m = b.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_EQ(m->raw_reply, "L 101 u 0.19783 v 0.46834 T 500\\r\\n");
  b.meter->expect(kBright);
  ASSERT_FALSE(b.meter->measure(1));
  b.meter->expect(kDark);
  m = b.meter->measure(2);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_NEAR(m->xyz.Y, 103, 1e-9);
}

TEST(LineInstrument, SerialLineHasOneUser) {
  Bench b("plain");
  auto second = LineInstrument::open(b.meter->description());
  ASSERT_FALSE(second);
  EXPECT_THAT(second.error().message, HasSubstr("another program uses this line"));
  EXPECT_TRUE(b.meter->measure(0));
}

TEST(LineInstrument, ErrorReplyWorthARetryIsRetriedAndTheOtherIsNot) {
  Bench busy("plain", {"busy"}, [](auto& d) { d.recovery.attempts = 2; });
  const auto m = busy.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_NEAR(m->xyz.Y, 102, 1e-9);
  Bench bright("plain", {"error"}, [](auto& d) { d.recovery.attempts = 2; });
  EXPECT_FALSE(bright.meter->measure(0));
}

TEST(LineInstrument, OverlongLineIsBounded) {
  Bench b("scpi", {"overlong"});
  const auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_EQ(bad.error().code, ErrorCode::invalid_input);
  EXPECT_LT(bad.error().text().size(), 600U);
  const auto next = b.meter->measure(1);
  ASSERT_TRUE(next) << next.error().text();
  for (const auto& e : b.meter->take_events()) EXPECT_LT(e.raw.size(), 5000U);
}

TEST(LineInstrument, NumbersThatNoLightHasAreRefused) {
  Bench b("scpi", {"text:NaN,0.3127,0.3290", "text:-50,0.3127,0.3290", "text:9.9E37,0.3127,0.3290",
                   "text:9.91E37,9.91E37,9.91E37", "text:100,0.9,0.05", "text:1e999,0.3,0.3", "text:100,0.3127",
                   "text:100;0.3127;0.3290", "text:100,0.3127,0.3290,1"});
  const std::vector<ErrorCode> codes{ErrorCode::invalid_input, ErrorCode::out_of_range,  ErrorCode::instrument,
                                     ErrorCode::instrument,    ErrorCode::out_of_range,  ErrorCode::invalid_input,
                                     ErrorCode::invalid_input, ErrorCode::invalid_input, ErrorCode::invalid_input};
  for (std::size_t i = 0; i < codes.size(); ++i) {
    const auto m = b.meter->measure(static_cast<int>(i));
    ASSERT_FALSE(m) << i;
    EXPECT_EQ(m.error().code, codes[i]) << i << ": " << m.error().text();
  }
  EXPECT_GE(b.meter->take_events().size(), codes.size() - 2);  // the two overrange marks are the instrument's own
  const auto good = b.meter->measure(9);
  ASSERT_TRUE(good) << good.error().text();
  EXPECT_NEAR(good->xyz.Y, 110, 1e-9);
}

TEST(LineInstrument, SmallNegativeReadingsAreKeptAndFlagged) {
  Bench b("scpi", {"text:-0.0003,0.31,0.33"});
  const auto m = b.meter->measure(0);
  ASSERT_TRUE(m) << m.error().text();
  EXPECT_DOUBLE_EQ(m->xyz.Y, -0.0003);
  EXPECT_TRUE(m->below_range);
}

TEST(LineInstrument, UnaskedBytesDoNotReachTheNextReading) {
  Bench b("scpi", {"noise"});
  ASSERT_TRUE(b.meter->measure(0));
  ::usleep(100000);  // until it has come
  const auto next = b.meter->measure(1);
  ASSERT_TRUE(next) << next.error().text();
  EXPECT_NEAR(next->xyz.Y, 102, 1e-9);
  EXPECT_THAT(b.meter->take_events(), event("unasked_bytes"));
}

TEST(LineInstrument, WrongSetUpReplyAndNobodyThereAreErrorsOfOpen) {
  Peer peer({"tcp", "scpi"});
  auto d = description("scpi");
  ASSERT_TRUE(set_address(d, "tcp:127.0.0.1:" + peer.place()));
  auto wrong = d;
  wrong.setup.back().reply = *ReplyPattern::compile("2");
  const auto refused = LineInstrument::open(wrong);
  ASSERT_FALSE(refused);
  EXPECT_THAT(refused.error().message, HasSubstr("set-up line '*OPC?'"));

  ASSERT_TRUE(set_address(d, "tcp:127.0.0.1:1"));
  const auto nobody = LineInstrument::open(d);
  ASSERT_FALSE(nobody);
  EXPECT_EQ(nobody.error().code, ErrorCode::io);
  ASSERT_TRUE(set_address(d, "serial:/dev/null"));
  const auto no_tty = LineInstrument::open(d);
  ASSERT_FALSE(no_tty);
  EXPECT_THAT(no_tty.error().message, HasSubstr("no serial line"));
}

// The luminance that is expected shortens the time-out: 0.1 s + 10 x t(L/4), t from 0.01 s to 0.8 s here.
TEST(LineInstrument, TimeoutFollowsTheExpectedLuminance) {
  Bench b("scpi", {"silent", "late:300"});
  b.meter->expect({.cdm2 = 1600});  // t(400) = (1 / 400)^0.5 = 0.05 s
  auto bad = b.meter->measure(0);
  ASSERT_FALSE(bad);
  EXPECT_THAT(bad.error().message, HasSubstr("within 0.6 s"));
  b.meter->expect(kDark);
  const auto dark = b.meter->measure(1);
  EXPECT_TRUE(dark) << dark.error().text();
}

/// A locale that writes 1,5 and groups thousands, as a host program may have set.
struct CommaLocale : std::numpunct<char> {
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return "\3"; }
};

TEST(LineInstrument, LocaleChangesNothing) {
  const std::locale before = std::locale::global(std::locale(std::locale::classic(), new CommaLocale));
  {
    Bench b("scpi", {"text:1234.5,0.3127,0.3290"});
    const auto m = b.meter->measure(0);
    ASSERT_TRUE(m) << m.error().text();
    EXPECT_NEAR(m->xyz.Y, 1234.5, 1e-9);
  }
  std::locale::global(before);
}

}  // namespace
}  // namespace provenit::instrument
