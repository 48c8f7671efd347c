#pragma once
// Pictures whose codes the tests know by themselves, and what other decoders make of the files.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "provenit/base/text.h"
#include "provenit/signal_files/frame_source.h"

namespace provenit::signal {

/// columns x rows patches of one code each, all of the same size.
struct PatchGrid {
  Encoding encoding;
  int columns = 6, rows = 4, patch_width = 32, patch_height = 32;
  std::vector<CodeRgb> codes;  ///< row by row

  [[nodiscard]] RasterSize size() const { return {columns * patch_width, rows * patch_height}; }
  [[nodiscard]] const CodeRgb& at(int x, int y) const {
    return codes[static_cast<std::size_t>(y / patch_height * columns + x / patch_width)];
  }
  [[nodiscard]] FrameSource source(FrameRate rate = {}, int hold = 1) const {
    return {.encoding = encoding,
            .size = size(),
            .rate = rate,
            .row =
                [grid = *this](int, int y) {
                  std::vector<std::uint16_t> row;
                  for (int x = 0; x < grid.size().width; ++x)
                    for (const int code : grid.at(x, y).code) row.push_back(static_cast<std::uint16_t>(code));
                  return row;
                },
            .hold = [hold](int) { return hold; }};
  }
};

/// The extreme codes of the range, primaries, greys, then colours of a seeded generator; all within black to peak, so
/// that each has a place in Y'CbCr, or within all codes there are.
inline PatchGrid patch_grid(const Encoding& encoding, unsigned seed, bool all_codes = false, int patch = 32) {
  PatchGrid grid{.encoding = encoding, .patch_width = patch, .patch_height = patch, .codes = {}};
  const int step = 1 << (encoding.bits - 8), top = (1 << encoding.bits) - 1;
  const bool narrow = encoding.range == Range::narrow && !all_codes;
  const int low = narrow ? 16 * step : 0, high = narrow ? 235 * step : top;
  grid.codes = {{{low, low, low}},
                {{high, high, high}},
                {{high, low, low}},
                {{low, high, low}},
                {{low, low, high}},
                {{high, high, low}},
                {{(low + high) / 2, (low + high) / 2, (low + high) / 2}},
                {{low + 1, low, low}}};
  std::mt19937 random(seed);
  std::uniform_int_distribution<int> code(low, high);
  while (grid.codes.size() < static_cast<std::size_t>(grid.columns * grid.rows)) {
    const int r = code(random), g = code(random), b = code(random);
    grid.codes.push_back({{r, g, b}});
  }
  return grid;
}

class Files : public testing::Test {
 protected:
  Files() : folder_(std::filesystem::temp_directory_path() / ("provenit_signal_files_" + std::to_string(::getpid()))) {
    std::filesystem::create_directories(folder_);
  }
  ~Files() override { std::filesystem::remove_all(folder_); }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }
  [[nodiscard]] std::vector<std::string> names() const {
    std::vector<std::string> out;
    for (const auto& entry : std::filesystem::directory_iterator(folder_)) out.push_back(entry.path().filename());
    return out;
  }

 private:
  std::filesystem::path folder_;
};

/// What a program writes to its standard output. Its failure fails the test.
inline std::string output_of(const std::string& command) {
  std::string out;
  FILE* const pipe = ::popen(command.c_str(), "r");
  std::vector<char> block(1 << 16);
  for (std::size_t n = 0; (n = std::fread(block.data(), 1, block.size(), pipe)) > 0;) out.append(block.data(), n);
  EXPECT_EQ(::pclose(pipe), 0) << command;
  return out;
}

/// What the ffprobe program tells of the first video stream and the side data of the first frame.
inline nlohmann::json probe(const std::string& file) {
  return nlohmann::json::parse(output_of(fmt::format(
      "ffprobe -v error -of json -show_format -show_streams -show_frames -read_intervals %+#1 '{}'", file)));
}

/// The samples of all frames as the ffmpeg program decodes them. The file must have this layout by itself ("be" and
/// "le" apart), so that nothing is converted.
template <class Sample>
std::vector<Sample> decoded(const std::string& file, const std::string& layout) {
  const auto told = output_of(fmt::format("ffprobe -v error -of csv=p=0 -show_entries stream=pix_fmt '{}'", file));
  EXPECT_EQ(told.substr(0, layout.size() - 2), layout.substr(0, layout.size() - 2)) << file;
  const auto bytes = output_of(
      fmt::format("ffmpeg -v error -i '{}' -map 0:v:0 -fps_mode passthrough -f rawvideo -pix_fmt {} -", file, layout));
  std::vector<Sample> samples(bytes.size() / sizeof(Sample));
  std::memcpy(samples.data(), bytes.data(), samples.size() * sizeof(Sample));
  return samples;
}

/// No file may grow beyond this many bytes while the object lives: a full disk, as a process sees it.
class FullDisk {
 public:
  explicit FullDisk(rlim_t bytes) : handler_(std::signal(SIGXFSZ, SIG_IGN)) {
    ::getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit limit{.rlim_cur = bytes, .rlim_max = before_.rlim_max};
    ::setrlimit(RLIMIT_FSIZE, &limit);
  }
  FullDisk(const FullDisk&) = delete;
  FullDisk& operator=(const FullDisk&) = delete;
  ~FullDisk() {
    ::setrlimit(RLIMIT_FSIZE, &before_);
    std::signal(SIGXFSZ, handler_);
  }

 private:
  rlimit before_{};
  void (*handler_)(int);
};

}  // namespace provenit::signal
