#include "provenit/signal_files/clip.h"

#include <gmock/gmock.h>

#include <cmath>

#include "support.h"

namespace provenit::signal {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

class Clip : public Files {};

/// Y', Cb, Cr by hand: Rec. ITU-R BT.709-6 and BT.2020-2 (shares of luma), BT.2100-3 (codes), one rounding. A signal a
/// hair below a tie counts as one: full range has ties at the ends of Cb and Cr. Not clamped: the grids stay between
/// black and peak.
std::array<int, 3> ycbcr_of(const Encoding& e, const CodeRgb& code) {
  const long double step = 1 << (e.bits - 8), top = (1 << e.bits) - 1;
  const auto signal = [&](int c) {
    return e.range == Range::narrow ? (c - 16 * step) / (219 * step) : static_cast<long double>(c) / top;
  };
  const long double r = signal(code.code[0]), g = signal(code.code[1]), b = signal(code.code[2]);
  const bool wide = e.container == Container::bt2020;
  const long double kr = wide ? 0.2627L : 0.2126L, kb = wide ? 0.0593L : 0.0722L;
  const long double y = kr * r + (1 - kr - kb) * g + kb * b;
  const long double cb = (b - y) / (2 * (1 - kb)), cr = (r - y) / (2 * (1 - kr));
  const auto luma = [&](long double v) { return e.range == Range::narrow ? (219 * v + 16) * step : top * v; };
  const auto chroma = [&](long double v) {
    return e.range == Range::narrow ? (224 * v + 128) * step : std::min(top * v + 128 * step, top);
  };
  const auto rounded = [](long double v) { return static_cast<int>(std::floor(v + 0.5L + 1e-11L)); };
  return {rounded(luma(y)), rounded(chroma(cb)), rounded(chroma(cr))};
}

struct Layout {
  ClipChroma chroma;
  int across, down;
  const char* format;
};
constexpr Layout k420{ClipChroma::c420, 2, 2, "yuv420p"}, k422{ClipChroma::c422, 2, 1, "yuv422p"},
    k444{ClipChroma::c444, 1, 1, "yuv444p"}, kRgb{ClipChroma::rgb, 1, 1, "gbrp"};

/// A decoded clip: samples of each frame's planes.
struct Decoded {
  std::vector<std::uint16_t> samples;
  RasterSize size;
  Layout layout;

  [[nodiscard]] std::size_t per_frame() const {
    const auto luma = std::size_t(size.width) * size.height;
    return luma + 2 * (luma / (layout.across * layout.down));
  }
  [[nodiscard]] int frames() const { return static_cast<int>(samples.size() / per_frame()); }
  /// Sample of component c (Y', Cb, Cr or R', G', B') that stands for the luma pixel x, y.
  [[nodiscard]] int at(int frame, std::size_t c, int x, int y) const {
    const auto luma = std::size_t(size.width) * size.height;
    const auto plane = layout.chroma == ClipChroma::rgb ? (c + 2) % 3 : c;
    const int across = plane == 0 ? 1 : layout.across, down = plane == 0 ? 1 : layout.down;
    const auto start = plane == 0 ? 0 : luma + (plane - 1) * (luma / (layout.across * layout.down));
    return samples.at(frame * per_frame() + start + std::size_t(y / down) * (size.width / across) + x / across);
  }
};

Decoded decode(const std::string& file, const PatchGrid& grid, const Layout& layout) {
  Decoded out{.samples = {}, .size = grid.size(), .layout = layout};
  const int bits = grid.encoding.bits;
  if (bits == 8) {
    const auto bytes = decoded<std::uint8_t>(file, std::string(layout.format) + "  ");
    out.samples.assign(bytes.begin(), bytes.end());
  } else {
    out.samples = decoded<std::uint16_t>(file, fmt::format("{}{}le", layout.format, bits));
  }
  return out;
}

/// Every patch, all of it but a border of two pixels, in every frame: within `off` codes of the intended ones.
void expect_patches(const Decoded& read, const PatchGrid& grid, int frames, int off = 0) {
  ASSERT_EQ(read.frames(), frames);
  for (int frame = 0; frame < frames; ++frame)
    for (int y = 0; y < grid.size().height; ++y)
      for (int x = 0; x < grid.size().width; ++x) {
        const int left = x % grid.patch_width, top = y % grid.patch_height;
        const int border = off == 0 ? 2 : 8;
        if (std::min(left, top) < border || left >= grid.patch_width - border || top >= grid.patch_height - border)
          continue;
        const auto& code = grid.at(x, y);
        const auto wanted = read.layout.chroma == ClipChroma::rgb ? code.code : ycbcr_of(grid.encoding, code);
        for (std::size_t c = 0; c < 3; ++c)
          ASSERT_NEAR(read.at(frame, c, x, y), wanted[c], off) << frame << ": " << x << ' ' << y << ' ' << c;
      }
}

constexpr Encoding kPq{}, kHlg{.transfer = Transfer::hlg},
    kTelevision{.transfer = Transfer::bt1886, .container = Container::bt709, .bits = 8, .nominal_peak_cdm2 = 100};

TEST_F(Clip, LosslessHevcHoldsTheCodesOfEveryPatch) {
  struct Case {
    Encoding encoding;
    Layout layout;
    const char* ending;
  };
  const Case cases[] = {
      {kPq, k420, "mp4"},
      {kHlg, k420, "mov"},
      {kTelevision, k420, "mkv"},
      {kPq, k422, "mkv"},
      {{.container = Container::p3_d65, .bits = 12, .range = Range::full}, k444, "mp4"},
      {{.transfer = Transfer::bt1886, .bits = 12, .nominal_peak_cdm2 = 100}, k420, "mkv"},
      {{.range = Range::full}, kRgb, "mp4"},
      {kTelevision, kRgb, "mkv"},
  };
  unsigned seed = 1;
  for (const auto& [encoding, layout, ending] : cases) {
    SCOPED_TRACE(fmt::format("{} {} {}", seed, layout.format, ending));
    const auto grid = patch_grid(encoding, seed++);
    const auto file = path(fmt::format("a.{}", ending));
    const auto written = write_clip(grid.source({25, 1}, 3), file, {.chroma = layout.chroma});
    ASSERT_TRUE(written) << written.error().text();
    expect_patches(decode(file, grid, layout), grid, 3);
  }
}

TEST_F(Clip, VisuallyLosslessHevcIsWithinOneCode) {
  unsigned seed = 20;
  for (const auto& encoding : {kPq, kHlg, kTelevision})
    for (const auto& layout : {k420, k444}) {
      SCOPED_TRACE(seed);
      const auto grid = patch_grid(encoding, seed++);
      ASSERT_TRUE(
          write_clip(grid.source({24, 1}, 4), path("a.mp4"), {.chroma = layout.chroma, .crf = visually_lossless_crf}));
      expect_patches(decode(path("a.mp4"), grid, layout), grid, 4, 1);
    }
}

TEST_F(Clip, Ffv1HoldsEveryCode) {
  for (const int bits : {10, 12, 16})
    for (const auto range : {Range::narrow, Range::full}) {
      const auto grid = patch_grid({.bits = bits, .range = range}, 30U + bits, true, 12);
      ASSERT_TRUE(write_clip(grid.source(), path("a.mkv"), {.codec = ClipCodec::ffv1, .chroma = ClipChroma::rgb}));
      const auto read = decode(path("a.mkv"), grid, kRgb);
      ASSERT_EQ(read.frames(), 1);
      for (int y = 0; y < grid.size().height; ++y)
        for (int x = 0; x < grid.size().width; ++x)
          for (std::size_t c = 0; c < 3; ++c) ASSERT_EQ(read.at(0, c, x, y), grid.at(x, y).code[c]);
    }
  for (const auto& layout : {k420, k422, k444}) {
    const auto grid = patch_grid({.bits = 16, .range = Range::full}, 50);
    ASSERT_TRUE(write_clip(grid.source(), path("a.mkv"), {.codec = ClipCodec::ffv1, .chroma = layout.chroma}));
    expect_patches(decode(path("a.mkv"), grid, layout), grid, 1);
  }
}

TEST_F(Clip, Ffv1Of8BitsIsPackedRgb) {
  const auto grid = patch_grid(kTelevision, 60, true, 12);
  ASSERT_TRUE(write_clip(grid.source(), path("a.mkv"), {.codec = ClipCodec::ffv1, .chroma = ClipChroma::rgb}));
  const auto read = decoded<std::uint8_t>(path("a.mkv"), "bgr0  ");
  ASSERT_EQ(read.size(), 4U * grid.size().width * grid.size().height);
  for (int y = 0; y < grid.size().height; ++y)
    for (int x = 0; x < grid.size().width; ++x)
      for (std::size_t c = 0; c < 3; ++c)
        ASSERT_EQ(read[4U * (y * grid.size().width + x) + 2 - c], grid.at(x, y).code[c]);
}

TEST_F(Clip, CodesOfAPatchAreThoseOfTheFile) {
  for (const auto& encoding : {kPq, kHlg, kTelevision, Encoding{.bits = 16, .range = Range::full}})
    for (const auto& code : patch_grid(encoding, 70).codes) {
      EXPECT_EQ(clip_codes(encoding, ClipChroma::c420, code), ycbcr_of(encoding, code));
      EXPECT_EQ(clip_codes(encoding, ClipChroma::rgb, code), code.code);
    }
  // Greys keep their code, and have no chroma.
  EXPECT_EQ(clip_codes(kPq, ClipChroma::c420, {{723, 723, 723}}), (std::array{723, 512, 512}));
}

/// Chroma of a picture of single pixels, filtered by hand from the definition in clip.h.
TEST_F(Clip, ChromaIsFilteredAboutItsPlace) {
  for (const bool top_left : {true, false}) {
    Encoding encoding = top_left ? kPq : kTelevision;
    encoding.bits = 10;
    PatchGrid grid{.encoding = encoding, .columns = 48, .rows = 32, .patch_width = 1, .patch_height = 1, .codes = {}};
    std::mt19937 random(80);
    for (int i = 0; i < grid.columns * grid.rows; ++i) {
      const auto code = [&] { return static_cast<int>(64 + random() % 877); };
      const int r = code(), g = code(), b = code();
      grid.codes.push_back({{r, g, b}});
    }
    const auto cb_of = [&](int x, int y) {
      const auto& c = grid.at(std::max(x, 0), std::max(y, 0)).code;
      const double kr = top_left ? 0.2627 : 0.2126, kb = top_left ? 0.0593 : 0.0722;
      const auto s = [](int v) { return (v - 64) / 876.0; };
      return (s(c[2]) - kr * s(c[0]) - kb * s(c[2]) - (1 - kr - kb) * s(c[1])) / (2 - 2 * kb);
    };
    const auto across = [&](int x, int y) { return (cb_of(x - 1, y) + 2 * cb_of(x, y) + cb_of(x + 1, y)) / 4; };
    const auto file = path("a.mkv");
    for (const auto& layout : {k420, k422}) {
      ASSERT_TRUE(write_clip(grid.source(), file, {.codec = ClipCodec::ffv1, .chroma = layout.chroma}));
      const auto read = decode(file, grid, layout);
      for (int y = 0; y < grid.rows; y += layout.down)
        for (int x = 0; x < grid.columns; x += 2) {
          const double value = layout.down == 1 ? across(x, y)
                               : top_left       ? (across(x, y - 1) + 2 * across(x, y) + across(x, y + 1)) / 4
                                                : (across(x, y) + across(x, y + 1)) / 2;
          ASSERT_NEAR(read.at(0, 1, x, y), 512 + 896 * value, 0.5 + 1e-9) << x << ' ' << y;
          ASSERT_EQ(read.at(0, 0, x, y), ycbcr_of(encoding, grid.at(x, y))[0]);
        }
    }
  }
}

TEST_F(Clip, FramesComeInOrderAndAreHeld) {
  // Frame i is a grey of code 100 + 10 i, held for i % 3 + 1 video frames.
  FrameSource source{.size = {64, 64}, .frames = 7, .rate = {30000, 1001}};
  source.row = [](int frame, int) {
    return std::vector<std::uint16_t>(3 * 64, static_cast<std::uint16_t>(100 + 10 * frame));
  };
  source.hold = [](int frame) { return frame % 3 + 1; };
  std::vector<int> wanted;
  for (int frame = 0; frame < 7; ++frame) wanted.insert(wanted.end(), frame % 3 + 1, 100 + 10 * frame);
  for (const auto& [name, format] : {std::pair{"a.mp4", ClipFormat{}},
                                     {"a.mov", ClipFormat{.crf = 12}},
                                     {"a.mkv", ClipFormat{}},
                                     {"b.mkv", ClipFormat{.codec = ClipCodec::ffv1}}}) {
    SCOPED_TRACE(name);
    ASSERT_TRUE(write_clip(source, path(name), format));
    const auto samples = decoded<std::uint16_t>(path(name), "yuv420p10le");
    constexpr std::size_t kPerFrame = 64 * 64 * 3 / 2;
    std::vector<int> read;
    for (std::size_t at = 64 * 32; at < samples.size(); at += kPerFrame) read.push_back(samples[at]);
    EXPECT_EQ(read, wanted);
    const auto packets = nlohmann::json::parse(
        output_of(fmt::format("ffprobe -v error -of json -show_packets -show_streams '{}'", path(name))));
    EXPECT_EQ(packets.at("streams").at(0).at("r_frame_rate"), "30000/1001");
    EXPECT_EQ(packets.at("streams").at(0).at("avg_frame_rate"), "30000/1001");
    const auto& list = packets.at("packets");
    ASSERT_EQ(list.size(), wanted.size());
    for (std::size_t i = 0; i < list.size(); ++i) {
      // Matroska counts in milliseconds.
      EXPECT_NEAR(std::stod(list[i].at("pts_time").get<std::string>()), double(i) * 1001 / 30000, 6e-4);
      const bool first_of_held =
          i == 0 || (wanted[i] != wanted[i - 1] && i + 1 < wanted.size() && wanted[i + 1] == wanted[i]);
      if (first_of_held) {
        EXPECT_EQ(list[i].at("flags").get<std::string>()[0], 'K') << i;
      }
    }
  }
}

TEST_F(Clip, APictureThatComesBackIsDecodedAsItIs) {
  // Held and moving in turn: greys of 8 levels, of which the last four frames bring back the first.
  const std::vector<int> level{0, 1, 2, 3, 4, 5, 0, 6, 1, 7}, first{0, 1, 2, 3, 4, 5, 0, 7, 1, 9},
      hold{3, 1, 1, 4, 1, 1, 2, 1, 3, 1};
  FrameSource source{.size = {64, 64}, .frames = 10, .rate = {24, 1}};
  std::vector<int> made;
  source.row = [&](int frame, int y) {
    if (y == 0) made.push_back(frame);
    return std::vector<std::uint16_t>(3 * 64, static_cast<std::uint16_t>(100 + 50 * level[frame] + y));
  };
  source.hold = [&](int frame) { return hold[frame]; };
  source.same_as = [&](int frame) { return first[frame]; };
  for (const auto& [name, format] :
       {std::pair{"a.mp4", ClipFormat{.light = LightMetadata::left_out}},
        {"b.mkv", ClipFormat{.codec = ClipCodec::ffv1, .light = LightMetadata::left_out}}}) {
    SCOPED_TRACE(name);
    made.clear();
    ASSERT_TRUE(write_clip(source, path(name), format));
    EXPECT_EQ(std::ranges::count(made, 6), 0) << "made anew though it was kept";
    const auto samples = decoded<std::uint16_t>(path(name), "yuv420p10le");
    std::size_t at = 0;
    for (int frame = 0; frame < 10; ++frame)
      for (int i = 0; i < hold[frame]; ++i, at += 64 * 64 * 3 / 2)
        for (const int y : {0, 31, 63}) {
          ASSERT_LT(at, samples.size());
          EXPECT_EQ(samples[at + 64 * y + 20], 100 + 50 * level[frame] + y) << "frame " << frame << ", " << i;
        }
    EXPECT_EQ(at, samples.size());
  }
  source.same_as = [](int frame) { return frame == 4 ? 5 : frame; };
  const auto later = write_clip(source, path("c.mp4"), {});
  ASSERT_FALSE(later);
  EXPECT_EQ(later.error().where.field, "same_as");
}

TEST_F(Clip, SameSourceSameBytes) {
  const auto source = patch_grid(kPq, 5).source({24, 1}, 2);
  for (const char* name : {"a.mp4", "a.mkv"}) {
    ASSERT_TRUE(write_clip(source, path(name), {}));
    const auto before = read_file(path(name)).value();
    ASSERT_TRUE(write_clip(source, path(name), {}));
    EXPECT_TRUE(read_file(path(name)).value() == before);
    EXPECT_THAT(before, testing::Not(HasSubstr("x265")));
  }
}

TEST_F(Clip, WhatCannotBeWrittenLeavesNothing) {
  auto noise = patch_grid(kPq, 3).source();
  noise.frames = 12;
  noise.row = [](int frame, int y) {
    std::mt19937 random(static_cast<unsigned>(1000 * frame + y));
    std::vector<std::uint16_t> row(3 * 192);
    for (auto& code : row) code = static_cast<std::uint16_t>(64 + random() % 877);
    return row;
  };
  for (const char* ending : {"mp4", "mkv"}) {
    const ClipFormat format{.codec = ending[1] == 'k' ? ClipCodec::ffv1 : ClipCodec::hevc};
    const auto missing = write_clip(noise, path(fmt::format("no/a.{}", ending)), format);
    ASSERT_FALSE(missing);
    EXPECT_EQ(missing.error().code, ErrorCode::io);
    EXPECT_THAT(missing.error().message, HasSubstr("No such file"));
    const auto file = path(fmt::format("a.{}", ending));
    std::filesystem::create_directory(file);
    EXPECT_FALSE(write_clip(noise, file, format));
    std::filesystem::remove(file);
    ASSERT_TRUE(write_clip(noise, file, format));
    const rlim_t whole = std::filesystem::file_size(file);
    std::filesystem::remove(file);
    for (const rlim_t room : {rlim_t{100}, rlim_t{3000}, whole / 2, whole - 1}) {
      const FullDisk full(room);
      const auto written = write_clip(noise, file, format);
      ASSERT_FALSE(written) << room;
      EXPECT_EQ(written.error().code, ErrorCode::io);
      EXPECT_EQ(written.error().where.file, file);
    }
    EXPECT_THAT(names(), IsEmpty());
  }
}

TEST_F(Clip, CanBeStopped) {
  const auto source = patch_grid(kPq, 3).source({24, 1}, 20);
  std::vector<std::pair<int, int>> seen;
  for (const int stop : {1, 5}) {
    const auto written = write_clip(source, path("a.mp4"), {}, [&](int done, int total) {
      seen.emplace_back(done, total);
      return done < stop;
    });
    ASSERT_FALSE(written);
    EXPECT_EQ(written.error().code, ErrorCode::cancelled);
    EXPECT_EQ(seen.back(), std::pair(stop, 21));  // one frame read for its light, 20 written
    EXPECT_THAT(names(), IsEmpty());
  }
}

TEST_F(Clip, WrongInputIsNamed) {
  const auto grid = patch_grid(kPq, 3);
  const auto source = grid.source();
  const auto error_of = [&](const FrameSource& s, const char* name, const ClipFormat& format) {
    const auto written = write_clip(s, path(name), format);
    EXPECT_FALSE(written);
    EXPECT_THAT(names(), IsEmpty());
    return written ? Error{} : written.error();
  };
  EXPECT_EQ(error_of(source, "a.avi", {}).code, ErrorCode::unsupported);
  EXPECT_THAT(error_of(source, "a.mp4", {.codec = ClipCodec::ffv1}).message, HasSubstr(".mkv only"));
  EXPECT_EQ(error_of(source, "a.mp4", {.crf = 60}).where.field, "crf");
  EXPECT_EQ(error_of(source, "a.mp4", {.crf = std::nan("")}).where.field, "crf");
  EXPECT_EQ(error_of(source, "a.mkv", {.codec = ClipCodec::ffv1, .crf = visually_lossless_crf}).where.field, "crf");
  EXPECT_EQ(error_of(source, "a.mp4", {.mastering = MasteringDisplay{.maximum_cdm2 = 20000}}).where.field, "mastering");
  EXPECT_EQ(error_of(source, "a.mp4", {.mastering = MasteringDisplay{.minimum_cdm2 = 0}}).where.field, "mastering");
  auto sixteen = patch_grid({.bits = 16}, 3).source();
  const auto bits = error_of(sixteen, "a.mp4", {});
  EXPECT_EQ(bits.code, ErrorCode::unsupported);
  EXPECT_THAT(bits.message, HasSubstr("does not take 4:2:0 16-bit"));
  auto odd = source;
  odd.size.height = 127;
  EXPECT_EQ(error_of(odd, "a.mp4", {}).where.field, "raster");
  auto still = source;
  still.rate = {0, 1};
  EXPECT_EQ(error_of(still, "a.mp4", {}).where.field, "rate");
  still = source;
  still.hold = [](int) { return 0; };
  EXPECT_EQ(error_of(still, "a.mp4", {}).where.field, "hold");
  auto broken = source;
  broken.row = [&](int frame, int y) {
    auto row = source.row(frame, y);
    if (y == 9) row.back() = 1024;
    return row;
  };
  EXPECT_THAT(error_of(broken, "a.mp4", {}).message, HasSubstr("row 9 has the code 1024"));
  EXPECT_THAT(error_of(broken, "a.mkv", {.light = LightMetadata::left_out}).message, HasSubstr("row 9"));
}

}  // namespace
}  // namespace provenit::signal
