// Index and parts: the parts of a title are the title, bit for bit.
#include <gmock/gmock.h>

#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

struct Kind {
  const char* name;
  const char* encode;
  bool cut;  // expected to have more than one place to begin at
};
void PrintTo(const Kind& k, std::ostream* out) {
  *out << k.name;
}

class Parts : public ::testing::TestWithParam<Kind> {};

TEST_P(Parts, AreTheWhole) {
  const TempFolder folder;
  const std::string clip = folder / GetParam().name;
  run_ffmpeg(test_input(48) + kPqTags + GetParam().encode + " " + clip);
  const ReaderOptions options = pq_options();
  const Whole whole = read_whole(clip, options);
  ASSERT_EQ(whole.error, "");
  ASSERT_EQ(whole.pictures.size(), 48U);
  EXPECT_THAT(whole.troubles, IsEmpty());
  const auto index = index_frames(clip);
  ASSERT_TRUE(index) << index.error().text();
  ASSERT_EQ(index->time_s.size(), 48U);
  ASSERT_EQ(index->key_frames.front(), 0);
  EXPECT_EQ(index->key_frames.size() > 1, GetParam().cut);
  for (std::size_t i = 0; i < 48; ++i) {
    EXPECT_EQ(index->time_s[i], whole.pictures[i].time_s) << i;
    EXPECT_EQ(whole.pictures[i].index, static_cast<std::int64_t>(i));
    EXPECT_FALSE(whole.pictures[i].damaged);
  }
  // Every key frame to the next, and one part over a key frame into the middle of a group.
  std::vector<Seen> pieces;
  const std::vector<std::int64_t>& keys = index->key_frames;
  const std::size_t step = std::max<std::size_t>(1, keys.size() / 6);
  for (std::size_t k = 0; k < keys.size(); k += step) {
    const std::int64_t last = k + step < keys.size() ? keys[k + step] : 48;
    const auto part = open_part(clip, *index, keys[k], last, options);
    ASSERT_TRUE(part) << part.error().text();
    const Whole piece = read_on(**part);
    EXPECT_EQ(piece.error, "");
    EXPECT_THAT(piece.troubles, IsEmpty());
    pieces.insert(pieces.end(), piece.pictures.begin(), piece.pictures.end());
  }
  EXPECT_EQ(pieces, whole.pictures);
  const std::int64_t middle = keys[keys.size() / 2], end = std::min<std::int64_t>(48, middle + 17);
  const auto part = open_part(clip, *index, middle, end, options);
  ASSERT_TRUE(part) << part.error().text();
  EXPECT_EQ(read_on(**part).pictures, std::vector<Seen>(whole.pictures.begin() + middle, whole.pictures.begin() + end));
}

INSTANTIATE_TEST_SUITE_P(
    Codecs, Parts,
    ::testing::Values(
        Kind{"hevc_closed.mp4",
             "-c:v libx265 -x265-params log-level=none:keyint=12:min-keyint=12:scenecut=0:bframes=3:open-gop=0", true},
        Kind{"hevc_open.mp4",
             "-c:v libx265 -x265-params log-level=none:keyint=12:min-keyint=12:scenecut=0:bframes=4:open-gop=1", true},
        Kind{"hevc_open.mkv",
             "-c:v libx265 -x265-params log-level=none:keyint=12:min-keyint=12:scenecut=0:bframes=4:open-gop=1", true},
        Kind{"hevc_open.ts",
             "-c:v libx265 -x265-params log-level=none:keyint=12:min-keyint=12:scenecut=0:bframes=4:open-gop=1", true},
        Kind{"hevc_radl.mp4",
             "-c:v libx265 -x265-params log-level=none:keyint=12:min-keyint=12:scenecut=0:bframes=4:open-gop=0:radl=2",
             true},
        Kind{"h264_closed.mp4", "-c:v libx264 -g 12 -bf 3", true},
        Kind{"h264_open.ts", "-c:v libx264 -g 12 -bf 3 -x264-params open-gop=1:scenecut=0", false},
        Kind{"h264_refresh.ts", "-c:v libx264 -g 12 -x264-params intra-refresh=1", false},
        Kind{"av1.mp4", "-c:v libsvtav1 -preset 12 -g 12 -pix_fmt yuv420p10le", true},
        Kind{"av1.mkv", "-c:v libsvtav1 -preset 12 -g 12 -pix_fmt yuv420p10le", true},
        Kind{"ffv1.mkv", "-c:v ffv1 -level 3 -slicecrc 1 -g 1 -pix_fmt yuv422p10le", true},
        Kind{"ffv1_gop.mkv", "-c:v ffv1 -level 3 -g 12 -pix_fmt yuv422p10le", true},
        Kind{"prores.mov", "-c:v prores_ks -profile:v 2 -pix_fmt yuv422p10le", true}),
    [](const auto& one) { return test_name(one.param.name); });

TEST(Index, ChangesItsFingerprintWithTheFile) {
  const TempFolder folder;
  run_ffmpeg(test_input(6) + "-c:v ffv1 " + folder / "a.mkv");
  run_ffmpeg(test_input(7) + "-c:v ffv1 " + folder / "b.mkv");
  const auto a = index_frames(folder / "a.mkv"), again = index_frames(folder / "a.mkv"),
             b = index_frames(folder / "b.mkv");
  ASSERT_TRUE(a && again && b);
  EXPECT_EQ(a->fingerprint, again->fingerprint);
  EXPECT_NE(a->fingerprint, b->fingerprint);
  EXPECT_EQ(a->fingerprint.size(), 64U);
}

TEST(Index, RefusesAStreamWithoutTimes) {
  const TempFolder folder;
  run_ffmpeg(test_input(6) + kPqTags + "-c:v libx265 -x265-params log-level=none " + folder / "a.hevc");
  EXPECT_EQ(index_frames(folder / "a.hevc").error().code, ErrorCode::unsupported);
  const Whole whole = read_whole(folder / "a.hevc");  // but it can be read
  EXPECT_EQ(whole.pictures.size(), 6U);
  EXPECT_EQ(whole.pictures.back().index, 5);
}

TEST(PartsOfATitle, BeginAtKeyFramesOnly) {
  const auto index = index_frames(media("hdr10-video-with-sdr-container.mp4"));
  ASSERT_TRUE(index);
  EXPECT_EQ(index->time_s.size(), 28U);
  EXPECT_THAT(index->key_frames, ElementsAre(0));
  const std::string file = media("hdr10-video-with-sdr-container.mp4");
  EXPECT_EQ(open_part(file, *index, 5, 28).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(open_part(file, *index, 0, 29).error().code, ErrorCode::out_of_range);
  EXPECT_EQ(open_part(file, *index, 0, 0).error().code, ErrorCode::out_of_range);
}

// Frames of a phone's film, cut into two at an arbitrary frame.
TEST(PartsOfATitle, EndAnywhere) {
  const std::string file = media("hdr10-av1.mp4");
  const auto index = index_frames(file);
  ASSERT_TRUE(index);
  EXPECT_EQ(index->time_s.size(), 127U);
  auto whole = open_reader(file), part = open_part(file, *index, 0, 9);
  ASSERT_TRUE(whole && part);
  for (int i = 0; i < 9; ++i) {
    const auto a = (*whole)->next(), b = (*part)->next();
    ASSERT_TRUE(a && *a && b && *b);
    EXPECT_EQ(seen(**a), seen(**b));
  }
  const auto end = (*part)->next();
  ASSERT_TRUE(end);
  EXPECT_FALSE(end->has_value());
}

}  // namespace
}  // namespace provenit::programme::testing
