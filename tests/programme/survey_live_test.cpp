// The survey of a live source: measured as it comes, cut off and resumed, killed and continued.
#include <gmock/gmock.h>

#include "live_sender.h"
#include "provenit/programme/survey.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

class SurveyLive : public ::testing::Test {
 protected:
  /// Surveys until `more` says no. Times only bound the waiting.
  Result<SurveyOutcome> follow(const std::string& out, const std::function<bool(const SurveyProgress&)>& more) {
    bool stop = false;
    SurveyOptions options{.software = "provenit test"};
    options.reading.threads = 1;
    options.progress = [&](const SurveyProgress& p) {
      stop = !more(p);
      return !stop;
    };
    LiveOptions live{.reading = options.reading, .open_timeout_s = 60, .silence_timeout_s = 1.5, .queue = 8};
    live.stop = [&stop] { return stop; };
    return survey_live(url_, folder_ / out, live, options);
  }
  TempFolder folder_;
  const std::string url_ = "udp://127.0.0.1:" + std::to_string(free_port(SOCK_DGRAM));
};

TEST_F(SurveyLive, IsASurveyLikeAnyOther) {
  const Sender sender(url_);
  std::int64_t frames = 0;
  const auto outcome = follow("live.survey", [&](const SurveyProgress& p) {
    EXPECT_GT(p.latest->max_rgb_max, 50);  // the test picture has white
    EXPECT_EQ(p.total, 0);
    return ++frames < 30;
  });
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_TRUE(outcome->header.live);
  EXPECT_EQ(outcome->header.measured, 30);
  EXPECT_EQ(outcome->header.last, outcome->light.back().index + 1);
  const auto survey = SurveyFile::open(folder_ / "live.survey").value();
  const auto stored = survey.frames().value();
  ASSERT_EQ(stored.size(), 30u);
  for (std::size_t i = 1; i < stored.size(); ++i) {
    EXPECT_GT(stored[i].figures.index, stored[i - 1].figures.index);
    EXPECT_GT(stored[i].figures.time_s, stored[i - 1].figures.time_s);
  }
}

TEST_F(SurveyLive, GoesOnWhenTheSenderComesBack) {
  std::optional<Sender> sender(std::in_place, url_);
  std::int64_t frames = 0;
  const auto outcome = follow("live.survey", [&](const SurveyProgress& p) {
    if (++frames == 15) sender.reset(), sender.emplace(url_);  // cut off, and another one
    return p.live.interruptions == 0 || frames < 30;
  });
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_GE(outcome->header.measured, 30);
  EXPECT_FALSE(outcome->header.complete);
  EXPECT_THAT(outcome->header.troubles, ::testing::Contains(::testing::HasSubstr("the sender went away 1 times")));
}

TEST_F(SurveyLive, AKilledSessionIsContinued) {
  const Sender sender(url_, 100);
  const pid_t child = ::fork();
  if (child == 0) {
    std::int64_t frames = 0;
    (void)follow("live.survey", [&](const SurveyProgress&) {
      if (++frames == 262) ::raise(SIGKILL);
      return true;
    });
    ::_exit(1);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  ASSERT_TRUE(WIFSIGNALED(status));
  std::int64_t frames = 0;
  const auto outcome = follow("live.survey", [&](const SurveyProgress&) { return ++frames < 10; });
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_EQ(outcome->header.measured, static_cast<std::int64_t>(kChunkFrames) + 10);
  for (std::size_t i = 1; i < outcome->light.size(); ++i) {
    EXPECT_GT(outcome->light[i].index, outcome->light[i - 1].index);
    EXPECT_GT(outcome->light[i].time_s, outcome->light[i - 1].time_s);
  }
  EXPECT_THAT(outcome->header.troubles, ::testing::Contains(::testing::HasSubstr("interrupted after frame")));
}

}  // namespace
}  // namespace provenit::programme::testing
