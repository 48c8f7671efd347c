// What clips say of themselves, as ffprobe reads it, and MaxCLL and MaxFALL.
#include <gmock/gmock.h>

#include <cmath>

#include "provenit/signal_files/clip.h"
#include "support.h"

namespace provenit::signal {
namespace {

class ClipLabels : public Files {};

constexpr Encoding kPq{}, kHlg{.transfer = Transfer::hlg},
    kTelevision{.transfer = Transfer::bt1886, .container = Container::bt709, .bits = 8, .nominal_peak_cdm2 = 100};

/// Rational text "13250/50000" as a number.
double number_of(const nlohmann::json& text) {
  const auto s = text.get<std::string>();
  const auto slash = s.find('/');
  return std::stod(s.substr(0, slash)) / std::stod(s.substr(slash + 1));
}

const nlohmann::json* side_data(const nlohmann::json& of, const std::string& type) {
  if (!of.contains("side_data_list")) return nullptr;
  for (const auto& item : of.at("side_data_list"))
    if (item.at("side_data_type") == type) return &item;
  return nullptr;
}

void expect_light(const nlohmann::json& of, int maxcll, int maxfall) {
  const auto* const content = side_data(of, "Content light level metadata");
  const auto* const mastering = side_data(of, "Mastering display metadata");
  ASSERT_TRUE(content != nullptr && mastering != nullptr) << of.dump(1);
  EXPECT_EQ(content->at("max_content"), maxcll);
  EXPECT_EQ(content->at("max_average"), maxfall);
  const std::pair<const char*, double> wanted[] = {
      {"red_x", 0.708},          {"red_y", 0.292},       {"green_x", 0.170},        {"green_y", 0.797},
      {"blue_x", 0.131},         {"blue_y", 0.046},      {"white_point_x", 0.3127}, {"white_point_y", 0.3290},
      {"min_luminance", 0.0001}, {"max_luminance", 1000}};
  for (const auto& [key, value] : wanted) EXPECT_NEAR(number_of(mastering->at(key)), value, 1e-9) << key;
}

TEST_F(ClipLabels, Hdr10SaysWhatItIs) {
  // A quarter at code 723 (566.9 cd/m2), the rest at 64: MaxCLL 567, MaxFALL 142. By hand: BT.2100-3 table 4.
  PatchGrid grid{.encoding = kPq, .columns = 2, .rows = 2, .patch_width = 64, .codes = {}};
  grid.codes = {{{723, 723, 64}}, {{64, 64, 64}}, {{64, 64, 64}}, {{64, 64, 64}}};
  const double x = std::pow((723 - 64) / 876.0, 32 / 2523.0);
  const double light = 10000 * std::pow((x - 0.8359375) / (18.8515625 - 18.6875 * x), 16384 / 2610.0);
  for (const char* name : {"a.mp4", "a.mov", "a.mkv", "f.mkv"}) {
    SCOPED_TRACE(name);
    const auto codec = name[0] == 'f' ? ClipCodec::ffv1 : ClipCodec::hevc;
    ASSERT_TRUE(write_clip(grid.source(), path(name), {.codec = codec}));
    const auto told = probe(path(name));
    const auto& stream = told.at("streams").at(0);
    const auto& frame = told.at("frames").at(0);
    EXPECT_EQ(stream.at("color_primaries"), "bt2020");
    EXPECT_EQ(stream.at("color_transfer"), "smpte2084");
    EXPECT_EQ(stream.at("color_space"), "bt2020nc");
    EXPECT_EQ(stream.at("color_range"), "tv");
    EXPECT_EQ(stream.at("chroma_location"), "topleft");
    EXPECT_EQ(stream.at("sample_aspect_ratio"), "1:1");
    EXPECT_EQ(told.at("streams").size(), 1U);
    if (codec == ClipCodec::hevc) {
      EXPECT_EQ(stream.at("profile"), "Main 10");
      if (name != std::string("a.mkv")) {
        EXPECT_EQ(stream.at("codec_tag_string"), "hvc1");
      }
      expect_light(frame, static_cast<int>(light + 0.5), static_cast<int>(light / 4 + 0.5));  // SEI
    }
    expect_light(stream, static_cast<int>(light + 0.5), static_cast<int>(light / 4 + 0.5));  // container
  }
}

TEST_F(ClipLabels, MetadataComesWithEveryKeyFrame) {
  const auto grid = patch_grid(kPq, 90);
  auto source = grid.source({24, 1}, 1);
  source.frames = 100;
  ASSERT_TRUE(write_clip(source, path("a.mp4"), {.crf = 20}));
  // The stream's own units, as they lie in the file: length, then a header whose type is 19 or 20 for a key frame and
  // 39 for SEI, whose first byte is the payload's type (Rec. ITU-T H.265, table 7-1, clauses 7.3.5 and D.2.1).
  const auto units = output_of(fmt::format("ffmpeg -v error -i '{}' -map 0:v -c copy -f data -", path("a.mp4")));
  int keys = 0, mastering = 0, content = 0;
  for (std::size_t at = 0; at + 6 < units.size();) {
    std::size_t length = 0;
    for (std::size_t i = 0; i < 4; ++i) length = length << 8 | static_cast<unsigned char>(units[at + i]);
    const int type = units[at + 4] >> 1 & 63;
    keys += type == 19 || type == 20 ? 1 : 0;
    mastering += type == 39 && static_cast<unsigned char>(units[at + 6]) == 137 ? 1 : 0;
    content += type == 39 && static_cast<unsigned char>(units[at + 6]) == 144 ? 1 : 0;
    at += 4 + length;
  }
  EXPECT_EQ(keys, 3);  // at 0, 2 and 4 seconds of 100 frames
  EXPECT_EQ(mastering, keys);
  EXPECT_EQ(content, keys);
}

TEST_F(ClipLabels, OthersSayWhatTheyAre) {
  struct Case {
    Encoding encoding;
    ClipFormat format;
    const char *primaries, *transfer, *matrix, *range, *location;
  };
  const ClipFormat rgb_ffv1{.codec = ClipCodec::ffv1, .chroma = ClipChroma::rgb};
  const Case cases[] = {
      {kHlg, {}, "bt2020", "arib-std-b67", "bt2020nc", "tv", "topleft"},
      {kTelevision, {}, "bt709", "bt709", "bt709", "tv", "left"},
      {{.transfer = Transfer::bt1886, .bits = 12, .nominal_peak_cdm2 = 100},
       {},
       "bt2020",
       "bt2020-12",
       "bt2020nc",
       "tv",
       "topleft"},
      {{.range = Range::full}, {.chroma = ClipChroma::c444}, "bt2020", "smpte2084", "bt2020nc", "pc", nullptr},
      {{.container = Container::p3_d65, .range = Range::full},
       {.chroma = ClipChroma::rgb},
       "smpte432",
       "smpte2084",
       "gbr",
       "pc",
       nullptr},
      {{.container = Container::p3_d65}, rgb_ffv1, "smpte432", "smpte2084", "gbr", "tv", nullptr},
  };
  for (const auto& c : cases) {
    SCOPED_TRACE(std::string(c.primaries) + c.transfer + c.range);
    const auto grid = patch_grid(c.encoding, 90);
    ASSERT_TRUE(write_clip(grid.source(), path("a.mkv"), c.format));
    const auto stream = probe(path("a.mkv")).at("streams").at(0);
    EXPECT_EQ(stream.at("color_primaries"), c.primaries);
    EXPECT_EQ(stream.at("color_transfer"), c.transfer);
    EXPECT_EQ(stream.at("color_space"), c.matrix);
    EXPECT_EQ(stream.at("color_range"), c.range);
    if (c.location != nullptr) {
      EXPECT_EQ(stream.at("chroma_location"), c.location);
    }
    const bool pq = c.encoding.transfer == Transfer::pq;
    EXPECT_EQ(side_data(stream, "Content light level metadata") != nullptr, pq);
  }
}

TEST_F(ClipLabels, LightOfHlgIsThatOfTheNominalPeak) {
  PatchGrid grid{.encoding = kHlg, .columns = 2, .rows = 1, .patch_width = 64, .patch_height = 64, .codes = {}};
  grid.codes = {{{940, 940, 940}}, {{64, 64, 64}}};
  ASSERT_TRUE(write_clip(grid.source(), path("a.mp4"), {.light = LightMetadata::written}));
  expect_light(probe(path("a.mp4")).at("frames").at(0), 1000, 500);
  ASSERT_TRUE(write_clip(patch_grid(kPq, 3).source(), path("a.mp4"), {.light = LightMetadata::left_out}));
  EXPECT_EQ(side_data(probe(path("a.mp4")).at("frames").at(0), "Content light level metadata"), nullptr);
}

TEST_F(ClipLabels, ContentLightIsTheLargestFrame) {
  FrameSource source{.size = {40, 20}, .frames = 3};
  // Frame 1 has the brightest pixel, frame 2 the brightest mean. Codes of 10, 1000 and 100 cd/m2 by BT.2100-3.
  source.row = [](int frame, int y) {
    std::vector<std::uint16_t> row(120, 64);
    for (std::size_t x = 0; x < 40; ++x)
      if (frame == 2)
        row[3 * x + x % 3] = 509;
      else if (frame == 1 && y == 3 && x < 2)
        row[3 * x] = 723;
    return row;
  };
  const auto level = content_light(source).value();
  const auto light = [](int code) {
    const double x = std::pow((code - 64) / 876.0, 32 / 2523.0);
    return 10000 * std::pow((x - 0.8359375) / (18.8515625 - 18.6875 * x), 16384 / 2610.0);
  };
  EXPECT_NEAR(level.maxcll_cdm2, light(723), 1e-9 * light(723));
  EXPECT_NEAR(level.maxfall_cdm2, light(509), 1e-9 * light(509));
}

}  // namespace
}  // namespace provenit::signal
