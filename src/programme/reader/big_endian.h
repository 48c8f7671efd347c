#pragma once
// Bounds-checked reading of big-endian numbers, for parsers of files from anywhere.
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>

namespace provenit::programme {

using Bytes = std::span<const std::uint8_t>;

[[nodiscard]] inline Bytes bytes_of(const std::string& text) {
  return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

/// Reads from the front of a block. Past its end every value is 0 and ok() is false from then on.
class BigEndian {
 public:
  explicit BigEndian(Bytes bytes) : rest_(bytes) {}

  [[nodiscard]] bool ok() const { return ok_; }
  [[nodiscard]] std::size_t left() const { return rest_.size(); }

  /// The next `count` bytes, empty if they are not there.
  Bytes take(std::size_t count) {
    if (count > rest_.size()) {
      ok_ = false;
      rest_ = {};
      return {};
    }
    const Bytes taken = rest_.first(count);
    rest_ = rest_.subspan(count);
    return taken;
  }
  void skip(std::size_t count) { static_cast<void>(take(count)); }
  std::uint64_t number(std::size_t count) {
    std::uint64_t value = 0;
    for (const std::uint8_t byte : take(count)) value = value << 8 | byte;
    return value;
  }
  std::uint8_t u8() { return static_cast<std::uint8_t>(number(1)); }
  std::uint16_t u16() { return static_cast<std::uint16_t>(number(2)); }
  std::uint32_t u32() { return static_cast<std::uint32_t>(number(4)); }
  std::string four() {
    const Bytes code = take(4);
    return {code.begin(), code.end()};
  }

 private:
  Bytes rest_;
  bool ok_ = true;
};

}  // namespace provenit::programme
