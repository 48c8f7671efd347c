#include "provenit/signal_files/still.h"

#include <gmock/gmock.h>

#include <bit>
#include <cmath>

#include "support.h"

namespace provenit::signal {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

class StillFile : public Files {};

Encoding encoding_of(int bits, Range range) {
  return {.bits = bits, .range = range};
}

/// The definition, by hand: narrow codes times 2^(n - bits); full codes with their upper bits repeated (PNG third
/// edition, section 12.4).
int sample_of(int code, int bits, Range range, int n) {
  const int shifted = code << (n - bits);
  return range == Range::narrow ? shifted : shifted | (code >> (2 * bits - n));
}

/// Every pixel of a file with interleaved R, G, B of 16 bits.
void expect_codes(const std::vector<std::uint16_t>& read, const PatchGrid& grid) {
  const auto size = grid.size();
  ASSERT_EQ(read.size(), 3U * size.width * size.height);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      for (std::size_t c = 0; c < 3; ++c)
        ASSERT_EQ(read[3U * (y * size.width + x) + c],
                  sample_of(grid.at(x, y).code[c], grid.encoding.bits, grid.encoding.range, 16))
            << x << ' ' << y << ' ' << c;
}

/// Every pixel of planes G, B, R.
template <class Sample, class Expected>
void expect_planes(const std::vector<Sample>& read, const PatchGrid& grid, const Expected& expected) {
  const auto size = grid.size();
  const auto plane = std::size_t(size.width) * size.height;
  ASSERT_EQ(read.size(), 3 * plane);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      for (std::size_t c = 0; c < 3; ++c)
        ASSERT_EQ(read[(c + 2) % 3 * plane + std::size_t(y) * size.width + x], expected(grid.at(x, y), c))
            << x << ' ' << y << ' ' << c;
}

TEST_F(StillFile, PngAndTiffHoldEveryCode) {
  for (const int bits : {8, 10, 12, 16})
    for (const auto range : {Range::narrow, Range::full}) {
      const auto grid = patch_grid(encoding_of(bits, range), 40U + bits, true, 8);
      ASSERT_TRUE(write_still(grid.source(), 0, path("a.tif"), StillFormat::tiff16));
      expect_codes(decoded<std::uint16_t>(path("a.tif"), "rgb48le"), grid);
      ASSERT_TRUE(write_still(grid.source(), 0, path("a.png"), StillFormat::png16));
      expect_codes(decoded<std::uint16_t>(path("a.png"), "rgb48le"), grid);
    }
  EXPECT_THAT(read_file(path("a.tif")).value(), HasSubstr("PQ 16-bit full"));
}

TEST_F(StillFile, DpxHoldsEveryCodeThereIs) {
  for (const int file_bits : {10, 12})
    for (const int bits : {8, 10, 12})
      for (const auto range : {Range::narrow, Range::full}) {
        if (bits > file_bits) continue;
        const int codes = 1 << bits;
        PatchGrid grid{.encoding = encoding_of(bits, range),
                       .columns = 1 << (bits / 2),
                       .rows = 1 << (bits / 2),
                       .patch_width = 3,
                       .patch_height = 2,
                       .codes = {}};
        for (int i = 0; i < codes; ++i) grid.codes.push_back({{i, codes - 1 - i, (i * 37 + 5) % codes}});
        const auto format = file_bits == 10 ? StillFormat::dpx10 : StillFormat::dpx12;
        ASSERT_TRUE(write_still(grid.source(), 0, path("a.dpx"), format));
        const auto read = decoded<std::uint16_t>(path("a.dpx"), fmt::format("gbrp{}le", file_bits));
        expect_planes(read, grid, [&](const CodeRgb& code, std::size_t c) {
          return sample_of(code.code[c], bits, range, file_bits);
        });
      }
}

/// source  SMPTE ST 268-1: byte 0 "SDPX" if big-endian, 36 file name, 160 creator, 260 project, 800 descriptor
/// (50: RGB), 801 transfer, 802 colorimetric, 803 bits; 784 low data, 792 high data
TEST_F(StillFile, DpxSaysWhatItsCodesAre) {
  const auto header_of = [&](const Encoding& encoding) {
    EXPECT_TRUE(write_still(patch_grid(encoding, 3).source(), 0, path("a.dpx"), StillFormat::dpx10));
    return read_file(path("a.dpx")).value();
  };
  const auto number = [](const std::string& bytes, std::size_t at) {
    std::uint32_t n = 0;
    for (std::size_t i = 0; i < 4; ++i) n = n << 8 | static_cast<unsigned char>(bytes.at(at + i));
    return n;
  };
  const auto pq = header_of({});
  EXPECT_EQ(pq.substr(0, 4), "SDPX");
  EXPECT_STREQ(pq.c_str() + 36, "a.dpx");
  EXPECT_STREQ(pq.c_str() + 260, "R'G'B' code values, PQ 10-bit narrow");
  EXPECT_EQ(pq.at(800), 50);
  EXPECT_EQ(pq.at(801), 0);
  EXPECT_EQ(pq.at(802), 0);
  EXPECT_EQ(pq.at(803), 10);
  EXPECT_EQ(number(pq, 784), 64U);
  EXPECT_EQ(number(pq, 792), 940U);
  const auto television = header_of(
      {.transfer = Transfer::bt1886, .container = Container::bt709, .range = Range::full, .nominal_peak_cdm2 = 100});
  EXPECT_EQ(television.at(801), 6);
  EXPECT_EQ(television.at(802), 6);
  EXPECT_EQ(number(television, 784), 0U);
  EXPECT_EQ(number(television, 792), 1023U);
}

/// Light by hand, from BT.2100-3 table 4 (PQ) and BT.1886, in long double.
long double light_of(const Encoding& e, int code) {
  const long double step = 1 << (e.bits - 8), top = (1 << e.bits) - 1;
  const long double v = e.range == Range::narrow ? (code - 16 * step) / (219 * step) : code / top;
  if (v <= 0) return 0;
  if (e.transfer == Transfer::bt1886) return e.nominal_peak_cdm2 * std::pow(v, 2.4L);
  const long double x = std::pow(std::min(v, 1.0L), 32 / 2523.0L);
  return 10000 * std::pow(std::max(x - 0.8359375L, 0.0L) / (18.8515625L - 18.6875L * x), 16384 / 2610.0L);
}

TEST_F(StillFile, ExrHoldsLight) {
  for (const auto& encoding :
       {Encoding{.bits = 12}, Encoding{.range = Range::full},
        Encoding{.transfer = Transfer::bt1886, .container = Container::p3_d65, .nominal_peak_cdm2 = 100}}) {
    const auto grid = patch_grid(encoding, 7, true, 8);
    ASSERT_TRUE(write_still(grid.source(), 0, path("a.exr"), StillFormat::exr32));
    const auto read = decoded<float>(path("a.exr"), "gbrpf32le");
    const auto plane = std::size_t(grid.size().width) * grid.size().height;
    ASSERT_EQ(read.size(), 3 * plane);
    for (int y = 0; y < grid.size().height; y += 5)
      for (int x = 0; x < grid.size().width; x += 5)
        for (std::size_t c = 0; c < 3; ++c) {
          const auto expected = static_cast<float>(light_of(encoding, grid.at(x, y).code[c]));
          ASSERT_NEAR(read[(c + 2) % 3 * plane + std::size_t(y) * grid.size().width + x], expected, 1e-6F * expected)
              << x << ' ' << y << ' ' << c;
        }
  }
}

TEST_F(StillFile, ExrOfHlgIsAfterTheOotf) {
  // Greys: BT.2100-3 table 5, L = L_W E^gamma with gamma = 1.2 at 1000 cd/m2; blue: Y^(gamma - 1) E.
  PatchGrid grid{.encoding = {.transfer = Transfer::hlg}, .columns = 3, .rows = 1, .codes = {}};
  grid.codes = {{{940, 940, 940}}, {{502, 502, 502}}, {{64, 64, 940}}};
  ASSERT_TRUE(write_still(grid.source(), 0, path("a.exr"), StillFormat::exr32));
  const auto read = decoded<float>(path("a.exr"), "gbrpf32le");
  const auto plane = std::size_t(grid.size().width) * grid.size().height;
  ASSERT_EQ(read.size(), 3 * plane);
  EXPECT_NEAR(read[10], 1000, 1e-3);
  EXPECT_NEAR(read[32 + 10], 1000 * std::pow(1 / 12.0, 1.2), 1e-4);  // E' = 0.5 is E = 1 / 12
  EXPECT_NEAR(read[plane + 64 + 10], 1000 * std::pow(0.0593, 0.2), 1e-3);
  EXPECT_EQ(read[64 + 10], 0);
}

/// source  OpenEXR file layout: after the 8 bytes of magic and version each attribute is name\0 type\0 size value
TEST_F(StillFile, ExrNamesItsPrimaries) {
  ASSERT_TRUE(write_still(patch_grid({}, 3).source(), 0, path("a.exr"), StillFormat::exr32));
  const auto bytes = read_file(path("a.exr")).value();
  const auto floats_of = [&](const std::string& name, const std::string& type, std::size_t count) {
    const std::string head = name + '\0' + type + '\0';
    const auto at = bytes.find(head);
    EXPECT_NE(at, std::string::npos) << name;
    std::vector<float> values(count);
    std::memcpy(values.data(), bytes.data() + at + head.size() + 4, count * sizeof(float));
    return values;
  };
  EXPECT_THAT(floats_of("chromaticities", "chromaticities", 8),
              testing::ElementsAre(0.708F, 0.292F, 0.170F, 0.797F, 0.131F, 0.046F, 0.3127F, 0.3290F));
  EXPECT_THAT(floats_of("whiteLuminance", "float", 1), testing::ElementsAre(1.0F));
}

TEST_F(StillFile, FormatByName) {
  EXPECT_EQ(still_format_of("a.b/c.PNG", {}), StillFormat::png16);
  EXPECT_EQ(still_format_of("c.tiff", {}), StillFormat::tiff16);
  EXPECT_EQ(still_format_of("c.dpx", {.bits = 8}), StillFormat::dpx10);
  EXPECT_EQ(still_format_of("c.dpx", {.bits = 12}), StillFormat::dpx12);
  EXPECT_EQ(still_format_of("c.exr", {}), StillFormat::exr32);
  EXPECT_FALSE(still_format_of("c.mkv", {}));
  EXPECT_FALSE(still_format_of("png", {}));
}

constexpr StillFormat kAll[] = {StillFormat::png16, StillFormat::tiff16, StillFormat::dpx10, StillFormat::dpx12,
                                StillFormat::exr32};

TEST_F(StillFile, WhatCannotBeWrittenLeavesNothing) {
  // Codes that do not compress.
  auto noise = patch_grid({}, 3).source();
  noise.row = [](int, int y) {
    std::mt19937 random(static_cast<unsigned>(y));
    std::vector<std::uint16_t> row(3 * 192);
    for (auto& code : row) code = static_cast<std::uint16_t>(random() % 1024);
    return row;
  };
  for (const auto format : kAll) {
    SCOPED_TRACE(name_of(format));
    const auto missing = write_still(noise, 0, path("no/a"), format);
    ASSERT_FALSE(missing);
    EXPECT_EQ(missing.error().code, ErrorCode::io);
    EXPECT_EQ(missing.error().where.file, path("no/a"));
    EXPECT_THAT(missing.error().message, HasSubstr("No such file"));
    std::filesystem::create_directory(path("taken"));
    EXPECT_FALSE(write_still(noise, 0, path("taken"), format));
    std::filesystem::remove(path("taken"));
    ASSERT_TRUE(write_still(noise, 0, path("a"), format));
    const rlim_t whole = std::filesystem::file_size(path("a"));
    std::filesystem::remove(path("a"));
    for (const rlim_t room : {rlim_t{1000}, rlim_t{20000}, whole / 2, whole - 1}) {
      const FullDisk full(room);
      const auto written = write_still(noise, 0, path("a"), format);
      ASSERT_FALSE(written) << room;
      EXPECT_EQ(written.error().code, ErrorCode::io);
    }
    EXPECT_THAT(names(), IsEmpty());
  }
}

TEST_F(StillFile, AFileThatIsThereStaysUntilTheNewOneIsWhole) {
  const auto source = patch_grid({}, 3).source();
  for (const auto format : kAll) {
    ASSERT_TRUE(write_file(path("a"), "before"));
    {
      const FullDisk full(300);
      ASSERT_FALSE(write_still(source, 0, path("a"), format));
    }
    EXPECT_EQ(read_file(path("a")).value(), "before");
    ASSERT_TRUE(write_still(source, 0, path("a"), format));
    EXPECT_NE(read_file(path("a")).value(), "before");
  }
}

TEST_F(StillFile, WrongInputIsNamed) {
  auto source = patch_grid(encoding_of(12, Range::full), 3).source();
  const auto bits = write_still(source, 0, path("a.dpx"), StillFormat::dpx10);
  ASSERT_FALSE(bits);
  EXPECT_EQ(bits.error().code, ErrorCode::out_of_range);
  EXPECT_THAT(bits.error().message, HasSubstr("10 bits per sample, too few for codes of 12"));
  EXPECT_FALSE(write_still(source, 1, path("a.png"), StillFormat::png16));
  EXPECT_FALSE(write_still(source, -1, path("a.png"), StillFormat::png16));
  for (const auto format : {StillFormat::png16, StillFormat::tiff16, StillFormat::dpx12, StillFormat::exr32}) {
    auto broken = source;
    broken.row = [&](int frame, int y) {
      auto row = source.row(frame, y);
      if (y == 7) row[4] = 4096;
      return row;
    };
    const auto code = write_still(broken, 0, path("a"), format);
    ASSERT_FALSE(code);
    EXPECT_THAT(code.error().message, HasSubstr("row 7 has the code 4096"));
    broken.row = [&](int frame, int y) {
      auto row = source.row(frame, y);
      if (y == 7) row.pop_back();
      return row;
    };
    EXPECT_FALSE(write_still(broken, 0, path("a"), format));
  }
  auto none = source;
  none.size = {0, 4};
  EXPECT_FALSE(write_still(none, 0, path("a"), StillFormat::png16));
  EXPECT_THAT(names(), IsEmpty());
}

}  // namespace
}  // namespace provenit::signal
