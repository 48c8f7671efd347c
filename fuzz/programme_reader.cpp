// Any bytes as a file to open: nothing may crash, and every picture that comes out has its samples and its place.
#include <sys/mman.h>
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <string>

#include "provenit/programme/pixel.h"
#include "provenit/programme/reader.h"

namespace {

using namespace provenit::programme;

constexpr std::size_t kLargest = 96 * 1024;
constexpr int kMostPictures = 12;
volatile unsigned sink = 0;

// Reads every sample, so that the address sanitizer sees each.
void touch(const Picture& picture) {
  const std::size_t bytes = picture.format.is_float ? 4 : picture.format.bits > 8 ? 2 : 1;
  unsigned sum = 0;
  for (const Plane& plane : picture.planes)
    for (int y = 0; y < plane.height; ++y) {
      const std::byte* const row = plane.data + y * plane.stride;
      for (std::size_t x = 0; x < static_cast<std::size_t>(plane.width) * bytes; ++x)
        sum += static_cast<unsigned>(row[x]);
    }
  sink = sum;
}

void drain(Reader& reader) {
  std::int64_t last = -1;
  for (int i = 0; i < kMostPictures; ++i) {
    const auto picture = reader.next();
    if (!picture && picture.error().message.empty()) std::abort();
    if (!picture || !*picture) break;
    if (!check_picture(**picture) || !((*picture)->format == reader.info().format)) std::abort();
    if ((*picture)->index <= last) std::abort();
    last = (*picture)->index;
    touch(**picture);
  }
  if (reader.troubles().size() > 1000) std::abort();
}

ReaderOptions options_from(std::uint8_t byte) {
  ReaderOptions options;
  options.threads = 1;
  if ((byte & 1) != 0)
    options.interpretation = {.transfer = Transfer::pq,
                              .gamut = Gamut::bt2020,
                              .matrix = Matrix::bt2020_ncl,
                              .range = provenit::colour::Range::full,
                              .siting = Siting::left,
                              .peak_cdm2 = {}};
  if ((byte & 2) != 0) options.interpretation.peak_cdm2 = 100;
  return options;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 2 || size > kLargest) return 0;
  const int file = ::memfd_create("fuzz", 0);
  if (file < 0 || ::write(file, data + 1, size - 1) != static_cast<ssize_t>(size - 1)) std::abort();
  const std::string path = "/proc/self/fd/" + std::to_string(file);
  const ReaderOptions options = options_from(data[0]);
  if (const auto reader = open_reader(path, options)) drain(**reader);
  const auto index = index_frames(path, options);
  if (index && !index->key_frames.empty()) {
    if (index->time_s.empty() || index->key_frames.front() != 0) std::abort();
    const auto size_of = static_cast<std::int64_t>(index->time_s.size());
    if (const auto part = open_part(path, *index, index->key_frames.back(), size_of, options)) drain(**part);
  }
  ::close(file);
  return 0;
}
