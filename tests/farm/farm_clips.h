#pragma once
// A job over clips made at test time, in a folder that goes with the test.
#include <gmock/gmock.h>

#include "../programme/reader_clips.h"
#include "provenit/farm/status.h"
#include "provenit/farm/work.h"
#include "provenit/programme/survey.h"

namespace provenit::farm {

inline constexpr const char* kSoftware = "provenit test";

class FarmTest : public ::testing::Test {
 protected:
  using Clips = programme::testing::TempFolder;

  /// A clip with a key frame every ten; groups are open, so that pictures cross the cuts.
  std::string clip(const std::string& name, int frames = 60, const std::string& x265 = "keyint=10:min-keyint=10") {
    auto path = folder_ / name;
    programme::testing::run_ffmpeg(programme::testing::test_input(frames, "64x36") +
                                   "-pix_fmt yuv420p10le -c:v libx265 -preset ultrafast -x265-params "
                                   "log-level=error:open-gop=1:bframes=3:pools=1:" +
                                   x265 + " " + programme::testing::kPqTags + shell_word(path));
    return path;
  }
  PlanOptions options(std::vector<std::string> titles, int parts = 4) {
    PlanOptions o{.titles = std::move(titles), .parts = parts, .program = "/usr/bin/false", .software = kSoftware};
    o.meant.siting = "top_left";
    return o;
  }
  Job planned(const std::vector<std::string>& titles, int parts = 4) {
    auto job = plan(folder_ / "job", options(titles, parts));
    EXPECT_TRUE(job) << (job ? "" : job.error().text());
    return job.value();
  }
  /// The survey of the whole, as one machine makes it.
  std::string whole(const std::string& title) {
    programme::SurveyOptions o{.software = kSoftware};
    o.reading.threads = 1;
    o.reading.interpretation.siting = programme::Siting::top_left;
    const auto out = folder_ / "whole.survey";
    std::filesystem::remove(out);
    EXPECT_TRUE(programme::survey_title(title, out, o));
    return read_file(out).value();
  }
  static std::string survey(const Job& job, std::size_t title = 0) {
    return read_file(survey_path(job, title)).value();
  }

  Clips folder_;
  Worker worker_{.software = kSoftware};
};

}  // namespace provenit::farm
