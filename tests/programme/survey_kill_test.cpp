// kill -9 in the middle of surveys: the next call goes on, loses at most the chunk in hand, and ends in the same bytes.
#include <gtest/gtest.h>
#include <unistd.h>

#include <random>

#include "chunk_io_internal.h"
#include "kill_child.h"
#include "provenit/programme/survey.h"
#include "reader_clips.h"

namespace provenit::programme {
namespace {

constexpr int kFrames = 900;
constexpr int kKills = 30;

/// Surveys, and tells each frame that was measured.
int sit(const std::string& clip, const std::string& out, int acknowledge) {
  SurveyOptions options{.software = "provenit test"};
  options.reading.threads = 2;
  options.reading.interpretation.siting = Siting::left;
  options.progress = [&](const SurveyProgress& p) {
    return ::write(acknowledge, &p.done, sizeof p.done) == sizeof p.done;
  };
  return survey_title(clip, out, options) ? 0 : 1;
}

std::int64_t frames_kept(const std::string& out) {
  auto file = detail::open_survey_file(out + ".unfinished");
  if (!file || !detail::read_header(*file)) return std::filesystem::exists(out) ? kFrames : 0;
  std::int64_t frames = 0;
  while (true) {
    const auto chunk = detail::read_chunk(*file);
    if (!chunk || !*chunk) return frames;
    frames += static_cast<std::int64_t>((*chunk)->frames.size());
  }
}

TEST(SurveyKill, LosesAtMostTheChunkInHandAndEndsInTheSameBytes) {
  const testing::TempFolder folder;
  const auto clip = folder / "clip.mp4";
  testing::run_ffmpeg(
      testing::test_input(kFrames, "64x36") +
      "-pix_fmt yuv420p10le -c:v libx265 -preset ultrafast -x265-params log-level=error:keyint=15:pools=1 " +
      testing::kPqTags + clip);
  const auto whole = folder / "whole", out = folder / "killed";
  run_and_kill([&](int acknowledge) { return sit(clip, whole, acknowledge); }, kFrames + 1, {});
  ASSERT_TRUE(SurveyFile::open(whole));

  std::mt19937_64 random(3);
  int kills = 0;
  for (; kills < kKills && !std::filesystem::exists(out); ++kills) {
    const auto told = run_and_kill([&](int acknowledge) { return sit(clip, out, acknowledge); },
                                   10 + static_cast<int>(random() % 300), std::chrono::microseconds(random() % 3000));
    // A resume begins at the key frame before, so it first gives up to 15 frames again.
    EXPECT_GE(frames_kept(out) + static_cast<std::int64_t>(kChunkFrames) + 15, told) << "kill " << kills;
  }
  EXPECT_GT(kills, 5);
  run_and_kill([&](int acknowledge) { return sit(clip, out, acknowledge); }, kFrames + 1, {});
  EXPECT_EQ(read_file(out).value(), read_file(whole).value());
  EXPECT_FALSE(std::filesystem::exists(out + ".unfinished"));
}

}  // namespace
}  // namespace provenit::programme
