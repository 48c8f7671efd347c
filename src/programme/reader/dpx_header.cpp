#include "reader/dpx_header.h"

#include <fmt/format.h>

namespace provenit::programme {
namespace {

constexpr std::uint32_t kUndefined = 0xffffffff;

// Numbers at fixed places, in the byte order that the magic number tells.
class Header {
 public:
  explicit Header(Bytes bytes) : bytes_(bytes), swapped_(!bytes.empty() && bytes[0] == 'X') {}
  [[nodiscard]] std::uint32_t at(std::size_t offset, std::size_t count) const {
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const std::size_t place = offset + (swapped_ ? count - 1 - i : i);
      value = value << 8 | (place < bytes_.size() ? bytes_[place] : 0U);
    }
    return value;
  }

 private:
  Bytes bytes_;
  bool swapped_;
};

// Components of an element descriptor; 0 for those whose layout is not known here.
std::uint64_t components(std::uint32_t descriptor) {
  if (descriptor >= 1 && descriptor <= 8) return 1;
  if (descriptor == 50) return 3;
  return descriptor == 51 || descriptor == 52 ? 4 : 0;
}

// Bytes of a line without run-length encoding; words of 32 bits.
std::uint64_t line_bytes(std::uint64_t samples, std::uint32_t bits, std::uint32_t packing) {
  if (bits == 10 && packing != 0) return (samples + 2) / 3 * 4;
  const std::uint64_t each = bits == 12 && packing != 0 ? 16 : bits;
  return (samples * each + 31) / 32 * 4;
}

}  // namespace

Result<void> check_dpx_length(Bytes header, std::uint64_t file_size) {
  const auto broken = [&](std::uint64_t needed) {
    return fail(ErrorCode::invalid_input, fmt::format("cut off: {} bytes of at least {}", file_size, needed),
                "Copy or render the file again.");
  };
  const Header h(header);
  if (header.size() < kDpxHeader) return broken(kDpxHeader);
  const std::uint32_t told = h.at(16, 4);
  if (told != kUndefined && told > file_size) return broken(told);
  const std::uint64_t width = h.at(772, 4), height = h.at(776, 4);
  const std::uint32_t bits = h.at(803, 1), packing = h.at(804, 2), encoding = h.at(806, 2);
  std::uint64_t offset = h.at(808, 4);
  if (offset == 0 || offset == kUndefined) offset = h.at(4, 4);
  const std::uint64_t samples = components(h.at(800, 1)) * width;
  if (encoding != 0 || samples == 0 || width > 0xffff || height > 0xffff) return {};
  const std::uint64_t needed = offset + line_bytes(samples, bits, packing) * height;
  if (needed > file_size) return broken(needed);
  return {};
}

}  // namespace provenit::programme
