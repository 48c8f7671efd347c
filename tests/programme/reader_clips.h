#pragma once
// Clips made at test time by the ffmpeg program, and what the reader tests do with pictures.
#include <gtest/gtest.h>

#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "provenit/base/text.h"
#include "provenit/programme/reader.h"

namespace provenit::programme::testing {

inline std::string media(const std::string& name) {
  return std::string(PROVENIT_SOURCE_DIR) + "/tests/programme/media/" + name;
}

/// A folder that goes with the test.
class TempFolder {
 public:
  TempFolder() {
    std::string name = ::testing::TempDir() + "provenit_reader_XXXXXX";
    if (mkdtemp(name.data()) == nullptr) std::abort();
    path_ = name;
  }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] std::string operator/(const std::string& name) const { return path_ + "/" + name; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  std::string path_;
};

inline void run_ffmpeg(const std::string& arguments) {
  const std::string command = "SVT_LOG=0 ffmpeg -nostdin -v error -y " + arguments;
  ASSERT_EQ(std::system(command.c_str()), 0) << command;
}

/// A moving test picture of so many frames: an input of ffmpeg.
inline std::string test_input(int frames, const std::string& size = "128x72") {
  return "-f lavfi -i testsrc2=s=" + size + ":r=24:d=" + exact_text(frames / 24.0 - 0.001) + " ";
}

/// Marks of HDR for -c:v options that pass them on.
inline const std::string kPqTags = "-color_primaries bt2020 -color_trc smpte2084 -colorspace bt2020nc -color_range tv ";

/// Every sample of the picture, row by row, plane after plane.
inline std::string samples_of(const Picture& picture) {
  std::string all;
  const int bytes = picture.format.is_float ? 4 : picture.format.bits > 8 ? 2 : 1;
  for (const Plane& plane : picture.planes)
    for (int y = 0; y < plane.height; ++y)
      all.append(reinterpret_cast<const char*>(plane.data + y * plane.stride),
                 static_cast<std::size_t>(plane.width) * static_cast<std::size_t>(bytes));
  return all;
}

/// One picture, kept as what tests compare.
struct Seen {
  std::int64_t index = 0;
  double time_s = 0;
  bool damaged = false;
  std::string hash;
  friend bool operator==(const Seen&, const Seen&) = default;
};
inline void PrintTo(const Seen& s, std::ostream* out) {
  *out << s.index << " at " << s.time_s << (s.damaged ? " damaged " : " ") << s.hash.substr(0, 8);
}

inline Seen seen(const Picture& p) {
  return {.index = p.index, .time_s = p.time_s, .damaged = p.damaged, .hash = sha256_hex(samples_of(p))};
}

/// What a reader gives to its end. `error` is empty if it came to it.
struct Whole {
  std::vector<Seen> pictures;
  std::vector<std::string> troubles;
  std::string error;
};
inline Whole read_on(Reader& reader) {
  Whole whole;
  for (;;) {
    auto picture = reader.next();
    if (!picture) {
      whole.error = picture.error().text();
      break;
    }
    if (!*picture) break;
    whole.pictures.push_back(seen(**picture));
  }
  whole.troubles = reader.troubles();
  return whole;
}
inline Whole read_whole(const std::string& path, const ReaderOptions& options = {}) {
  auto reader = open_reader(path, options);
  if (!reader) return {.pictures = {}, .troubles = {}, .error = reader.error().text()};
  return read_on(**reader);
}

/// A file name as the name of a test.
inline std::string test_name(std::string file) {
  for (char& c : file)
    if (c == '.') c = '_';
  return file;
}

inline std::string bytes_of_file(const std::string& path) {
  return read_file(path).value_or("");
}
inline void put_file(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

/// Says all that a file may fail to say.
inline ReaderOptions pq_options() {
  ReaderOptions o;
  o.interpretation = {.transfer = Transfer::pq,
                      .gamut = Gamut::bt2020,
                      .matrix = Matrix::bt2020_ncl,
                      .range = colour::Range::narrow,
                      .siting = Siting::left,
                      .peak_cdm2 = {}};
  return o;
}

}  // namespace provenit::programme::testing
