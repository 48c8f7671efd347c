#include "provenit/programme/survey_file.h"

#include <gmock/gmock.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>

#include "provenit/base/text.h"
#include "provenit/programme/bench.h"

namespace provenit::programme {
namespace {

FrameRecord sample_frame(std::int64_t index) {
  std::mt19937_64 random(static_cast<std::uint64_t>(index) + 1);
  FrameRecord r;
  auto& f = r.figures;
  f.index = index;
  f.time_s = static_cast<double>(index) / 24;
  for (double* v :
       {&f.max_rgb_max, &f.max_rgb_mean, &f.max_rgb_mean_active, &f.max_rgb_robust, &f.luminance_max, &f.luminance_min,
        &f.luminance_mean, &f.luminance_mean_active, &f.share_outside_bt709, &f.share_outside_p3, &f.mean_u_prime,
        &f.mean_v_prime, &f.dark_beside_bright, &f.near_black_detail, &f.temporal_difference})
    *v = static_cast<double>(random()) * 1e-16;
  for (double& v : f.luminance_percentile) v = static_cast<double>(random()) * 1e-16;
  for (double& v : f.share_above) v = static_cast<double>(random()) * 1e-20;
  for (double& v : f.share_below) v = static_cast<double>(random()) * 1e-20;
  f.brightest_x = static_cast<std::int32_t>(random() % 3840);
  f.active = {.left = 0, .top = 12, .width = 3840, .height = 2136};
  f.damaged = index % 7 == 3;
  for (auto& v : r.light) v = static_cast<std::uint32_t>(random());
  r.block_columns = 15;
  r.block_rows = 9;
  for (std::size_t i = 0; i < 135; ++i) r.blocks[i] = static_cast<std::uint16_t>(random());
  return r;
}

SurveyHeader sample_header(std::int64_t frames) {
  SurveyHeader h;
  h.title = "shore.mp4";
  h.source.container = "mov";
  h.source.codec = "hevc";
  h.source.format = {.width = 3840, .height = 2160};
  h.source.frame_rate_numerator = 24000;
  h.source.frame_rate_denominator = 1001;
  h.source.metadata.maxcll_cdm2 = 1000;
  h.source.metadata.mastering = {.maximum_cdm2 = 1000, .minimum_cdm2 = 0.0001};
  h.source.metadata.where = "SEI";
  h.fingerprint = std::string(64, 'f');
  h.simd_level = "avx2";
  h.software = "provenit 0";
  h.title_frames = h.last = frames;
  return h;
}

class SurveyFiles : public testing::Test {
 protected:
  SurveyFiles() { std::filesystem::create_directories(folder_); }
  ~SurveyFiles() override { std::filesystem::remove_all(folder_); }
  std::string file(const std::string& name) const { return (folder_ / name).string(); }
  std::string written(std::int64_t frames) {
    const auto path = file("whole.survey");
    auto header = sample_header(frames);
    auto writer = SurveyWriter::begin(path, header).value();
    for (std::int64_t i = 0; i < frames; ++i) EXPECT_TRUE(writer.append(sample_frame(i)));
    header.measured = frames;
    header.complete = true;
    EXPECT_TRUE(writer.finish(header));
    return path;
  }
  const std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() /
      (std::string("survey_file_") + testing::UnitTest::GetInstance()->current_test_info()->name());
};

TEST(FrameCodec, TakesFramesToTheBit) {
  const std::vector frames{sample_frame(0), sample_frame(3)};
  const auto bytes = encode_frames(frames);
  EXPECT_EQ(bytes.size(), 2 * kFrameRecordBytes);
  EXPECT_EQ(decode_frames(bytes).value(), frames);
  EXPECT_FALSE(decode_frames(std::string_view(bytes).substr(1)));
  auto bad = frames;
  bad[1].figures.max_rgb_mean = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(decode_frames(encode_frames(bad)).error().where.frame, 1);
}

TEST_F(SurveyFiles, ComeBackWithHeaderAndFrames) {
  const auto path = written(600);
  const auto survey = SurveyFile::open(path);
  ASSERT_TRUE(survey) << survey.error().text();
  const auto frames = survey->frames().value();
  ASSERT_EQ(frames.size(), 600u);
  for (std::int64_t i = 0; i < 600; ++i) EXPECT_EQ(frames[static_cast<std::size_t>(i)], sample_frame(i));
  auto expected = sample_header(600);
  expected.measured = 600, expected.complete = true;
  EXPECT_EQ(to_json(survey->header()), to_json(expected));
  EXPECT_FALSE(std::filesystem::exists(path + ".unfinished"));
}

TEST_F(SurveyFiles, AStoppedOneGoesOnAndEndsInTheSameBytes) {
  const auto whole = read_file(written(600)).value();
  const auto path = file("resumed.survey");
  auto header = sample_header(600);
  {
    auto writer = SurveyWriter::begin(path, header).value();
    for (std::int64_t i = 0; i < 300; ++i) ASSERT_TRUE(writer.append(sample_frame(i)));
  }  // killed: the 44 frames after the full chunk were not flushed
  {
    auto writer = SurveyWriter::begin(path, header).value();
    EXPECT_EQ(writer.frames_done(), 256);
    ASSERT_TRUE(writer.keep_first(200));
    EXPECT_EQ(writer.frames_done(), 200);
    for (std::int64_t i = 200; i < 310; ++i) ASSERT_TRUE(writer.append(sample_frame(i)));
    ASSERT_TRUE(writer.flush());
  }
  {  // half a chunk at the end, as a kill inside a write leaves it
    const auto left = read_file(path + ".unfinished").value();
    ASSERT_TRUE(write_file(path + ".unfinished", left + std::string("CHNK\x10\0\0\0", 8)));
  }
  auto writer = SurveyWriter::begin(path, header).value();
  EXPECT_EQ(writer.frames_done(), 310);
  for (std::int64_t i = 310; i < 600; ++i) ASSERT_TRUE(writer.append(sample_frame(i)));
  header.measured = 600, header.complete = true;
  ASSERT_TRUE(writer.finish(header));
  EXPECT_EQ(read_file(path).value(), whole);
}

TEST_F(SurveyFiles, KilledInItsVeryFirstWriteStartsAnew) {
  const auto path = file("first.survey");
  ASSERT_TRUE(write_file(path + ".unfinished", "PROVENIT-SUR"));
  auto writer = SurveyWriter::begin(path, sample_header(1));
  ASSERT_TRUE(writer) << writer.error().text();
  EXPECT_EQ(writer->frames_done(), 0);
}

TEST_F(SurveyFiles, AnotherTitlesLeftoverIsRefusedAndKept) {
  const auto path = file("other.survey");
  { ASSERT_TRUE(SurveyWriter::begin(path, sample_header(10)).value().append(sample_frame(0))); }
  const auto before = read_file(path + ".unfinished").value();
  auto other = sample_header(10);
  other.fingerprint = std::string(64, 'e');
  EXPECT_EQ(SurveyWriter::begin(path, other).error().code, ErrorCode::conflict);
  EXPECT_EQ(read_file(path + ".unfinished").value(), before);
  EXPECT_EQ(SurveyWriter::begin(written(2), sample_header(2)).error().code, ErrorCode::conflict);
}

TEST_F(SurveyFiles, DamageAnywhereIsNoticed) {
  const auto whole = read_file(written(40)).value();
  const auto path = file("damaged.survey");
  std::mt19937_64 random(11);
  for (int i = 0; i < 300; ++i) {
    auto bytes = whole;
    if (i % 3 == 0)
      bytes.resize(random() % bytes.size());
    else
      bytes[random() % bytes.size()] ^= static_cast<char>(1 << random() % 8);
    ASSERT_TRUE(write_file(path, bytes));
    const auto survey = SurveyFile::open(path);
    ASSERT_FALSE(survey) << "damage " << i << " was not noticed";
    EXPECT_EQ(survey.error().where.file, path);
  }
}

TEST_F(SurveyFiles, ANewerVersionIsRefused) {
  auto bytes = read_file(written(1)).value();
  bytes.replace(bytes.find("\"version\":1"), 11, "\"version\":9");
  const auto path = file("newer.survey");
  ASSERT_TRUE(write_file(path, bytes));
  EXPECT_EQ(SurveyFile::open(path).error().code, ErrorCode::conflict);
}

TEST_F(SurveyFiles, GoIntoTheBenchOnceAndComeBack) {
  const auto survey = SurveyFile::open(written(300)).value();
  auto bench = store::Bench::create(file("a.bench"), "T", "E", {1}).value();
  EXPECT_EQ(survey_in_bench(bench, 0).error().code, ErrorCode::not_found);
  const auto id = add_to_bench(survey, bench, {2}).value();
  EXPECT_EQ(add_to_bench(survey, bench, {3}).error().code, ErrorCode::conflict);
  const auto back = survey_in_bench(bench, 0).value();
  EXPECT_EQ(back.record.id, id);
  EXPECT_EQ(back.record.hash, survey.hash());
  EXPECT_EQ(to_json(back.header), to_json(survey.header()));
  EXPECT_EQ(frames_in_bench(bench, id).value(), survey.frames().value());
}

}  // namespace
}  // namespace provenit::programme
