// Whole titles: in one run, in parts, stopped and resumed, broken off.
#include "provenit/programme/survey.h"

#include <gmock/gmock.h>

#include "hdr_clip.h"
#include "provenit/programme/frame_meter.h"
#include "reader_clips.h"

namespace provenit::programme {
namespace {

using ::testing::HasSubstr;
using testing::run_ffmpeg;
using testing::TempFolder;

class Survey : public ::testing::Test {
 protected:
  // 60 frames, a key frame every 10, B-frames between; open groups, so that pictures cross the cuts.
  std::string clip() {
    const auto path = folder_ / "clip.mp4";
    run_ffmpeg(testing::test_input(60) +
               "-pix_fmt yuv420p10le -c:v libx265 -x265-params "
               "log-level=error:keyint=10:min-keyint=10:open-gop=1:bframes=3:pools=1 " +
               testing::kPqTags + path);
    return path;
  }
  SurveyOptions options(int part = 1, int parts = 1) {
    SurveyOptions o{.part = part, .parts = parts, .software = "provenit test"};
    o.reading.threads = 2;
    o.reading.interpretation.siting = Siting::top_left;
    return o;
  }
  std::string bytes(const std::string& name) { return read_file(folder_ / name).value(); }
  TempFolder folder_;
};

TEST_F(Survey, MeasuresEveryFrameAsTheMeterDoes) {
  const auto path = clip();
  const auto outcome = survey_title(path, folder_ / "whole.survey", options());
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_TRUE(outcome->header.complete);
  EXPECT_EQ(outcome->header.measured, 60);
  const auto frames = SurveyFile::open(folder_ / "whole.survey").value().frames().value();
  ASSERT_EQ(frames.size(), 60u);
  auto reader = open_reader(path, options().reading).value();
  const auto meter = FrameMeter::make(reader->info().format).value();
  std::optional<FrameRecord> before;
  for (const FrameRecord& measured : frames) {
    const auto picture = reader->next().value();
    ASSERT_TRUE(picture);
    auto expected = meter.measure(*picture).value();
    if (before) expected.figures.temporal_difference = temporal_difference(*before, expected);
    EXPECT_EQ(measured, expected) << "frame " << picture->index;
    before = expected;
  }
  EXPECT_GT(frames[5].figures.temporal_difference, 0);
}

TEST_F(Survey, PartsMergeToTheSameBytesInAnyOrder) {
  const auto path = clip();
  ASSERT_TRUE(survey_title(path, folder_ / "whole.survey", options()));
  for (const int parts : {2, 4, 6}) {
    std::vector<std::string> files;
    for (int k = 1; k <= parts; ++k) {
      files.insert(files.begin(), folder_ / (std::to_string(k) + "of" + std::to_string(parts)));
      ASSERT_TRUE(survey_title(path, files.front(), options(k, parts)));
    }
    std::swap(files.front(), files.back());
    const auto merged = "merged" + std::to_string(parts);
    ASSERT_TRUE(merge_surveys(files, folder_ / merged));
    EXPECT_EQ(bytes(merged), bytes("whole.survey")) << parts << " parts";
  }
}

TEST_F(Survey, TheNumberOfThreadsChangesNothing) {
  const auto path = clip();
  ASSERT_TRUE(survey_title(path, folder_ / "two", options()));
  auto one = options();
  one.reading.threads = 1;
  ASSERT_TRUE(survey_title(path, folder_ / "one", one));
  EXPECT_EQ(bytes("one"), bytes("two"));
}

TEST_F(Survey, StoppedAnywhereItGoesOnToTheSameBytes) {
  const auto path = clip();
  ASSERT_TRUE(survey_title(path, folder_ / "whole", options()));
  auto stopping = options();
  for (const std::int64_t stop_at : {1, 7, 25, 41, 59}) {
    stopping.progress = [&](const SurveyProgress& p) { return p.done < stop_at; };
    const auto stopped = survey_title(path, folder_ / "resumed", stopping);
    ASSERT_TRUE(stopped) << stopped.error().text();
    EXPECT_TRUE(stopped->stopped);
    EXPECT_EQ(static_cast<std::int64_t>(stopped->light.size()), stop_at);
    EXPECT_FALSE(std::filesystem::exists(folder_ / "resumed"));
  }
  std::int64_t measured_again = 0;
  stopping.progress = [&](const SurveyProgress&) { return ++measured_again > 0; };
  const auto finished = survey_title(path, folder_ / "resumed", stopping);
  ASSERT_TRUE(finished);
  EXPECT_EQ(finished->light.size(), 60u);
  EXPECT_EQ(measured_again, 10);  // from the key frame at 50 on
  EXPECT_EQ(bytes("resumed"), bytes("whole"));
}

TEST_F(Survey, APartWithoutAKeyFrameIsRefused) {
  const auto refused = survey_title(clip(), folder_ / "part", options(3, 50));
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::unsupported);
  EXPECT_THAT(refused.error().text(), HasSubstr("fewer parts"));
}

TEST_F(Survey, PartsThatDoNotFitAreNamed) {
  const auto path = clip();
  for (int k = 1; k <= 3; ++k) ASSERT_TRUE(survey_title(path, folder_ / std::to_string(k), options(k, 3)));
  const auto gap = merge_surveys(std::vector{folder_ / "1", folder_ / "3"}, folder_ / "m");
  EXPECT_THAT(gap.error().text(), HasSubstr("frames 20 to 39 are missing"));
  const auto twice = merge_surveys(std::vector{folder_ / "1", folder_ / "1"}, folder_ / "m");
  EXPECT_THAT(twice.error().text(), HasSubstr("overlaps"));
  auto other = options(2, 3);
  other.reading.interpretation.siting = Siting::left;
  ASSERT_TRUE(survey_title(path, folder_ / "other", other));
  const auto mixed = merge_surveys(std::vector{folder_ / "1", folder_ / "other"}, folder_ / "m");
  EXPECT_THAT(mixed.error().text(), HasSubstr("another interpretation"));
  EXPECT_FALSE(std::filesystem::exists(folder_ / "m"));
}

TEST_F(Survey, ATitleThatBreaksOffIsAPartialSurvey) {
  const auto path = folder_ / "clip.mkv";
  run_ffmpeg(testing::test_input(60) + "-pix_fmt yuv420p10le -c:v ffv1 -g 1 " + testing::kPqTags + path);
  const auto whole = read_file(path).value();
  ASSERT_TRUE(write_file(path, whole.substr(0, whole.size() / 2)));
  const auto outcome = survey_title(path, folder_ / "cut.survey", options());
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_FALSE(outcome->header.complete);
  EXPECT_LT(outcome->header.measured, 60);
  EXPECT_GT(outcome->header.measured, 10);
  EXPECT_FALSE(outcome->header.troubles.empty());
  EXPECT_FALSE(SurveyFile::open(folder_ / "cut.survey").value().header().complete);
}

TEST_F(Survey, AStillIsATitleOfOneFrame) {
  const auto outcome = survey_title(testing::media("seine_hdr_rec2020.avif"), folder_ / "still", options());
  ASSERT_TRUE(outcome) << outcome.error().text();
  EXPECT_EQ(outcome->light.size(), 1u);
  EXPECT_TRUE(outcome->header.complete);
}

TEST_F(Survey, WhatIsThereIsNotOverwritten) {
  ASSERT_TRUE(write_file(folder_ / "mine", "mine"));
  EXPECT_EQ(survey_title(clip(), folder_ / "mine", options()).error().code, ErrorCode::conflict);
  EXPECT_EQ(bytes("mine"), "mine");
}

// Declared 703 / 165: the maximum is that of max(R,G,B), the mean is that of luminance.
TEST_F(Survey, ARealPictureDeclaresAMeanOfLuminance) {
  const auto outcome = survey_title(testing::media("seine_hdr_rec2020.avif"), folder_ / "still", options());
  ASSERT_TRUE(outcome);
  const auto figures = title_figures(outcome->light, 400, 300);
  EXPECT_NEAR(figures.maxfall_full.cdm2, 173.4, 0.1);
  EXPECT_NEAR(figures.mean_luminance_full.cdm2, 165.5, 0.1);
  const auto checks = check_declared(outcome->header.source.metadata, figures);
  ASSERT_EQ(checks.size(), 2u);
  EXPECT_NEAR(figures.maxcll.cdm2, 714.1, 0.1);  // decoded; 703 was that of the picture before its AV1 coding
  EXPECT_THAT(checks[0].explanation, HasSubstr("before the lossy coding"));
  EXPECT_FALSE(checks[1].agrees);
  EXPECT_THAT(checks[1].explanation, HasSubstr("mean luminance"));
}

// Declared 470 / 263 and 506 / 269 for pictures of saturated colours, where the two means lie far apart.
TEST_F(Survey, SoDoOtherPicturesOfThatKind) {
  for (const auto& [name, mean_rgb] : {std::pair{"colors_hdr_rec2020.avif", 321.6},
                                       {"colors_hdr_p3.avif", 346.7},
                                       {"colors_wcg_hdr_rec2020.avif", 371.5}}) {
    const auto outcome = survey_title(testing::media(name), folder_ / name, options());
    ASSERT_TRUE(outcome) << outcome.error().text();
    const auto figures = title_figures(outcome->light, 200, 200);
    EXPECT_NEAR(figures.maxfall_full.cdm2, mean_rgb, 0.1) << name;
    for (const auto& check : check_declared(outcome->header.source.metadata, figures))
      EXPECT_THAT(check.explanation, HasSubstr(check.name == "MaxCLL" ? "lossy coding" : "mean luminance")) << name;
  }
}

// Grain with 4:2:0: the source is clipped at 1000 cd/m2 in R, G and B, but luma keeps each pixel's grain while the four
// share their chroma, so decoded pixels go far above. Lone ones do; no 3 x 3 square.
TEST_F(Survey, GrainWith420LiftsAClippedSource) {
  const auto path = folder_ / "grain.mp4";
  ASSERT_TRUE(support::make_hdr_clip(
      testing::media("venice_sunset_1k.hdr"), path,
      {.width = 320, .height = 180, .frames = 6, .grain = 0.06, .encoder = "-c:v libx265 -crf 4"}));
  auto o = options();
  o.reading.interpretation = {};
  const auto outcome = survey_title(path, folder_ / "grain.survey", o);
  ASSERT_TRUE(outcome) << outcome.error().text();
  const auto figures = title_figures(outcome->light, 320, 180);
  EXPECT_GT(figures.maxcll.cdm2, 1500);
  EXPECT_LT(figures.maxcll_robust.cdm2, 1100);
  const auto checks = check_declared(outcome->header.source.metadata, figures);
  ASSERT_EQ(checks.size(), 5u);
  EXPECT_FALSE(checks[0].agrees);
  EXPECT_THAT(checks[0].explanation, HasSubstr("lone overshoot")) << figures.maxcll_robust.cdm2;
  EXPECT_TRUE(checks[2].agrees) << checks[2].declared;  // P3-D65 in the right order
  EXPECT_TRUE(checks[3].agrees) << checks[3].explanation;
}

// A real clip with its mastering fields in the wrong order and unit.
TEST_F(Survey, ARealClipHasItsMasteringFieldsWrong) {
  auto first_only = options();
  first_only.progress = [](const SurveyProgress&) { return false; };
  const auto outcome = survey_title(testing::media("hdr10-video-with-sdr-container.mp4"), folder_ / "clip", first_only);
  ASSERT_TRUE(outcome) << outcome.error().text();
  const auto checks = check_declared(outcome->header.source.metadata, title_figures(outcome->light, 1920, 1080));
  ASSERT_EQ(checks.size(), 5u);
  EXPECT_THAT(checks[2].explanation, HasSubstr("wrong order"));
  EXPECT_THAT(checks[3].explanation, HasSubstr("wrong unit"));
}

}  // namespace
}  // namespace provenit::programme
