// Moving pictures: every sample as decoded, from every kind of sample layout, and what a stream says of itself.
// Outside check: the ffmpeg program writes the same file as raw planes (libav 5.1, another path to the samples).
#include "provenit/programme/reader.h"

#include <gmock/gmock.h>

#include "provenit/programme/pixel.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

struct Kind {
  const char* name;       // of the file
  const char* encode;     // ffmpeg options
  const char* raw;        // planar pixel format of the same samples
  const char* described;  // by describe(), from "128x72" on
};

void PrintTo(const Kind& k, std::ostream* out) {
  *out << k.name;
}

class EverySample : public ::testing::TestWithParam<Kind> {};

TEST_P(EverySample, IsAsDecoded) {
  const Kind& kind = GetParam();
  const TempFolder folder;
  const std::string clip = folder / kind.name, raw = folder / "raw.yuv";
  run_ffmpeg(test_input(4) + kPqTags + kind.encode + " " + clip);
  run_ffmpeg("-i " + clip + " -f rawvideo -pix_fmt " + kind.raw + " " + raw);
  auto reader = open_reader(clip, pq_options());
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_THAT(describe((*reader)->info().format), HasSubstr(kind.described));
  std::string samples;
  int count = 0;
  for (;;) {
    auto picture = (*reader)->next();
    ASSERT_TRUE(picture) << picture.error().text();
    if (!*picture) break;
    const auto checked = check_picture(**picture);
    EXPECT_TRUE(checked) << checked.error().text();
    EXPECT_EQ((*picture)->index, count);
    EXPECT_NEAR((*picture)->time_s, count / 24.0, 0.001);
    EXPECT_FALSE((*picture)->damaged);
    std::string planes = samples_of(**picture);
    if ((*picture)->format.chroma == Chroma::rgb) {  // ffmpeg's planar RGB is G, B, R
      const std::size_t n = planes.size() / 3;
      planes = planes.substr(n) + planes.substr(0, n);
    }
    samples += planes;
    ++count;
  }
  EXPECT_EQ(count, 4);
  EXPECT_EQ(samples == bytes_of_file(raw), true);
  EXPECT_THAT((*reader)->troubles(), IsEmpty());
}

INSTANTIATE_TEST_SUITE_P(
    Formats, EverySample,
    ::testing::Values(
        Kind{"hevc10.mp4", "-c:v libx265 -x265-params log-level=none -pix_fmt yuv420p10le", "yuv420p10le",
             "128x72 10-bit 420 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma left"},
        Kind{"hevc12.mkv", "-c:v libx265 -x265-params log-level=none -pix_fmt yuv444p12le", "yuv444p12le",
             "128x72 12-bit 444 narrow"},
        Kind{"hevc_odd.mp4", "-vf crop=126:70:2:2 -c:v libx265 -x265-params log-level=none -pix_fmt yuv420p", "yuv420p",
             "126x70 8-bit 420 narrow"},
        Kind{"h264.mp4", "-c:v libx264 -pix_fmt yuv420p", "yuv420p", "128x72 8-bit 420 narrow"},
        Kind{"av1.mp4", "-c:v libsvtav1 -preset 12 -pix_fmt yuv420p10le", "yuv420p10le", "128x72 10-bit 420 narrow"},
        Kind{"prores.mov", "-c:v prores_ks -profile:v 3 -pix_fmt yuv422p10le", "yuv422p10le",
             "128x72 10-bit 422 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma left"},
        Kind{"prores4.mov", "-c:v prores_ks -profile:v 4 -pix_fmt yuva444p10le", "yuv444p12le", "128x72 12-bit 444"},
        Kind{"dnxhr.mov", "-s 256x144 -c:v dnxhd -profile:v dnxhr_hqx -pix_fmt yuv422p10le", "yuv422p10le",
             "256x144 10-bit 422"},
        Kind{"ffv1_16.mkv", "-c:v ffv1 -pix_fmt yuv420p16le", "yuv420p16le", "128x72 16-bit 420"},
        Kind{"ffv1_9.mkv", "-c:v ffv1 -pix_fmt yuv422p9le", "yuv422p9le", "128x72 9-bit 422"},
        Kind{"ffv1_odd.mkv", "-vf scale=127:71 -c:v ffv1 -pix_fmt yuv420p10le", "yuv420p10le", "127x71 10-bit 420"},
        Kind{"ffv1_rgb.mkv", "-c:v ffv1 -pix_fmt gbrp12le", "gbrp12le", "128x72 12-bit rgb narrow"},
        Kind{"ffv1_grey.mkv", "-c:v ffv1 -pix_fmt gray10le", "gray10le", "128x72 10-bit grey"},
        Kind{"nv12.nut", "-c:v rawvideo -pix_fmt nv12", "yuv420p", "128x72 8-bit 420"},
        Kind{"uyvy.nut", "-c:v rawvideo -pix_fmt uyvy422", "yuv422p", "128x72 8-bit 422"},
        Kind{"rgb24.nut", "-c:v rawvideo -pix_fmt rgb24", "gbrp", "128x72 8-bit rgb"},
        Kind{"rgb48be.nut", "-c:v rawvideo -pix_fmt rgb48be", "gbrp16le", "128x72 16-bit rgb"},
        Kind{"v210.mov", "-c:v v210 -pix_fmt yuv422p10le", "yuv422p10le", "128x72 10-bit 422"}),
    [](const auto& one) { return test_name(one.param.name); });

TEST(Reader, UsesPlanarSamplesWhereTheyAre) {
  const TempFolder folder;
  const std::string clip = folder / "a.mkv";
  run_ffmpeg(test_input(3) + kPqTags + "-c:v ffv1 -pix_fmt yuv420p10le " + clip);
  auto reader = open_reader(clip, pq_options());
  ASSERT_TRUE(reader);
  auto first = (*reader)->next();
  ASSERT_TRUE(first && *first);
  const std::string before = samples_of(**first);
  while (true) {
    auto picture = (*reader)->next();
    ASSERT_TRUE(picture);
    if (!*picture) break;
  }
  reader->reset();  // the picture stays alive without its reader
  EXPECT_EQ(samples_of(**first) == before, true);
}

TEST(Reader, GivesTheSameWithAnyNumberOfThreads) {
  const TempFolder folder;
  const std::string clip = folder / "a.mp4";
  run_ffmpeg(test_input(20) + kPqTags + "-c:v libx265 -x265-params log-level=none -pix_fmt yuv420p10le " + clip);
  const Whole one = read_whole(clip, {.interpretation = {}, .threads = 1});
  const Whole five = read_whole(clip, {.interpretation = {}, .threads = 5});
  EXPECT_EQ(one.error, "");
  EXPECT_EQ(one.pictures.size(), 20U);
  EXPECT_EQ(one.pictures, five.pictures);
}

TEST(Reader, RefusesWhatNobodySaysAndNamesTheOption) {
  const TempFolder folder;
  const std::string clip = folder / "a.mkv";
  run_ffmpeg(test_input(2) + "-c:v ffv1 -pix_fmt yuv420p " + clip);
  ReaderOptions options;
  const auto missing = [&](const char* field, const char* option) {
    const auto reader = open_reader(clip, options);
    ASSERT_FALSE(reader) << field;
    EXPECT_EQ(reader.error().code, ErrorCode::invalid_input);
    EXPECT_EQ(reader.error().where.field, field);
    EXPECT_EQ(reader.error().where.file, clip);
    EXPECT_THAT(reader.error().advice, HasSubstr(option));
  };
  Interpretation& say = options.interpretation;
  missing("transfer", "--transfer");
  say.transfer = Transfer::linear;
  missing("primaries", "--primaries");
  say.gamut = Gamut::p3_d65;
  missing("matrix", "--matrix");
  say.matrix = Matrix::bt709;
  missing("range", "--range");
  say.range = colour::Range::full;
  missing("siting", "--siting");
  say.siting = Siting::centre;
  missing("peak", "--peak");
  say.peak_cdm2 = 0;
  EXPECT_EQ(open_reader(clip, options).error().code, ErrorCode::out_of_range);
  say.peak_cdm2 = 300;
  const auto reader = open_reader(clip, options);
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_EQ(describe((*reader)->info().format),
            "128x72 8-bit 420 full, transfer linear, primaries p3_d65, peak 300 cd/m2, matrix bt709, chroma centre");
}

// Reference levels: BT.2100 (HLG 1000 cd/m2), BT.2035 (100), IEC 61966-2-1 (80).
TEST(Reader, TakesThePeakFromTheStandardAndSaysSo) {
  const TempFolder folder;
  const std::string clip = folder / "a.mkv";
  run_ffmpeg(test_input(2) + kPqTags + "-c:v ffv1 -pix_fmt yuv444p10le " + clip);
  ReaderOptions options = pq_options();
  const auto peak_of = [&](Transfer transfer) {
    options.interpretation.transfer = transfer;
    const auto reader = open_reader(clip, options);
    EXPECT_TRUE(reader);
    if (transfer != Transfer::pq) {
      EXPECT_THAT((*reader)->info().notes,
                  Contains(HasSubstr("peak " + exact_text((*reader)->info().format.peak_cdm2))));
    }
    return (*reader)->info().format.peak_cdm2;
  };
  EXPECT_EQ(peak_of(Transfer::hlg), 1000);
  EXPECT_EQ(peak_of(Transfer::bt1886), 100);
  EXPECT_EQ(peak_of(Transfer::srgb), 80);
  EXPECT_EQ(peak_of(Transfer::pq), PictureFormat{}.peak_cdm2);
}

TEST(Reader, NotesAnOverride) {
  ReaderOptions options;
  options.interpretation.transfer = Transfer::hlg;
  options.interpretation.siting = Siting::top_left;
  const auto reader = open_reader(media("hdr10-av1.mp4"), options);
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_EQ((*reader)->info().format.transfer, Transfer::hlg);
  EXPECT_EQ((*reader)->info().format.siting, Siting::top_left);
  EXPECT_THAT((*reader)->info().notes, Contains(HasSubstr("transfer hlg as given by the user; the bitstream says")));
}

TEST(Reader, PutsTheBitstreamBeforeTheContainerAndNotesTheContradiction) {
  const TempFolder folder;
  const std::string sdr = folder / "sdr.mp4", both = folder / "both.mp4";
  run_ffmpeg(test_input(3) + "-color_primaries bt709 -color_trc bt709 -colorspace bt709 -c:v libx265 -x265-params " +
             "log-level=none -pix_fmt yuv420p10le -movflags write_colr " + sdr);
  run_ffmpeg("-i " + sdr + " -c copy -movflags write_colr -bsf:v " +
             "hevc_metadata=colour_primaries=9:transfer_characteristics=16:matrix_coefficients=9 " + both);
  const auto reader = open_reader(both);
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_EQ((*reader)->info().format.transfer, Transfer::pq);
  EXPECT_EQ((*reader)->info().format.gamut, Gamut::bt2020);
  EXPECT_THAT((*reader)->info().notes, Contains(HasSubstr("transfer: the bitstream says 16, the container says 1")));
}

TEST(Reader, RefusesConstantLuminanceAndUnknownCurves) {
  const TempFolder folder;
  const std::string plain = folder / "a.mp4", clip = folder / "b.mp4";
  run_ffmpeg(test_input(2) + kPqTags + "-c:v libx265 -x265-params log-level=none -pix_fmt yuv420p10le " + plain);
  const auto error_with = [&](const std::string& change) {
    run_ffmpeg("-i " + plain + " -c copy -bsf:v hevc_metadata=" + change + " " + clip);
    const auto reader = open_reader(clip);
    EXPECT_FALSE(reader) << change;
    return reader ? Error{} : reader.error();
  };
  EXPECT_EQ(error_with("matrix_coefficients=14").code, ErrorCode::unsupported);
  EXPECT_THAT(error_with("matrix_coefficients=14").message, HasSubstr("ICtCp"));
  EXPECT_THAT(error_with("matrix_coefficients=10").message, HasSubstr("constant luminance"));
  EXPECT_THAT(error_with("transfer_characteristics=4").advice, HasSubstr("--transfer"));
  EXPECT_THAT(error_with("colour_primaries=11").advice, HasSubstr("--primaries"));
  EXPECT_EQ(error_with("chroma_sample_loc_type=4").where.field, "siting");
}

TEST(Reader, TakesTheSitingOfTheStream) {
  const TempFolder folder;
  const std::string clip = folder / "a.mp4";
  run_ffmpeg(test_input(2) + kPqTags + "-c:v libx265 -x265-params log-level=none:chromaloc=2 -pix_fmt yuv420p10le " +
             clip);
  const auto reader = open_reader(clip);
  ASSERT_TRUE(reader) << reader.error().text();
  EXPECT_EQ((*reader)->info().format.siting, Siting::top_left);
}

TEST(Reader, StopsWhereTheSizeChangesAndNamesTheFrame) {
  const TempFolder folder;
  run_ffmpeg(test_input(3) + kPqTags + "-c:v libx265 -x265-params log-level=none " + folder / "a.hevc");
  run_ffmpeg(test_input(3, "192x96") + kPqTags + "-c:v libx265 -x265-params log-level=none " + folder / "b.hevc");
  put_file(folder / "c.hevc", bytes_of_file(folder / "a.hevc") + bytes_of_file(folder / "b.hevc"));
  const auto reader = open_reader(folder / "c.hevc");
  ASSERT_TRUE(reader) << reader.error().text();
  const Whole whole = read_on(**reader);
  EXPECT_EQ(whole.pictures.size(), 3U);
  EXPECT_THAT(whole.error, HasSubstr("frame 3: the picture size changes"));
}

TEST(Reader, TellsFilesApartByContentNotByName) {
  const TempFolder folder;
  const std::string liar = folder / "film.png", still = folder / "still.mp4";
  std::filesystem::copy_file(media("hdr10-av1.mp4"), liar);
  std::filesystem::copy_file(media("hdr_room.png"), still);
  const auto film = open_reader(liar), picture = open_reader(still);
  ASSERT_TRUE(film && picture);
  EXPECT_EQ((*film)->info().codec, "av1");
  EXPECT_EQ((*picture)->info().codec, "png");
}

TEST(Reader, RefusesWhatIsNoPicture) {
  const TempFolder folder;
  put_file(folder / "a.mp4", "no film at all, just words\n");
  put_file(folder / "empty.mov", "");
  run_ffmpeg("-f lavfi -i sine=d=0.2 " + folder / "sound.wav");
  EXPECT_EQ(open_reader(folder / "a.mp4").error().code, ErrorCode::invalid_input);
  EXPECT_EQ(open_reader(folder / "empty.mov").error().code, ErrorCode::invalid_input);
  EXPECT_THAT(open_reader(folder / "sound.wav").error().message, HasSubstr("no moving pictures"));
  EXPECT_EQ(open_reader(folder / "none.mov").error().code, ErrorCode::not_found);
  EXPECT_FALSE(open_reader("/dev/null"));
}

}  // namespace
}  // namespace provenit::programme::testing
