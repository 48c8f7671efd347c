#include "provenit/signal/png16.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stb/stb_image.h>
#include <unistd.h>
#include <zlib.h>

#include <cstdlib>
#include <filesystem>
#include <memory>

#include "provenit/base/text.h"

namespace provenit::signal {
namespace {

class Png16 : public testing::Test {
 protected:
  Png16() : path_((std::filesystem::temp_directory_path() / ("provenit_png_" + std::to_string(::getpid()) + ".png"))) {}
  ~Png16() override { std::filesystem::remove(path_); }
  std::string path_;
};

Signal window(int bits, Range range, const CodeRgb& patch, const CodeRgb& surround) {
  return {.encoding = {.bits = bits, .range = range},
          .patch = patch,
          .surround = surround,
          .geometry = {.shape = Shape::window, .area_fraction = 0.1}};
}

std::uint32_t number_at(const std::string& bytes, std::size_t at) {
  std::uint32_t n = 0;
  for (std::size_t i = 0; i < 4; ++i) n = n << 8 | static_cast<unsigned char>(bytes.at(at + i));
  return n;
}

/// Name and data of each chunk, walked by hand from the file format's definition (PNG third edition, section 5), with
/// its checksum checked.
std::vector<std::pair<std::string, std::string>> chunks_of(const std::string& file) {
  EXPECT_EQ(file.substr(0, 8), "\x89PNG\r\n\x1a\n");
  std::vector<std::pair<std::string, std::string>> chunks;
  for (std::size_t at = 8; at + 12 <= file.size();) {
    const auto size = number_at(file, at);
    chunks.emplace_back(file.substr(at + 4, 4), file.substr(at + 8, size));
    EXPECT_EQ(crc32(0, reinterpret_cast<const Bytef*>(file.data() + at + 4), size + 4), number_at(file, at + 8 + size));
    at += 12 + size;
  }
  return chunks;
}

TEST_F(Png16, AnotherDecoderReadsExactlyTheCodes) {
  // stb_image, whose decoder shares no code with libpng.
  for (const int bits : {8, 10, 12, 16}) {
    for (const auto range : {Range::narrow, Range::full}) {
      const int top = (1 << bits) - 1;
      const auto signal = window(bits, range, {{top, top / 3, 1}}, {{0, top / 2 + 1, top - 1}});
      const auto raster = Raster::make(signal, {.width = 96, .height = 54}).value();
      ASSERT_TRUE(write_png16(raster, path_));
      ASSERT_TRUE(stbi_is_16_bit(path_.c_str()));
      int width = 0, height = 0, channels = 0;
      const std::unique_ptr<stbi_us, decltype(&stbi_image_free)> samples(
          stbi_load_16(path_.c_str(), &width, &height, &channels, 0), &stbi_image_free);
      ASSERT_TRUE(samples);
      ASSERT_EQ(width, 96);
      ASSERT_EQ(height, 54);
      ASSERT_EQ(channels, 3);
      for (int y = 0; y < 54; ++y)
        for (int x = 0; x < 96; ++x)
          for (int c = 0; c < 3; ++c)
            ASSERT_EQ(samples.get()[3 * (96 * y + x) + c] >> (16 - bits), raster.at(x, y).code[c])
                << bits << " bits, " << x << ' ' << y << ' ' << c;
    }
  }
}

TEST_F(Png16, AVideoDecoderReadsThePatchToo) {
  // FFmpeg's PNG decoder is one of its own, too.
  if (std::system("command -v ffmpeg > /dev/null 2>&1") != 0) GTEST_SKIP() << "ffmpeg is not installed";
  const auto raster =
      Raster::make(window(10, Range::narrow, {{723, 573, 64}}, {{64, 64, 64}}), {.width = 96, .height = 54});
  ASSERT_TRUE(write_png16(raster.value(), path_));
  const auto raw = path_ + ".raw";
  const auto command = "ffmpeg -v error -y -i " + path_ + " -f rawvideo -pix_fmt rgb48le " + raw;
  ASSERT_EQ(std::system(command.c_str()), 0);
  const auto bytes = read_file(raw).value();
  std::filesystem::remove(raw);
  ASSERT_EQ(bytes.size(), 6u * 96 * 54);
  const auto sample = [&](int x, int y, int c) {
    const auto at = static_cast<std::size_t>(6 * (96 * y + x) + 2 * c);
    return static_cast<unsigned char>(bytes[at]) | static_cast<unsigned char>(bytes[at + 1]) << 8;
  };
  EXPECT_EQ(sample(48, 27, 0), 723 << 6);
  EXPECT_EQ(sample(48, 27, 1), 573 << 6);
  EXPECT_EQ(sample(48, 27, 2), 64 << 6);
  EXPECT_EQ(sample(0, 0, 0), 64 << 6);
}

TEST_F(Png16, SaysWhatTheCodesStandFor) {
  auto signal = window(10, Range::narrow, {{723, 723, 723}}, {{64, 64, 64}});
  const auto labels = [&] {
    std::string order, cicp, significant;
    for (const auto& [name, data] : chunks_of(png16(Raster::make(signal, {.width = 8, .height = 8}).value()).value())) {
      order += name + ' ';
      if (name == "cICP") cicp = data;
      if (name == "sBIT") significant = data;
    }
    EXPECT_EQ(order, "IHDR sBIT cICP IDAT IEND ");
    EXPECT_EQ(significant, std::string(3, static_cast<char>(signal.encoding.bits)));
    return cicp;
  };
  EXPECT_EQ(labels(), std::string("\x09\x10\x00\x00", 4));  // BT.2100 PQ, R'G'B', narrow range
  signal.encoding.range = Range::full;
  EXPECT_EQ(labels(), std::string("\x09\x10\x00\x01", 4));  // the third edition's own example: 9 16 0 1
  signal.encoding.transfer = Transfer::hlg;
  signal.encoding.container = Container::p3_d65;
  EXPECT_EQ(labels(), std::string("\x0c\x12\x00\x01", 4));
  signal.encoding.transfer = Transfer::bt1886;
  EXPECT_EQ(labels(), std::string("\x0c\x01\x00\x01", 4));
  signal.encoding.container = Container::bt709;
  EXPECT_EQ(labels(), std::string("\x01\x01\x00\x01", 4));
  signal.encoding.container = Container::bt2020;
  EXPECT_EQ(labels(), std::string("\x09\x0e\x00\x01", 4));
  signal.encoding.bits = 12;
  EXPECT_EQ(labels(), std::string("\x09\x0f\x00\x01", 4));
}

TEST(PngSample, KeepsNarrowCodesAndSpreadsFullOnes) {
  EXPECT_EQ(png_sample(940, 10, Range::narrow), 235 << 8);
  EXPECT_EQ(png_sample(64, 10, Range::narrow), 16 << 8);
  for (const int bits : {8, 10, 12, 16}) {
    const int top = (1 << bits) - 1;
    EXPECT_EQ(png_sample(top, bits, Range::full), 65535);
    EXPECT_EQ(png_sample(0, bits, Range::full), 0);
    for (int code = 0; code <= top; ++code) {
      const double exact = 65535.0 * code / top;
      ASSERT_NEAR(png_sample(code, bits, Range::full), exact, 1) << bits << ' ' << code;
      ASSERT_EQ(png_sample(code, bits, Range::full) >> (16 - bits), code);
      ASSERT_EQ(png_sample(code, bits, Range::narrow) >> (16 - bits), code);
    }
  }
}

TEST_F(Png16, IsWrittenWholeOrNotAtAll) {
  const auto raster =
      Raster::make(window(10, Range::narrow, {{1, 2, 3}}, {{4, 5, 6}}), {.width = 8, .height = 8}).value();
  const auto refused = write_png16(raster, path_ + "/no/such/folder.png");
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::io);
}

TEST_F(Png16, SamplesOfAnyPictureComeBackExactly) {
  std::vector<std::uint16_t> samples;
  for (int i = 0; i < 3 * 7 * 5; ++i) samples.push_back(static_cast<std::uint16_t>(i * 40503));
  const auto file =
      png16(samples, {.width = 7, .height = 5}, {.primaries = 1, .transfer = 13, .matrix = 0, .full_range = 1});
  ASSERT_TRUE(file);
  ASSERT_TRUE(write_file(path_, *file));
  int width = 0, height = 0, channels = 0;
  const std::unique_ptr<stbi_us, decltype(&stbi_image_free)> read(
      stbi_load_16(path_.c_str(), &width, &height, &channels, 0), &stbi_image_free);
  ASSERT_TRUE(read);
  ASSERT_EQ(width * 100 + height * 10 + channels, 753);
  for (std::size_t i = 0; i < samples.size(); ++i) ASSERT_EQ(read.get()[i], samples[i]) << i;
  EXPECT_THAT(chunks_of(*file), testing::Contains(testing::Pair("cICP", std::string("\x01\x0d\x00\x01", 4))));
  EXPECT_EQ(png16(samples, {.width = 7, .height = 6}, {}).error().code, ErrorCode::invalid_input);
}

}  // namespace
}  // namespace provenit::signal
