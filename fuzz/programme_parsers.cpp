// Any bytes as PNG chunks, AVIF boxes, the header of a DPX and the end of a transport stream. The first byte chooses
// the parser; what a PNG or AVIF begins with is put in front, and a PNG's check sums are made right, so that the inside
// is reached.
#include <zlib.h>

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "reader/dpx_header.h"
#include "reader/isobmff.h"
#include "reader/png_chunks.h"
#include "reader/troubles.h"
#include "reader/ts_tail.h"

namespace {

using namespace provenit::programme;

void check_metadata(const StaticMetadata& m) {
  if (m.mastering && !(std::isfinite(m.mastering->maximum_cdm2) && m.mastering->minimum_cdm2 >= 0)) std::abort();
  if (m.maxcll_cdm2 && *m.maxcll_cdm2 < 0) std::abort();
}

// Rewrites the check sum of each chunk that is whole.
std::string with_right_sums(std::string file) {
  std::size_t at = 8;
  const auto byte = [&file](std::size_t i) { return static_cast<std::size_t>(static_cast<unsigned char>(file[i])); };
  while (at + 12 <= file.size()) {
    const std::size_t length = byte(at) << 24 | byte(at + 1) << 16 | byte(at + 2) << 8 | byte(at + 3);
    if (length > file.size() - at - 12) break;
    const auto* const body = reinterpret_cast<const Bytef*>(file.data() + at + 4);
    const auto sum = crc32(0, body, static_cast<uInt>(length + 4));
    for (std::size_t i = 0; i < 4; ++i) file[at + 8 + length + i] = static_cast<char>(sum >> (24 - 8 * i));
    at += 12 + length;
  }
  return file;
}

void png(const std::string& bytes, bool right_sums) {
  std::string file = "\x89PNG\r\n\x1a\n" + bytes;
  if (right_sums) file = with_right_sums(file);
  const auto facts = read_png_chunks(bytes_of(file));
  if (!facts) return;
  check_metadata(facts->metadata);
  std::vector<std::string> notes;
  static_cast<void>(fields_of(*facts, notes));
}

void avif(const std::string& bytes) {
  static_cast<void>(is_avif_still(bytes_of(bytes)));
  const auto facts = read_avif_boxes(bytes_of(bytes));
  if (facts) {
    check_metadata(facts->metadata);
  } else if (facts.error().message.empty()) {
    std::abort();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 2) return 0;
  const std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
  switch (data[0] % 6) {
    case 0:
      png(bytes, true);
      break;
    case 1:
      png(bytes, false);
      break;
    case 2:
      avif(bytes);
      break;
    case 3:
      static_cast<void>(check_dpx_length(bytes_of(bytes), data[0]));
      break;
    case 4:
      static_cast<void>(ts_is_cut(bytes_of(bytes), bytes.size() % 188 == 0, data[0]));
      break;
    default:
      for (const char c : kind_of_message(bytes))
        if (c < ' ' || c > '~') std::abort();
  }
  return 0;
}
