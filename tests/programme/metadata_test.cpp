// Static metadata and colour fields of real files, and of files made here: read as they are, never corrected.
#include <gmock/gmock.h>
#include <zlib.h>

#include "reader/isobmff.h"
#include "reader/png_chunks.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

// Big-endian.
std::string number(std::uint32_t value, int bytes) {
  std::string out;
  for (int i = bytes - 1; i >= 0; --i) out += static_cast<char>(value >> (8 * i) & 0xff);
  return out;
}

SourceInfo info_of(const std::string& path, const ReaderOptions& options = {}) {
  const auto reader = open_reader(path, options);
  EXPECT_TRUE(reader) << reader.error().text();
  return reader ? (*reader)->info() : SourceInfo{};
}

// tests/programme/media/README.md: the fields as ffprobe 5.1.9 prints them. Order and unit are the file's mistake.
TEST(Metadata, OfAMiswrittenClipIsReadAsItIs) {
  const SourceInfo info = info_of(media("hdr10-video-with-sdr-container.mp4"));
  EXPECT_EQ(describe(info.format),
            "1920x1080 10-bit 420 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma left");
  ASSERT_TRUE(info.metadata.mastering);
  const StaticMetadata::Mastering& m = *info.metadata.mastering;
  EXPECT_THAT(m.primaries_xy[0], ElementsAre(0.15, 0.06));
  EXPECT_THAT(m.primaries_xy[1], ElementsAre(0.68, 0.32));
  EXPECT_THAT(m.primaries_xy[2], ElementsAre(0.265, 0.69));
  EXPECT_THAT(m.white_xy, ElementsAre(0.3127, 0.329));
  EXPECT_DOUBLE_EQ(m.maximum_cdm2, 0.1);
  EXPECT_DOUBLE_EQ(m.minimum_cdm2, 0.005);
  EXPECT_EQ(info.metadata.maxcll_cdm2, 1000);
  EXPECT_EQ(info.metadata.maxfall_cdm2, 200);
  EXPECT_EQ(info.metadata.where, "SEI of frame 0");
  EXPECT_EQ(info.frames, 28);
  EXPECT_THAT(info.notes, Contains(HasSubstr("ST 2094-40")));
}

TEST(Metadata, OfAnAv1ClipWithoutAny) {
  const SourceInfo info = info_of(media("hdr10-av1.mp4"));
  EXPECT_EQ(describe(info.format),
            "720x1280 10-bit 420 narrow, transfer pq, primaries bt2020, matrix bt2020_ncl, chroma left");
  EXPECT_EQ(info.metadata, StaticMetadata{});
  EXPECT_EQ(info.frames, 127);
  EXPECT_EQ(info.frame_rate_numerator, 30000);
  EXPECT_EQ(info.frame_rate_denominator, 1001);
}

// Values of x265's options; ffmpeg's own SEI parser reads them back (ffprobe), so does this.
TEST(Metadata, OfHevcSei) {
  const TempFolder folder;
  run_ffmpeg(test_input(3) + kPqTags +
             "-pix_fmt yuv420p10le -c:v libx265 -x265-params \"log-level=none:hdr10=1:max-cll=1234,567:"
             "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(40000000,50)\" " +
             folder / "a.mp4");
  const SourceInfo sei = info_of(folder / "a.mp4");
  ASSERT_TRUE(sei.metadata.mastering);
  EXPECT_THAT(sei.metadata.mastering->primaries_xy[0], ElementsAre(0.68, 0.32));
  EXPECT_THAT(sei.metadata.mastering->primaries_xy[1], ElementsAre(0.265, 0.69));
  EXPECT_THAT(sei.metadata.mastering->primaries_xy[2], ElementsAre(0.15, 0.06));
  EXPECT_DOUBLE_EQ(sei.metadata.mastering->maximum_cdm2, 4000);
  EXPECT_DOUBLE_EQ(sei.metadata.mastering->minimum_cdm2, 0.005);
  EXPECT_EQ(sei.metadata.maxcll_cdm2, 1234);
  EXPECT_EQ(sei.metadata.maxfall_cdm2, 567);
  EXPECT_EQ(sei.metadata.where, "SEI of frame 0");
}

TEST(Metadata, OfAnAv1MetadataUnit) {
  const TempFolder folder;
  run_ffmpeg(test_input(3) + kPqTags +
             "-pix_fmt yuv420p10le -c:v libsvtav1 -preset 12 -svtav1-params \"content-light=1234,567:"
             "mastering-display=G(0.265,0.69)B(0.15,0.06)R(0.68,0.32)WP(0.3127,0.329)L(1000,0.005)\" " +
             folder / "a.mp4");
  const SourceInfo info = info_of(folder / "a.mp4");
  ASSERT_TRUE(info.metadata.mastering);
  EXPECT_NEAR(info.metadata.mastering->primaries_xy[0][0], 0.68, 1e-5);  // 16-bit fixed point
  EXPECT_NEAR(info.metadata.mastering->primaries_xy[1][1], 0.69, 1e-5);
  EXPECT_DOUBLE_EQ(info.metadata.mastering->maximum_cdm2, 1000);
  EXPECT_EQ(info.metadata.maxcll_cdm2, 1234);
  EXPECT_EQ(info.metadata.maxfall_cdm2, 567);
  EXPECT_EQ(info.metadata.where, "metadata OBU of frame 0");
}

// ISO/IEC 14496-12, 12.1.5 and 12.1.6: boxes put into the sample entry of a film whose bitstream has no SEI of the
// kind.
TEST(Metadata, OfTheContainerAlone) {
  const TempFolder folder;
  run_ffmpeg(test_input(3) + kPqTags + "-c:v libx264 -pix_fmt yuv420p " + folder / "a.mp4");
  std::string mastering;
  for (const unsigned v : {13250U, 34500U, 7500U, 3000U, 34000U, 16000U, 15635U, 16450U}) mastering += number(v, 2);
  const std::string boxes = number(32, 4) + "mdcv" + mastering + number(20000000, 4) + number(1, 4) + number(12, 4) +
                            "clli" + number(900, 2) + number(180, 2);
  std::string file = bytes_of_file(folder / "a.mp4");
  const auto size_at = [&file](std::size_t at) {
    std::uint32_t size = 0;
    for (std::size_t i = 0; i < 4; ++i) size = size << 8 | static_cast<std::uint8_t>(file[at + i]);
    return size;
  };
  std::size_t at = 0, end = 0;  // moov stands behind the samples, so that their places stay
  for (const char* kind : {"moov", "trak", "mdia", "minf", "stbl", "stsd", "avc1"}) {
    at = file.find(kind, at) - 4;
    const std::uint32_t size = size_at(at);
    end = at + size;
    file.replace(at, 4, number(size + static_cast<std::uint32_t>(boxes.size()), 4));
    at += 4;
  }
  file.insert(end, boxes);
  put_file(folder / "b.mp4", file);
  const SourceInfo info = info_of(folder / "b.mp4");
  ASSERT_TRUE(info.metadata.mastering);
  EXPECT_THAT(info.metadata.mastering->primaries_xy[0], ElementsAre(0.68, 0.32));
  EXPECT_THAT(info.metadata.mastering->primaries_xy[2], ElementsAre(0.15, 0.06));
  EXPECT_DOUBLE_EQ(info.metadata.mastering->maximum_cdm2, 2000);
  EXPECT_DOUBLE_EQ(info.metadata.mastering->minimum_cdm2, 0.0001);
  EXPECT_EQ(info.metadata.maxcll_cdm2, 900);
  EXPECT_EQ(info.metadata.maxfall_cdm2, 180);
  EXPECT_EQ(info.metadata.where, "container");
}

TEST(Metadata, OfAvifIsInItsBoxes) {
  const auto light = [](const char* name) {
    const SourceInfo info = info_of(media(name));
    EXPECT_EQ(info.metadata.where, "clli box");
    EXPECT_FALSE(info.metadata.mastering);
    return std::pair(info.metadata.maxcll_cdm2.value_or(-1), info.metadata.maxfall_cdm2.value_or(-1));
  };
  EXPECT_EQ(light("seine_hdr_rec2020.avif"), std::pair(703, 165));
  EXPECT_EQ(light("colors_hdr_rec2020.avif"), std::pair(470, 263));
  EXPECT_EQ(light("colors_hdr_p3.avif"), std::pair(470, 263));
  EXPECT_EQ(light("colors_wcg_hdr_rec2020.avif"), std::pair(506, 269));
  EXPECT_EQ(describe(info_of(media("seine_hdr_rec2020.avif")).format),
            "400x300 10-bit 444 full, transfer pq, primaries bt2020, matrix bt2020_ncl");
  EXPECT_EQ(describe(info_of(media("colors_hdr_p3.avif")).format),
            "200x200 10-bit 444 full, transfer pq, primaries p3_d65, matrix bt601");
}

TEST(Metadata, OfAPngIsInItsChunks) {
  const SourceInfo info = info_of(media("hdr_room.png"));
  EXPECT_EQ(describe(info.format), "676x449 16-bit rgb full, transfer hlg, primaries bt2020, peak 1000 cd/m2");
}

// A PNG chunk by the specification: length, type, data, CRC of type and data.
std::string chunk(const std::string& kind, const std::string& data) {
  const std::string both = kind + data;
  const auto crc = crc32(0, reinterpret_cast<const Bytef*>(both.data()), static_cast<uInt>(both.size()));
  return number(static_cast<std::uint32_t>(data.size()), 4) + both + number(static_cast<std::uint32_t>(crc), 4);
}
std::string png_with(const std::string& chunks) {
  return "\x89PNG\r\n\x1a\n" + chunk("IHDR", number(2, 4) + number(1, 4) + std::string("\x10\x02\0\0\0", 5)) + chunks +
         chunk("IDAT", "") + chunk("IEND", "");
}

// PNG third edition 11.3.2.7 mDCV: R, G, B, white in 0.00002; maximum, minimum in 0.0001 cd/m2. 11.3.2.8 cLLI: 0.0001.
TEST(PngChunks, AreReadInBothSpellings) {
  std::string mastering;
  for (const unsigned v : {35400U, 14600U, 8500U, 39850U, 6550U, 2300U, 15635U, 16450U}) mastering += number(v, 2);
  mastering += number(40000000, 4) + number(50, 4);
  const std::string light = number(12340000, 4) + number(5670000, 4);
  for (const bool old : {false, true}) {
    const std::string file = png_with(chunk("cICP", std::string("\x09\x10\0\x01", 4)) +
                                      chunk(old ? "mDCv" : "mDCV", mastering) + chunk(old ? "cLLi" : "cLLI", light));
    const auto facts = read_png_chunks(bytes_of(file));
    ASSERT_TRUE(facts) << facts.error().text();
    EXPECT_EQ(facts->bits, 16);
    ASSERT_TRUE(facts->cicp);
    EXPECT_EQ(facts->cicp->primaries, 9);
    EXPECT_EQ(facts->cicp->transfer, 16);
    EXPECT_EQ(facts->cicp->range, colour::Range::full);
    ASSERT_TRUE(facts->metadata.mastering);
    EXPECT_DOUBLE_EQ(facts->metadata.mastering->primaries_xy[0][0], 0.708);
    EXPECT_DOUBLE_EQ(facts->metadata.mastering->primaries_xy[1][1], 0.797);
    EXPECT_DOUBLE_EQ(facts->metadata.mastering->white_xy[0], 0.3127);
    EXPECT_DOUBLE_EQ(facts->metadata.mastering->maximum_cdm2, 4000);
    EXPECT_DOUBLE_EQ(facts->metadata.mastering->minimum_cdm2, 0.005);
    EXPECT_EQ(facts->metadata.maxcll_cdm2, 1234);
    EXPECT_EQ(facts->metadata.maxfall_cdm2, 567);
    EXPECT_EQ(facts->metadata.where, old ? "mDCv chunk, cLLi chunk" : "mDCV chunk, cLLI chunk");
  }
}

TEST(PngChunks, BrokenOnesAreToldAndNotUsed) {
  std::string cicp = chunk("cICP", std::string("\x09\x10\0\x01", 4));
  cicp.back() = static_cast<char>(cicp.back() ^ 1);
  const std::string file = png_with(cicp + chunk("cLLI", "abc") + chunk("cICP", std::string("\x09\x10\x09\x01", 4)));
  const auto facts = read_png_chunks(bytes_of(file));
  ASSERT_TRUE(facts);
  EXPECT_FALSE(facts->cicp);
  EXPECT_FALSE(facts->metadata.maxcll_cdm2);
  EXPECT_THAT(facts->problems, ElementsAre(HasSubstr("cICP fails its check sum"), HasSubstr("cLLI is malformed"),
                                           HasSubstr("cICP is malformed")));
}

TEST(PngChunks, EveryCutOffHeadIsAnError) {
  const std::string file = png_with(chunk("cICP", std::string("\x09\x10\0\x01", 4)));
  for (std::size_t n = 0; n < file.size(); ++n) EXPECT_FALSE(read_png_chunks(bytes_of(file.substr(0, n)))) << n;
}

TEST(PngChunks, SrgbIsEnoughAndGammaIsNot) {
  std::vector<std::string> notes;
  const auto fields = [&notes](const std::string& chunks) {
    const std::string file = png_with(chunks);
    return fields_of(*read_png_chunks(bytes_of(file)), notes);
  };
  const auto srgb = fields(chunk("sRGB", std::string(1, '\0')) + chunk("gAMA", number(45455, 4)));
  ASSERT_TRUE(srgb);
  EXPECT_EQ(srgb->transfer, 13);
  EXPECT_EQ(srgb->primaries, 1);
  EXPECT_FALSE(fields(chunk("gAMA", number(45455, 4))));
  EXPECT_THAT(notes, Contains(HasSubstr("gAMA 0.45455")));
}

TEST(AvifBoxes, OfARealFile) {
  const std::string file = bytes_of_file(media("colors_hdr_p3.avif"));
  EXPECT_TRUE(is_avif_still(bytes_of(file)));
  const auto facts = read_avif_boxes(bytes_of(file));
  ASSERT_TRUE(facts) << facts.error().text();
  EXPECT_EQ(facts->item_type, "av01");
  EXPECT_EQ(facts->width, 200U);
  EXPECT_EQ(facts->height, 200U);
  EXPECT_THAT(facts->bits, ElementsAre(10, 10, 10));
  ASSERT_TRUE(facts->colour);
  EXPECT_EQ(facts->colour->primaries, 12);
  EXPECT_EQ(facts->colour->transfer, 16);
  EXPECT_EQ(facts->colour->matrix, 6);
}

// The nclx box stands above the bitstream; the file is made to contradict itself.
TEST(AvifBoxes, StandAboveTheBitstream) {
  const TempFolder folder;
  std::string file = bytes_of_file(media("colors_hdr_rec2020.avif"));
  const std::size_t at = file.find("nclx");
  ASSERT_NE(at, std::string::npos);
  ASSERT_EQ(file[at + 7], 16);
  file[at + 7] = 18;  // HLG
  put_file(folder / "a.avif", file);
  const SourceInfo info = info_of(folder / "a.avif");
  EXPECT_EQ(info.format.transfer, Transfer::hlg);
  EXPECT_THAT(info.notes, Contains(HasSubstr("transfer: the nclx box says 18, the bitstream says 16")));
}

}  // namespace
}  // namespace provenit::programme::testing
