// Stills and sequences. Outside checks: pictures written by OpenImageIO or ffmpeg from samples known here; the same
// scene in BT.709 and in CIE XYZ (openexr-images).
#include <OpenColorIO/OpenColorIO.h>
#include <gmock/gmock.h>

#include <cmath>
#include <cstring>

#include "provenit/colour/primaries.h"
#include "provenit/programme/pixel.h"
#include "reader/exr_gamut.h"
#include "reader_clips.h"

namespace provenit::programme::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
namespace OCIO = OCIO_NAMESPACE;

ReaderOptions linear(double peak = 100) {
  ReaderOptions o;
  o.interpretation.peak_cdm2 = peak;
  return o;
}

Picture first_of(const std::string& path, const ReaderOptions& options = {}) {
  auto reader = open_reader(path, options);
  EXPECT_TRUE(reader) << reader.error().text();
  if (!reader) return {};
  auto picture = (*reader)->next();
  EXPECT_TRUE(picture && *picture);
  if (!picture || !*picture) return {};
  EXPECT_TRUE(check_picture(**picture));
  return **picture;
}

float sample(const Picture& p, std::size_t plane, int x, int y) {
  float v = 0;
  std::memcpy(&v, p.planes[plane].data + y * p.planes[plane].stride + 4 * x, 4);
  return v;
}

TEST(Still, LinearLightNeedsItsPeak) {
  const auto reader = open_reader(media("Rec709.exr"));
  ASSERT_FALSE(reader);
  EXPECT_EQ(reader.error().where.field, "peak");
  EXPECT_THAT(reader.error().advice, HasSubstr("--peak"));
}

// Rec709.exr and XYZ.exr are the same picture: equal light, whatever their primaries. Half floats: 2^-11 relative each.
TEST(Still, TheSamePictureInXyzHasTheSameLight) {
  const Picture rgb = first_of(media("Rec709.exr"), linear()), xyz = first_of(media("XYZ.exr"), linear());
  EXPECT_EQ(rgb.format.gamut, Gamut::bt709);
  EXPECT_EQ(xyz.format.gamut, Gamut::bt2020);
  ASSERT_EQ(rgb.format.width, 610);
  double worst = 0;
  for (int y = 0; y < 406; y += 3)
    for (int x = 0; x < 610; x += 3) {
      const auto a = pixel_at(rgb, x, y).xyz, b = pixel_at(xyz, x, y).xyz;
      worst = std::max({worst, std::abs(a.X - b.X) / (a.Y + 0.1), std::abs(a.Y - b.Y) / (a.Y + 0.1),
                        std::abs(a.Z - b.Z) / (a.Y + 0.1)});
    }
  EXPECT_LT(worst, 0.004);
}

// Facts of tests/programme/media/README.md.
TEST(Still, CountsSamplesThatAreNoLight) {
  auto reader = open_reader(media("BrightRingsNanInf.exr"), linear());
  ASSERT_TRUE(reader);
  EXPECT_THAT((*reader)->info().notes, Contains("12 pixels have a sample that is NaN or infinite"));
  const Picture wide = first_of(media("WideColorGamut.exr"), linear());
  EXPECT_EQ(wide.format.gamut, Gamut::bt709);
  int negative = 0;
  for (int y = 0; y < 800; ++y)
    for (int x = 0; x < 800; ++x)
      negative += sample(wide, 0, x, y) < 0 || sample(wide, 1, x, y) < 0 || sample(wide, 2, x, y) < 0 ? 1 : 0;
  EXPECT_NEAR(negative / 640000.0, 0.184, 0.0005);
}

TEST(Still, RadianceNeedsItsPrimaries) {
  const std::string file = media("venice_sunset_1k.hdr");
  EXPECT_EQ(open_reader(file, linear()).error().where.field, "primaries");
  ReaderOptions options = linear(1);
  options.interpretation.gamut = Gamut::bt709;
  const Picture p = first_of(file, options);
  double largest = 0;
  for (int y = 0; y < p.format.height; ++y)
    for (int x = 0; x < p.format.width; ++x)
      for (std::size_t c = 0; c < 3; ++c) largest = std::max(largest, static_cast<double>(sample(p, c, x, y)));
  EXPECT_NEAR(largest, 6496, 0.5);
}

TEST(ExrGamut, KnowsTheThreeAndConvertsOthers) {
  EXPECT_EQ(choose_gamut({.64, .33, .30, .60, .15, .06, .3127, .3290})->gamut, Gamut::bt709);
  EXPECT_EQ(choose_gamut({.68, .32, .265, .69, .15, .06, .3127, .3290})->gamut, Gamut::p3_d65);
  EXPECT_EQ(choose_gamut({.708, .292, .170, .797, .131, .046, .3127, .3290})->gamut, Gamut::bt2020);
  EXPECT_FALSE(choose_gamut({0, 0, 0, 0, 0, 0, 0, 0}));
  EXPECT_FALSE(choose_gamut({.3, .3, .3, .3, .3, .3, .3, .3}));
}

// Outside check: OpenColorIO 2.1's own transform of ACES2065-1 to XYZ of D65 by Bradford. Its white is that of CIE 15,
// one unit of the fourth decimal from the one here.
TEST(ExrGamut, AgreesWithOpenColorIo) {
  const auto ap0 = choose_gamut({.7347, .2653, 0, 1, .0001, -.077, .32168, .33767});
  ASSERT_TRUE(ap0 && ap0->to_gamut);
  EXPECT_EQ(ap0->gamut, Gamut::bt2020);
  EXPECT_THAT(ap0->note, HasSubstr("Bradford"));
  const auto builtin = OCIO::BuiltinTransform::Create();
  builtin->setStyle("UTILITY - ACES-AP0_to_CIE-XYZ-D65_BFD");
  const auto processor = OCIO::Config::CreateRaw()->getProcessor(builtin)->getDefaultCPUProcessor();
  const auto to_xyz = colour::rgb_to_xyz_matrix(colour::bt2020_primaries);
  for (const std::array<double, 3>& rgb : {std::array{1.0, 1.0, 1.0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {.2, .5, 3}}) {
    std::array<float, 3> theirs{static_cast<float>(rgb[0]), static_cast<float>(rgb[1]), static_cast<float>(rgb[2])};
    processor->applyRGB(theirs.data());
    const auto ours = to_xyz * (*ap0->to_gamut * rgb);
    for (std::size_t i = 0; i < 3; ++i) EXPECT_NEAR(ours[i], static_cast<double>(theirs[i]), 4e-4) << i;
  }
}

struct Kind {
  const char* name;
  const char* pixels;  // of the file
  const char* raw;     // planar, same samples
  int bits;
};
void PrintTo(const Kind& k, std::ostream* out) {
  *out << k.name;
}
class Files : public ::testing::TestWithParam<Kind> {};

// Written by ffmpeg, read by OpenImageIO: every code comes back.
TEST_P(Files, KeepEveryCode) {
  const Kind& kind = GetParam();
  const TempFolder folder;
  const std::string file = folder / kind.name, raw = folder / "raw.rgb";
  run_ffmpeg(test_input(1) + "-frames:v 1 -pix_fmt " + std::string(kind.pixels) + " " + file);
  run_ffmpeg("-i " + file + " -f rawvideo -pix_fmt " + kind.raw + " " + raw);
  ReaderOptions options = pq_options();
  options.interpretation.range = colour::Range::full;
  const Picture p = first_of(file, options);
  EXPECT_EQ(p.format.bits, kind.bits);
  std::string planes = samples_of(p);
  if (p.format.chroma == Chroma::rgb) planes = planes.substr(planes.size() / 3) + planes.substr(0, planes.size() / 3);
  EXPECT_EQ(planes == bytes_of_file(raw), true);
}

INSTANTIATE_TEST_SUITE_P(Formats, Files,
                         ::testing::Values(Kind{"a.png", "rgb48be", "gbrp16le", 16}, Kind{"b.png", "rgb24", "gbrp", 8},
                                           Kind{"c.png", "gray16be", "gray16le", 16},
                                           Kind{"d.tif", "rgb48le", "gbrp16le", 16}, Kind{"e.tif", "rgb24", "gbrp", 8},
                                           Kind{"f.dpx", "gbrp10be", "gbrp10le", 10},
                                           Kind{"g.dpx", "gbrp12le", "gbrp12le", 12},
                                           Kind{"h.dpx", "rgb48be", "gbrp16le", 16}),
                         [](const auto& one) { return test_name(one.param.name); });

// Colour beside alpha is not multiplied by it.
TEST(Still, AlphaDoesNotTouchColour) {
  const TempFolder folder;
  run_ffmpeg("-f lavfi -i color=c=0xff8040@0.25:s=16x16,format=rgba -frames:v 1 " + folder / "a.png");
  const Picture p = first_of(folder / "a.png", [] {
    ReaderOptions o = pq_options();
    o.interpretation.range = colour::Range::full;
    return o;
  }());
  EXPECT_EQ(static_cast<int>(*p.planes[0].data), 0xff);
  EXPECT_EQ(static_cast<int>(*p.planes[2].data), 0x40);
}

TEST(Still, UntaggedPicturesAreRefused) {
  const TempFolder folder;
  run_ffmpeg(test_input(1) + "-frames:v 1 -pix_fmt rgb24 " + folder / "a.png");
  run_ffmpeg(test_input(1) + "-frames:v 1 -pix_fmt rgb48le " + folder / "b.tif");
  run_ffmpeg(test_input(1) + "-frames:v 1 -pix_fmt gbrp10be " + folder / "c.dpx");
  EXPECT_EQ(open_reader(folder / "a.png").error().where.field, "transfer");
  EXPECT_EQ(open_reader(folder / "b.tif").error().where.field, "transfer");
  EXPECT_EQ(open_reader(folder / "c.dpx").error().where.field, "primaries");  // ffmpeg marks its DPX linear
}

TEST(Sequence, IsATitleInTheOrderOfItsNumbers) {
  const TempFolder folder;
  run_ffmpeg(test_input(12) + "-start_number 95 -pix_fmt rgb48be " + folder / "shot.%d.png");
  ReaderOptions options = pq_options();
  options.frame_rate_hz = 25;
  const Whole whole = read_whole(folder.path(), options);
  ASSERT_EQ(whole.error, "");
  ASSERT_EQ(whole.pictures.size(), 12U);
  EXPECT_EQ(whole.pictures[11].index, 11);
  EXPECT_DOUBLE_EQ(whole.pictures[11].time_s, 11 / 25.0);
  EXPECT_EQ(whole.pictures[7].hash, seen(first_of(folder / "shot.102.png", pq_options())).hash);
  EXPECT_EQ(read_whole(folder / "shot.###.png", options).pictures, whole.pictures);
  const auto index = index_frames(folder.path(), options);
  ASSERT_TRUE(index);
  EXPECT_EQ(index->key_frames.size(), 12U);
  EXPECT_DOUBLE_EQ(index->time_s[11], whole.pictures[11].time_s);
  const auto part = open_part(folder.path(), *index, 4, 9, options);
  ASSERT_TRUE(part);
  EXPECT_EQ(read_on(**part).pictures, std::vector<Seen>(whole.pictures.begin() + 4, whole.pictures.begin() + 9));

  run_ffmpeg(test_input(1, "64x64") + "-frames:v 1 -pix_fmt rgb48be " + folder / "shot.107.png");
  const Whole odd = read_whole(folder.path(), options);
  EXPECT_EQ(odd.pictures.size(), 12U);
  EXPECT_THAT(odd.error, HasSubstr("shot.107.png frame 12: is 64x64"));
  std::filesystem::remove(folder / "shot.99.png");
  EXPECT_THAT(read_whole(folder.path(), options).error, HasSubstr("missing 99"));
  run_ffmpeg(test_input(1) + "-frames:v 1 " + folder / "other.1.png");
  EXPECT_THAT(read_whole(folder.path(), options).error, HasSubstr("several sequences"));
  EXPECT_THAT(read_whole(folder / "none.##.png", options).error, HasSubstr("no file of this name"));
}

}  // namespace
}  // namespace provenit::programme::testing
